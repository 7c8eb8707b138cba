"""What holds for every sheet of lip slurs, whatever was asked for."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import NAMED, Contour, parse_contour
from etudegen.exercises.slurs import PositionOrder, SlurParameters, study
from etudegen.instrument.valves import COMBINATIONS, OPEN, POSITIONS
from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.strategies import own_contours, parameters, studies

# Half steps by which each combination lowers the tube. Common practice, no source.
LOWERED = {"0": 0, "2": 1, "1": 2, "12": 3, "3": 3, "23": 4, "13": 5, "123": 6}
# The written fundamental of the open tube, C3, with middle C = C4 = 60 (MIDI 1.0 specification).
FUNDAMENTAL = 48
# More than 20 cents from equal temperament ("Harmonic Series Deviation from Equal Temperament",
# the3rdhalf.com). That players leave them out: common practice, no source.
FAR = {7, 11, 13, 14}

holds_for_every_study = settings(max_examples=18)


def key_number(valves: str, partial: int) -> int:
    """The key number nearest to a partial, in whole numbers: round(12 log2 n) is half the bits of n^24."""
    return FUNDAMENTAL - LOWERED[valves] + (partial**24).bit_length() // 2


def usable(asked: SlurParameters, valves: str) -> list[int]:
    """The partials that a player with this range has on these valves, by this file's own account."""
    allowed = [
        partial for partial in range(2, 17) if partial not in FAR or asked.far_partials or partial in asked.contour.own
    ]
    return [partial for partial in allowed if asked.low.number <= key_number(valves, partial) <= asked.high.number]


def fits(asked: SlurParameters, valves: str) -> bool:
    """Whether the shape asked for finds its partials on these valves."""
    partials = usable(asked, valves)
    if asked.contour.own:
        return set(asked.contour.own) <= set(partials)
    if asked.contour.name == "leaps":
        return any(ratio * partial in partials for partial in partials for ratio in (2, 3))
    return len(partials) >= 2


def slurred_runs(line: Line) -> list[list[Tone]]:
    """The tones of a line, cut after each one that the next does not follow slurred."""
    runs: list[list[Tone]] = [[]]
    for tone in line.tones:
        runs[-1].append(tone)
        if not tone.slurred:
            runs.append([])
    return runs[:-1] if not runs[-1] else runs


def every(*check: Callable[[Tone], Any], study: Study) -> bool:
    return all(holds(tone) for line in study.lines for tone in line.tones for holds in check)


@holds_for_every_study
@given(studies())
def test_a_line_stays_on_the_one_valve_combination_that_its_label_names(made: tuple[SlurParameters, Study]) -> None:
    for line in made[1].lines:
        assert {tone.valves.digits for tone in line.tones} == {line.label}


@holds_for_every_study
@given(studies())
def test_every_tone_lies_inside_the_range_asked_for(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    assert every(lambda tone: asked.low.number <= tone.pitch.number <= asked.high.number, study=result)


@holds_for_every_study
@given(studies())
def test_every_tone_is_the_partial_of_its_tube_that_it_says(made: tuple[SlurParameters, Study]) -> None:
    assert every(lambda tone: tone.pitch.number == key_number(tone.valves.digits, tone.partial), study=made[1])


@holds_for_every_study
@given(studies())
def test_partials_far_from_temperament_appear_only_when_asked_for(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    played = {tone.partial for line in result.lines for tone in line.tones}
    if not asked.far_partials:
        assert not (played & FAR) - set(asked.contour.own)
    assert played <= set(range(2, 17))


@holds_for_every_study
@given(studies(), st.data())
def test_one_spelling_serves_a_place_on_the_keyboard_through_a_line(
    made: tuple[SlurParameters, Study], data: st.DataObject
) -> None:
    line = data.draw(st.sampled_from(made[1].lines))
    spelled = {tone.pitch for tone in line.tones}
    assert len(spelled) == len({pitch.number for pitch in spelled})
    assert not {1, -1} <= {pitch.alter for pitch in spelled}, "sharps and flats in one line"
    assert all(abs(pitch.alter) <= 1 for pitch in spelled)


@holds_for_every_study
@given(studies())
def test_every_line_fills_whole_bars_of_four_quarters(made: tuple[SlurParameters, Study]) -> None:
    for line in made[1].lines:
        assert sum(event.duration for event in line.events) % 4 == 0
        assert sum(tone.duration for tone in line.tones) % 4 == 0
        assert all(event.duration > 0 for event in line.events)


@holds_for_every_study
@given(studies())
def test_the_last_tone_of_a_line_is_held_for_two_quarters_at_least(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    longest = 2 if asked.rhythm is Rhythm.HALVES else 1
    for line in result.lines:
        *moving, held = line.tones
        assert held.duration >= 2
        assert all(tone.duration <= longest for tone in moving)


@holds_for_every_study
@given(studies())
def test_moving_notes_keep_to_the_rhythm_asked_for(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    if asked.ramp:
        return
    value = {"halves": Fraction(2), "quarters": Fraction(1), "eighths": Fraction(1, 2), "triplets": Fraction(1, 3),
             "sixteenths": Fraction(1, 4)}[asked.rhythm]  # fmt: skip
    for line in result.lines:
        *moving, _ = line.tones
        off = [tone.duration for tone in moving if tone.duration != value]
        # The last beat of the run may broaden, so that the held note begins on a beat: one longer note, or two halves.
        assert len(off) <= 1 or off == [Fraction(1, 2)] * 2
        assert all(duration > value for duration in off)
        assert sum((tone.duration for tone in moving), Fraction(0)).denominator == 1


@holds_for_every_study
@given(studies())
def test_playing_and_resting_time_are_the_exact_sum_of_notes_and_rests(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    played = rested = quarters = Fraction(0)
    for line in result.lines:
        a_quarter = Fraction(60, line.measures[0].tempo or asked.tempo if line.measures else asked.tempo)
        played += a_quarter * sum((event.duration for event in line.events if isinstance(event, Tone)), Fraction(0))
        rested += a_quarter * sum((event.duration for event in line.events if isinstance(event, Rest)), Fraction(0))
        quarters += sum((event.duration for event in line.events), Fraction(0))
    assert result.tempo == asked.tempo
    assert result.playing_seconds == played
    assert result.resting_seconds == rested
    assert result.bars * 4 == quarters


@holds_for_every_study
@given(studies())
def test_rests_are_none_half_or_equal_to_the_bars_played(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    for line in result.lines:
        *played, last = line.events
        bars_played = sum(tone.duration for tone in line.tones) / 4
        if asked.rests is Rests.NONE:
            assert isinstance(last, Tone)
            continue
        assert isinstance(last, Rest)
        assert not any(isinstance(event, Rest) for event in played)
        if asked.rests is Rests.EQUAL:
            assert last.duration == 4 * bars_played
        else:
            assert 0 <= last.duration / 4 - bars_played / 2 < 1


@holds_for_every_study
@given(studies())
def test_the_same_parameters_make_the_same_study(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    assert study(replace(asked)) == result


@holds_for_every_study
@given(parameters())
def test_a_position_is_played_where_its_partials_allow_it_and_told_as_skipped_elsewhere(
    asked: SlurParameters,
) -> None:
    playable = {valves.digits for valves in asked.positions if fits(asked, valves.digits)}
    if not playable:
        with pytest.raises(InputError) as refused:
            study(asked)
        assert str(asked.low) in str(refused.value)
        assert str(asked.high) in str(refused.value)
        return
    made = study(asked)
    assert {line.label for line in made.lines} == playable
    left_out = [valves.digits for valves in asked.positions if valves.digits not in playable]
    told = sorted(skip.what.split(",")[0] for skip in made.skipped)
    stages = 5 if asked.ramp else 1
    assert told == sorted(f"position {digits}" for digits in left_out for _ in range(stages))
    assert all(str(asked.low) in skip.why and str(asked.high) in skip.why for skip in made.skipped)


@holds_for_every_study
@given(studies())
def test_no_pitch_is_repeated_inside_a_slur(made: tuple[SlurParameters, Study]) -> None:
    for line in made[1].lines:
        for run in slurred_runs(line):
            assert all(first.pitch != second.pitch for first, second in pairwise(run))


@holds_for_every_study
@given(studies())
def test_every_slurred_run_ends_within_its_line_on_a_tone_that_is_not_slurred_on(
    made: tuple[SlurParameters, Study],
) -> None:
    for line in made[1].lines:
        runs = slurred_runs(line)
        assert all(not run[-1].slurred for run in runs)
        assert all(tone.slurred for run in runs for tone in run[:-1])
        assert all(len(run) >= 2 for run in runs)


@holds_for_every_study
@given(studies())
def test_fingerings_stand_at_every_note_or_at_the_first_of_a_line_or_nowhere(
    made: tuple[SlurParameters, Study],
) -> None:
    asked, result = made
    for line in result.lines:
        printed = [tone.fingering for tone in line.tones]
        rest = len(printed) - 1
        assert (
            printed
            == {
                Fingerings.EVERY: [line.label] * (rest + 1),
                Fingerings.CHANGES: [line.label] + [None] * rest,
                Fingerings.NONE: [None] * (rest + 1),
            }[asked.fingerings]
        )


@holds_for_every_study
@given(studies())
def test_partial_numbers_stand_at_every_note_or_nowhere(made: tuple[SlurParameters, Study]) -> None:
    asked, result = made
    assert every(
        lambda tone: tone.partial_number == (str(tone.partial) if asked.partial_numbers else None),
        study=result,
    )


@holds_for_every_study
@given(studies())
def test_positions_follow_one_another_by_half_steps_in_the_direction_asked_for(
    made: tuple[SlurParameters, Study],
) -> None:
    asked, result = made
    stages = 5 if asked.ramp else 1
    labels = [line.label for line in result.lines]
    for stage in range(stages):
        order = [LOWERED[label] for label in labels[stage * len(labels) // stages :][: len(labels) // stages]]
        if asked.direction is not PositionOrder.SHUFFLED:
            assert order == sorted(order, reverse=asked.direction is PositionOrder.UP)
    assert len(labels) == stages * len(set(labels))


@holds_for_every_study
@given(studies())
def test_the_name_of_the_files_is_plain_ascii_and_short(made: tuple[SlurParameters, Study]) -> None:
    name = made[1].name
    assert name.isascii()
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-")
    assert len(name) <= 100
    assert name[0].isalnum()


@holds_for_every_study
@given(own_contours(10), st.sampled_from(Rhythm), st.integers(1, 12))
def test_a_players_own_partials_are_played_as_typed_in_every_position(contour: Any, rhythm: Rhythm, times: int) -> None:
    asked = SlurParameters(
        contour=contour, rhythm=rhythm, repeats=times, low=WrittenPitch("F", 1, 2), high=WrittenPitch("C", 0, 7)
    )
    typed = list(contour.own)
    for line in study(asked).lines:
        played = [tone.partial for tone in line.tones]
        if typed[0] == typed[-1]:
            assert played == typed + typed[1:] * (times - 1)
            assert len(slurred_runs(line)) == 1
        else:
            assert played == typed * times
            assert [len(run) for run in slurred_runs(line)] == [len(typed)] * times


@pytest.mark.parametrize("contour", ["2 2 3", "4 5 5 4", "2 3 4 4"])
def test_a_contour_that_repeats_a_partial_is_refused_or_tongues_the_repetition(contour: str) -> None:
    try:
        made = study(SlurParameters(contour=parse_contour(contour)))
    except InputError:
        return
    for line in made.lines:
        for run in slurred_runs(line):
            assert all(first.pitch != second.pitch for first, second in pairwise(run))


def test_the_worked_example_of_the_open_tube_reads_as_a_player_expects() -> None:
    # The open B-flat trumpet's written series is C4 G4 C5 E5 G5 on partials 2 to 6: common practice, no source.
    (line,) = study(SlurParameters(positions=(OPEN,), repeats=1, rests=Rests.HALF)).lines
    heard = [(str(tone.pitch), tone.duration, tone.slurred) for tone in line.tones]
    assert heard == [
        ("C4", 1, True), ("G4", 1, True), ("C5", 1, True), ("E5", 1, True),
        ("G5", 1, True), ("E5", 1, True), ("C5", 1, True), ("G4", 1, True),
        ("C4", 4, False),
    ]  # fmt: skip
    assert line.events[-1] == Rest(Fraction(8))


def test_the_usual_sheet_takes_the_seven_positions_downwards() -> None:
    made = study(SlurParameters())
    assert [line.label for line in made.lines] == ["0", "2", "1", "12", "23", "13", "123"]
    assert made.skipped == ()


def test_upwards_is_downwards_reversed() -> None:
    labels = [line.label for line in study(SlurParameters(direction=PositionOrder.UP)).lines]
    assert labels == ["123", "13", "23", "12", "1", "2", "0"]


def test_some_seeds_shuffle_the_positions_differently() -> None:
    orders = {
        tuple(line.label for line in study(SlurParameters(direction=PositionOrder.SHUFFLED, seed=seed)).lines)
        for seed in range(10)
    }
    assert len(orders) > 5
    assert {tuple(sorted(order)) for order in orders} == {tuple(sorted(map(str, POSITIONS)))}


def test_one_position_makes_one_line() -> None:
    made = study(SlurParameters(positions=(COMBINATIONS[3],)))
    assert [line.label for line in made.lines] == ["12"]
    assert "position 12 " in made.subtitle


def test_with_far_partials_the_series_is_climbed_without_a_gap() -> None:
    wide = SlurParameters(high=WrittenPitch("C", 0, 7), positions=(OPEN,), repeats=1)
    assert [tone.partial for tone in next(iter(study(wide).lines)).tones][:11] == [
        2, 3, 4, 5, 6, 8, 9, 10, 12, 15, 16,
    ]  # fmt: skip
    far = replace(wide, far_partials=True)
    assert [tone.partial for tone in next(iter(study(far).lines)).tones][:15] == list(range(2, 17))


def test_far_partials_the_player_typed_are_used_without_asking_again() -> None:
    asked = SlurParameters(contour=parse_contour("6 7 8 7 6"), high=WrittenPitch("C", 0, 6))
    assert {tone.partial for line in study(asked).lines for tone in line.tones} == {6, 7, 8}


@pytest.mark.parametrize("name", NAMED)
def test_a_range_with_no_two_partials_in_any_position_is_refused_with_the_range(name: str) -> None:
    asked = SlurParameters(low=WrittenPitch("C", 0, 4), high=WrittenPitch("D", 0, 4), contour=NAMED[name])
    with pytest.raises(InputError, match=r"no line can be made .*fewer than two usable partials.*C4.*D4"):
        study(asked)


def test_a_narrow_range_leaves_out_the_positions_with_fewer_than_two_partials_in_it() -> None:
    # C4 to G4 holds C4 and G4 of the open tube, D4 and G4 of 13, C#4 and F#4 of 123, one note of each other:
    # Ordinary fingerings as in "Trumpet Fingering Chart", thewholehorn.com; the rest follows from the series.
    made = study(SlurParameters(low=WrittenPitch("C", 0, 4), high=WrittenPitch("G", 0, 4)))
    assert [line.label for line in made.lines] == ["0", "13", "123"]
    assert [skip.what for skip in made.skipped] == [f"position {valves}" for valves in ("2", "1", "12", "23")]
    assert all(skip.why == "fewer than two usable partials between C4 and G4" for skip in made.skipped)


def test_partials_outside_the_range_are_told_with_their_note() -> None:
    made = study(
        SlurParameters(low=WrittenPitch("C", 0, 4), high=WrittenPitch("C", 0, 5), contour=parse_contour("2 3 4"))
    )
    assert next((skip.what, skip.why) for skip in made.skipped) == (
        "position 2",
        "partial 2 is B3, outside C4 to C5",
    )


@pytest.mark.parametrize("rhythm", Rhythm)
def test_named_contours_run_for_two_bars_at_least_unless_told_how_often(rhythm: Rhythm) -> None:
    for name, contour in NAMED.items():
        for line in study(SlurParameters(contour=contour, rhythm=rhythm)).lines:
            *moving, _ = line.tones
            assert sum(tone.duration for tone in moving) >= 8, name


def test_a_title_takes_the_place_of_the_usual_one_on_the_page() -> None:
    made = study(SlurParameters(title='Größe & "C": #1'))
    assert made.title == 'Größe & "C": #1'
    assert study(SlurParameters()).title == "Lip slurs"


def test_lines_of_one_stage_are_grouped_without_headings_unless_it_is_a_ramp() -> None:
    assert [key for key, _ in groupby(study(SlurParameters()).lines, key=lambda line: line.heading)] == [None]


def _running(asked: SlurParameters) -> Fraction:
    """How long a line runs before its held last note, in quarter notes."""
    (line,) = study(asked).lines
    return sum((tone.duration for tone in list(line.tones)[:-1]), Fraction(0))


@pytest.mark.parametrize("high", ["C5", "G5"])
@pytest.mark.parametrize("contour", NAMED.values(), ids=lambda contour: contour.name)
def test_a_named_shape_comes_as_often_as_fills_two_bars_in_every_rhythm(contour: Contour, high: str) -> None:
    usual = SlurParameters(contour=contour, positions=(OPEN,), rhythm=Rhythm.QUARTERS, high=WrittenPitch.parse(high))
    once = _running(replace(usual, repeats=1))
    for rhythm in Rhythm:
        running = _running(replace(usual, rhythm=rhythm))
        # One that ends low holds the last note of the shape itself.
        whole = once + 1 if contour.ends_low else once
        assert 8 <= running < 8 + whole * max(Fraction(1), rhythm.note) + contour.ends_low


def test_partials_of_ones_own_are_played_once_unless_repeats_are_asked_for() -> None:
    asked = SlurParameters(contour=parse_contour("2 3 4 3"), positions=(OPEN,))
    (line,) = study(asked).lines
    assert [tone.partial for tone in line.tones] == [2, 3, 4, 3]
