"""Rhythms for a run of notes, and how a run broadens into its last, held note."""

from enum import StrEnum
from fractions import Fraction

_EQUAL_NOTES = 2

# Beats in a measure, and the note value that is one of them: (6, 8) is six eighths.
Metre = tuple[int, int]


class Rhythm(StrEnum):
    """The value that the moving notes of a line share."""

    HALVES = "halves"
    QUARTERS = "quarters"
    EIGHTHS = "eighths"
    TRIPLETS = "triplets"
    SIXTEENTHS = "sixteenths"

    @property
    def per_beat(self) -> int:
        """How many notes begin in one beat (a quarter note) that they fill; one where each lasts longer than that."""
        return {"halves": 1, "quarters": 1, "eighths": 2, "triplets": 3, "sixteenths": 4}[self.value]

    @property
    def note(self) -> Fraction:
        """How long one note lasts, in quarter notes."""
        return Fraction(2) if self is Rhythm.HALVES else Fraction(1, self.per_beat)


def bar_length(metre: Metre) -> Fraction:
    """Return the length of a bar in quarter notes."""
    return Fraction(4 * metre[0], metre[1])


def _broadened(remaining: int, per_beat: int) -> list[Fraction]:
    """Fill the last beat with fewer notes than the rhythm has: one, two equal ones, or short ones and a longer last."""
    if remaining <= _EQUAL_NOTES:
        return [Fraction(1, remaining)] * remaining
    note = Fraction(1, per_beat)
    return [note] * (remaining - 1) + [1 - (remaining - 1) * note]


def running_then_held(notes: int, rhythm: Rhythm, bar: Fraction, least_hold: Fraction) -> list[Fraction]:
    """Return durations for so many notes: all run in the rhythm but the last, which is held to a barline.

    The run always ends on a beat (its last beat broadens if notes are missing) and the hold lasts at least
    ``least_hold`` quarter notes, so that together they fill whole bars.
    """
    full, over = divmod(notes - 1, rhythm.per_beat)
    durations = [rhythm.note] * (full * rhythm.per_beat)
    if over:
        durations += _broadened(over, rhythm.per_beat)
    spent = sum(durations, Fraction(0))
    hold = -spent % bar
    while hold < least_hold:
        hold += bar
    return [*durations, hold]
