"""Partials as written notes: which one each is nearest to, and how far off."""

import math
from dataclasses import dataclass
from functools import cache

from etudegen.instrument.tube import cents
from etudegen.instrument.valves import Valves
from etudegen.theory.pitch import WrittenPitch

# The written fundamental of the open tube on every treble-clef brass instrument.
FUNDAMENTAL = WrittenPitch("C", 0, 3)
HIGHEST = 16
# A player can lip a partial this many cents into tune in passing; 7, 11, 13 and 14 lie farther off.
# Common practice, no source.
_NEAR = 20.0

# The letters players give the fundamentals of the positions, so that a line has few accidentals, all of one sign.
_FUNDAMENTALS = ("C", "B", "Bb", "A", "Ab", "G", "F#")
_FLAT_SIDE = {"C", "Bb", "Ab"}
# Staff steps above the fundamental for partials spelled by interval: octaves, fifths, thirds, ninth, major seventh.
_STEPS = {1: 0, 2: 7, 3: 11, 4: 14, 5: 16, 6: 18, 8: 21, 9: 22, 10: 23, 12: 25, 15: 27, 16: 28}


def half_steps_above(partial: int) -> int:
    """Return the nearest equal-tempered distance of a partial above its fundamental, in half steps."""
    return round(12 * math.log2(partial))


def deviation(partial: int) -> float:
    """Return how many cents a partial lies above (or below, negative) its nearest equal-tempered note."""
    return cents(partial) - 100 * half_steps_above(partial)


def is_near(partial: int) -> bool:
    """Tell whether a partial is close enough to equal temperament to be used without being asked for."""
    return abs(deviation(partial)) <= _NEAR


@dataclass(frozen=True, slots=True)
class Resonance:
    """One partial of the tube that a valve combination opens."""

    valves: Valves
    partial: int

    @property
    def number(self) -> int:
        """The key number of the written note it serves."""
        return FUNDAMENTAL.number - self.valves.half_steps + half_steps_above(self.partial)

    @property
    def written(self) -> WrittenPitch:
        """The written note it serves, spelled so that a whole line on this tube has accidentals of one sign."""
        return _written(self.valves.half_steps, self.partial)


# A session asks for a few dozen of them ten thousand times.
@cache
def _written(half_steps: int, partial: int) -> WrittenPitch:
    name = _FUNDAMENTALS[half_steps]
    octave = 3 if name == "C" else 2
    root = WrittenPitch.parse(f"{name}{octave}")
    if partial in _STEPS:
        return root.above(_STEPS[partial], half_steps_above(partial))
    natural_or_flat = WrittenPitch.from_number(FUNDAMENTAL.number - half_steps + half_steps_above(partial))
    if natural_or_flat.alter == 0:
        return natural_or_flat
    flat = name in _FLAT_SIDE
    for steps in (-1, 0, 1):
        respelled = natural_or_flat.above(steps, 0)
        if respelled.alter == (-1 if flat else 1):
            return respelled
    raise AssertionError("every black key has a flat and a sharp name")


def series(valves: Valves, highest: int = HIGHEST) -> tuple[Resonance, ...]:
    """Return the partials 1 to ``highest`` of the tube that a combination opens."""
    return tuple(Resonance(valves, partial) for partial in range(1, highest + 1))
