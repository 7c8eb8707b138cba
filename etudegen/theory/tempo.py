"""Beats a minute and what they mean in seconds."""

from fractions import Fraction

from etudegen.errors import InputError

SLOWEST, FASTEST = 20, 300
# The marks on a metronome with a pendulum, in beats a minute; common practice, no source.
METRONOME: tuple[int, ...] = (
    *range(40, 60, 2),
    *range(60, 72, 3),
    *range(72, 120, 4),
    *range(120, 144, 6),
    *range(144, 209, 8),
)
# Common practice, no source: a tune that says no tempo is played at a walking pace.
USUAL_TEMPO = 96
# Common practice, no source: what is under a fermata lasts about twice as long as it is written.
FERMATA = 2


def checked_tempo(tempo: int) -> int:
    """Return quarter notes a minute if a metronome and a player could follow, else raise InputError."""
    if not SLOWEST <= tempo <= FASTEST:
        raise InputError(f"tempo {tempo} is out of reach: allowed are {SLOWEST} to {FASTEST} quarter notes a minute")
    return tempo


def seconds(quarters: Fraction, tempo: int | Fraction) -> Fraction:
    """Return how long so many quarter notes last, in seconds, exactly."""
    return quarters * 60 / tempo


def at_or_below(tempo: Fraction | float) -> int:
    """Return the mark of a metronome at a tempo or next below it, the slowest mark for what is slower than all."""
    return max((mark for mark in METRONOME if mark <= tempo), default=METRONOME[0])


def at_or_above(tempo: Fraction | float) -> int:
    """Return the mark of a metronome at a tempo or next above it, the fastest mark for what is faster than all."""
    return min((mark for mark in METRONOME if mark >= tempo), default=METRONOME[-1])


def steps(tempo: int, by: int) -> int:
    """Return the mark so many marks above (below, where ``by`` is negative) a tempo; the scale's ends are not left."""
    place = METRONOME.index(at_or_below(tempo)) + by
    return METRONOME[min(max(place, 0), len(METRONOME) - 1)]
