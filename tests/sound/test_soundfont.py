"""The sound font: found without its package, read as its specification says, brought into tune."""

import importlib.metadata
import struct
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import librosa
import numpy as np
import pytest

from etudegen.errors import MachineError
from etudegen.sound.sampler import Struck, piece
from etudegen.sound.soundfont import PERCUSSION_BANK, SoundFont, font_path, read_font
from tests.sound.music import cents, hertz

RATE = 44_100


@pytest.mark.parametrize(("bank", "program", "key"), [(0, 56, 60), (0, 32, 40), (0, 0, 60), (0, 20, 48)])
def test_the_instruments_are_there(bank: int, program: int, key: int) -> None:
    layers = read_font(font_path()).layers(bank, program, key, 80)
    assert layers
    assert all(layer.loop is not None for layer in layers), "they can be held"


# General MIDI System Level 1 specification (MIDI Manufacturers Association), percussion key map: high and low wood
# block, ride cymbal 1, closed hi-hat.
@pytest.mark.parametrize("key", [76, 77, 51, 42])
def test_the_percussion_is_there(key: int) -> None:
    assert read_font(font_path()).layers(PERCUSSION_BANK, 0, key, 80)


def test_high_wood_block_is_higher_than_the_low_one() -> None:
    def centre(key: int) -> float:
        sound = piece(Struck(None, key, 100, 100, RATE), 0, RATE // 2, font_path())
        spectrum = np.abs(np.fft.rfft(sound)) ** 2
        return float((np.arange(len(spectrum)) * spectrum).sum() / spectrum.sum())

    assert centre(76) > 1.2 * centre(77)


def test_the_package_of_the_font_is_not_imported() -> None:
    code = "import sys; from etudegen.sound.rendering import Mix; from etudegen.sound.soundfont import *; "
    code += "read_font(font_path()); print('pretty_midi' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)


def font_of(sound: np.ndarray, rate: int, loop: tuple[int, int], root: int, generators: dict[int, int]) -> bytes:
    """A font of one sample, put together by the SoundFont 2.04 technical specification, section 7."""

    def header(name: str, *rest: bytes) -> bytes:
        return name.encode().ljust(20, b"\0") + b"".join(rest)

    def bags(*places: int) -> bytes:
        return b"".join(struct.pack("<HH", place, 0) for place in places)

    inner = b"".join(struct.pack("<Hh", number, amount) for number, amount in generators.items())
    inner += struct.pack("<Hh", 53, 0)
    data = {
        b"phdr": header("one", struct.pack("<HHHIII", 5, 0, 0, 0, 0, 0))
        + header("EOP", struct.pack("<HHHIII", 0, 0, 1, 0, 0, 0)),
        b"pbag": bags(0, 1),
        b"pgen": struct.pack("<Hh", 41, 0) + bytes(4),
        b"inst": header("one", struct.pack("<H", 0)) + header("EOI", struct.pack("<H", 1)),
        b"ibag": bags(0, len(generators) + 1),
        b"igen": inner + bytes(4),
        b"shdr": header("wave", struct.pack("<IIIIIBbHH", 0, len(sound), *loop, rate, root, 0, 0, 1))
        + header("EOS", bytes(26)),
    }
    samples = chunk(b"LIST", b"sdta" + chunk(b"smpl", sound.astype("<i2").tobytes()))
    tables = chunk(b"LIST", b"pdta" + b"".join(chunk(name, content) for name, content in data.items()))
    return b"RIFF" + struct.pack("<I", 4 + len(samples) + len(tables)) + b"sfbk" + samples + tables


def tone(drift: float, rate: int = 22_050, seconds: float = 1.0) -> np.ndarray:
    """A at 440 Hz with two overtones that goes from sharp to flat by so many cents."""
    time = np.arange(round(seconds * rate)) / rate
    phase = 2 * np.pi * np.cumsum(440 * 2 ** (drift * (1 - 2 * time / seconds) / 1200)) / rate
    return 8000 * (np.sin(phase) + 0.5 * np.sin(2 * phase) + 0.25 * np.sin(3 * phase))


@pytest.mark.parametrize("drift", [0, 10, -15])
def test_a_drifting_sample_is_brought_into_tune(drift: float, tmp_path: Path) -> None:
    path = tmp_path / "one.sf2"
    path.write_bytes(font_of(tone(drift), 22_050, (11_025, 22_000), 69, {54: 1}))
    for key in (64, 69, 73):
        sound = piece(Struck(5, key, 100, 2 * RATE, RATE), 0, 2 * RATE, path)
        for start in (0.05, 0.5, 1.2):
            part = sound[round(start * RATE) : round((start + 0.4) * RATE)]
            measured = np.median(librosa.yin(part, fmin=200, fmax=900, sr=RATE, frame_length=4096))
            assert abs(cents(float(measured), hertz(key))) < 3, (key, start)


def test_generators_are_read_as_specified(tmp_path: Path) -> None:
    # In timecents 34: attack, 36: decay and 38: release; in centibels 37: sustain; in cents 8: cutoff of the filter.
    generators = {54: 1, 36: 1200, 37: 200, 38: -1200, 8: 6900, 34: -2400}
    layer = SoundFont(font_of(tone(0), 22_050, (11_025, 22_000), 69, generators)).layers(0, 5, 69, 100)[0]
    assert layer.decay == pytest.approx(2)
    assert layer.sustain == pytest.approx(0.1)
    assert layer.release == pytest.approx(0.5)
    assert layer.attack == pytest.approx(0.25)
    # Absolute cents are counted from 8.176 Hz, key 0: 6900 is A4.
    assert layer.cutoff == pytest.approx(440, rel=1e-3)


def test_only_the_keys_and_velocities_of_a_zone_sound() -> None:
    low, high = 60, 70
    content = font_of(tone(0), 22_050, (11_025, 22_000), 69, {43: low | high << 8, 54: 1})
    font = SoundFont(content)
    assert [bool(font.layers(0, 5, key, 80)) for key in (59, 60, 70, 71)] == [False, True, True, False]
    with pytest.raises(MachineError, match="no program 6"):
        font.layers(0, 6, 60, 80)


def test_nothing_is_folded_back_at_half_the_rate(tmp_path: Path) -> None:
    """A sample with 9 kHz in it, played an octave up, has nothing to say at 22,050 frames a second."""
    time = np.arange(44_100) / 44_100
    wave = 9000 * (np.sin(2 * np.pi * 220.5 * time) + np.sin(2 * np.pi * 9000 * time))
    path = tmp_path / "high.sf2"
    # The loop holds whole periods of both.
    path.write_bytes(font_of(wave, 44_100, (22_050, 22_050 + 2 * 9800), 57, {54: 1}))
    sound = piece(Struck(5, 69, 127, 20_000, 22_050), 2000, 18_000, path)
    level = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    hertz_of = np.fft.rfftfreq(len(sound), 1 / 22_050)
    assert abs(hertz_of[level.argmax()] - 440) < 2
    # 18 kHz would be folded back to 4050 Hz.
    assert level[hertz_of > 2000].max() < level.max() / 300


def test_threads_that_want_the_font_at_once_share_one(tmp_path: Path) -> None:
    path = tmp_path / "shared.sf2"
    path.write_bytes(font_of(tone(0), 22_050, (11_025, 22_000), 69, {54: 1}))
    with ThreadPoolExecutor(8) as threads:
        fonts = list(threads.map(lambda _: read_font(path), range(32)))
    assert len(set(map(id, fonts))) == 1


def test_what_is_missing_or_damaged_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def missing(name: str) -> None:
        raise importlib.metadata.PackageNotFoundError(name)

    font_path.cache_clear()
    monkeypatch.setattr(importlib.metadata, "files", missing)
    with pytest.raises(MachineError, match="install the Python package 'pretty_midi'"):
        font_path()
    monkeypatch.setattr(importlib.metadata, "files", lambda name: [])
    with pytest.raises(MachineError, match="has no sound font"):
        font_path()
    with pytest.raises(MachineError, match="cannot read the sound font"):
        read_font(tmp_path / "nowhere.sf2")
    other = tmp_path / "other.sf2"
    other.write_bytes(b"RIFF\0\0\0\0WAVE")
    with pytest.raises(MachineError, match="is no SoundFont file"):
        read_font(other)
    half = tmp_path / "half.sf2"
    half.write_bytes(b"RIFF\0\0\0\0sfbk" + chunk(b"smpl", bytes(8)))
    with pytest.raises(MachineError, match="is damaged"):
        read_font(half)
