"""What comes up today: half of a day's places go round, the other half goes to what is weak.

Only days on which somebody practised count, so nothing is missed for a week off. A day that was printed counts as
practised, whatever is rated of it and whenever. How often what comes up is common practice, no source; how firmly a
thing is held is told by FSRS, which puts things in order here and does not schedule them: its intervals for a motor
skill would be far too long.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

T = TypeVar("T")
# Ratings go from 1 (not yet) to 4 (easily).
_WEAK, _EASY = 2, 4
_LONGEST_WAIT = 3
_WAITS_IN_A_ROUND = 4
# In steps of a metronome.
_LOWEST_STEP = -4
_STEP_OF = {1: -2, 2: -1, 3: 1}
_EASY_IN_A_ROW = 2


@dataclass(frozen=True, slots=True)
class History(Generic[T]):
    """What was had before a day.

    ``days`` is how many days were practised; ``had`` the number of the day (from 0) on which each thing was had last,
    ``ratings`` how it went, oldest first; ``held`` the chance, 0 to 1, that it is still at hand.
    """

    days: int = 0
    had: Mapping[T, int] = field(default_factory=dict)
    ratings: Mapping[T, Sequence[int]] = field(default_factory=dict)
    held: Mapping[T, float] = field(default_factory=dict)

    def is_weak(self, thing: T) -> bool:
        """Tell whether a thing went badly when it was rated last."""
        ratings = self.ratings.get(thing, ())
        return len(ratings) > 0 and ratings[-1] <= _WEAK

    def sits(self, thing: T) -> bool:
        """Tell whether a thing went easily twice running."""
        ratings = self.ratings.get(thing, ())
        return len(ratings) >= _EASY_IN_A_ROW and all(rating >= _EASY for rating in ratings[-_EASY_IN_A_ROW:])

    def step(self, thing: T) -> int:
        """Return at how many steps of a metronome above or below the clean tempo a thing is to be played.

        A 1 takes two steps away, a 2 one, down to four below; a 3 gives one back, every second 4 running adds one.
        """
        step = easy = 0
        for rating in self.ratings.get(thing, ()):
            easy = easy + 1 if rating == _EASY else 0
            if rating == _EASY:
                step += 1 if step < 0 or easy % _EASY_IN_A_ROW == 0 else 0
            else:
                step = max(_LOWEST_STEP, step + _STEP_OF[rating]) if rating <= _WEAK or step < 0 else step
        return step

    def wants_easier(self, thing: T) -> bool:
        """Tell whether a thing is as slow as it gets and still weak: an easier shape helps more than a slower one."""
        return self.is_weak(thing) and self.step(thing) <= _LOWEST_STEP


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

    def since(thing: T) -> int:
        return history.days - history.had.get(thing, -1)

    def rank(thing: T) -> tuple[int, float, int]:
        if history.is_weak(thing) and since(thing) >= wait:
            return (0, history.ratings[thing][-1], -since(thing))
        # What was weak the last time has just been had; what sits comes with the round.
        later = history.is_weak(thing) or history.sits(thing)
        return (2 if later else 1, history.held.get(thing, 1.0), -since(thing))

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
