"""The tube against every published table of its acoustics, and the slide that mends its valves."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch as music21_pitch

from etudegen.errors import InputError
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.tube import (
    SPEED_OF_SOUND,
    Loops,
    Tube,
    cents,
    checked_a4,
    checked_loops,
    equal_tempered_hertz,
    needed,
    tempered_loops,
)
from etudegen.instrument.valves import COMBINATIONS, Valves
from etudegen.theory.pitch import SoundingPitch
from tests.reference.tables import rows, value

# Each valve alone exactly in tune, the third too: how J. Kaufman, "Trumpets Belong in C#", 2014, counts
# (https://www.jefftk.com/p/trumpets-belong-in-c).
_EACH_ALONE_IN_TUNE = Loops(needed(2), needed(1), needed(3))
# The tube of T. R. Moore, "The acoustics of brass musical instruments", Acoustics Today 12(4), 2016.
_TUBE_OF_140_CM = Tube(SPEED_OF_SOUND / (2 * 1.40), _EACH_ALONE_IN_TUNE)


def _printed(name: str) -> str:
    return value("valve_lengths_equal", name)


@pytest.mark.parametrize("row", rows("equal_temperament_hz"), ids=lambda row: row["sounding"])
def test_hertz_are_those_of_the_published_table_to_the_last_digit(row):
    """B. H. Suits, Physics of Music - Notes, Michigan Technological University."""
    assert f"{equal_tempered_hertz(SoundingPitch.parse(row['sounding'])):.2f}" == row["hz"]


@pytest.mark.parametrize("number", range(21, 109))
def test_hertz_agree_with_music21_on_every_key_of_the_piano(number):
    assert equal_tempered_hertz(SoundingPitch.from_number(number)) == pytest.approx(
        music21_pitch.Pitch(midi=number).frequency, rel=1e-9
    )


@given(st.floats(380, 500), st.integers(0, 127))
def test_hertz_follow_the_reference_pitch_in_proportion(a4, number):
    pitch = SoundingPitch.from_number(number)
    assert equal_tempered_hertz(pitch, a4) == pytest.approx(equal_tempered_hertz(pitch) * a4 / 440)


@pytest.mark.parametrize("a4", [380, 415.3, 440, 442, 500])
def test_a_reference_pitch_in_reach_is_taken_as_it_is(a4):
    assert checked_a4(a4) == a4


@pytest.mark.parametrize("a4", [379.9, 500.1, 0, -440, float("nan"), float("inf")])
def test_a_reference_pitch_out_of_reach_is_refused_with_the_bounds(a4):
    with pytest.raises(InputError, match="380 to 500"):
        checked_a4(a4)


@pytest.mark.parametrize("row", rows("valve_loops_just"), ids=lambda row: row["combination"])
def test_just_loops_give_the_published_ratios_exactly_and_the_published_cents(row):
    """J. L. Monzo, "Intonation of the valve trumpet", 2003."""
    loops = Loops(first=Fraction(1, 8), second=Fraction(1, 15), third=Fraction(1, 5))
    ratio = 1 + loops.added(Valves(row["combination"]))
    assert ratio == Fraction(row["length_ratio"])
    assert round(-cents(ratio)) == int(row["cents"])


@pytest.mark.parametrize("row", rows("valve_loops_six_percent"), ids=lambda row: row["combination"])
def test_the_six_per_cent_rule_falls_short_by_the_published_lengths(row):
    """Source: "Why the math doesn't add up", Brass Pedagogy, James Madison University, 2016.

    It rounds at each step: agree to 0.02.
    """
    valves = Valves(row["combination"])
    wanted = 100 * (1.06**valves.half_steps - 1)
    provided = 100 * Loops(first=0.1236, second=0.06, third=0.191).added(valves)
    assert valves.half_steps == int(row["half_steps"])
    assert wanted == pytest.approx(float(row["needed"]), abs=0.02)
    assert provided == pytest.approx(float(row["provided"]), abs=0.02)
    assert wanted - provided == pytest.approx(float(row["short_by"]), abs=0.02)


@pytest.mark.parametrize(
    ("quantity", "half_steps"), [("valve 2 alone adds", 1), ("valve 1 alone adds", 2)], ids=["2", "1"]
)
def test_a_valve_alone_adds_the_published_part_of_the_tube(quantity, half_steps):
    """J. Kaufman, "Trumpets Belong in C#", 2014: 5.95 and 12.2 per cent."""
    (valve,) = [valves for valves in COMBINATIONS[:3] if valves.half_steps == half_steps]
    printed = _printed(quantity)
    digits = len(printed.partition(".")[2])
    assert f"{100 * tempered_loops().added(valve):.{digits}f}" == printed


def test_the_second_valve_adds_too_little_once_the_first_has_made_the_tube_longer():
    """J. Kaufman, "Trumpets Belong in C#", 2014: 5.30 per cent of the tube then open, not 5.95."""
    loops = tempered_loops()
    share = loops.added(Valves("2")) / (1 + loops.added(Valves("1")))
    assert f"{100 * share:.2f}" == _printed("valve 2 with valve 1 already down adds")


def test_all_three_valves_add_less_than_six_half_steps_need():
    """J. Kaufman, "Trumpets Belong in C#", 2014: 37 of 41 per cent, each valve alone being in tune."""
    added, wanted = _EACH_ALONE_IN_TUNE.added(Valves("123")), needed(6)
    assert f"{100 * added:.0f} / {100 * wanted:.0f}" == _printed("all three add / needed")


def test_the_loops_on_a_tube_of_140_cm_have_the_published_lengths():
    """T. R. Moore, Acoustics Today 12(4), 2016.

    Its loop of valve 1 is printed as 17.2 where 140 cm x 0.12246 are 17.145: agree to one in the last digit.
    """
    tube = _TUBE_OF_140_CM
    assert tube.length == pytest.approx(1400)
    second, first = (tube.length / 10 * tube.loops.added(Valves(digit)) for digit in "21")
    assert f"{second:.1f}" == _printed("valve 2 loop on 140 cm")
    assert first == pytest.approx(float(_printed("valve 1 loop on 140 cm")), abs=0.1)


def test_a_minor_third_on_a_tube_of_140_cm_lacks_a_centimetre():
    """T. R. Moore, Acoustics Today 12(4), 2016: 25.5 cm where 26.5 cm are needed."""
    provided = _TUBE_OF_140_CM.length / 10 * _TUBE_OF_140_CM.loops.added(Valves("12"))
    wanted = _TUBE_OF_140_CM.length / 10 * needed(3)
    assert f"{provided:.1f} / {wanted:.1f}" == _printed("minor third on 140 cm: provided / needed")


@pytest.mark.parametrize("digits", ["0", "2", "1", "23"])
def test_the_default_rule_puts_these_combinations_exactly_in_tune(digits):
    valves = Valves(digits)
    tube = instrument("trumpet-bflat").tube()
    assert cents(tube.hertz(2, Valves("0")) / tube.hertz(2, valves)) == pytest.approx(100 * valves.half_steps)


def test_the_default_rule_leaves_12_a_little_sharp_13_more_and_123_most():
    """Common practice, no source."""
    tube = instrument("trumpet-bflat").tube()
    sharp = []
    for valves in map(Valves, ("12", "13", "123")):
        lowered = cents(tube.hertz(2, Valves("0")) / tube.hertz(2, valves))
        sharp.append(100 * valves.half_steps - lowered)
    assert 0 < sharp[0] < sharp[1] < sharp[2] < 100


@pytest.mark.parametrize("key", instrument_keys())
@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_hertz_grow_in_proportion_to_the_partial(key, valves):
    tube = instrument(key).tube()
    for partial in range(1, 17):
        assert tube.hertz(partial, valves) == pytest.approx(partial * tube.hertz(1, valves))


@given(st.sampled_from(COMBINATIONS), st.sampled_from(instrument_keys()), st.floats(380, 500))
def test_every_tube_resonates_where_its_length_and_the_speed_of_sound_say(valves, key, a4):
    """Partial n of a tube of effective length L sounds at n c / 2L (Campbell, Greated; from memory)"""
    tube = instrument(key).tube(a4)
    metres = tube.length / 1000 * (1 + tube.loops.added(valves))
    assert tube.hertz(3, valves) == pytest.approx(3 * 343.2 / (2 * metres))


@pytest.mark.parametrize("digits", ["0", "1", "2", "12"])
def test_there_is_no_third_slide_to_draw_without_the_third_valve(digits):
    assert instrument("trumpet-bflat").tube().third_slide(Valves(digits)) is None


@pytest.mark.parametrize("digits", ["3", "23"])
def test_the_third_slide_stays_in_where_the_tube_is_long_enough(digits):
    assert instrument("trumpet-bflat").tube().third_slide(Valves(digits)) == 0.0


@pytest.mark.parametrize("digits", ["13", "123"])
def test_the_third_slide_moves_half_the_missing_length_because_it_has_two_legs(digits):
    valves = Valves(digits)
    tube = instrument("trumpet-bflat").tube()
    sharp = tube.length * (1 + tube.loops.added(valves))
    in_tune = tube.length * 2 ** (valves.half_steps / 12)
    assert tube.third_slide(valves) == pytest.approx((in_tune - sharp) / 2)
    assert tube.third_slide(valves) > 1


@given(
    st.tuples(*[st.floats(0.01, 0.5)] * 3).map(lambda parts: Loops(*parts)),
    st.sampled_from([valves for valves in COMBINATIONS if 3 in valves.down]),
)
def test_with_its_slide_drawn_no_combination_of_the_third_valve_is_sharp(loops, valves):
    tube = Tube(100.0, loops)
    slide = tube.third_slide(valves)
    drawn = 1 + loops.added(valves) + 2 * slide / tube.length
    assert slide >= 0
    assert drawn >= 2 ** (valves.half_steps / 12) - 1e-8
    if slide > 0:
        assert drawn == pytest.approx(2 ** (valves.half_steps / 12))


@given(st.sampled_from([valves for valves in COMBINATIONS if 3 in valves.down]), st.floats(1e-6, 0.18))
def test_however_little_is_missing_the_slide_is_drawn_for_it(valves, missing):
    own = tempered_loops()
    third = own.third + needed(valves.half_steps) - own.added(valves) - missing
    tube = Tube(100.0, Loops(own.first, own.second, third))
    assert tube.third_slide(valves) == pytest.approx(missing * tube.length / 2, rel=1e-6)


@pytest.mark.parametrize("place", [0, 1, 2])
@pytest.mark.parametrize("loop", [0, -0.1, 0.51, float("nan"), float("inf")])
def test_a_loop_that_no_valve_could_have_is_refused_with_the_valve_named(place, loop):
    given_loops = [0.12, 0.06, 0.2]
    given_loops[place] = loop
    with pytest.raises(InputError, match=f"valve {place + 1} adds .* above 0 and up to 50"):
        checked_loops(*given_loops)


def test_loops_within_bounds_are_taken_as_they_are():
    assert checked_loops(0.5, 0.001, 0.2) == Loops(first=0.5, second=0.001, third=0.2)
