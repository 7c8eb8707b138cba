"""How unequal swung eighths are, as measured on the ride cymbal and on soloists, and which off-beats swing.

Source: A. Friberg and A. Sundstrom, "Swing ratios and ensemble timing in jazz performance", Music Perception 19(3),
2002, 333-349, and the same authors' "Preferred swing ratio in jazz as a function of tempo", TMH-QPSR 4/1997; for
soloists also C. Corcoran and K. Frieler, Music Perception 38(4), 2021, 372-385. Their figures are in swing_ratio.csv.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.theory.swing import (
    EVEN,
    SWUNG,
    Feel,
    cymbal_ratio,
    every_off_beat,
    off_beats_of,
    soloist_ratio,
    swings,
    swung,
)
from etudegen.theory.tempo import FASTEST, SLOWEST
from tests.reference.tables import value

_TEMPI = st.integers(SLOWEST, FASTEST) | st.fractions(SLOWEST, FASTEST, max_denominator=100)
_MOMENTS = st.fractions(0, 64, max_denominator=96)
_RATIOS = st.fractions(1, Fraction(7, 2), max_denominator=50)


def _short_note(tempo) -> Fraction:
    """How many milliseconds the second of two swung eighths lasts."""
    return Fraction(60_000) / tempo / (1 + cymbal_ratio(tempo))


@pytest.mark.parametrize(("tempo", "ratio"), [(150, 3), (200, 2), (240, Fraction(3, 2)), (300, 1)])
def test_a_short_note_of_a_tenth_of_a_second_gives_the_published_ratios(tempo, ratio):
    """Source: Friberg and Sundstrom, worked out in the comment of swing_ratio.csv."""
    assert cymbal_ratio(tempo) == ratio


def test_at_slow_tempi_the_ratio_is_the_largest_that_was_measured():
    """Source: Friberg and Sundstrom: about 3.5 near 120 quarter notes a minute."""
    largest = Fraction(value("swing_ratio", "ratio of the cymbal at slow tempo (about 120 quarters a minute)"))
    assert {cymbal_ratio(tempo) for tempo in range(SLOWEST, 134)} == {largest}
    assert cymbal_ratio(134) < largest


def test_at_the_fastest_tempo_the_eighths_are_even():
    """Source: Friberg and Sundstrom: 1 to 1 at fast tempi."""
    assert cymbal_ratio(FASTEST) == Fraction(value("swing_ratio", "ratio at fast tempo"))
    assert {cymbal_ratio(tempo) for tempo in (300, 301, 400, 1000)} == {1}
    assert cymbal_ratio(299) > 1


@given(st.fractions(134, 300, max_denominator=1000))
def test_from_medium_to_fast_tempi_the_short_note_lasts_a_tenth_of_a_second(tempo):
    """Source: Friberg and Sundstrom."""
    assert _short_note(tempo) == int(value("swing_ratio", "short note from medium to fast tempo"))


@given(_TEMPI, _TEMPI)
def test_faster_is_never_more_unequal(tempo, other):
    slow, fast = sorted((tempo, other))
    assert cymbal_ratio(slow) >= cymbal_ratio(fast)


@given(st.integers(0, 1000), _RATIOS)
def test_beats_stay_where_they_are(beat, ratio):
    assert swung(Fraction(beat), ratio) == beat


@given(st.integers(0, 1000), _RATIOS)
def test_the_two_eighths_of_a_beat_have_the_ratio(beat, ratio):
    off_beat = swung(beat + Fraction(1, 2), ratio)
    assert off_beat - beat == ratio * (beat + 1 - off_beat)


def test_at_two_to_one_the_off_beat_falls_on_the_last_of_three():
    """The swing of the triplet: common practice, no source."""
    assert swung(Fraction(5, 2), Fraction(2)) == 2 + Fraction(2, 3)


@given(_MOMENTS, _MOMENTS, _RATIOS)
def test_what_comes_later_still_comes_later(one, other, ratio):
    assert (swung(one, ratio) < swung(other, ratio)) is (one < other)


@given(_MOMENTS, _RATIOS)
def test_every_moment_stays_in_its_beat_and_is_never_early(moment, ratio):
    moved = swung(moment, ratio)
    assert moved // 1 == moment // 1
    assert moved >= moment


@given(_MOMENTS)
def test_even_eighths_move_nothing(moment):
    assert swung(moment, Fraction(1)) == moment


@given(st.integers(0, 100), st.fractions(0, Fraction(1, 2), max_denominator=48), _RATIOS)
def test_inside_each_eighth_time_flows_evenly(beat, part, ratio):
    """The middle of an eighth stays its middle, so notes shorter than eighths are swung with it."""
    for begin in (Fraction(beat), beat + Fraction(1, 2)):
        bounds = swung(begin, ratio), swung(begin + Fraction(1, 2), ratio)
        assert swung(begin + part, ratio) == bounds[0] + 2 * part * (bounds[1] - bounds[0])


def test_a_soloist_stays_below_two_to_one_at_medium_tempi_and_slower_ones():
    """Source: Friberg and Sundstrom. That medium tempi begin near 120: common practice, no source."""
    most = Fraction(value("swing_ratio", "soloist ratio at medium tempo is below"))
    assert all(1 < soloist_ratio(tempo) < most for tempo in range(SLOWEST, 240))


def test_at_a_common_tempo_the_soloist_plays_what_most_solos_have():
    """Source: Corcoran and Frieler 2021, over 456 solos; that 200 is such a tempo: common practice, no source."""
    assert soloist_ratio(200) == Fraction(value("swing_ratio", "soloists in 456 recordings mostly"))


def test_at_the_fastest_tempo_soloists_are_even_too():
    """Source: Friberg and Sundstrom: 1 to 1 at fast tempi."""
    assert soloist_ratio(FASTEST) == Fraction(value("swing_ratio", "ratio at fast tempo"))


@given(_TEMPI, _TEMPI)
def test_a_soloist_is_never_more_unequal_than_the_cymbal_nor_when_faster(tempo, other):
    """Source: Friberg and Sundstrom: smaller ratios than the cymbal at slow and medium tempi."""
    slow, fast = sorted((tempo, other))
    assert soloist_ratio(slow) >= soloist_ratio(fast)
    assert soloist_ratio(slow) < cymbal_ratio(slow) or cymbal_ratio(slow) == 1


def test_a_feel_tells_the_ratio_of_soloist_and_cymbal():
    given_ratio = Feel(swung=True, ratio=Fraction(2))
    assert (EVEN.soloist_ratio(90), EVEN.cymbal_ratio(90)) == (1, 1)
    assert (SWUNG.soloist_ratio(90), SWUNG.cymbal_ratio(90)) == (soloist_ratio(90), cymbal_ratio(90))
    assert (given_ratio.soloist_ratio(90), given_ratio.cymbal_ratio(90)) == (2, cymbal_ratio(90))


_E, _Q, _H = Fraction(1, 2), Fraction(1), Fraction(2)
_S, _T, _D = Fraction(1, 4), Fraction(1, 3), Fraction(3, 4)


def _off_beats(durations, start=Fraction(0), bars=((Fraction(0), Fraction(4), Fraction(0)),)):
    """The off-beats that swing in notes one after the other."""
    moments = [start]
    for duration in durations:
        moments.append(moments[-1] + duration)
    return sorted(off_beats_of(bars, moments))


@pytest.mark.parametrize(
    ("durations", "off_beats"),
    [
        ([_E] * 8, [0, 1, 2, 3]),
        ([_Q] * 4, []),
        # A quarter tied over an eighth, and syncopation.
        ([_Q + _E, _E, _E, _Q + _E], [1, 2]),
        ([_E, _Q, _Q, _Q, _E], [0, 1, 2, 3]),
        ([_T] * 12, []),
        # Quarter triplets over two beats, then eighths.
        ([2 * _T] * 3 + [_E] * 4, [2, 3]),
        ([_S] * 16, []),
        ([_D, _S, _E, _E, _H], [1]),
        # An eighth and two sixteenths are as even as four sixteenths.
        ([_E, _S, _S, _S, _S, _E, _E, _E, _Q], [2]),
    ],
)
def test_off_beats_swing_in_beats_of_two_eighths_and_nothing_else(durations, off_beats):
    """Common practice, no source."""
    assert _off_beats(durations) == [beat + Fraction(1, 2) for beat in off_beats]


def test_beats_are_those_of_the_bars():
    """A pick-up of an eighth is the off-beat before the first beat: common practice, no source."""
    after_pick_up = [(Fraction(0), _E, _E), (_E, Fraction(4), _E)]
    assert _off_beats([_E] * 9, bars=after_pick_up) == [0, 1, 2, 3, 4]
    # What is no bar of a metre that swings stays even.
    assert _off_beats([_E] * 8, bars=[(_H, _H, Fraction(0))]) == [2 + _E, 3 + _E]


def test_only_metres_in_quarters_and_halves_swing():
    """Common practice, no source."""
    assert [swings(metre) for metre in ((4, 4), (3, 4), (5, 4), (2, 2), (6, 8), (12, 8), (3, 8), (7, 16))] == (
        [True] * 4 + [False] * 4
    )


def test_every_off_beat_is_counted_from_a_beat():
    assert list(every_off_beat(Fraction(0), Fraction(3), Fraction(0))) == [_E, 1 + _E, 2 + _E]
    assert list(every_off_beat(Fraction(0), Fraction(2), Fraction(7, 2))) == [0, 1]
