"""Valve combinations and the half steps they stand for.

Common practice, no source: valve 2 lowers the tube by a half step, valve 1 by a whole step, valve 3 by three
half steps, and "the seven positions" are 0 2 1 12 23 13 123.
"""

import re
from dataclasses import dataclass

from etudegen.errors import InputError

_HALF_STEPS = {"1": 2, "2": 1, "3": 3}


@dataclass(frozen=True, slots=True)
class Valves:
    """Which valves are down: ``digits`` is ``0`` for none, else the valves in rising order, such as ``12``."""

    digits: str

    @property
    def down(self) -> tuple[int, ...]:
        """The numbers of the valves that are pressed."""
        return tuple(int(digit) for digit in self.digits if digit != "0")

    @property
    def half_steps(self) -> int:
        """By how many half steps the combination is meant to lower the open tube, 0 to 6."""
        return sum(_HALF_STEPS[digit] for digit in self.digits if digit != "0")

    def __str__(self) -> str:
        return self.digits


OPEN = Valves("0")
POSITIONS = tuple(Valves(digits) for digits in ("0", "2", "1", "12", "23", "13", "123"))
COMBINATIONS = (*POSITIONS[:3], Valves("12"), Valves("3"), *POSITIONS[4:])


def parse_valves(text: str) -> Valves:
    """Read one combination; raise :class:`InputError` when no trumpet has it."""
    for combination in COMBINATIONS:
        if text.strip() == combination.digits:
            return combination
    allowed = " ".join(combination.digits for combination in COMBINATIONS)
    raise InputError(f"unknown position {text!r}: the valve combinations are {allowed}")


def parse_positions(text: str) -> tuple[Valves, ...]:
    """Read several combinations parted by spaces or commas, each at most once."""
    combinations = tuple(parse_valves(word) for word in re.split(r"[\s,]+", text.strip(" ,")))
    for combination in combinations:
        if combinations.count(combination) > 1:
            raise InputError(f"position {combination} is named twice in {text!r}: name each position once")
    return combinations
