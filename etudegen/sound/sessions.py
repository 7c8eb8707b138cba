"""A whole session as one sound file: blocks joined to the sample, made piece by piece."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.encoding import flac_of
from etudegen.sound.performance import SoundingNote
from etudegen.sound.rendering import HALF_RATE, Mix, checked_rate, frames
from etudegen.sound.sampler import Samples

# A part of a session: what is heard in it (None for silence), and how many seconds it takes.
Block = tuple[Arrangement | None, Fraction | float]

# General MIDI System Level 1 sound set (MIDI Manufacturers Association), counted from zero.
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


def _checked(blocks: Sequence[Block], rate: int) -> list[int]:
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
    for (arrangement, _), end in zip(blocks, _checked(blocks, rate), strict=True):
        yield from _block(arrangement, end - begin, rate, channels)
        begin = end


def session_flac(blocks: Sequence[Block], rate: int = HALF_RATE, *, mono: bool = True) -> bytes:
    """Return a session as the bytes of a 16 bit FLAC file; silence takes next to nothing.

    Raises :class:`InputError` for a block that cannot be.
    """
    return flac_of(session_audio(blocks, rate, mono=mono), 1 if mono else 2, rate)
