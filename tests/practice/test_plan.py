"""Plans: each rule that a session keeps, worked out here again, over random players and lengths."""

from itertools import combinations, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from etudegen.errors import InputError
from etudegen.practice.levels import level as named
from etudegen.practice.plan import Plan, make_plan
from etudegen.practice.planning.aims import aim_table
from etudegen.practice.profile import Aim, Pedals, Profile
from etudegen.practice.routines import read_routine, routine, routine_names
from etudegen.practice.rules import noise_minutes
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.practice.rules_of_plans import broken
from tests.reference.tables import rows


def _weigh_something(aims: dict[Aim, int]) -> bool:
    return not aims or any(aims.values())


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
        aims=draw(st.dictionaries(st.sampled_from(Aim), st.integers(0, 10)).filter(_weigh_something)),
        days_since_played=draw(st.integers(0, 60)),
    )


plans = st.builds(make_plan, players(), st.integers(10, 240), st.none() | st.sampled_from(Aim))
_many = settings(max_examples=30)


@_many
@given(plans)
def test_every_plan_keeps_the_rules(plan: Plan) -> None:
    assert list(broken(plan)) == []


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


def _by(level: str, **other: object) -> Profile:
    return Profile(
        label="second chair", low=WrittenPitch.parse("F#3"), high=WrittenPitch.parse("C6"), level=level, **other
    )


_TUNE = {"tunes": (Path("quay-waltz.musicxml"),)}


def _minutes(plan: Plan) -> dict[str, int]:
    """The minutes of each material, rests among them."""
    found: dict[str, int] = {}
    for block in plan.blocks:
        found[block.material or "rest"] = found.get(block.material or "rest", 0) + block.minutes
    return found


def _order(plan: Plan) -> list[str]:
    return list(dict.fromkeys(block.material for block in plan.blocks if block.material))


def _about(minutes: int, wanted: int) -> bool:
    """Within a fifth."""
    return abs(minutes - wanted) <= wanted / 5


def test_an_hour_for_one_who_comes_back_after_years_is_slurs_scales_and_tunes_by_thirds() -> None:
    """Common practice, no source."""
    minutes = _minutes(make_plan(_by("elementary", **_TUNE), 60, Aim.FLEXIBILITY))
    playing = 60 - minutes["rest"]
    assert _about(minutes["slurs-down"] + minutes["slurs"], playing // 3)
    assert _about(minutes["scales"] + minutes["patterns"], playing // 3)
    assert _about(minutes["piece"], playing // 3)


def test_two_and_a_half_hours_for_a_lead_player() -> None:
    """Common practice, no source."""
    plan = make_plan(_by("professional", **_TUNE), 150, Aim.ENDURANCE)
    minutes = _minutes(plan)
    assert _order(plan) == ["slurs", "bends", "contact", "scales", "through", "pedals"]
    assert _about(minutes["slurs"], 30)
    assert _about(minutes["rest"], 30)
    assert _about(minutes["pedals"], 10)
    assert plan.blocks[-1].material == "pedals"


def test_three_hours_for_an_orchestral_player() -> None:
    """Common practice, no source."""
    plan = make_plan(_by("professional", **_TUNE), 180, Aim.ORCHESTRAL)
    minutes = _minutes(plan)
    assert _order(plan)[:7] == ["long-tones", "swells", "slurs", "scales", "patterns", "arpeggios", "excerpts"]
    assert _about(minutes["long-tones"] + minutes["swells"], 30)
    assert _about(minutes["slurs"], 30)
    assert _about(minutes["excerpts"], 60)


def test_half_an_hour_on_a_busy_day_is_bends_and_slurs() -> None:
    """Common practice, no source."""
    minutes = _minutes(make_plan(_by("advanced"), 30, Aim.FLEXIBILITY))
    assert minutes.keys() == {"bends", "slurs", "rest"}
    assert abs(minutes["bends"] - minutes["slurs"]) <= 2


def test_three_hours_for_a_jazz_player() -> None:
    """Common practice, no source."""
    plan = make_plan(_by("professional", **_TUNE), 180, Aim.JAZZ)
    minutes = _minutes(plan)
    assert _order(plan)[:8] == [
        "bends", "slurs", "contact", "pedals", "scales", "patterns", "transpose", "improvising",
    ]  # fmt: skip
    assert _about(minutes["scales"], 15)
    assert _about(minutes["patterns"], 15)
    assert minutes["writing-down"] >= 10


@pytest.mark.parametrize("minutes", [20, 30, 45, 60, 120, 180])
@pytest.mark.parametrize("level", ["intermediate", "professional"])
def test_no_two_aims_have_more_than_four_fifths_of_their_minutes_in_common(level: str, minutes: int) -> None:
    made = {aim: _minutes(make_plan(_by(level, **_TUNE), minutes, aim)) for aim in Aim}
    for one, other in combinations(made.values(), 2):
        shared = sum(min(length, other.get(name, 0)) for name, length in one.items() if name != "rest")
        assert shared <= 0.8 * (minutes - max(one.get("rest", 0), other.get("rest", 0)))


@pytest.mark.parametrize(("level", "aim"), [*product(["elementary", "advanced"], Aim)])
def test_an_aims_own_are_a_third_and_never_fall_and_blocks_change_by_little(level: str, aim: Aim) -> None:
    own = aim_table(aim).own
    instead = named(level).instead
    own = own | {instead[name] for name in own if name in instead}
    before: dict[str, int] = {}
    # All lengths are gone through by tests/long_plans.py.
    for minutes in range(15, 76):
        made = _minutes(make_plan(_by(level, **_TUNE), minutes, aim))
        playing = minutes - made.pop("rest", 0)
        of_own = sum(length for name, length in made.items() if name in own)
        assert 3 * of_own >= playing, minutes
        for name in made.keys() & before.keys():
            assert abs(made[name] - before[name]) <= 6, (minutes, name)
        before = made


def test_weights_share_a_long_session_and_take_turns_in_short_ones() -> None:
    weights = {Aim.JAZZ: 3, Aim.FLEXIBILITY: 1}
    long = [make_plan(_by("advanced", **_TUNE), 120, weights, day=day) for day in range(400, 404)]
    assert all(dict(each.weights) == weights for each in long)
    # Each has more on its own day than on the others.
    slurs = sorted(_minutes(each)["slurs"] for each in long)
    assert slurs[0] == slurs[2] < slurs[3]
    assert all({"slurs", "improvising"} <= _minutes(each).keys() for each in long)
    days = [make_plan(_by("advanced", **_TUNE), 20, weights, day=day).weights for day in range(400, 404)]
    assert sorted(str(aim) for ((aim, _),) in days) == ["flexibility", "jazz", "jazz", "jazz"]


def test_beyond_what_the_lips_can_do_there_is_rest_and_the_plan_says_so() -> None:
    plan = make_plan(_by("first-months"), 60, Aim.SOUND)
    assert (plan.blocks[-1].part, plan.blocks[-1].minutes) == ("rest", 20)
    assert any("enough for the lips today" in remark for remark in plan.remarks)


def test_what_is_left_out_is_told() -> None:
    told = " ".join(make_plan(_by("elementary"), 60, Aim.RANGE).remarks)
    assert "Not yet bends" in told
    assert "taken from the range" in " ".join(make_plan(Profile(label="x"), 60, Aim.RANGE).remarks)
    without = make_plan(_by("professional", pedals=Pedals.NONE), 150, Aim.ENDURANCE)
    assert "pedals" not in _minutes(without)


@pytest.mark.parametrize("minutes", [45, 60, 100, 150, 200, 240])
def test_there_are_as_few_rests_as_an_integer_program_finds(minutes: int) -> None:
    """Second opinion by scipy's milp (HiGHS): the blocks as they are, rests between them or cutting the long ones."""
    plan = make_plan(_by("professional", **_TUNE), minutes, Aim.SOUND)
    playing = sum(block.minutes for block in plan.blocks if block.part != "rest")
    run = 20 if any(block.strenuous for block in plan.blocks) else 25
    # So many runs, none longer than that, add up to the playing time: the fewest of them.
    count = 12
    found = milp(
        np.r_[np.ones(count), np.zeros(count)],
        constraints=[
            LinearConstraint(np.r_[np.zeros(count), np.ones(count)], playing, playing),
            LinearConstraint(np.c_[-run * np.eye(count), np.eye(count)], -np.inf, 0),
        ],
        integrality=np.ones(2 * count),
        bounds=Bounds(np.zeros(2 * count), np.r_[np.ones(count), np.full(count, run)]),
    )
    rests = sum(block.part == "rest" for block in plan.blocks)
    assert found.success
    assert rests - (round(found.fun) - 1) <= 1


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


@pytest.mark.parametrize("aim", Aim)
def test_only_kinds_that_the_player_practises_are_planned_and_the_others_are_told(aim: Aim) -> None:
    kinds = ("long-tones", "slurs", "scales", "repertoire")
    plan = make_plan(_by("advanced", kinds=kinds, **_TUNE), 60, aim)
    assert {block.kind for block in plan.blocks} <= {*kinds, "rest"}
    assert any(remark.startswith("Not yet ") for remark in plan.remarks) or aim in (Aim.TECHNIQUE, Aim.ORCHESTRAL)
    # Of two players of one level each has the own kinds.
    assert _order(make_plan(_by("advanced", **_TUNE), 60, Aim.JAZZ)) != _order(plan)


@pytest.mark.parametrize(("level", "aim", "minutes"), [*product(["first-months", "elementary"], Aim, [10, 20, 45])])
def test_what_a_plan_says_does_not_contradict_itself(level: str, aim: Aim, minutes: int) -> None:
    plan = make_plan(_by(level), minutes, aim)
    stands_in = {
        remark.rpartition(": ")[2].removesuffix(" instead.") for remark in plan.remarks if " instead." in remark
    }
    left_out = {remark.partition(":")[0].removeprefix("No ") for remark in plan.remarks if remark.startswith("No ")}
    assert not stands_in & left_out
    assert len(set(plan.remarks)) == len(plan.remarks)
