"""Beats a minute and what they mean in seconds."""

from fractions import Fraction

from etudegen.errors import InputError

SLOWEST, FASTEST = 20, 300
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
