"""Where the rests of a session are: one exact dynamic program over its rows in order.

It may move the length of a row by a few minutes, put rests between rows, and cut long rows in pieces, and finds what
costs least of all that keeps the rules. An integer program finds as few rests (see the tests), and needs a library.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from etudegen.practice import rules
from etudegen.practice.planning.materials import Effort
from etudegen.practice.planning.shares import Row
from etudegen.practice.rules import Part

# What things cost, in hundredths of a minute's deviation squared.
_REST, _CUT, _EARLY = 400, 300, 900
_EARLY_BEFORE = 8
_FAR = 2600
# Of several ways the one with even runs.
_UNEVEN = 2


@dataclass(frozen=True, slots=True)
class Piece:
    """A row, or a piece of one, or a rest (no row), and how many minutes it has."""

    row: Row | None
    minutes: int
    continued: bool = False


class Bounds(NamedTuple):
    """The most minutes of playing without a rest, and the least of a piece of a block that is cut."""

    run: int
    piece: int


class _State(NamedTuple):
    gone: int
    run: int
    strained: bool
    own: int


class _Way(NamedTuple):
    cost: int
    before: "_Way | None"
    pieces: tuple[Piece, ...]


def placed(rows: Sequence[Row], minutes: int, bounds: Bounds, move: int) -> list[Piece] | None:
    """Return the rows of a session of so many minutes with rests; None where the rules cannot be kept with these rows.

    The minutes of the rows are aimed at, and moved by at most ``move``; those of the aim's own are kept in all.
    """
    way = _best(rows, minutes, bounds, move)
    if way is None:
        return None
    pieces: list[Piece] = []
    each: _Way | None = way
    while each is not None:
        pieces[:0] = each.pieces
        each = each.before
    return pieces


def _best(rows: Sequence[Row], minutes: int, bounds: Bounds, move: int) -> _Way | None:
    ways: dict[_State, _Way] = {_State(0, 0, False, 0): _Way(0, None, ())}
    least_after = [0] * (len(rows) + 1)
    for place in reversed(range(len(rows))):
        least_after[place] = least_after[place + 1] + max(rows[place].least(minutes), rows[place].minutes - move)
    for place, row in enumerate(rows):
        found: dict[_State, _Way] = {}
        # How a row can be laid hangs on little of a state: it is found once for all that have that in common.
        layings: dict[tuple[int, int, bool], list[_Laying]] = {}
        low = max(row.least(minutes), row.minutes - move)
        high = max(low, min(row.most, row.minutes + move))
        for state, way in ways.items():
            for length in range(low, high + 1):
                if state.gone + length + least_after[place + 1] > minutes:
                    break
                off = length - row.minutes
                own = state.own + (off if row.own else 0)
                alike = length, state.run, state.strained
                if alike not in layings:
                    layings[alike] = list(_layings(row, length, state, bounds, first=place == 0))
                for pieces, taken, run, cost in layings[alike]:
                    gone = state.gone + taken
                    if gone + least_after[place + 1] > minutes:
                        continue
                    strained = row.material.effort is Effort.STRENUOUS
                    new = _State(gone, run, strained, own)
                    total = way.cost + cost + 100 * off * off
                    if new not in found or total < found[new].cost:
                        found[new] = _Way(total, way, pieces)
        # What costs far more than the best so far does not become the best any more.
        limit = min((way.cost for way in found.values()), default=0) + _FAR
        ways = {state: way for state, way in found.items() if way.cost <= limit}
    ends = [way for state, way in ways.items() if state.gone == minutes and state.own == 0]
    return min(ends, key=lambda way: way.cost, default=None)


class _Laying(NamedTuple):
    """Pieces of a row with rests, how many minutes they take, the run after them, and what that costs."""

    pieces: tuple[Piece, ...]
    taken: int
    run: int
    cost: int


def _laying(pieces: tuple[Piece, ...], run: int, cost: int) -> _Laying:
    return _Laying(pieces, sum(piece.minutes for piece in pieces), run, cost)


def _layings(row: Row, length: int, state: _State, bounds: Bounds, *, first: bool) -> Iterator[_Laying]:
    """Yield how a row of a length can be laid."""
    easy = row.material.effort is Effort.EASY
    for rest in (False, True):
        if rest and (first or state.run == 0):
            continue
        # After strenuous work comes rest, or something easy and low.
        if state.strained and not easy and not rest:
            continue
        run, cost = state.run, 0
        pieces: tuple[Piece, ...] = ()
        if rest:
            cost = _REST + _uneven(run)
            early = run < _EARLY_BEFORE or (row.part is Part.WARM_DOWN and length < _EARLY_BEFORE)
            cost += _EARLY if early and not state.strained else 0
            run, pieces = 0, (Piece(None, rules.REST),)
        if not row.material.lips:
            yield _laying((*pieces, Piece(row, length)), 0, cost)
            continue
        if run + length <= bounds.run:
            yield _laying((*pieces, Piece(row, length)), run + length, cost)
        if row.material.effort is Effort.STRENUOUS or length < 2 * bounds.piece:
            continue
        most = min(bounds.run - run, length - bounds.piece)
        # As even as can be, or as much as can be before the rest.
        even = length // -(-length // bounds.run)
        for begun in sorted({each for each in (bounds.piece, even, even + 1, most) if bounds.piece <= each <= most}):
            laid = _cut(row, length, begun, run, bounds)
            if laid is not None:
                yield _laying((*pieces, *laid[0]), laid[1], cost + laid[2])


def _cut(row: Row, length: int, begun: int, run: int, bounds: Bounds) -> tuple[tuple[Piece, ...], int, int] | None:
    """Return a row cut after its first minutes, what is left in as few even pieces as can be played without a rest."""
    left = length - begun
    count = -(-left // bounds.run)
    if left < count * bounds.piece:
        return None
    sizes = [left // count + (number < left % count) for number in range(count)]
    pieces = [Piece(row, begun)]
    cost = _uneven(run + begun)
    for number, size in enumerate(sizes):
        pieces += [Piece(None, rules.REST), Piece(row, size, continued=True)]
        cost += _REST + _CUT + (_uneven(size) if number < count - 1 else 0)
    return tuple(pieces), sizes[-1], cost


def _uneven(run: int) -> int:
    """Return what a run of playing costs that ends in a rest: long ones are used, and none is much shorter."""
    return _UNEVEN * (run - 15) ** 2 // 10
