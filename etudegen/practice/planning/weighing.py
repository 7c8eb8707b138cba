"""Which of a player's aims a session has: all of them by their weights, or, where one is too small, by turns."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from etudegen.errors import InputError
from etudegen.practice.planning.aims import aim_table
from etudegen.practice.planning.shares import Order, practice_minutes
from etudegen.practice.profile import Aim
from etudegen.practice.rotation import by_weight

# The least of a block that an aim is worth.
_A_BLOCK = 5
# How many times its weight the aim has whose day it is.
_OF_THE_DAY = 2


def of_aims(order: Order, weights: Iterable[tuple[Aim, int]]) -> Order:
    """Return an order for aims with these weights."""
    return replace(order, aims=tuple((aim_table(aim), weight) for aim, weight in weights))


def weights_today(weights: Mapping[Aim, int], order: Order, minutes: int, day: int) -> tuple[tuple[Aim, int], ...]:
    """Return the aims of a session of so many minutes on a day, with their weights.

    An aim whose part of a third of the time is too little for a block takes turns by the day, so that over as many days
    as the weights add up to each gets its share; where all have room the one whose day it is has more. Raises
    :class:`InputError` where no aim weighs anything.
    """
    whole = sum(weights.values())
    if not whole:
        raise InputError("no aim has any weight: give one at least, such as flexibility")
    third = practice_minutes(of_aims(order, weights.items()), minutes) / 3
    small = {aim for aim, weight in weights.items() if third * weight / whole < _A_BLOCK}
    todays = by_weight(weights, day)
    if len(weights) == 1 or todays in small or len(small) == len(weights):
        assert todays is not None
        return ((todays, 1),)
    # That of the day counts more, so that what is too little for a block in a blend comes up in turn.
    return tuple(
        (aim, weight * (_OF_THE_DAY if aim is todays else 1))
        for aim, weight in sorted(weights.items())
        if aim not in small
    )
