"""Fingerings: one rule gives the published chart, and the alternates are what else the tube can do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.instrument.catalogue import instrument
from etudegen.instrument.fingerings import alternates, ordinary
from etudegen.instrument.partials import is_near, series
from etudegen.instrument.tables import fingering_rows
from etudegen.instrument.tube import Loops, needed
from etudegen.instrument.valves import COMBINATIONS, POSITIONS
from etudegen.theory.pitch import WrittenPitch
from tests.reference.tables import rows

_TRUMPET = instrument("trumpet-bflat")
_LOWEST, _HIGHEST = WrittenPitch.parse("F#3").number, WrittenPitch.parse("C7").number
_NOTES = st.integers(_LOWEST, _HIGHEST).map(WrittenPitch.from_number)


@pytest.mark.parametrize("row", rows("fingering_chart"), ids=lambda row: row["written"])
def test_the_rule_gives_the_published_fingering(row):
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/"""
    assert str(ordinary(WrittenPitch.parse(row["written"])).valves) == row["valves"]


@pytest.mark.parametrize("row", rows("fingering_above_high_c"), ids=lambda row: row["written"])
def test_the_rule_gives_the_published_fingering_above_high_c(row):
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/"""
    assert str(ordinary(WrittenPitch.parse(row["written"])).valves) == row["valves"]


def test_what_is_also_used_above_high_c_is_among_the_alternates():
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/

    Except its open F#6: that is partial 11, half way between two notes, which is left out on purpose.
    """
    chart = rows("fingering_above_high_c")
    published = {row["written"]: row["also_used"] for row in chart if row["also_used"]}
    assert published.pop("F#6") == "0"
    for written, valves in published.items():
        assert valves in [str(other.valves) for other in alternates(WrittenPitch.parse(written))]


@given(_NOTES)
def test_every_note_up_to_double_high_c_has_an_ordinary_fingering_that_serves_it(note):
    chosen = ordinary(note)
    assert chosen is not None
    assert chosen.number == note.number
    assert chosen.valves in POSITIONS


@given(_NOTES)
def test_no_tuned_octave_third_or_fifth_of_the_tube_serves_a_note_with_less_lowering(note):
    """The rule as the comment of the published chart states it, counted anew over all combinations."""
    octaves_thirds_and_fifths = {2, 3, 4, 5, 6, 8, 10, 12, 16}
    lowerings = [
        valves.half_steps
        for valves in COMBINATIONS
        for resonance in series(valves)
        if resonance.partial in octaves_thirds_and_fifths and resonance.number == note.number
    ]
    assert ordinary(note).valves.half_steps == min(lowerings)


@given(st.integers(WrittenPitch.parse("C5").number, WrittenPitch.parse("C6").number))
def test_fingerings_repeat_in_the_octave_above_high_c(number):
    """As the page of the chart says: "the same valve patterns, which simply repeat in the upper register"."""
    low, high = (ordinary(WrittenPitch.from_number(key)).valves for key in (number, number + 12))
    assert high == low


@pytest.mark.parametrize("written", ["F#2", "C3", "E3", "F3", "C#7", "C-1", "G9"])
def test_a_note_that_no_partial_from_two_to_sixteen_serves_has_no_fingering(written):
    note = WrittenPitch.parse(written)
    assert ordinary(note) is None
    assert alternates(note) == ()


@given(st.integers(0, 127).map(WrittenPitch.from_number))
def test_alternates_serve_the_note_in_tune_with_other_valves_and_each_once(note):
    chosen, others = ordinary(note), alternates(note)
    used = [other.valves for other in others] + ([chosen.valves] if chosen else [])
    assert len(set(used)) == len(used)
    for other in others:
        assert other.number == note.number
        assert other.valves in COMBINATIONS
        assert is_near(other.partial)
        assert other.partial >= 2


@given(_NOTES)
def test_no_other_combination_is_forgotten_among_the_alternates(note):
    serving = {
        valves
        for valves in COMBINATIONS
        for resonance in series(valves)[1:]
        if resonance.number == note.number and is_near(resonance.partial)
    }
    assert {other.valves for other in alternates(note)} == serving - {ordinary(note).valves}


@given(_NOTES)
def test_alternates_are_listed_from_the_least_lowering_to_the_most(note):
    lowerings = [other.valves.half_steps for other in alternates(note)]
    assert lowerings == sorted(lowerings)


@pytest.mark.parametrize("written", ["E5", "E6"])
def test_of_two_alternates_that_lower_as_much_the_one_better_in_tune_comes_first(written):
    """With the loops of the usual rule valves 1 and 2 are 12.6 cents sharp there, valve 3 14.3 cents flat."""
    assert [str(other.valves) for other in alternates(WrittenPitch.parse(written))] == ["12", "3"]


def test_a_third_valve_that_is_in_tune_by_itself_comes_before_the_first_two():
    exact = Loops(needed(2), needed(1), needed(3))
    assert [str(other.valves) for other in alternates(WrittenPitch.parse("E5"), exact)] == ["3", "12"]


@given(_NOTES)
def test_a_fingering_does_not_depend_on_how_the_note_is_spelled(note):
    respelled = note.above(1, 0)
    assert ordinary(respelled) == ordinary(note)
    assert alternates(respelled) == alternates(note)


def test_a_chart_has_one_row_for_every_half_step_from_low_to_high():
    low, high = WrittenPitch.parse("F#3"), WrittenPitch.parse("C6")
    chart = list(fingering_rows(_TRUMPET, low, high))
    assert [row.written.number for row in chart] == list(range(54, 85))
    assert [(str(row.written), str(row.valves)) for row in chart] == [
        (row["written"], row["valves"]) for row in rows("fingering_chart")
    ]


def test_a_chart_of_one_note_has_one_row():
    note = WrittenPitch.parse("Bb4")
    assert [row.written for row in fingering_rows(_TRUMPET, note, note)] == [note]


def test_a_chart_from_high_to_low_is_refused_with_both_notes_named():
    with pytest.raises(InputError, match="low C5 is above high C4"):
        list(fingering_rows(_TRUMPET, WrittenPitch.parse("C5"), WrittenPitch.parse("C4")))
