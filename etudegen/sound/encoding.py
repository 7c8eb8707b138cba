"""Samples as files: WAV by the standard library, FLAC and Ogg Vorbis by libsndfile."""

import importlib
import io
import struct
import wave
import zlib
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from etudegen.errors import MachineError
from etudegen.sound.rendering import FULL_RATE
from etudegen.sound.sampler import Samples

_FULL_SCALE = 32767
_BYTES = 2
# libsndfile's Vorbis encoder keeps what it is given at once on the stack; long sounds overflowed it.
_FRAMES_AT_ONCE = 1 << 14
# In the header of an Ogg page (RFC 3533, section 6).
_SERIAL, _CHECKSUM, _SEGMENTS, _HEADER = 14, 22, 26, 27
_REVERSED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def _pcm(samples: Samples) -> bytes:
    """Return samples from -1 to 1 as little-endian 16 bit integers, channels interleaved."""
    return np.round(np.clip(samples, -1, 1) * _FULL_SCALE).astype("<i2").tobytes()


def _channels_of(samples: Samples) -> int:
    """Return how many channels samples have: frames alone are one."""
    return 1 if samples.ndim == 1 else int(samples.shape[1])


def _in_pieces(samples: Samples) -> Iterator[Samples]:
    return (samples[first : first + _FRAMES_AT_ONCE] for first in range(0, len(samples), _FRAMES_AT_ONCE))


def wav(samples: Samples, rate: int = FULL_RATE) -> bytes:
    """Return samples as the bytes of a 16 bit WAV file."""
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as file:
        file.setnchannels(_channels_of(samples))
        file.setsampwidth(_BYTES)
        file.setframerate(rate)
        # Told beforehand, the length need not be put right once all is written.
        file.setnframes(len(samples))
        for some in _in_pieces(samples):
            file.writeframesraw(_pcm(some))
    return buffer.getvalue()


def _library() -> Any:
    """Return the library for packed sound; raise :class:`MachineError` if it or libsndfile is missing."""
    try:
        return importlib.import_module("soundfile")
    except (ImportError, OSError) as error:
        raise MachineError(
            "FLAC and OGG cannot be written: install the Python package 'soundfile', or ask for WAV"
        ) from error


def _packed(pieces: Iterable[Samples], rate: int, channels: int, **kind: str) -> bytes:
    buffer = io.BytesIO()
    with _library().SoundFile(buffer, "w", rate, channels, **kind) as file:
        for piece in pieces:
            for some in _in_pieces(piece):
                file.write(some)
    return buffer.getvalue()


def flac_of(pieces: Iterable[Samples], channels: int, rate: int = FULL_RATE) -> bytes:
    """Return pieces of a sound as the bytes of one 16 bit FLAC file, never holding more than one of them."""
    return _packed(pieces, rate, channels, format="FLAC", subtype="PCM_16")


def flac(samples: Samples, rate: int = FULL_RATE) -> bytes:
    """Return samples as the bytes of a 16 bit FLAC file: the same sound as the WAV file in about half of its size."""
    return flac_of([samples], _channels_of(samples), rate)


def ogg(samples: Samples, rate: int = FULL_RATE) -> bytes:
    """Return samples as the bytes of an Ogg Vorbis file: small, and nearly the same sound."""
    return _with_fixed_serial(_packed([samples], rate, _channels_of(samples), format="OGG", subtype="VORBIS"))


def _with_fixed_serial(content: bytes) -> bytes:
    """Put a fixed number in place of the one the stream was given at random: the same music, the same bytes."""
    pages = bytearray(content)
    place = 0
    while place < len(pages):
        segments = pages[place + _SEGMENTS]
        end = place + _HEADER + segments + sum(pages[place + _HEADER : place + _HEADER + segments])
        pages[place + _SERIAL : place + _SERIAL + 4] = bytes(4)
        pages[place + _CHECKSUM : place + _CHECKSUM + 4] = bytes(4)
        pages[place + _CHECKSUM : place + _CHECKSUM + 4] = _checksum(bytes(pages[place:end]))
        place = end
    return bytes(pages)


def _checksum(page: bytes) -> bytes:
    """Return the checksum of an Ogg page: that of zlib with all bits the other way round, beginning with nothing."""
    crc = zlib.crc32(page.translate(_REVERSED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return struct.pack("<I", int(f"{crc:032b}"[::-1], 2))
