"""The span of lines: one note has one name in it."""

from fractions import Fraction

import pytest

from etudegen.exercises.span import span_of
from etudegen.study import Line, Tone
from etudegen.theory.pitch import WrittenPitch


@pytest.mark.parametrize(
    ("notes", "told"),
    [
        ("Gb3 F#4", "F♯3 to F♯4"),
        ("F#3 Gb4", "F♯3 to F♯4"),
        ("Ab3 D#5", "A♭3 to E♭5"),
        ("Gb3 Gb4", "G♭3 to G♭4"),
        ("Bb3 C5", "B♭3 to C5"),
        ("C4 G4 E4", "C4 to G4"),
        ("C4 C4", "C4"),
        ("", ""),
    ],
)
def test_both_ends_are_named_with_signs_of_one_sort_where_that_can_be(notes: str, told: str) -> None:
    tones = tuple(Tone(WrittenPitch.parse(note), Fraction(1), None) for note in notes.split())
    assert span_of([Line("", tones)]) == told


def test_names_that_were_given_stay() -> None:
    low, high = WrittenPitch.parse("Gb3"), WrittenPitch.parse("F#4")
    tones = (Tone(low, Fraction(1), None), Tone(high, Fraction(1), None))
    assert span_of([Line("", tones)], low, high) == "G♭3 to F♯4"
