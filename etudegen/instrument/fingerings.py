"""Which valves play a written note: the ordinary fingering, and the others a player may reach for.

Rule: over the partials 2 3 4 5 6 8 take the combination that lowers the tube least, and 1-2 rather than 3; the
octave above repeats it on 10, 12 and 16. It gives the published charts without a mismatch.
"""

from collections.abc import Mapping, Sequence
from functools import cache

from etudegen.instrument.partials import Resonance, deviation, is_near, series
from etudegen.instrument.tube import Loops, cents, tempered_loops
from etudegen.instrument.valves import COMBINATIONS, POSITIONS
from etudegen.theory.pitch import WrittenPitch

_ORDINARY = (2, 3, 4, 5, 6, 8, 10, 12, 16)


@cache
def _by_number() -> Mapping[int, Sequence[Resonance]]:
    """Return for each key number the resonances that serve it, from the second partial up."""
    serving: dict[int, list[Resonance]] = {}
    for valves in COMBINATIONS:
        for resonance in series(valves)[1:]:
            serving.setdefault(resonance.number, []).append(resonance)
    return serving


def _resonances(number: int) -> Sequence[Resonance]:
    return _by_number().get(number, ())


@cache
def ordinary(note: WrittenPitch) -> Resonance | None:
    """Return the fingering of the charts for a written note, or None where no partial from 2 to 16 serves it."""
    candidates = [
        resonance
        for resonance in _resonances(note.number)
        if resonance.partial in _ORDINARY and resonance.valves in POSITIONS
    ]
    return min(candidates, key=lambda resonance: resonance.valves.half_steps, default=None)


def alternates(note: WrittenPitch, loops: Loops | None = None) -> tuple[Resonance, ...]:
    """Return the other fingerings on partials near equal temperament: least lowering first, then best in tune.

    How well they are in tune depends on the valve loops (those of the usual rule if left out).
    """
    chosen = ordinary(note)
    others = {
        resonance.valves: resonance
        for resonance in _resonances(note.number)
        if is_near(resonance.partial) and (chosen is None or resonance.valves != chosen.valves)
    }
    tube = loops or tempered_loops()
    return tuple(sorted(others.values(), key=lambda other: (other.valves.half_steps, abs(_cents_off(other, tube)))))


def _cents_off(resonance: Resonance, loops: Loops) -> float:
    lowered = cents(1 + loops.added(resonance.valves))
    return deviation(resonance.partial) + 100 * resonance.valves.half_steps - lowered
