"""What comes up today: everything in turn, and what went badly sooner.

Each day the pool starts one further on, so that in as many days as it has members each has come first once. Behind
the first come those that are due for repetition, most forgotten first, then the others in their turn.
"""

import math
from collections.abc import Mapping, Sequence
from typing import TypeVar

T = TypeVar("T")
# Below this chance of still being at hand a thing is due (the usual aim of the scheduling algorithm).
_DUE_BELOW = 0.9
_GOLDEN = (math.sqrt(5) - 1) / 2


def turned(pool: Sequence[T], day: int) -> list[T]:
    """Return a pool starting one member further on each day."""
    start = day % len(pool)
    return [*pool[start:], *pool[:start]]


def todays(pool: Sequence[T], day: int, retained: Mapping[T, float]) -> list[T]:
    """Return a pool in the order of a day.

    ``retained`` is the chance, 0 to 1, that a member practised before is still at hand; members never practised are
    taken in their turn.
    """
    first, *others = turned(pool, day)
    due = sorted(
        (each for each in others if retained.get(each, 1.0) < _DUE_BELOW), key=lambda each: retained.get(each, 1.0)
    )
    return [first, *due, *(each for each in others if each not in due)]


def by_weight(weights: Mapping[T, int], day: int) -> T | None:
    """Return whose day it is: in a row of as many days as the weights add up to, each has as many as it weighs.

    The days of one are spread evenly over the row. Each row starts at another place, or who never practises on a Sunday
    might never get what always falls on one. None where nothing weighs anything.
    """
    common = math.gcd(*weights.values())
    if not common:
        return None
    days = sorted(
        ((place + 0.5) * common / weight, number, each)
        for number, (each, weight) in enumerate(weights.items())
        for place in range(weight // common)
    )
    row, place = divmod(day, len(days))
    return days[(place + int(row * _GOLDEN % 1 * len(days))) % len(days)][-1]
