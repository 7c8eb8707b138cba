"""Beats a minute and what they mean in seconds, exactly."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.theory.tempo import METRONOME, at_or_above, at_or_below, checked_tempo, seconds, steps
from tests.reference.tables import value

_TEMPI = st.integers(20, 300)


@pytest.mark.parametrize(
    ("quarters", "tempo", "expected"),
    [
        ("1", 60, "1"),
        ("4", 120, "2"),
        ("1", 72, "5/6"),
        ("1/3", 92, "5/23"),
        ("7/2", 63, "10/3"),
        ("0", 60, "0"),
    ],
)
def test_seconds_are_exact_fractions(quarters, tempo, expected):
    """Worked out by hand: sixty seconds, shared among the quarter notes of a minute."""
    lasting = seconds(Fraction(quarters), tempo)
    assert isinstance(lasting, Fraction)
    assert lasting == Fraction(expected)


@pytest.mark.parametrize("tempo", [92, 63])
def test_a_quarter_note_lasts_as_many_microseconds_as_a_midi_file_says(tempo):
    """Standard MIDI File: the tempo meta event counts microseconds a quarter note."""
    published = value("notation", f"tempo {tempo} in microseconds")
    assert round(seconds(Fraction(1), tempo) * 1_000_000) == int(published)


@given(_TEMPI)
def test_as_many_quarter_notes_as_the_tempo_says_last_a_minute(tempo):
    assert seconds(Fraction(tempo), tempo) == 60


@given(st.fractions(0, 1000), st.fractions(0, 1000), _TEMPI)
def test_notes_one_after_the_other_last_as_long_as_both_together(first, second, tempo):
    assert seconds(first, tempo) + seconds(second, tempo) == seconds(first + second, tempo)


@given(_TEMPI)
def test_a_tempo_that_a_metronome_has_is_taken_as_it_is(tempo):
    assert checked_tempo(tempo) == tempo


@pytest.mark.parametrize("tempo", [19, 301, 0, -60])
def test_a_tempo_out_of_reach_is_refused_with_the_bounds(tempo):
    with pytest.raises(InputError, match="20 to 300"):
        checked_tempo(tempo)


@pytest.mark.parametrize(
    ("tempo", "below", "above"),
    [(20, 40, 40), (40, 40, 40), (61, 60, 63), (117, 116, 120), (133, 132, 138), (300, 208, 208)],
)
def test_a_tempo_lies_between_two_marks_of_a_metronome(tempo, below, above):
    """Read off the scale of a metronome with a pendulum."""
    assert (at_or_below(tempo), at_or_above(tempo)) == (below, above)


def test_steps_go_from_mark_to_mark_and_stay_on_the_scale():
    """Read off the same scale."""
    assert len(METRONOME) == 39
    assert [steps(72, by) for by in (-2, -1, 0, 1, 2)] == [66, 69, 72, 76, 80]
    assert (steps(42, -4), steps(200, 4)) == (40, 208)
