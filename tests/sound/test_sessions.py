"""A session as one file: exact to the sample, block by block."""

import io
import wave
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import librosa
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError, MachineError
from etudegen.sound.arrangement import Wishes
from etudegen.sound.arranging import arrange
from etudegen.sound.sessions import (
    ANNOUNCEMENT_SECONDS,
    session_audio,
    write_session_flac,
    write_session_wav,
)
from tests.sound.music import cents, hertz, performance

RATE = 22_050
# Eight beats of notes at 120: four seconds.
SHORT = arrange(performance([(beat, 1, 60 + beat) for beat in range(8)], 8), Wishes(count_in=0))


def whole(blocks: list, **options: object) -> np.ndarray:
    return np.concatenate(list(session_audio(blocks, **options)))


@given(st.lists(st.tuples(st.booleans(), st.floats(0.01, 9)), min_size=1, max_size=6))
@settings(deadline=None, max_examples=25)
def test_a_session_is_exactly_as_long_as_its_blocks(drawn: list[tuple[bool, float]]) -> None:
    blocks = [(SHORT if plays else None, seconds) for plays, seconds in drawn]
    exact = sum(Fraction(seconds) for _, seconds in drawn)
    assert len(whole(blocks)) == round(exact * RATE)


def test_three_hours_are_exact_too() -> None:
    # Thirds of a second would add up to a second's fault if each block were rounded by itself.
    blocks = [(None, Fraction(10_000, 333))] * 333
    assert sum(map(len, session_audio(blocks))) == 10_000 * RATE


def test_each_block_begins_with_two_soft_notes() -> None:
    sound = whole([(SHORT, 8), (None, 8), (SHORT, 3)])[:, 0]
    announced = round(ANNOUNCEMENT_SECONDS * RATE)
    for begin in (0, 8 * RATE, 16 * RATE):
        part = sound[begin : begin + announced]
        assert 0.01 < np.abs(part).max() < 0.2, "soft"
        # G4 and the C5 above it: a fourth.
        for start, key in ((0.05, 67), (0.55, 72)):
            tone = part[round(start * RATE) : round((start + 0.4) * RATE)]
            measured = np.median(librosa.yin(tone, fmin=200, fmax=900, sr=RATE, frame_length=2048))
            assert abs(cents(float(measured), hertz(key))) < 10
    music = sound[announced : announced + 4 * RATE]
    assert np.abs(music).max() >= 0.25
    # What is left of the block is silence, and so is a block without music.
    assert np.abs(sound[announced + 4 * RATE : 8 * RATE]).max() == 0
    assert np.abs(sound[8 * RATE + announced : 16 * RATE]).max() == 0
    # A block that is too short for its music is cut off softly.
    assert np.abs(sound[-RATE:]).max() > 0.05
    assert np.abs(sound[-3:]).max() < 0.01


def test_wav_on_disk_and_into_a_stream(tmp_path: Path) -> None:
    blocks = [(SHORT, Fraction(13, 2)), (None, 2.25)]
    path = tmp_path / "session.wav"
    write_session_wav(path, blocks)
    assert [found.name for found in tmp_path.iterdir()] == ["session.wav"]
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE)
        assert file.getnframes() == round(8.75 * RATE)
    assert path.stat().st_size == 44 + 2 * round(8.75 * RATE)
    stream = io.BytesIO()
    write_session_wav(stream, blocks)
    assert stream.getvalue() == path.read_bytes()
    write_session_wav(path, blocks, 44_100, mono=False)
    info = soundfile.info(path)
    assert (info.channels, info.samplerate, info.frames) == (2, 44_100, round(8.75 * 44_100))


def test_flac_is_the_same_session(tmp_path: Path) -> None:
    blocks = [(SHORT, 6), (None, 20)]
    write_session_wav(tmp_path / "session.wav", blocks)
    write_session_flac(tmp_path / "session.flac", blocks)
    plain, _ = soundfile.read(tmp_path / "session.wav")
    packed, rate = soundfile.read(tmp_path / "session.flac")
    assert rate == RATE
    assert packed.shape == plain.shape
    assert np.abs(packed - plain).max() <= 2 / 32768
    assert (tmp_path / "session.flac").stat().st_size < (tmp_path / "session.wav").stat().st_size / 3


def test_pieces_stay_small() -> None:
    assert max(map(len, session_audio([(SHORT, 30), (None, 3600)]))) <= 1 << 17


def test_what_cannot_be_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="without blocks"):
        write_session_wav(tmp_path / "a.wav", [])
    with pytest.raises(InputError, match="block 2 lasts 0 seconds"):
        write_session_wav(tmp_path / "a.wav", [(None, 1), (None, 0)])
    with pytest.raises(InputError, match="sample rate 96000"):
        write_session_wav(tmp_path / "a.wav", [(None, 1)], 96_000)
    with pytest.raises(InputError, match="too long for one WAV file"):
        write_session_wav(tmp_path / "a.wav", [(None, 3600 * 30)])
    with pytest.raises(MachineError, match="cannot write"):
        write_session_wav(tmp_path / "nowhere" / "a.wav", [(None, 1)])
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a disk that is always full is a matter of Linux")
@pytest.mark.parametrize("write", [write_session_wav, write_session_flac])
def test_a_full_disk_is_told_in_one_sentence(write: Callable, capfd: pytest.CaptureFixture) -> None:
    with open("/dev/full", "wb", buffering=0) as full, pytest.raises(MachineError, match="No space left") as raised:
        write(full, [(SHORT, 60)])
    assert "\n" not in str(raised.value)
    assert capfd.readouterr() == ("", "")
