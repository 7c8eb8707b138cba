"""Spelled pitches in scientific pitch notation, and the two kinds that must never be mixed up.

C4 is middle C and has the key number 60, as in the MIDI 1.0 specification (middle C = 60).
"""

import re
from dataclasses import dataclass
from typing import Self

from etudegen.errors import InputError

STEPS = "CDEFGAB"
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ALTERATIONS = {
    "": 0,
    "#": 1,
    "b": -1,
    "♯": 1,
    "♭": -1,
    "♮": 0,
    "##": 2,
    "bb": -2,
    "♯♯": 2,
    "♭♭": -2,
    "x": 2,
    "𝄪": 2,
    "𝄫": -2,
}
_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_PRETTY = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_PATTERN = re.compile(r"([A-Ga-g])(##|bb|♯♯|♭♭|[#b♯♭♮x𝄪𝄫]?)(-?[0-9])")

# Common practice, no source: the names a fingering chart gives to the five black keys.
_CHART_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch.

    ``step`` is one of ``CDEFGAB``; ``alter`` the half steps added by the accidental, -2 to 2; ``octave`` the
    octave of the step (B#3 sounds like C4).
    """

    step: str
    alter: int
    octave: int

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read ``F#3``, ``Bb4``, ``E♭5``; raise :class:`InputError` for anything else."""
        match = _PATTERN.fullmatch(text.strip())
        if match is None:
            raise InputError(
                f"cannot read the note {text!r}: write a letter A to G, then # or b if needed, "
                "then the octave, like F#3, Bb4 or C6"
            )
        step, sign, octave = match.groups()
        return cls(step.upper(), _ALTERATIONS[sign], int(octave))

    @classmethod
    def from_number(cls, number: int) -> Self:
        """Spell a key number the way fingering charts do (C♯, E♭, F♯, A♭, B♭)."""
        octave, pitch_class = divmod(number, 12)
        name = _CHART_NAMES[pitch_class]
        return cls(name[0], _ALTERATIONS[name[1:]], octave - 1)

    @property
    def number(self) -> int:
        """Half steps above C-1, so that C4 is 60."""
        return 12 * (self.octave + 1) + _SEMITONES[self.step] + self.alter

    @property
    def name(self) -> str:
        """The spelling without its octave in ASCII, such as ``Bb``."""
        return self.step + _SIGNS[self.alter]

    @property
    def pretty(self) -> str:
        """The pitch as print shows it, such as ``B♭4``."""
        return f"{self.pretty_name}{self.octave}"

    @property
    def pretty_name(self) -> str:
        """The spelling without its octave as print shows it, such as ``B♭``."""
        return f"{self.step}{_PRETTY[self.alter]}"

    @property
    def staff_number(self) -> int:
        """Steps on the staff above C0."""
        return len(STEPS) * self.octave + STEPS.index(self.step)

    def above(self, staff_steps: int, half_steps: int) -> Self:
        """Return the pitch so many staff steps and half steps higher (both may be negative)."""
        octave, index = divmod(STEPS.index(self.step) + staff_steps, 7)
        natural = type(self)(STEPS[index], 0, self.octave + octave)
        return type(self)(natural.step, self.number + half_steps - natural.number, natural.octave)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


class WrittenPitch(Pitch):
    """A pitch as the player reads it."""

    __slots__ = ()


class SoundingPitch(Pitch):
    """A pitch as everybody else hears it (concert pitch)."""

    __slots__ = ()
