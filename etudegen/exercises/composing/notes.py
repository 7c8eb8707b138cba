"""The notes: drawn one phrase after the other, each from what all that comes after it leaves open.

What is wanted of a note stands as a weight: the chord behind it, its step of the scale, where the line is to be, what
it is to be like. What is wanted of a move from one note to the next is another: how often tunes move so, and which
moves are no good. From the end to the beginning it is added up how much can still come of each note (a forward and
backward sum over a chain); then notes are drawn from the beginning on, so that each whole phrase is drawn as often as
its weight says.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import exp
from operator import mul
from random import Random

from etudegen.exercises.composing.ladder import LEADING, STEPS, Ladder
from etudegen.theory.melody import FARTHEST, MOVES, melody_tables, move_of

# Three steps of a scale that are six, ten or eleven half steps: hard to hear, and to sing.
_HARSH = (6, 10, 11)
_AUGMENTED_SECOND = 3
_STEP, _THIRD = 1, 2
_NEW_PHRASE = MOVES.index("new-phrase")
# Weights that were found by hand over several rounds of two hundred pieces; see DEVELOPERS.md.
_HARSH_WEIGHT = 0.1
_LEAP = {(True, True): 1.8, (True, False): 0.2, (False, True): 0.06, (False, False): 0.03}
_REPEAT, _WIDE = 0.85, 1.35
_TEMPER = 1 / 0.85
_LEAST = 1e-3
_Row = list[float]


@dataclass(slots=True)
class Wanted:
    """What is wanted of a note: a weight for each place of the ladder, and whether the leading note is raised.

    ``chord`` tells for each place whether it is in the chord.
    """

    weights: list[float]
    chord: tuple[bool, ...]
    raised: bool


@dataclass(frozen=True, slots=True)
class Taste:
    """How a piece likes to move: how much more by steps, thirds or wider, how far at most in half steps.

    ``same_valves`` is how much more it likes to move while the valves stay.
    """

    steps: float = 1.0
    thirds: float = 1.0
    wide: float = 1.0
    largest: int = 12
    same_valves: float = 1.0


class Drawing:
    """Draws notes on a ladder, part by part of a piece, each going on from the one before."""

    def __init__(self, ladder: Ladder, taste: Taste, chance: Random) -> None:
        self._ladder, self._taste, self._chance = ladder, taste, chance
        self._size = len(ladder.notes)
        self._moves = _moves(taste)
        self._pairs: dict[tuple[tuple[bool, ...], bool, tuple[bool, ...], bool], list[_Row]] = {}
        self._before: tuple[int, int] | None = None
        self._last: Wanted | None = None
        self.places: list[int] = []

    def draw(self, wanted: Sequence[Wanted], *, new_phrase: bool) -> bool:
        """Draw the next notes; tell whether there are any that go on from what has been drawn."""
        open_after = self._open_after(wanted)
        place, move = self._before or (0, _NEW_PHRASE)
        if new_phrase:
            move = _NEW_PHRASE
        for each, later in zip(wanted, open_after, strict=True):
            if self._last is None:
                weights = [weight * later[_NEW_PHRASE][at] for at, weight in enumerate(each.weights)]
                candidates: Sequence[int] = range(self._size)
                moves = [_NEW_PHRASE] * self._size
            else:
                row = self._row(self._last, each, place)
                window = range(place - FARTHEST, place + FARTHEST + 1)
                candidates = [at for at in window if 0 <= at < self._size]
                moves = [move_of(at - place) for at in candidates]
                usual = self._moves[move]
                weights = [
                    usual[at - place + FARTHEST] * row[at - place + FARTHEST] * each.weights[at] * later[to][at]
                    for at, to in zip(candidates, moves, strict=True)
                ]
            summed = list(accumulate(weights))
            if not summed or summed[-1] <= 0:
                return False
            drawn = self._chance.random() * summed[-1]
            chosen = next(number for number, upto in enumerate(summed) if upto > drawn)
            place, move = candidates[chosen], moves[chosen]
            self._last = each
            self.places.append(place)
            self._before = place, move
        return True

    def _open_after(self, wanted: Sequence[Wanted]) -> list[list[list[float]]]:
        """Return for each note, by the move to it and its place, how much can come of what is after it."""
        nothing = [0.0] * FARTHEST
        later = [[1.0] * self._size for _ in MOVES]
        found = [later]
        for each, following in zip(wanted[-2::-1], wanted[:0:-1], strict=True):
            # By the move to it, with nothing beyond both ends of the ladder.
            reached = [nothing + list(map(mul, following.weights, of_move)) + nothing for of_move in later]
            pairs = self._pair(each, following)
            before = [[0.0] * self._size for _ in MOVES]
            most = max(each.weights)
            # Only the first note can come after another phrase.
            moves = self._moves if len(found) == len(wanted) - 1 else self._moves[:_NEW_PHRASE]
            for place, weight in enumerate(each.weights):
                if weight <= most * _LEAST:
                    continue
                window = [
                    *reached[6][place : place + 5], reached[4][place + 5], reached[2][place + 6], reached[0][place + 7],
                    reached[1][place + 8], reached[3][place + 9], *reached[5][place + 10 : place + 15],
                ]  # fmt: skip
                if not any(window):
                    continue
                leads = list(map(mul, window, pairs[place]))
                for move, usual in enumerate(moves):
                    before[move][place] = sum(map(mul, usual, leads))
            top = max(map(max, before))
            if top <= 0:
                # Nothing can come: told where it is drawn.
                return [before] * (len(wanted) - len(found)) + found
            later = [[value / top for value in row] for row in before]
            found.insert(0, later)
        return found

    def _row(self, one: Wanted, other: Wanted, place: int) -> _Row:
        return self._pair(one, other)[place]

    def _pair(self, one: Wanted, other: Wanted) -> list[_Row]:
        """Return for each place of the first note how good moves of -7 to 7 steps from it are."""
        asked = (one.chord, one.raised, other.chord, other.raised)
        if asked not in self._pairs:
            self._pairs[asked] = [self._judged(one, other, place) for place in range(self._size)]
        return self._pairs[asked]

    def _judged(self, one: Wanted, other: Wanted, place: int) -> _Row:
        ladder, row = self._ladder, []
        here = (ladder.raised if one.raised else ladder.numbers)[place]
        there = ladder.raised if other.raised else ladder.numbers
        for at in range(place - FARTHEST, place + FARTHEST + 1):
            if not 0 <= at < self._size:
                row.append(0.0)
                continue
            half_steps, steps = abs(there[at] - here), abs(at - place)
            if half_steps > self._taste.largest or (steps == _STEP and half_steps >= _AUGMENTED_SECOND):
                row.append(0.0)
                continue
            if steps == 0 and half_steps:
                # The same step raised and not: a slide that no tune of this sort has.
                row.append(0.0)
                continue
            good = _HARSH_WEIGHT if half_steps in _HARSH else 1.0
            if steps >= _THIRD:
                good *= _LEAP[one.chord[place], other.chord[at]]
            if steps and ladder.valves[place] == ladder.valves[at]:
                good *= self._taste.same_valves
            row.append(good)
        return row


def _moves(taste: Taste) -> list[list[float]]:
    """Return how often each move follows each, as this piece likes it."""
    tables, rows = melody_tables().steps, []
    for move in MOVES:
        row = []
        for steps, weight in enumerate(tables[move], start=-FARTHEST):
            liked = taste.steps if abs(steps) == _STEP else taste.thirds if abs(steps) == _THIRD else _WIDE * taste.wide
            tempered = max(weight, 1e-6) ** _TEMPER
            row.append(tempered * (_REPEAT if steps == 0 else liked))
        rows.append(row)
    # A note that is heard twice seldom comes a third time.
    rows[0][FARTHEST] *= 0.4
    return rows


def height(places: int, target: float, spread: float) -> list[float]:
    """Return how good each place is where the line is to be at a height, a part of the ladder from 0 to 1."""
    wide = spread * (places - 1) + 0.6
    return [exp(-(((place - target * (places - 1)) / wide) ** 2) / 2) for place in range(places)]


def leading(ladder: Ladder) -> tuple[bool, ...]:
    """Tell for each place whether it is the leading note."""
    return tuple(step == LEADING for step in ladder.steps)


def in_chord(ladder: Ladder, steps: frozenset[int]) -> tuple[bool, ...]:
    """Tell for each place whether it is in a chord of steps."""
    return tuple(step % STEPS in steps for step in ladder.steps)


Weigh = Callable[[int], float]
