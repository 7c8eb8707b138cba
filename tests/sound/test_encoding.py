"""Sound files read back by other readers."""

import io
import sys
import wave
import zlib
from fractions import Fraction

import numpy as np
import pytest
import soundfile

from etudegen.errors import MachineError
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.encoding import flac, ogg, wav
from etudegen.sound.rendering import FULL_RATE, render
from tests.sound.music import performance

# One step of 16 bits.
STEP = 1 / 32768


@pytest.fixture(scope="module")
def samples() -> np.ndarray:
    return render(arrange(performance([(0, 1, 60), (2, Fraction(7, 3), 67)], 5, tempo=97), Backing(click=False)))


def test_wav_holds_the_samples(samples: np.ndarray) -> None:
    with wave.open(io.BytesIO(wav(samples)), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, FULL_RATE)
        assert file.getnframes() == len(samples)
        read = np.frombuffer(file.readframes(len(samples)), "<i2").reshape(-1, 2)
    assert np.abs(read / 32767 - samples).max() <= STEP


def test_full_scale_does_not_wrap_round() -> None:
    loud = np.array([[1.0, -1.0], [1.5, -1.5]], np.float32)
    read, _ = soundfile.read(io.BytesIO(wav(loud)), dtype="int16")
    assert read.tolist() == [[32767, -32767], [32767, -32767]]


def test_flac_is_the_same_sound_in_less_room(samples: np.ndarray) -> None:
    packed = flac(samples)
    read, rate = soundfile.read(io.BytesIO(packed))
    assert rate == FULL_RATE
    assert read.shape == samples.shape
    assert np.abs(read - samples).max() <= STEP
    assert len(packed) < 0.7 * len(wav(samples))


def test_ogg_is_as_long_and_nearly_the_same_sound(samples: np.ndarray) -> None:
    packed = ogg(samples)
    info = soundfile.info(io.BytesIO(packed))
    assert (info.format, info.subtype, info.frames, info.samplerate) == ("OGG", "VORBIS", len(samples), FULL_RATE)
    read, _ = soundfile.read(io.BytesIO(packed))
    assert np.corrcoef(read[:, 0], samples[:, 0])[0, 1] > 0.99
    assert len(packed) < 0.2 * len(wav(samples))


def test_the_same_sound_gives_the_same_bytes(samples: np.ndarray) -> None:
    for encode in (wav, flac, ogg):
        assert encode(samples) == encode(samples)


def test_ogg_pages_have_the_checksum_of_the_standard(samples: np.ndarray) -> None:
    """RFC 3533: the polynomial 0x04c11db7 over the page with its checksum set to zero, nothing reflected."""
    page = bytearray(ogg(samples)[:58])
    told = int.from_bytes(page[22:26], "little")
    page[22:26] = bytes(4)
    register = 0
    for byte in page:
        register ^= byte << 24
        for _ in range(8):
            register = (register << 1 ^ (0x04C11DB7 if register & 0x80000000 else 0)) & 0xFFFFFFFF
    assert register == told
    assert told != zlib.crc32(page)


def test_a_long_sound_is_handed_over_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """libsndfile keeps what it is given at once on the stack for Vorbis, and long sounds overflow it."""
    given: list[int] = []
    write = soundfile.SoundFile.write
    monkeypatch.setattr(
        soundfile.SoundFile, "write", lambda self, samples: (given.append(len(samples)), write(self, samples))
    )
    long = np.zeros((FULL_RATE * 20, 2), np.float32)
    assert soundfile.info(io.BytesIO(ogg(long))).frames == len(long)
    assert sum(given) == len(long)
    assert max(given) <= 1 << 14


def test_without_the_library_wav_is_left(samples: np.ndarray, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "soundfile", None)
    for encode in (flac, ogg):
        with pytest.raises(MachineError, match="install the Python package 'soundfile', or ask for WAV"):
            encode(samples)
    assert wav(samples)[:4] == b"RIFF"
