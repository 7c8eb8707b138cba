"""The ramp: five stages, from low and slow to wide and fast."""

from itertools import groupby

import pytest
from hypothesis import given, settings

from etudegen.errors import InputError
from etudegen.exercises.contours import NAMED
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.study import Line, Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.strategies import parameters, studies


def stages(made: Study) -> list[list[Line]]:
    """The lines of each stage: a stage begins with a line that has a heading."""
    grouped: list[list[Line]] = []
    for line in made.lines:
        if line.heading:
            grouped.append([])
        grouped[-1].append(line)
    return grouped


@settings(max_examples=40)
@given(studies(parameters(ramp=True)))
def test_each_of_five_stages_opens_with_its_heading_and_takes_every_playable_position(
    made: tuple[SlurParameters, Study],
) -> None:
    grouped = stages(made[1])
    assert len(grouped) == 5
    assert [lines[0].heading[0] for lines in grouped if lines[0].heading] == ["1", "2", "3", "4", "5"]
    assert len({tuple(sorted(line.label for line in lines)) for lines in grouped}) == 1


@settings(max_examples=40)
@given(studies(parameters(ramp=True)))
def test_stages_widen_and_quicken(made: tuple[SlurParameters, Study]) -> None:
    for _, same in groupby(sorted(made[1].lines, key=lambda line: line.label), key=lambda line: line.label):
        lines = list(same)
        if len({tone.partial for tone in lines[-1].tones}) < 3:
            # Two partials are one shape in all stages; gone through once they are too few notes for fast ones.
            continue
        tops = [max(tone.pitch.number for tone in line.tones) for line in lines]
        assert tops == sorted(tops)
        fastest = [min(tone.duration for tone in line.tones) for line in lines]
        assert fastest == sorted(fastest, reverse=True)
        assert len({min(tone.pitch.number for tone in line.tones) for line in lines}) == 1


def test_the_first_stage_stays_on_the_three_lowest_partials() -> None:
    first = stages(study(SlurParameters(ramp=True)))[0]
    assert {tuple(sorted({tone.partial for tone in line.tones})) for line in first} == {(2, 3, 4)}
    assert {tone.duration for line in first for tone in line.tones if tone.slurred} == {1}


def test_the_last_stage_uses_the_whole_range_in_sixteenths() -> None:
    asked = SlurParameters(ramp=True, low=WrittenPitch("F", 1, 3), high=WrittenPitch("C", 0, 6))
    last = stages(study(asked))[-1]
    assert last[0].label == "0"
    assert {tone.partial for tone in last[0].tones} == {2, 3, 4, 5, 6, 8}
    assert min(tone.duration for tone in last[0].tones) * 4 == 1


@pytest.mark.parametrize("also", [{"contour": NAMED["skips"]}, {"rhythm": Rhythm.EIGHTHS}], ids=["contour", "rhythm"])
def test_a_ramp_with_a_contour_or_a_rhythm_is_refused(also: dict) -> None:
    with pytest.raises(InputError, match="ramp"):
        SlurParameters(ramp=True, **also)


def test_a_position_left_out_of_a_ramp_is_told_for_each_stage() -> None:
    made = study(SlurParameters(ramp=True, low=WrittenPitch("C", 0, 4), high=WrittenPitch("G", 0, 4)))
    left_out = [skip for skip in made.skipped if skip.what.startswith("position 2,")]
    assert len(left_out) == 5
    assert {line.label for line in made.lines} == {"0", "13", "123"}
