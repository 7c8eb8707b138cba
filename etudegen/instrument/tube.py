"""The tube and its valve loops as lengths, and what resonates in them.

A brass tube's modes are drawn close to a harmonic series by bell and mouthpiece, so the n-th partial of a tube of
effective length L sounds at n * c / (2 * L); n = 1 has no resonance of its own and is carried by those above
(M. Campbell and C. Greated, The Musician's Guide to Acoustics, 1987, chapter 9; from memory).
"""

import math
from dataclasses import dataclass

from etudegen.errors import InputError
from etudegen.instrument.valves import Valves
from etudegen.theory.pitch import SoundingPitch

# Dry air at 20 degrees Celsius, in metres a second (CRC Handbook of Chemistry and Physics prints 343.2 to 343.4).
SPEED_OF_SOUND = 343.2
STANDARD_A4 = 440.0
_A4_NUMBER = 69


def cents(ratio: float) -> float:
    """Return the size of a frequency ratio in cents (1200 to the octave)."""
    return 1200 * math.log2(ratio)


def equal_tempered_hertz(pitch: SoundingPitch, a4: float = STANDARD_A4) -> float:
    """Return the equal-tempered frequency of a sounding pitch in hertz, from A4 in hertz."""
    return a4 * 2 ** ((pitch.number - _A4_NUMBER) / 12)


def checked_a4(a4: float) -> float:
    """Return a reference pitch in hertz that instruments are built near (380 to 500), else raise InputError."""
    if not 380 <= a4 <= 500:
        raise InputError(f"reference pitch {a4:g} Hz for A4 is out of reach: allowed are 380 to 500 Hz")
    return a4


@dataclass(frozen=True, slots=True)
class Loops:
    """What valves 1, 2 and 3 each add, as fractions of the open tube's length (0.0595 is 5.95 per cent)."""

    first: float
    second: float
    third: float

    def added(self, valves: Valves) -> float:
        """Return the fraction of the open tube that a combination adds."""
        loop = {1: self.first, 2: self.second, 3: self.third}
        return sum(loop[valve] for valve in valves.down)


def needed(half_steps: float) -> float:
    """Return the fraction of the tube then open that must be added to sound exactly so many half steps lower."""
    return float(2 ** (half_steps / 12)) - 1


def tempered_loops() -> Loops:
    """Return loops by rule: 1 and 2 alone exactly in tune, 3 long enough for 2 and 3 together to be exact."""
    second = needed(1)
    return Loops(first=needed(2), second=second, third=needed(4) - second)


def checked_loops(first: float, second: float, third: float) -> Loops:
    """Return loops given as fractions, if each is above 0 and at most 0.5, else raise InputError."""
    for valve, loop in ((1, first), (2, second), (3, third)):
        if not 0 < loop <= 0.5:
            raise InputError(f"the loop of valve {valve} adds {100 * loop:g} per cent: allowed is above 0 and up to 50")
    return Loops(first, second, third)


@dataclass(frozen=True, slots=True)
class Tube:
    """An open tube, by the frequency in hertz of its (nominal) fundamental, with its valve loops."""

    fundamental: float
    loops: Loops

    @property
    def length(self) -> float:
        """The effective length of the open tube in millimetres."""
        return 1000 * SPEED_OF_SOUND / (2 * self.fundamental)

    def hertz(self, partial: int, valves: Valves) -> float:
        """Return the frequency of a partial (1, 2, 3 ...) with these valves down."""
        return partial * self.fundamental / (1 + self.loops.added(valves))

    def third_slide(self, valves: Valves) -> float | None:
        """Return how far to draw the third slide, in mm, to bring a combination down to equal temperament.

        A slide has two legs, so it moves half the missing length; 0.0 when nothing is missing, None without
        the third valve.
        """
        if 3 not in valves.down:
            return None
        missing = needed(valves.half_steps) - self.loops.added(valves)
        return max(0.0, missing * self.length / 2) if missing > 1e-9 else 0.0
