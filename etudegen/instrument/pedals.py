"""Fingerings below the natural range, which ends at written F sharp 3.

Common practice, no source: F3 down to C sharp 3 have no partial near them and are fingered like the note an octave
higher; C3 down to F sharp 2 are the fundamentals of the seven positions; lower still the octave above is fingered.
"""

from enum import StrEnum

from etudegen.errors import InputError
from etudegen.instrument.fingerings import ordinary
from etudegen.instrument.partials import FUNDAMENTAL, Resonance
from etudegen.instrument.valves import POSITIONS, Valves
from etudegen.theory.pitch import WrittenPitch

_OCTAVE = 12
# The second partial of the longest tube.
LOWEST_ORDINARY = Resonance(POSITIONS[-1], 2).written
_LOWEST_FUNDAMENTAL = FUNDAMENTAL.number - POSITIONS[-1].half_steps


class BentFingering(StrEnum):
    """How the notes that no partial carries are fingered."""

    OCTAVE = "octave"
    LONGEST = "longest"


def is_ordinary(note: WrittenPitch) -> bool:
    """Tell whether a note belongs to the natural range."""
    return note.number >= LOWEST_ORDINARY.number


def pedal_fingering(note: WrittenPitch, bent: BentFingering = BentFingering.OCTAVE) -> tuple[Valves, int | None]:
    """Return the valves for a note of the natural range or below it, and its partial, None where none carries it.

    ``bent`` chooses, for the notes between the natural range and the fundamentals, the valves of the octave above or
    the longest tube, from whose second partial they are bent down.
    """
    resonance = ordinary(note) if is_ordinary(note) else None
    if resonance is not None:
        return resonance.valves, resonance.partial
    if _LOWEST_FUNDAMENTAL <= note.number <= FUNDAMENTAL.number:
        return POSITIONS[FUNDAMENTAL.number - note.number], 1
    if FUNDAMENTAL.number < note.number < LOWEST_ORDINARY.number and bent is BentFingering.LONGEST:
        return POSITIONS[-1], None
    if note.number >= LOWEST_ORDINARY.number:
        raise InputError(f"{note} has no fingering: no partial up to the sixteenth serves it")
    return pedal_fingering(note.above(7, _OCTAVE), bent)[0], None
