"""How unequal swung eighths are: as measured on the ride cymbal, and beats stay where they are.

Source: A. Friberg and A. Sundstrom, "Swing ratios and ensemble timing in jazz performance", Music Perception 19(3),
2002, 333-349, and the same authors' "Preferred swing ratio in jazz as a function of tempo", TMH-QPSR 4/1997; their
figures are in swing_ratio.csv.
"""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.theory.swing import swing_ratio, swung
from etudegen.theory.tempo import FASTEST, SLOWEST
from tests.reference.tables import value

_TEMPI = st.integers(SLOWEST, FASTEST) | st.fractions(SLOWEST, FASTEST, max_denominator=100)
_MOMENTS = st.fractions(0, 64, max_denominator=96)
_RATIOS = st.fractions(1, Fraction(7, 2), max_denominator=50)


def _short_note(tempo) -> Fraction:
    """How many milliseconds the second of two swung eighths lasts."""
    return Fraction(60_000) / tempo / (1 + swing_ratio(tempo))


@pytest.mark.parametrize(("tempo", "ratio"), [(150, 3), (200, 2), (240, Fraction(3, 2)), (300, 1)])
def test_a_short_note_of_a_tenth_of_a_second_gives_the_published_ratios(tempo, ratio):
    """Source: Friberg and Sundstrom, worked out in the comment of swing_ratio.csv."""
    assert swing_ratio(tempo) == ratio


def test_at_slow_tempi_the_ratio_is_the_largest_that_was_measured():
    """Source: Friberg and Sundstrom: about 3.5 near 120 quarter notes a minute."""
    largest = Fraction(value("swing_ratio", "ratio of the cymbal at slow tempo (about 120 quarters a minute)"))
    assert {swing_ratio(tempo) for tempo in range(SLOWEST, 134)} == {largest}
    assert swing_ratio(134) < largest


def test_at_the_fastest_tempo_the_eighths_are_even():
    """Source: Friberg and Sundstrom: 1 to 1 at fast tempi."""
    assert swing_ratio(FASTEST) == Fraction(value("swing_ratio", "ratio at fast tempo"))
    assert {swing_ratio(tempo) for tempo in (300, 301, 400, 1000)} == {1}
    assert swing_ratio(299) > 1


@settings(deadline=None)
@given(st.fractions(134, 300, max_denominator=1000))
def test_from_medium_to_fast_tempi_the_short_note_lasts_a_tenth_of_a_second(tempo):
    """Source: Friberg and Sundstrom."""
    assert _short_note(tempo) == int(value("swing_ratio", "short note from medium to fast tempo"))


@settings(deadline=None)
@given(_TEMPI, _TEMPI)
def test_faster_is_never_more_unequal(tempo, other):
    slow, fast = sorted((tempo, other))
    assert swing_ratio(slow) >= swing_ratio(fast)


@settings(deadline=None)
@given(st.integers(0, 1000), _RATIOS)
def test_beats_stay_where_they_are(beat, ratio):
    assert swung(Fraction(beat), ratio) == beat


@settings(deadline=None)
@given(st.integers(0, 1000), _RATIOS)
def test_the_two_eighths_of_a_beat_have_the_ratio(beat, ratio):
    off_beat = swung(beat + Fraction(1, 2), ratio)
    assert off_beat - beat == ratio * (beat + 1 - off_beat)


def test_at_two_to_one_the_off_beat_falls_on_the_last_of_three():
    """The swing of the triplet: common practice, no source."""
    assert swung(Fraction(5, 2), Fraction(2)) == 2 + Fraction(2, 3)


@settings(deadline=None)
@given(_MOMENTS, _MOMENTS, _RATIOS)
def test_what_comes_later_still_comes_later(one, other, ratio):
    assert (swung(one, ratio) < swung(other, ratio)) is (one < other)


@settings(deadline=None)
@given(_MOMENTS, _RATIOS)
def test_every_moment_stays_in_its_beat_and_is_never_early(moment, ratio):
    moved = swung(moment, ratio)
    assert moved // 1 == moment // 1
    assert moved >= moment


@settings(deadline=None)
@given(_MOMENTS)
def test_even_eighths_move_nothing(moment):
    assert swung(moment, Fraction(1)) == moment


@settings(deadline=None)
@given(st.integers(0, 100), st.fractions(0, Fraction(1, 2), max_denominator=48), _RATIOS)
def test_inside_each_eighth_time_flows_evenly(beat, part, ratio):
    """The middle of an eighth stays its middle, so notes shorter than eighths are swung with it."""
    for begin in (Fraction(beat), beat + Fraction(1, 2)):
        bounds = swung(begin, ratio), swung(begin + Fraction(1, 2), ratio)
        assert swung(begin + part, ratio) == bounds[0] + 2 * part * (bounds[1] - bounds[0])
