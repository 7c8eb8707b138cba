"""What comes up: over simulated days weak things come twice as often, and everything comes round."""

import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from itertools import chain, product
from statistics import mean
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.practice.spacing import History, State, days_off, round_of, todays

T = TypeVar("T")
_SEEDS = range(20)
_DAYS = 30


Days = list[list[int]]


def _states(ratings: Mapping[T, Sequence[int]]) -> dict[T, State]:
    """What ratings, oldest first, come to."""
    states: dict[T, State] = {}
    for thing, said in ratings.items():
        for rating in said:
            states[thing] = State.after(states.get(thing), rating)
    return states


def _practised(pool: int, places: int, weak: int, seed: int, days: int, book: int) -> tuple[Days, Days]:
    """Return on which days each weak thing and each other was had, printed ``book`` days at a time and rated then."""
    chance = random.Random(seed)
    weak_ones = chance.sample(range(pool), weak)
    ratings: dict[int, list[int]] = {thing: [] for thing in range(pool)}
    had: dict[int, list[int]] = {thing: [] for thing in range(pool)}
    for first in range(0, days, book):
        known = _states(ratings)
        printed = []
        for day in range(first, min(days, first + book)):
            last = {thing: on[-1] for thing, on in had.items() if on}
            printed.append(todays(range(pool), places, History(day, last, known))[:places])
            for thing in printed[-1]:
                had[thing].append(day)
        for thing in (thing for page in printed for thing in page):
            ratings[thing].append(chance.choice((1, 2) if thing in weak_ones else (3, 4)))
    return [had[thing] for thing in weak_ones], [on for thing, on in had.items() if thing not in weak_ones]


# Pool, places a day, weak ones: places for at most half of the pool, at most a third weak.
_SHAPES = [(12, 3, 2), (12, 1, 1), (12, 4, 4), (12, 6, 1), (7, 3, 1), (84, 6, 4), (7, 2, 1), (24, 5, 8)]


@pytest.mark.parametrize(("book", "least"), [(1, Fraction(2)), (5, Fraction(19, 10))])
@pytest.mark.parametrize(("pool", "places", "weak"), _SHAPES)
def test_weak_things_come_twice_as_often_as_strong_ones(
    pool: int, places: int, weak: int, book: int, least: Fraction
) -> None:
    """Common practice, no source."""
    found = []
    for seed in _SEEDS:
        of_weak, of_strong = _practised(pool, places, weak, seed, _DAYS, book)
        found.append(mean(map(len, of_weak)) / mean(map(len, of_strong)))
    assert mean(found) >= least
    assert min(found) >= Fraction(19, 10)


@pytest.mark.parametrize(("pool", "places", "weak"), _SHAPES)
def test_everything_comes_round_whatever_is_rated(pool: int, places: int, weak: int) -> None:
    days = 2 * round_of(pool, places)
    for seed in _SEEDS:
        for on in chain(*_practised(pool, places, weak, seed, days, 1)):
            gaps = [after - before for before, after in zip([-1, *on], [*on, days], strict=True)]
            assert max(gaps) <= round_of(pool, places) + 1


@given(
    st.integers(1, 20),
    st.integers(1, 20),
    st.integers(0, 50),
    st.dictionaries(st.integers(0, 19), st.integers(0, 49)),
    st.dictionaries(st.integers(0, 19), st.lists(st.integers(1, 4), max_size=6)),
    st.integers(0, 400),
)
def test_each_thing_stands_once_in_the_order_of_a_day(pool, places, days, had, ratings, start) -> None:
    found = todays(range(pool), places, History(days, had, _states(ratings)), start)
    assert sorted(found) == list(range(pool))


def test_of_whatever_is_taken_half_has_not_been_had_longest() -> None:
    had = {thing: thing for thing in range(12)}
    for days, places in product((12, 13), range(2, 12)):
        found = todays(range(12), places, History(days, had, {11: State(1)}))[:places]
        assert set(range((places + (days == 12 or places % 2 == 0)) // 2)) <= set(found)


@pytest.mark.parametrize(
    ("ratings", "step"),
    [
        ([], 0), ([2], -1), ([1], -2), ([1, 1], -4), ([1, 1, 1], -4), ([2, 3], 0), ([1, 3], -1), ([1, 4], -1),
        ([3, 3, 3], 0), ([4], 0), ([4, 4], 1), ([4, 4, 4], 1), ([4, 4, 4, 4], 2), ([4, 3, 4], 0), ([4, 4, 2], 0),
    ],
)  # fmt: skip
def test_what_went_badly_comes_slower_and_what_went_easily_twice_faster(ratings: list[int], step: int) -> None:
    history = History(states=_states({"F": ratings}))
    assert history.step("F") == step
    assert any(state.wants_easier for state in history.states.values()) == (step == -4)


def test_a_day_more_counts_what_was_had_on_it() -> None:
    day = date(2026, 11, 26)
    history = History(3, {"F": 0, "G": 2}).after(["F", "A"], day)
    assert (history.days, history.had, history.practised) == (4, {"F": 3, "G": 2, "A": 3}, (day,))


@pytest.mark.parametrize(
    ("ago", "off"),
    [
        ([], None), ([1], 1), ([3, 2], 2), ([20], 20), ([40, 20], 20), ([30, 1], 29), ([30, 6, 3], 24),
        # A week after that it is over.
        ([30, 7, 3], 3), ([60, 40, 6, 2], 34),
    ],
)  # fmt: skip
def test_who_was_away_is_so_for_the_first_week_back(ago: list[int], off: int | None) -> None:
    day = date(2026, 11, 26)
    assert days_off(day, [day - timedelta(days=each) for each in ago], 14) == off


def test_what_is_held_least_comes_before_what_is_held_well() -> None:
    had = dict.fromkeys("FGA", 1)
    ratings = {"F": (3,), "G": (3,), "A": (4, 4)}
    found = todays("DFGA", 3, History(4, {**had, "D": 0}, _states(ratings), {"F": 0.9, "G": 0.6, "A": 0.1}))
    assert found[:2] == ["D", "G"]
    assert found[-1] != "G"
