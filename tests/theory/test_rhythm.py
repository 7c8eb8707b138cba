"""A run of notes that broadens into its last, held one."""

import math
from fractions import Fraction
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.theory.rhythm import Rhythm, running_then_held

_NOTES = st.integers(1, 60)
_RHYTHMS = st.sampled_from(Rhythm)
# From one beat to twelve: what a time signature makes of a bar, and half beats as in 5/8.
_BARS = st.integers(2, 24).map(lambda eighths: Fraction(eighths, 2))
_HOLDS = st.fractions(Fraction(1, 8), 12, max_denominator=24)


@pytest.mark.parametrize(
    ("rhythm", "notes"),
    [(Rhythm.QUARTERS, 1), (Rhythm.EIGHTHS, 2), (Rhythm.TRIPLETS, 3), (Rhythm.SIXTEENTHS, 4)],
)
def test_a_beat_is_a_quarter_note(rhythm, notes):
    assert rhythm.per_beat == notes
    assert rhythm.note == Fraction(1, notes)


def test_a_half_note_is_two_quarter_notes():
    assert Rhythm.HALVES.note == 2


@given(_NOTES, _RHYTHMS, _BARS, _HOLDS)
def test_every_note_has_a_duration_and_none_is_empty(notes, rhythm, bar, least_hold):
    durations = running_then_held(notes, rhythm, bar, least_hold)
    assert len(durations) == notes
    assert min(durations) > 0


@given(_NOTES, _RHYTHMS, _BARS, _HOLDS)
def test_run_and_hold_fill_whole_bars_and_no_bar_more_than_needed(notes, rhythm, bar, least_hold):
    durations = running_then_held(notes, rhythm, bar, least_hold)
    assert sum(durations) % bar == 0
    assert least_hold <= durations[-1] < least_hold + bar


@given(_NOTES, _RHYTHMS, _BARS, _HOLDS)
def test_the_hold_begins_on_a_beat(notes, rhythm, bar, least_hold):
    *run, _ = running_then_held(notes, rhythm, bar, least_hold)
    assert sum(run, Fraction(0)).denominator == 1


@given(_NOTES, _RHYTHMS, _BARS, _HOLDS)
def test_the_run_keeps_its_rhythm_but_for_a_longer_last_note_before_the_hold(notes, rhythm, bar, least_hold):
    *run, _ = running_then_held(notes, rhythm, bar, least_hold)
    # Two notes that are left over share the last beat; otherwise only the last is longer.
    equal = run[-2:] == [Fraction(1, 2)] * 2
    assert all(duration == rhythm.note for duration in (run[:-2] if equal else run[:-1]))
    assert all(rhythm.note <= duration <= max(1, rhythm.note) for duration in run)


@given(_NOTES, _RHYTHMS, _BARS, _HOLDS)
def test_no_note_of_the_run_crosses_a_beat_but_half_notes_each_of_which_fills_two(notes, rhythm, bar, least_hold):
    beat = max(Fraction(1), rhythm.note)
    *run, _ = running_then_held(notes, rhythm, bar, least_hold)
    ends = list(accumulate(run))
    for duration, end in zip(run, ends, strict=True):
        assert math.ceil(end / beat) - math.floor((end - duration) / beat) == 1


@pytest.mark.parametrize(
    ("notes", "rhythm", "least_hold", "expected"),
    [
        (5, Rhythm.QUARTERS, 2, "1 1 1 1 4"),
        (4, Rhythm.QUARTERS, 2, "1 1 1 5"),
        (3, Rhythm.QUARTERS, 2, "1 1 2"),
        (4, Rhythm.EIGHTHS, 2, "1/2 1/2 1 2"),
        (7, Rhythm.EIGHTHS, 1, "1/2 1/2 1/2 1/2 1/2 1/2 1"),
        (3, Rhythm.TRIPLETS, 1, "1/2 1/2 3"),
        (3, Rhythm.SIXTEENTHS, 1, "1/2 1/2 3"),
        (4, Rhythm.SIXTEENTHS, 1, "1/4 1/4 1/2 3"),
        (1, Rhythm.EIGHTHS, 2, "4"),
    ],
)
def test_a_bar_of_four_quarters_is_filled_like_this(notes, rhythm, least_hold, expected):
    """Worked out by hand."""
    durations = running_then_held(notes, rhythm, Fraction(4), Fraction(least_hold))
    assert " ".join(map(str, durations)) == expected
