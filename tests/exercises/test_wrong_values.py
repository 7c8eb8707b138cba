"""Wrong values and wrong types given in Python are refused: which setting, which value, and what is allowed."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from etudegen.errors import InputError
from etudegen.exercises.contours import NAMED, Contour
from etudegen.exercises.kinds import KINDS, kind_named
from etudegen.exercises.over_chords import Home
from etudegen.exercises.settings import settings_of
from etudegen.exercises.vocabulary import Phrase
from etudegen.instrument.valves import Valves
from etudegen.theory.pitch import SoundingPitch, WrittenPitch

SETTINGS = [(kind.name, setting) for kind in KINDS for setting in settings_of(kind.parameters)]
NO_NOTE = WrittenPitch("H", 0, 4)
WRONG: list[Any] = [
    object(), None, "", "nonsense", "x" * 5000, b"x", 0, -5, 1.5, 10**9, True, Fraction(1, 2), [], {}, set(), (),
    (1,), ("x",), (None,), [WrittenPitch("C", 0, 4)], (WrittenPitch("C", 0, 4),) * 2, (NO_NOTE,), NO_NOTE,
    WrittenPitch("C", 0.5, 4), WrittenPitch("C", 3, 4), WrittenPitch("C", 0, 1), SoundingPitch("C", 0, 4),
    Valves("9"), (Valves("9"),), (Valves("0"), Valves("0")), Path("x"), int, Home("C", True), Home(NO_NOTE, False),
    Contour("sweep", "", NAMED["sweep"].shape, ("2", "3")), Contour(3, "", NAMED["sweep"].shape),
    Phrase("1/8", ()), Phrase(3, ()), ((1, 2),), (("m7",),),
]  # fmt: skip
TEXT = " (the constructor takes values; `of` reads texts)"


@pytest.mark.parametrize(("kind", "setting"), SETTINGS)
def test_no_wrong_value_gets_by(kind: str, setting: str) -> None:
    parameters = kind_named(kind).parameters
    known = settings_of(parameters)[setting]
    refused = 0
    for value in WRONG:
        try:
            parameters(**{setting: value})
        except InputError as error:
            told = str(error)
            assert "\n" not in told
            assert len(told) < 2000
            if not known.values.holds(value):
                refused += 1
                assert told.startswith(f"{setting} "), told
                assert known.values.only in told
        else:
            assert known.values.holds(value) or value is known.default
    assert refused > len(WRONG) / 2


@pytest.mark.parametrize(
    ("kind", "values", "told"),
    [
        ("long-tones", {"counts": 5000}, "counts 5000 is not allowed: give a whole number from 2 to 32"),
        ("long-tones", {"counts": True}, "counts True is not allowed: give a whole number from 2 to 32"),
        ("slurs", {"repeats": -5}, "repeats -5 is not allowed: give a whole number from 1 to 12"),
        ("slurs", {"low": WrittenPitch("C", 0, 1)}, "low C1 is not allowed: give a written note from F#2 to C7"),
        ("slurs", {"ramp": 1}, "ramp 1 is not allowed: give true or false"),
        (
            "slurs", {"rests": "equl"},
            f"rests 'equl' is not allowed: choose one of none, half, equal{TEXT}",
        ),
        (
            "slurs", {"low": "C4"},
            f"low 'C4' is not allowed: give a written note from F#2 to C7{TEXT}",
        ),
        ("pedals", {"lowest": WrittenPitch("C", 0, 4)}, "lowest C4 is not allowed: give a written note from C2 to F3"),
        ("contact", {"tempo": 120}, "tempo 120 is not allowed: give a whole number from 40 to 80"),
        ("slurs", {"title": "x" * 121}, "title of 121 characters is not allowed: give a title, at most 120 characters"),
    ],
)  # fmt: skip
def test_the_sentence_tells_the_setting_the_value_and_what_is_allowed(
    kind: str, values: dict[str, Any], told: str
) -> None:
    with pytest.raises(InputError) as refused:
        kind_named(kind).parameters(**values)
    assert str(refused.value) == told


def test_plain_values_are_read_where_they_are_asked_for_as_plain() -> None:
    scales = kind_named("scales").parameters
    made = scales.of(low="C4", high=WrittenPitch("C", 0, 6), tempo=60, keys="D G", rests="half", partial_numbers=True)
    assert made == scales.of(
        {"low": "C4", "high": "C6", "tempo": "60", "keys": "D,G", "rests": "half"}, partial_numbers=True
    )
    assert made == scales(
        low=WrittenPitch("C", 0, 4),
        high=WrittenPitch("C", 0, 6),
        tempo=60,
        keys=(WrittenPitch("D", 0, 4), WrittenPitch("G", 0, 4)),
        rests=made.rests,
        partial_numbers=True,
    )


@pytest.mark.parametrize(
    ("given", "told"),
    [({"tempo": 5000}, "20 to 300"), ({"tempo": 72.5}, "20 to 300"), ({"ramp": "yes"}, "true or false"),
     ({"low": 60}, "cannot read the note '60'"), ({"contour": object()}, "neighbours"), ({"loudness": 1}, "loudness")],
)  # fmt: skip
def test_a_plain_value_that_is_wrong_is_refused(given: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told):
        kind_named("slurs").parameters.of(given)


@pytest.mark.parametrize(("kind", "setting"), SETTINGS)
def test_the_text_of_a_value_reads_as_the_value(kind: str, setting: str) -> None:
    parameters = kind_named(kind).parameters
    known, value = settings_of(parameters)[setting], getattr(parameters(), setting)
    if value is not None:
        assert known.values.read(known.text(value)) == value or value == ()
