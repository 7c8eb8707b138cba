"""Plans: each rule that a session keeps, worked out here again, over random players and lengths."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.practice.plan import Plan, make_plan
from etudegen.practice.profile import Aim, Pedals, Profile
from etudegen.practice.routines import read_routine, routine, routine_names
from etudegen.practice.rules import noise_minutes
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.reference.tables import rows

_STRENUOUS = {"contact", "range"}
_OWN_MATERIAL = {"music", "changes"}


@st.composite
def players(draw: st.DrawFn) -> Profile:
    """Draw a player with any range, tempi, aims and time off."""
    low = draw(st.integers(54, 64))
    return Profile(
        label="third chair",
        low=WrittenPitch.from_number(low),
        high=WrittenPitch.from_number(draw(st.integers(low + 4, 88))),
        tempo={rhythm: draw(st.integers(40, 200)) for rhythm in Rhythm},
        pedals=draw(st.sampled_from(Pedals)),
        aims=draw(st.dictionaries(st.sampled_from(Aim), st.integers(0, 10))),
        days_since_played=draw(st.integers(0, 60)),
    )


plans = st.builds(make_plan, players(), st.integers(10, 240), st.none() | st.sampled_from(Aim))
_many = settings(max_examples=60)


def _runs(plan: Plan) -> list[int]:
    runs = [0]
    for block in plan.blocks:
        if block.part == "rest":
            runs.append(0)
        else:
            runs[-1] += block.minutes
    return runs


@_many
@given(players(), st.integers(10, 240))
def test_a_plan_lasts_exactly_the_minutes_asked_for(profile: Profile, minutes: int) -> None:
    plan = make_plan(profile, minutes)
    assert sum(block.minutes for block in plan.blocks) == minutes
    assert all(block.minutes >= 3 and block.why for block in plan.blocks)


@_many
@given(plans)
def test_a_warm_up_comes_first_low_and_easy(plan: Plan) -> None:
    first = plan.blocks[0]
    assert first.part == "warm-up"
    assert not first.strenuous
    assert first.tempo <= 60
    assert first.high.number <= max(72, first.low.number + 3)


@_many
@given(plans)
def test_strenuous_blocks_are_never_side_by_side(plan: Plan) -> None:
    for one, other in zip(plan.blocks, plan.blocks[1:], strict=False):
        assert not (one.kind in _STRENUOUS and other.kind in _STRENUOUS)


@_many
@given(plans)
def test_nobody_plays_for_longer_than_twenty_five_minutes_without_five_of_rest(plan: Plan) -> None:
    """G. Klickstein, "Taking Breaks", 2011: five minutes after twenty-five; sooner when it is strenuous."""
    strenuous = any(block.kind in _STRENUOUS for block in plan.blocks)
    longest = 12 if plan.returning else 20 if strenuous else 25
    assert max(_runs(plan)) <= longest
    assert all(block.minutes >= 5 for block in plan.blocks if block.part == "rest")


@_many
@given(plans)
def test_range_work_comes_after_the_warm_up_and_never_last(plan: Plan) -> None:
    parts = [block.part for block in plan.blocks]
    assert "range" not in (parts[0], parts[-1])


@_many
@given(plans)
def test_long_or_strenuous_sessions_end_low_and_easy(plan: Plan) -> None:
    last = plan.blocks[-1]
    if plan.minutes >= 60 or any(block.kind in _STRENUOUS for block in plan.blocks):
        assert last.part == "warm-down"
        assert last.minutes <= 10
        assert last.tempo <= 60


@_many
@given(plans)
def test_music_is_always_kept_beyond_half_an_hour(plan: Plan) -> None:
    if plan.minutes > 30:
        assert any(block.part in _OWN_MATERIAL for block in plan.blocks)


@_many
@given(players(), st.integers(10, 240), st.sampled_from(Aim))
def test_no_block_leaves_the_players_range_or_tempo(profile: Profile, minutes: int, aim: Aim) -> None:
    for block in make_plan(profile, minutes, aim).blocks:
        assert profile.low.number <= block.low.number <= block.high.number <= profile.high.number
        assert block.tempo <= max(profile.tempo.values())


@_many
@given(players(), st.integers(10, 240))
def test_after_weeks_off_nothing_is_strenuous_and_the_top_is_lower(profile: Profile, minutes: int) -> None:
    plan = make_plan(profile, minutes)
    if profile.days_since_played >= 14:
        assert not any(block.strenuous for block in plan.blocks)
        assert all(block.high.number <= max(profile.low.number, profile.high.number - 3) for block in plan.blocks)


@pytest.mark.parametrize(("aim", "lengths"), [(Aim.RANGE, range(35, 60)), (Aim.ENDURANCE, range(35, 38))])
def test_a_rest_comes_next_to_what_is_strenuous(aim: Aim, lengths: range) -> None:
    """Where runs of about the same length leave a choice of where to rest. Common practice, no source."""
    for minutes in lengths:
        blocks = make_plan(Profile(label="second chair"), minutes, aim).blocks
        for before, block, after in zip(blocks, blocks[1:], blocks[2:], strict=False):
            assert block.kind not in _STRENUOUS or "rest" in (before.part, after.part), minutes


def test_a_contact_set_is_not_cut_where_a_rest_fits_elsewhere() -> None:
    """The lips stay on the mouthpiece all through it. Common practice, no source."""
    for minutes in range(130, 139):
        blocks = make_plan(Profile(label="second chair"), minutes, Aim.ENDURANCE).blocks
        assert [block.kind for block in blocks].count("contact") == 1, minutes


def test_two_and_a_half_strenuous_hours_carry_half_an_hour_of_rest_and_end_with_ten_easy_minutes() -> None:
    """Common practice, no source."""
    plan = make_plan(Profile(label="first chair", high=WrittenPitch.parse("C6")), 150, Aim.RANGE)
    assert 25 <= sum(block.minutes for block in plan.blocks if block.part == "rest") <= 35
    assert (plan.blocks[-1].part, plan.blocks[-1].minutes) == ("warm-down", 10)


@pytest.mark.parametrize(("minutes", "easy"), [(60, 4), (90, 6), (105, 7), (120, 8), (240, 10)])
def test_the_warm_down_is_a_fifteenth_of_the_session_and_ten_minutes_at_most(minutes: int, easy: int) -> None:
    """Common practice, no source."""
    assert make_plan(Profile(label="second chair"), minutes, Aim.RANGE).blocks[-1].minutes == easy


@pytest.mark.parametrize("aim", Aim)
def test_in_an_hour_about_a_third_goes_to_music(aim: Aim) -> None:
    """Common practice, no source."""
    plan = make_plan(Profile(label="second chair"), 60, aim)
    assert 16 <= sum(block.minutes for block in plan.blocks if block.part in _OWN_MATERIAL) <= 26


def test_half_an_hour_is_bends_and_slurs_after_a_short_warm_up() -> None:
    """Common practice, no source."""
    plan = make_plan(Profile(label="fourth chair"), 30)
    assert {block.kind for block in plan.blocks} <= {"long-tones", "bends", "slurs", "rest"}


@pytest.mark.parametrize("name", routine_names())
def test_each_outline_makes_plans_over_all_the_lengths_that_it_is_made_for(name: str) -> None:
    chosen = routine(name)
    for minutes in range(chosen.use.shortest, chosen.use.longest + 1):
        plan = make_plan(Profile(label="first chair"), minutes, routine=chosen)
        assert sum(block.minutes for block in plan.blocks) == minutes


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ('about = "x"\nminutes = [5, 20]\naims = ["any"]\nblock = []', "minutes"),
        ('about = "x"\nminutes = [10, 20]\naims = ["fame"]\nblock = []', "fame"),
        ('about = "x"\nminutes = [10, 20]\naims = ["any"]\n[[block]]\npart = "party"', "party"),
        ('about = "x"\nminutes = [10, 20]\naims = ["any"]\n[[block]]\npart = "warm-up"\nkind = "yodel"', "yodel"),
        (
            'about = "x"\nminutes = [10, 20]\naims = ["any"]\n'
            '[[block]]\npart = "range"\nkind = "range"\nshare = 5\nwhy = "y"',
            "warm-up",
        ),
    ],
)
def test_an_outline_that_makes_no_sense_is_refused_with_its_file_and_reason(tmp_path, wrong: str, said: str) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(wrong, encoding="utf-8")
    with pytest.raises(InputError, match=said) as told:
        read_routine(file)
    assert str(file) in str(told.value)


@pytest.mark.parametrize("row", [row for row in rows("rest_and_hearing") if row["source"] == "NIOSH"])
def test_the_time_to_a_full_noise_dose_is_that_of_the_table(row) -> None:
    """CDC/NIOSH, "Time to reach 100% noise dose"."""
    assert noise_minutes(float(row["input"].split()[0])) == pytest.approx(float(row["value"]))
