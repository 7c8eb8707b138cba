"""Which valves play the notes below the natural range."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.instrument.pedals import LOWEST_ORDINARY, BentFingering, is_ordinary, pedal_fingering
from etudegen.theory.pitch import WrittenPitch
from tests.reference.tables import rows
from tests.strategies import notes

# Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/
CHART = {WrittenPitch.parse(row["written"]).number: row["valves"] for row in rows("fingering_chart")}
# C3 down to F#2: the seven positions, each a half step lower. Common practice, no source.
FUNDAMENTALS = ["0", "2", "1", "12", "23", "13", "123"]
LOWEST, HIGHEST = WrittenPitch.parse("C2").number, WrittenPitch.parse("C6").number
C3, FSHARP3 = WrittenPitch.parse("C3").number, WrittenPitch.parse("F#3").number

every_way = pytest.mark.parametrize("bent", BentFingering)


def fingered(note: str, bent: BentFingering) -> tuple[str, int | None]:
    valves, partial = pedal_fingering(WrittenPitch.parse(note), bent)
    return str(valves), partial


def test_the_natural_range_ends_at_written_f_sharp_3():
    """Common practice, no source."""
    assert str(LOWEST_ORDINARY) == "F#3"
    assert [is_ordinary(WrittenPitch.parse(note)) for note in ("C5", "G3", "F#3", "Gb3")] == [True] * 4
    assert [is_ordinary(WrittenPitch.parse(note)) for note in ("F3", "E#3", "C3", "F#2")] == [False] * 4


@every_way
@pytest.mark.parametrize("row", rows("fingering_chart"), ids=lambda row: row["written"])
def test_in_the_natural_range_the_chart_is_followed(row, bent):
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/"""
    valves, partial = fingered(row["written"], bent)
    assert valves == row["valves"]
    assert partial in range(2, 17)


@pytest.mark.parametrize(("note", "valves"), [("F3", "1"), ("E3", "12"), ("Eb3", "23"), ("D3", "13"), ("C#3", "123")])
def test_from_f_3_to_c_sharp_3_the_valves_are_those_of_the_note_an_octave_higher_and_no_partial_carries_it(
    note, valves
):
    """Common practice, no source; the octave above is in the published chart."""
    assert CHART[WrittenPitch.parse(note).number + 12] == valves
    assert fingered(note, BentFingering.OCTAVE) == (valves, None)


@pytest.mark.parametrize("note", ["F3", "E3", "Eb3", "D3", "C#3"])
def test_from_f_3_to_c_sharp_3_all_valves_are_down_where_the_longest_tube_is_asked_for(note):
    """Common practice, no source."""
    assert fingered(note, BentFingering.LONGEST) == ("123", None)


@every_way
@pytest.mark.parametrize(
    ("note", "valves"), list(zip(["C3", "B2", "Bb2", "A2", "Ab2", "G2", "F#2"], FUNDAMENTALS, strict=True))
)
def test_from_c_3_to_f_sharp_2_the_notes_are_the_fundamentals_of_the_seven_positions(note, valves, bent):
    """Common practice, no source."""
    assert fingered(note, bent) == (valves, 1)


@pytest.mark.parametrize(
    ("note", "octave", "longest"),
    [
        ("F2", "1", "123"),
        ("E2", "12", "123"),
        ("Eb2", "23", "123"),
        ("D2", "13", "123"),
        ("C#2", "123", "123"),
        ("C2", "0", "0"),
    ],
)
def test_lower_still_the_valves_are_those_of_the_pedal_note_an_octave_higher(note, octave, longest):
    """Common practice, no source."""
    assert fingered(note, BentFingering.OCTAVE) == (octave, None)
    assert fingered(note, BentFingering.LONGEST) == (longest, None)


def test_the_octave_above_is_what_is_taken_where_nothing_is_said():
    assert pedal_fingering(WrittenPitch.parse("F3")) == pedal_fingering(WrittenPitch.parse("F3"), BentFingering.OCTAVE)


@given(notes(LOWEST, HIGHEST), st.sampled_from(BentFingering))
def test_the_fingering_follows_the_region_of_the_note_however_it_is_spelled(note, bent):
    """The region rule by key number, worked out anew: common practice, no source."""
    valves, partial = pedal_fingering(note, bent)
    number = note.number
    if number >= FSHARP3:
        assert str(valves) == CHART[number]
        assert partial is not None
        return
    if C3 - 6 <= number <= C3:
        assert (str(valves), partial) == (FUNDAMENTALS[C3 - number], 1)
        return
    assert partial is None
    while number < C3 - 6:
        number += 12
    if number > C3:
        assert str(valves) == ("123" if bent is BentFingering.LONGEST else CHART[number + 12])
    else:
        assert str(valves) == FUNDAMENTALS[C3 - number]


@given(notes(LOWEST, HIGHEST), st.sampled_from(BentFingering))
def test_where_a_partial_is_told_it_is_the_partial_that_sounds_the_note(note, bent):
    valves, partial = pedal_fingering(note, bent)
    if partial is not None:
        # The open tube's fundamental is written C3; round(12 log2 n) is half the bits of n to the 24th.
        assert C3 - valves.half_steps + (partial**24).bit_length() // 2 == note.number
