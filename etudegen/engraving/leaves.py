"""abjad's notes and rests, made the same way under its old and new releases.

Releases up to 3.19 (the last for Python 3.11) and later ones differ in how a leaf is made from a pitch and a
duration; this module holds that difference. Leaves are made from values, never from LilyPond text, for which
abjad would first have to build a parser.
"""

from fractions import Fraction
from typing import Any

import abjad

_ALTERATIONS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}
_MIDDLE_OCTAVE = 3


def pitch(step: str, alter: int, octave: int) -> Any:
    """Return an abjad pitch; C4 is middle C."""
    marks = octave - _MIDDLE_OCTAVE
    ticks = "'" * marks if marks >= 0 else "," * -marks
    return abjad.NamedPitch(f"{step.lower()}{_ALTERATIONS[alter]}{ticks}")


def _duration(value: Fraction) -> Any:
    return abjad.Duration(value.numerator, value.denominator)


if hasattr(abjad.Note, "from_pitch_and_duration"):

    def note(at: Any, value: Fraction) -> Any:
        """Return a note of a value in whole notes."""
        return abjad.Note.from_pitch_and_duration(at, _duration(value))

    def rest(value: Fraction) -> Any:
        """Return a rest of a value in whole notes."""
        return abjad.Rest(_duration(value))

    def force_accidental(leaf: Any) -> None:
        """Have a note's accidental printed, whatever the bar so far says."""
        leaf.note_head.is_forced = True

else:

    def note(at: Any, value: Fraction) -> Any:
        """Return a note of a value in whole notes."""
        return abjad.Note.from_duration_and_pitch(_duration(value), at)

    def rest(value: Fraction) -> Any:
        """Return a rest of a value in whole notes."""
        return abjad.Rest.from_duration(_duration(value))

    def force_accidental(leaf: Any) -> None:
        """Have a note's accidental printed, whatever the bar so far says."""
        leaf.note_head().set_is_forced(True)
