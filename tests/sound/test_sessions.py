"""A session as one file: exact to the sample, block by block."""

import io
from fractions import Fraction

import librosa
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.sessions import (
    ANNOUNCEMENT_SECONDS,
    session_audio,
    session_flac,
)
from tests.sound.music import cents, hertz, performance

RATE = 22_050
# Eight beats of notes at 120: four seconds.
SHORT = arrange(performance([(beat, 1, 60 + beat) for beat in range(8)], 8), Backing(click=False, count_in=0))


def whole(blocks: list, **options: object) -> np.ndarray:
    return np.concatenate(list(session_audio(blocks, **options)))


@given(st.lists(st.tuples(st.booleans(), st.floats(0.01, 9)), min_size=1, max_size=6))
@settings(max_examples=18)
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


def test_flac_holds_the_session() -> None:
    blocks = [(SHORT, 6), (None, 20)]
    packed = session_flac(blocks)
    read, rate = soundfile.read(io.BytesIO(packed))
    assert rate == RATE
    plain = whole(blocks)[:, 0]
    assert read.shape == plain.shape
    assert np.abs(read - plain).max() <= 2 / 32768
    # Two bytes a frame would be so many.
    assert len(packed) < 2 * len(plain) / 3
    assert session_flac(blocks) == packed
    stereo = soundfile.info(io.BytesIO(session_flac(blocks, 44_100, mono=False)))
    assert (stereo.channels, stereo.samplerate, stereo.frames) == (2, 44_100, 26 * 44_100)


def test_pieces_stay_small() -> None:
    assert max(map(len, session_audio([(SHORT, 30), (None, 3600)]))) <= 1 << 17


def test_what_cannot_be_is_told() -> None:
    with pytest.raises(InputError, match="without blocks"):
        session_flac([])
    with pytest.raises(InputError, match="block 2 lasts 0 seconds"):
        session_flac([(None, 1), (None, 0)])
    with pytest.raises(InputError, match="sample rate 96000"):
        session_flac([(None, 1)], 96_000)
