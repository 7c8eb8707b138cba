"""The table of tuning: every partial of every combination, heard against equal temperament."""

import math

import pytest

from etudegen.errors import InputError
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.partials import HIGHEST, deviation
from etudegen.instrument.tables import tuning_rows
from etudegen.instrument.tube import Loops
from etudegen.instrument.valves import COMBINATIONS


@pytest.mark.parametrize("key", instrument_keys())
def test_the_table_has_a_row_for_each_partial_of_each_combination(key):
    table = [(row.valves, row.partial) for row in tuning_rows(instrument(key))]
    assert table == [(valves, partial) for valves in COMBINATIONS for partial in range(1, HIGHEST + 1)]


@pytest.mark.parametrize("key", instrument_keys())
@pytest.mark.parametrize("a4", [415, 440, 442])
def test_hertz_are_as_many_cents_from_the_sounding_note_as_the_table_says(key, a4):
    for row in tuning_rows(instrument(key), a4):
        tempered = a4 * 2 ** ((row.sounding.number - 69) / 12)
        assert row.hertz == pytest.approx(tempered * 2 ** (row.cents / 1200))


@pytest.mark.parametrize("key", instrument_keys())
def test_the_sounding_note_is_the_written_one_transposed(key):
    for row in tuning_rows(instrument(key)):
        assert row.sounding.number - row.written.number == instrument(key).half_steps


def test_how_far_a_partial_is_off_does_not_depend_on_the_reference_pitch():
    low, high = ([row.cents for row in tuning_rows(instrument("trumpet-bflat"), a4)] for a4 in (430.0, 450.0))
    assert low == pytest.approx(high)


def test_a_combination_that_is_exactly_in_tune_leaves_only_the_deviation_of_the_partial():
    for row in tuning_rows(instrument("trumpet-bflat")):
        if row.valves.digits in {"0", "1", "2", "23"}:
            assert row.cents == pytest.approx(deviation(row.partial), abs=1e-6)


def test_a_longer_loop_lowers_every_partial_of_its_combinations_alike():
    trumpet = instrument("trumpet-bflat")
    own = trumpet.loops
    longer = Loops(own.first + 0.01, own.second, own.third)
    for before, after in zip(tuning_rows(trumpet), tuning_rows(trumpet, loops=longer), strict=True):
        if 1 in before.valves.down:
            open_length = 1 + own.added(before.valves)
            fall = 1200 * math.log2((open_length + 0.01) / open_length)
            assert before.cents - after.cents == pytest.approx(fall)
        else:
            assert after == before


def test_every_partial_of_a_combination_calls_for_the_same_slide():
    slides = {}
    for row in tuning_rows(instrument("trumpet-bflat")):
        slides.setdefault(row.valves.digits, set()).add(row.slide_mm)
    assert all(len(drawn) == 1 for drawn in slides.values())
    assert {digits for digits, drawn in slides.items() if drawn == {None}} == {"0", "1", "2", "12"}
    assert {digits for digits, drawn in slides.items() if drawn == {0.0}} == {"3", "23"}


def test_a_reference_pitch_out_of_reach_is_refused():
    with pytest.raises(InputError, match="380 to 500"):
        list(tuning_rows(instrument("trumpet-bflat"), 300))
