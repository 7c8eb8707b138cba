"""What is heard of a play-along: voices with their notes in time, before it is written as MIDI or sound."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from etudegen.sound.performance import SoundingNote


@dataclass(frozen=True, slots=True)
class Voice:
    """One part of a play-along.

    ``program`` is zero-based General MIDI, None for percussion; ``channel`` 1 to 16 (percussion on 10); ``volume``
    0 to 127; ``pan`` 0 (left) to 127 (right), 64 in the middle.
    """

    name: str
    program: int | None
    channel: int
    volume: int
    pan: int
    notes: tuple[SoundingNote, ...]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A play-along: ``tempos`` are (quarter notes from the start, quarter notes a minute), the first one at 0.

    ``duration`` is in quarter notes, count-in and closing rests with it.
    """

    title: str
    metre: tuple[int, int]
    tempos: tuple[tuple[Fraction, Fraction], ...]
    voices: tuple[Voice, ...]
    duration: Fraction

    @property
    def tempo(self) -> Fraction:
        """The tempo that it begins in, in quarter notes a minute."""
        return self.tempos[0][1]

    @property
    def seconds(self) -> Fraction:
        """How long it lasts, exactly."""
        return self.clock().seconds(self.duration)

    def clock(self) -> "Clock":
        """Return what tells its moments in seconds."""
        return Clock(self.tempos)


class Clock:
    """Quarter notes to seconds, through all changes of tempo."""

    def __init__(self, tempos: tuple[tuple[Fraction, Fraction], ...]) -> None:
        self._starts = [start for start, _ in tempos]
        self._lasts = [60 / tempo for _, tempo in tempos]
        self._elapsed = [Fraction(0)]
        for index in range(len(tempos) - 1):
            passed = (self._starts[index + 1] - self._starts[index]) * self._lasts[index]
            self._elapsed.append(self._elapsed[-1] + passed)

    def seconds(self, quarters: Fraction) -> Fraction:
        """Return when a moment in quarter notes comes, in seconds from the start."""
        index = bisect_right(self._starts, quarters) - 1
        return self._elapsed[index] + (quarters - self._starts[index]) * self._lasts[index]
