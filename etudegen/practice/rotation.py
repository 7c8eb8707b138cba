"""Taking turns by the day: in as many days as a pool has members each has come first once."""

import math
from collections.abc import Mapping, Sequence
from typing import TypeVar

T = TypeVar("T")
_GOLDEN = (math.sqrt(5) - 1) / 2


def turned(pool: Sequence[T], day: int) -> list[T]:
    """Return a pool starting one member further on each day."""
    start = day % len(pool)
    return [*pool[start:], *pool[:start]]


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
