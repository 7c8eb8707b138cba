"""A whole session as one sound file: blocks joined to the sample, written piece by piece."""

import contextlib
import os
import tempfile
import wave
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from etudegen.errors import InputError, MachineError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.encoding import pcm, soundfile
from etudegen.sound.performance import SoundingNote
from etudegen.sound.rendering import HALF_RATE, Mix, checked_rate, frames
from etudegen.sound.sampler import Samples

# A part of a session: what is heard in it (None for silence), and how many seconds it takes.
Block = tuple[Arrangement | None, Fraction | float]

_VIBRAPHONE = 11
# Two soft notes, the second a fourth above the first, say that a block begins.
_ANNOUNCEMENT = Arrangement(
    title="",
    metre=(2, 4),
    tempos=((Fraction(0), Fraction(90)),),
    voices=(
        Voice(
            "Announcement",
            _VIBRAPHONE,
            1,
            80,
            64,
            (
                SoundingNote(Fraction(0), Fraction(3, 4), 67, 56),
                SoundingNote(Fraction(3, 4), Fraction(5, 4), 72, 56),
            ),
        ),
    ),
    duration=Fraction(9, 4),
)
ANNOUNCEMENT_SECONDS = _ANNOUNCEMENT.seconds
_PIECE_FRAMES = 1 << 17
# What the length field of a WAV file can tell, less its header.
_MOST_BYTES = 2**32 - 64
_BYTES = 2


def _checked(blocks: Sequence[Block], rate: int, channels: int, most: int | None) -> list[int]:
    """Return the frame where each block ends, so that no rounding adds up."""
    checked_rate(rate)
    if not blocks:
        raise InputError("a session without blocks has no sound: it needs at least one")
    ends, passed = [], Fraction(0)
    for number, (_, seconds) in enumerate(blocks, start=1):
        if not 0 < seconds < float("inf"):
            raise InputError(f"block {number} lasts {seconds:g} seconds: it must be longer than 0")
        passed += Fraction(seconds)
        ends.append(frames(passed, rate))
    if most is not None and ends[-1] * channels * _BYTES > most:
        raise InputError(f"a session of {float(passed) / 3600:.1f} hours is too long for one WAV file: ask for FLAC")
    return ends


def _silence(length: int, channels: int) -> Iterator[Samples]:
    for first in range(0, length, _PIECE_FRAMES):
        yield np.zeros((min(length - first, _PIECE_FRAMES), channels), np.float32)


def _block(arrangement: Arrangement | None, length: int, rate: int, channels: int) -> Iterator[Samples]:
    """Yield exactly so many frames: the announcement, what is heard, and silence or a cut."""
    left = length
    for heard in (_ANNOUNCEMENT, arrangement):
        if heard is not None and left:
            mix = Mix(heard, rate, channels)
            gain = np.float32(1.0 if heard is _ANNOUNCEMENT else mix.gain(left))
            for mixed in mix.pieces(left):
                yield mixed * gain
            left -= min(left, mix.length)
    yield from _silence(left, channels)


def session_audio(blocks: Sequence[Block], rate: int = HALF_RATE, *, mono: bool = True) -> Iterator[Samples]:
    """Yield a session in pieces of frames and channels, in all exactly as long as its blocks.

    Each block begins with two soft notes; what is heard in it is cut, or followed by silence, to fill its seconds.
    """
    channels = 1 if mono else 2
    begin = 0
    for (arrangement, _), end in zip(blocks, _checked(blocks, rate, channels, None), strict=True):
        yield from _block(arrangement, end - begin, rate, channels)
        begin = end


def write_session_wav(
    file: Path | BinaryIO, blocks: Sequence[Block], rate: int = HALF_RATE, *, mono: bool = True
) -> None:
    """Write a session as a 16 bit WAV file, about 160 megabytes an hour at the default rate.

    A path gets the whole file or none. Raises :class:`InputError` for a block that cannot be and a session too long
    for the format, :class:`MachineError` if the file cannot be written.
    """
    channels = 1 if mono else 2
    length = _checked(blocks, rate, channels, _MOST_BYTES)[-1]

    def write(target: BinaryIO) -> None:
        with wave.open(target, "wb") as sound:
            sound.setnchannels(channels)
            sound.setsampwidth(_BYTES)
            sound.setframerate(rate)
            # Told beforehand, the length need not be put right in a file that cannot go back.
            sound.setnframes(length)
            for mixed in session_audio(blocks, rate, mono=mono):
                sound.writeframesraw(pcm(mixed))

    _put(file, write)


def write_session_flac(
    file: Path | BinaryIO, blocks: Sequence[Block], rate: int = HALF_RATE, *, mono: bool = True
) -> None:
    """Write a session as a 16 bit FLAC file; silence takes next to nothing. Raises as :func:`write_session_wav`."""
    library = soundfile()
    _checked(blocks, rate, 1, None)

    def write(target: BinaryIO) -> None:
        guarded = _Guarded(target)
        with library.SoundFile(guarded, "w", rate, 1 if mono else 2, format="FLAC", subtype="PCM_16") as sound:
            for mixed in session_audio(blocks, rate, mono=mono):
                sound.write(mixed)
                guarded.check()
        guarded.check()

    _put(file, write)


class _Guarded:
    """A file whose trouble is kept until it is asked for: libsndfile cannot pass it on, and prints it instead."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._trouble: OSError | None = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def write(self, data: bytes) -> int:
        """Write, or take note of what went wrong."""
        try:
            return self._file.write(data)
        except OSError as error:
            self._trouble = error
            return len(data)

    def check(self) -> None:
        """Raise what went wrong since the file was opened."""
        if self._trouble is not None:
            raise self._trouble


def _put(file: Path | BinaryIO, write: Callable[[BinaryIO], None]) -> None:
    """Write into an open file, or beside a path that then gets its name."""
    waiting: Path | None = None
    try:
        if not isinstance(file, Path):
            write(file)
            return
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=".etudegen-")
        waiting = Path(name)
        with os.fdopen(handle, "w+b") as target:
            write(target)
        # A temporary file is private; this one is as readable as any other file of its owner.
        mask = os.umask(0)
        os.umask(mask)
        waiting.chmod(0o666 & ~mask)
        waiting.replace(file)
    except OSError as error:
        name = repr(str(file)) if isinstance(file, Path) else "the sound of the session"
        raise MachineError(f"cannot write {name}: {error.strerror or error}") from error
    finally:
        if waiting is not None:
            with contextlib.suppress(OSError):
                waiting.unlink(missing_ok=True)
