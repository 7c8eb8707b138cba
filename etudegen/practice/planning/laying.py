"""From an order to the pieces of a session: shares and places are tried together, the plainest first."""

from dataclasses import replace
from functools import lru_cache

from etudegen.errors import InputError
from etudegen.practice import rules
from etudegen.practice.planning.materials import Effort
from etudegen.practice.planning.placing import Bounds, Piece, placed
from etudegen.practice.planning.shares import Order, Shared, run_of, shared_out

# How many rests more than the fewest, and how far lengths may be moved by: only as much as has to be.
_TRIED = ((0, 0), (0, 1), (1, 0), (1, 1), (0, 2), (1, 2), (2, 1), (0, 4), (1, 4), (2, 4), (0, 8), (1, 8), (2, 8))


@lru_cache(512)
def laid(order: Order, minutes: int) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """Return the pieces of a session of so many minutes, rests among them, and what was left out and why."""
    piece = rules.SHORTEST_PIECE_AFTER_WEEKS_OFF if order.returning else rules.SHORTEST_PIECE
    shared: dict[int, Shared] = {}
    for more, move in _TRIED:
        if more not in shared:
            shared[more] = shared_out(order, minutes, more)
        rows = shared[more].rows
        strenuous = any(row.material.effort is Effort.STRENUOUS for row in rows)
        found = placed(rows, minutes, Bounds(run_of(order, strenuous=strenuous), piece), move)
        if found is not None:
            return tuple(found), shared[more].left_out
    # A few lengths cannot be had so: then pieces are shorter, and the last resort is a minute or two more in a run.
    for fewer, longer in ((3, 0), (4, 1), (4, 2), (4, 3)):
        for more in shared:
            rows = shared[more].rows
            strenuous = any(row.material.effort is Effort.STRENUOUS for row in rows)
            found = placed(rows, minutes, Bounds(run_of(order, strenuous=strenuous) + longer, piece - fewer), 8)
            if found is not None:
                return tuple(found), shared[more].left_out
    if minutes <= rules.SHORTEST_SESSION:
        raise InputError(f"{minutes} minutes cannot be laid out with enough rest: try five minutes more or less")
    # One minute more than what can be had: a run may be that much longer.
    pieces, left_out = laid(order, minutes - 1)
    longest = max((piece for piece in pieces if piece.row is not None), key=lambda piece: piece.minutes)
    return tuple(replace(each, minutes=each.minutes + (each is longest)) for each in pieces), left_out
