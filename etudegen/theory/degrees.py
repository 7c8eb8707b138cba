"""Degrees of a scale, as musicians count them: 1 is the tonic, b3 the minor third, 9 the second an octave up."""

import re
from dataclasses import dataclass

from etudegen.errors import InputError
from etudegen.theory.pitch import WrittenPitch

_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_DEGREE = re.compile(r"(bb|b|##|#|)(-?[0-9]{1,2})")
_ALTERATIONS = {"": 0, "b": -1, "bb": -2, "#": 1, "##": 2}


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree of the major scale, altered by half steps. ``number`` 1 is the tonic, 8 its octave, 0 below it."""

    number: int
    alter: int

    @property
    def staff_steps(self) -> int:
        """Steps on the staff above the tonic."""
        return self.number - 1

    @property
    def half_steps(self) -> int:
        """Half steps above the tonic."""
        octave, place = divmod(self.staff_steps, 7)
        return 12 * octave + _MAJOR[place] + self.alter

    def above(self, tonic: WrittenPitch) -> WrittenPitch:
        """Return the pitch of the degree over a tonic."""
        return tonic.above(self.staff_steps, self.half_steps)

    def __str__(self) -> str:
        return f"{'b' * -self.alter}{'#' * self.alter}{self.number}"


def parse_degrees(text: str) -> tuple[Degree, ...]:
    """Read degrees parted by spaces or commas, such as ``1 2 b3 4 5 6 b7``; raise :class:`InputError` otherwise."""
    degrees = []
    for word in text.replace(",", " ").split():
        match = _DEGREE.fullmatch(word)
        if match is None or not -13 <= int(match[2]) <= 22:
            raise InputError(f"cannot read the degree {word!r} in {text!r}: write numbers like 1, b3, #4 or 9")
        degrees.append(Degree(int(match[2]), _ALTERATIONS[match[1]]))
    if not degrees:
        raise InputError(f"no degrees in {text!r}: write numbers like 1 2 b3 4 5")
    return tuple(degrees)


def parse_degree(text: str) -> Degree:
    """Read a single degree; raise :class:`InputError` for none or several."""
    degrees = parse_degrees(text)
    if len(degrees) != 1:
        raise InputError(f"{text!r} has {len(degrees)} degrees: give one")
    return degrees[0]
