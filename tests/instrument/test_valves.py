"""Valve combinations: which there are, what they lower by, and how they are read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.instrument.valves import COMBINATIONS, POSITIONS, Valves, parse_positions, parse_valves


def test_three_valves_make_eight_combinations_each_listed_once():
    pressed = {valves.down for valves in COMBINATIONS}
    assert pressed == {(), (1,), (2,), (3,), (1, 2), (1, 3), (2, 3), (1, 2, 3)}
    assert len(COMBINATIONS) == 8


def test_the_seven_positions_lower_the_tube_by_nought_to_six_half_steps():
    """Common practice, no source."""
    assert [valves.digits for valves in POSITIONS] == ["0", "2", "1", "12", "23", "13", "123"]
    assert [valves.half_steps for valves in POSITIONS] == [0, 1, 2, 3, 4, 5, 6]


def test_the_third_valve_lowers_as_much_as_the_first_and_second():
    """Common practice, no source."""
    assert Valves("3").half_steps == Valves("12").half_steps == 3


@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_every_combination_reads_back_from_its_own_digits(valves):
    assert parse_valves(f" {valves} ") == valves


@pytest.mark.parametrize("text", ["", "4", "21", "00", "11", "1-2", "open", "１"])
def test_a_combination_that_no_trumpet_has_is_refused_with_those_there_are(text):
    with pytest.raises(InputError, match="0 2 1 12 3 23 13 123"):
        parse_valves(text)


def test_positions_may_be_parted_by_spaces_or_commas_and_keep_their_order():
    assert parse_positions(" 123, 0  2,13") == tuple(map(Valves, ("123", "0", "2", "13")))


def test_a_position_named_twice_is_refused():
    with pytest.raises(InputError, match="12 is named twice"):
        parse_positions("12 0 12")


@given(st.text() | st.text("0123 ,"))
def test_any_text_is_read_as_distinct_combinations_or_refused(text):
    try:
        positions = parse_positions(text)
    except InputError as error:
        assert str(error)  # noqa: PT017 - the refusal is one of two right outcomes
    else:
        assert len(set(positions)) == len(positions) > 0
        assert set(positions) <= set(COMBINATIONS)
