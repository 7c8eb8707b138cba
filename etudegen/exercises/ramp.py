"""The ramp: stages that lead a slur session from a warm-up into conditioning.

Common practice, no source: start low and quiet with neighbouring partials, then widen, rise and quicken.
"""

from dataclasses import dataclass

from etudegen.exercises.contours import NAMED, Contour
from etudegen.theory.rhythm import Rhythm


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
    Stage("4 · wider and wider reaches in triplets", NAMED["anchor"], Rhythm.TRIPLETS),
    Stage("5 · full sweeps in sixteenths", NAMED["sweep"], Rhythm.SIXTEENTHS),
)
