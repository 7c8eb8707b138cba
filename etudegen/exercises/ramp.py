"""The ramp: stages that lead a slur session from a warm-up into conditioning.

Common practice, no source: start low and quiet with neighbouring partials, then widen, rise and quicken.
"""

from dataclasses import dataclass

from etudegen.exercises.contours import NAMED, Contour
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import SLOWEST, steps

# A stage is so many marks of a metronome slower than the next.
_MARKS_SLOWER = 2


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage: a shape and a rhythm, on the lowest so many usable partials (0: on all of them)."""

    heading: str
    contour: Contour
    rhythm: Rhythm
    lowest_partials: int = 0


STAGES = (
    Stage("1 · low neighbours in quarters", NAMED["neighbours"], Rhythm.QUARTERS, 3),
    Stage("2 · short climbs in eighths", NAMED["climb"], Rhythm.EIGHTHS, 4),
    Stage("3 · skips in eighths", NAMED["skips"], Rhythm.EIGHTHS, 5),
    Stage("4 · three by three in triplets", NAMED["threes"], Rhythm.TRIPLETS),
    Stage("5 · full sweeps in sixteenths", NAMED["sweep"], Rhythm.SIXTEENTHS),
)


def tempo_of(place: int, stages: int, tempo: int) -> int:
    """Return the tempo of a stage, its place counted from 0, where the last of so many stages is at ``tempo``."""
    if place + 1 == stages:
        return tempo
    return max(SLOWEST, min(tempo, steps(tempo, _MARKS_SLOWER * (place + 1 - stages))))
