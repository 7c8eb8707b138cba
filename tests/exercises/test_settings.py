"""How parameters are read from texts, and what is refused: which value, and what is allowed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.kinds import KINDS
from etudegen.exercises.settings import settings_of
from etudegen.exercises.slurs import PositionOrder, SlurParameters
from etudegen.instrument.valves import Valves
from etudegen.study import Paper
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm


def test_nothing_asked_for_gives_the_defaults() -> None:
    assert SlurParameters.of({}) == SlurParameters()
    assert SlurParameters.of(dict.fromkeys(settings_of(SlurParameters))) == SlurParameters()


def test_every_setting_can_be_read_from_a_text() -> None:
    read = SlurParameters.of(
        {
            "instrument": "cornet",
            "low": "G3",
            "high": "Bb5",
            "tempo": "60",
            "rests": "half",
            "fingerings": "every",
            "partial_numbers": True,
            "seed": "7",
            "paper": "Letter",
            "title": "Morning",
            "contour": "2 3 2",
            "rhythm": "eighths",
            "positions": "0,12 3",
            "direction": "shuffled",
            "repeats": "3",
            "far_partials": True,
        }
    )
    assert (read.instrument.key, str(read.low), str(read.high), read.tempo) == ("cornet", "G3", "Bb5", 60)
    assert (read.rests, read.fingerings, read.paper) == (Rests.HALF, Fingerings.EVERY, Paper.LETTER)
    assert (read.partial_numbers, read.far_partials, read.ramp) == (True, True, False)
    assert (read.seed, read.title, read.contour.own, read.repeats) == (7, "Morning", (2, 3, 2), 3)
    assert (read.rhythm, read.direction) == (Rhythm.EIGHTHS, PositionOrder.SHUFFLED)
    assert read.positions == (Valves("0"), Valves("12"), Valves("3"))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_kind_has_settings_with_a_meaning_and_parameters_that_need_nothing_else(kind) -> None:
    described = settings_of(kind.parameters)
    assert all(setting.meaning for setting in described.values())
    assert all(setting.placeholder and setting.shown_default for setting in described.values() if not setting.is_flag)
    assert kind.study(kind.parameters()).lines


REFUSED = [
    ("tempo", "19", ["'19'", "20", "300"]),
    ("tempo", "301", ["'301'", "20", "300"]),
    ("tempo", "abc", ["'abc'", "20", "300"]),
    ("tempo", "72.5", ["'72.5'", "20", "300"]),
    ("tempo", "", ["''", "20", "300"]),
    ("tempo", "9" * 5000, ["20", "300"]),
    ("low", "H9", ["'H9'", "A to G", "F#3"]),
    ("low", "60", ["'60'", "A to G"]),
    ("high", "C", ["'C'", "octave"]),
    ("low", "F2", ["low F2", "F#2", "C7"]),
    ("high", "C#7", ["high C#7", "F#2", "C7"]),
    ("high", "B##6", ["high B##6", "F#2", "C7"]),
    ("high", "F3", ["low F#3", "high F3"]),
    ("rests", "maybe", ["'maybe'", "none", "half", "equal"]),
    ("fingerings", "some", ["'some'", "every", "changes", "none"]),
    ("paper", "A5", ["'A5'", "A4", "Letter"]),
    ("seed", "-1", ["'-1'", "0"]),
    ("seed", "1e3", ["'1e3'", "0"]),
    ("instrument", "kazoo", ["'kazoo'", "cornet", "flugelhorn", "trumpet-bflat", "trumpet-c"]),
    ("instrument", "../instruments/cornet", ["cornet", "trumpet-c"]),
    ("title", "x" * 121, ["121", "120"]),
    ("contour", "blob", ["'blob'", "sweep", "2 3 4 3 2"]),
    ("rhythm", "fifths", ["'fifths'", "quarters", "eighths", "triplets", "sixteenths"]),
    ("positions", "4", ["'4'", "0 2 1 12", "123"]),
    ("positions", "21", ["'21'", "12"]),
    ("positions", "0 0", ["0", "'0 0'", "once"]),
    ("positions", "", ["''", "123"]),
    ("direction", "left", ["'left'", "down", "up", "shuffled"]),
    ("repeats", "0", ["'0'", "1", "12"]),
    ("repeats", "13", ["'13'", "1", "12"]),
]


@pytest.mark.parametrize(("name", "text", "said"), REFUSED, ids=lambda value: str(value)[:20])
def test_a_bad_value_is_refused_with_the_value_and_what_is_allowed(name: str, text: str, said: list[str]) -> None:
    with pytest.raises(InputError) as refused:
        SlurParameters.of({name: text})
    for words in said:
        assert words in str(refused.value)


def test_an_unknown_setting_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError, match=r"unknown setting 'loudness'.*instrument.*tempo.*ramp"):
        SlurParameters.of({"loudness": "pp"})


def test_parameters_made_without_texts_are_checked_too() -> None:
    with pytest.raises(InputError, match=r"tempo 19 .*20 to 300"):
        SlurParameters(tempo=19)
    with pytest.raises(InputError, match=r"tempo 301 .*20 to 300"):
        SlurParameters(tempo=301)
    with pytest.raises(InputError, match=r"low E1 .*F#2 to C7"):
        SlurParameters(low=WrittenPitch("E", 0, 1))
    with pytest.raises(InputError, match="low C5 is above high C4"):
        SlurParameters(low=WrittenPitch("C", 0, 5), high=WrittenPitch("C", 0, 4))


def test_the_limits_themselves_are_allowed() -> None:
    for texts in ({"tempo": "20"}, {"tempo": "300"}, {"low": "F#2"}, {"high": "C7"}, {"title": "x" * 120}):
        SlurParameters.of(texts)
    SlurParameters.of({"low": "B#3", "high": "C4"})


def test_concert_pitch_is_read_as_what_a_b_flat_trumpet_sounds() -> None:
    # Concert E3 is written F#3 on a B-flat trumpet: it sounds a whole step lower than written, as its transposition
    # -1 / -2 says (MusicXML 4.0, element transpose).
    read = SlurParameters.of({"low": "E3", "high": "Bb4"}, concert=True)
    assert (str(read.low), str(read.high)) == ("F#3", "C5")


def test_concert_pitch_is_written_pitch_for_a_c_trumpet() -> None:
    read = SlurParameters.of({"low": "E3", "high": "Bb4", "instrument": "trumpet-c"}, concert=True)
    assert (str(read.low), str(read.high)) == ("E3", "Bb4")


def test_concert_pitch_does_not_move_a_range_that_was_not_given() -> None:
    assert SlurParameters.of({}, concert=True) == SlurParameters()
    read = SlurParameters.of({"high": "Bb4"}, concert=True)
    assert (read.low, str(read.high)) == (SlurParameters().low, "C5")


def test_a_concert_note_that_needs_three_accidentals_is_read_or_refused_in_a_sentence() -> None:
    # E##3 sounds; a whole step above it, spelled on the next line of the staff, would be F###3.
    try:
        read = SlurParameters.of({"low": "E##3"}, concert=True)
    except InputError:
        return
    assert read.low.number == 56
    assert str(read.low)
    assert read.low.pretty


@given(
    st.sampled_from([name for name, setting in settings_of(SlurParameters).items() if not setting.is_flag]), st.text()
)
def test_any_text_is_read_or_refused_in_one_sentence(name: str, text: str) -> None:
    try:
        SlurParameters.of({name: text})
    except InputError as refused:
        assert len(str(refused)) > 20  # noqa: PT017
