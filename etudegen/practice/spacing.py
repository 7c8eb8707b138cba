"""What comes up today: half of a day's places go round, the other half goes to what is weak.

Only days on which somebody practised count, so nothing is missed for a week off. A day that was printed counts as
practised, whatever is rated of it and whenever. How often what comes up is common practice, no source; how firmly a
thing is held is told by FSRS, which puts things in order here and does not schedule them: its intervals for a motor
skill would be far too long.
"""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Generic, TypeVar

from etudegen.errors import InputError, check_type, shown
from etudegen.theory.tempo import steps

T = TypeVar("T")
# A lifetime of them.
_MOST_DAYS = 100_000
# Ratings go from 1 (not yet) to 4 (easily).
_WEAK, _EASY = 2, 4
_LONGEST_WAIT = 3
_WAITS_IN_A_ROUND = 5
# In steps of a metronome.
_LOWEST_STEP = -4
_STEP_OF = {1: -2, 2: -1, 3: 1}
# The same for who tells the tempo reached: what went at it is played at it again.
_STEP_FROM_REACHED = {1: -2, 2: -1, 3: 0, _EASY: 1}
_EASY_IN_A_ROW = 2
_WEEK = 7


@dataclass(frozen=True, slots=True)
class State:
    """How something went when it was rated last, how often running it went easily, and at which step it is.

    ``step`` is how many steps of a metronome above or below the clean tempo it is to be played: a 1 takes two steps
    away, a 2 one, down to four below; a 3 gives one back, every second 4 running adds one.
    """

    rating: int
    easy: int = 0
    step: int = 0

    @classmethod
    def after(cls, before: "State | None", rating: int) -> "State":
        """Return the state after one more rating."""
        easy, step = (before.easy, before.step) if before else (0, 0)
        easy = easy + 1 if rating == _EASY else 0
        if rating == _EASY:
            step += 1 if step < 0 or easy % _EASY_IN_A_ROW == 0 else 0
        elif rating <= _WEAK or step < 0:
            step = max(_LOWEST_STEP, step + _STEP_OF[rating])
        return cls(rating, easy, step)

    @property
    def is_weak(self) -> bool:
        """Whether it went badly when it was rated last."""
        return self.rating <= _WEAK

    @property
    def sits(self) -> bool:
        """Whether it went easily twice running."""
        return self.easy >= _EASY_IN_A_ROW

    @property
    def wants_easier(self) -> bool:
        """Whether it is as slow as it gets and still weak: an easier shape helps more than a slower one."""
        return self.is_weak and self.step <= _LOWEST_STEP


@dataclass(frozen=True, slots=True)
class History(Generic[T]):
    """What was had before a day.

    ``days`` is how many days were practised; ``had`` the number of the day (from 0) on which each thing was had last,
    ``states`` how it went, ``held`` the chance, 0 to 1, that it is still at hand, ``reached`` the tempo when
    it was rated last, where that was told. ``practised`` are the last of those days, oldest first.
    """

    days: int = 0
    had: Mapping[T, int] = field(default_factory=dict)
    states: Mapping[T, State] = field(default_factory=dict)
    held: Mapping[T, float] = field(default_factory=dict)
    practised: Sequence[datetime.date] = ()
    reached: Mapping[T, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        check_type("days", self.days, int, "how many days were practised")
        if not 0 <= self.days <= _MOST_DAYS:
            raise InputError(f"days {shown(self.days)} is not allowed: give 0 to {_MOST_DAYS} days that were practised")

    def after(self, things: Iterable[T], day: datetime.date) -> "History[T]":
        """Return what was had after one more day with these things."""
        return replace(
            self,
            days=self.days + 1,
            had={**self.had, **dict.fromkeys(things, self.days)},
            practised=(*self.practised, day),
        )

    def step(self, thing: T) -> int:
        """Return at how many steps of a metronome above or below the clean tempo a thing is to be played."""
        return self.states[thing].step if thing in self.states else 0

    def tempo(self, thing: T) -> int | None:
        """Return the tempo to go for next, from the one that was reached; None where that was not told.

        Slower by two steps of a metronome than one at which it did not go, faster by one than one at which it was easy.
        """
        if thing not in self.reached:
            return None
        return steps(self.reached[thing], _STEP_FROM_REACHED[self.states[thing].rating])


def round_of(pool: int, places: int) -> int:
    """Return in how many practised days each of so many things comes round, whatever is rated."""
    return -(-2 * pool // places)


def todays(pool: Sequence[T], places: int, history: History[T], start: int = 0) -> list[T]:
    """Return a pool in the order of a day on which about so many places are to be had.

    Whatever is taken from the front, half of it is what has not been had longest and half what is weak and due, then
    what is held least. Where nothing parts two things the pool counts from ``start``.
    """
    if not pool:
        return []
    first = start % len(pool)
    turned = [*pool[first:], *pool[:first]]
    longest = sorted(turned, key=lambda thing: history.had.get(thing, -1))
    wait = min(_LONGEST_WAIT, max(1, round_of(len(pool), places) // _WAITS_IN_A_ROUND))

    def rank(thing: T) -> tuple[int, float, int]:
        since = history.days - history.had.get(thing, -1)
        state = history.states.get(thing)
        if state and state.is_weak and since >= wait:
            return (0, state.rating, -since)
        # What was weak the last time has just been had; what sits comes with the round.
        later = state is not None and (state.is_weak or state.sits)
        return (2 if later else 1, history.held.get(thing, 1.0), -since)

    needed = sorted(longest, key=rank)
    # Of an odd number of places one half has more today, the other tomorrow.
    return _in_turns(needed, longest) if places % 2 and history.days % 2 else _in_turns(longest, needed)


def _in_turns(one: Sequence[T], other: Sequence[T]) -> list[T]:
    """Return the things of two rows in turn, of each row the next that neither has had."""
    found: dict[T, None] = {}
    rows = [iter(one), iter(other)]
    for turn in range(2 * len(one)):
        for thing in rows[turn % 2]:
            if thing not in found:
                found[thing] = None
                break
    return list(found)


def days_off(day: datetime.date, practised: Sequence[datetime.date], weeks_off: int) -> int | None:
    """Return for how many days somebody had not played when playing began again, if that was less than a week ago.

    Else how long ago it was that they played; None where nobody knows. ``practised`` are days before, oldest first,
    ``weeks_off`` what counts as having been away. Who comes back adds to it day by day, so that what is said of the
    first day holds for the first week; common practice, no source.
    """
    if not practised:
        return None
    last = (day - practised[-1]).days
    if last >= weeks_off:
        return last
    for before, after in reversed([*pairwise(practised)]):
        if (day - after).days >= _WEEK:
            break
        if (after - before).days >= weeks_off:
            return (after - before).days
    return last
