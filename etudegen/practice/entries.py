"""What the journal holds: the sessions that were made, block by block, and how it went."""

import datetime
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from etudegen.practice.items import Item

# Ratings: not yet, and easily.
WORST, BEST = 1, 4
LONGEST_NOTE = 2000


@dataclass(frozen=True, slots=True)
class KeptBlock:
    """A block of a session that was made: its part, its kind, how long it is, and what is practised in it.

    Rests have no items. Of sessions that were made before that was kept, parts are empty and minutes 0.
    """

    part: str
    kind: str
    minutes: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class KeptSession:
    """A session that was made: its day, which of that day it is (from 1), and its blocks."""

    day: datetime.date
    number: int
    blocks: tuple[KeptBlock, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """How a block, or a part of it, went: 1 (not yet) to 4 (easily), with the things that were practised in it.

    ``session`` tells which of the sessions of the day it is of, from 1; ``part`` what of the block it was (a key, a
    scale), nothing for all of it; ``tempo`` the one reached, in beats a minute, if it is told.
    """

    day: datetime.date
    block: int
    rating: int
    items: tuple[Item, ...]
    note: str = ""
    session: int = 1
    part: str = ""
    tempo: int | None = None


def items_of(values: object) -> tuple[Item, ...]:
    """Return things practised as they are kept in JSON; raise :class:`TypeError` for what are none."""
    if not isinstance(values, list):
        raise TypeError(f"{values!r} is no list of things practised")
    items = tuple(Item(**value) for value in values)
    for item in items:
        if not all(isinstance(text, str) for text in (item.kind, item.choice, item.unit)):
            raise TypeError(f"{item!r} is nothing that can be practised")
    return items


def items_in(text: str) -> tuple[Item, ...]:
    """Return things practised that are kept as JSON."""
    return items_of(json.loads(text))


def text_of_items(items: Sequence[Item]) -> str:
    """Return things practised as JSON."""
    return json.dumps(list(map(asdict, items)))


def blocks_of(text: str) -> tuple[KeptBlock, ...]:
    """Return the blocks of a session that are kept as JSON; raise :class:`TypeError` for what are none."""
    blocks = tuple(KeptBlock(**{**value, "items": items_of(value["items"])}) for value in json.loads(text))
    for block in blocks:
        if not (isinstance(block.part, str) and isinstance(block.kind, str) and type(block.minutes) is int):
            raise TypeError(f"{block!r} is no block of a session")
    return blocks


def text_of_blocks(blocks: Sequence[KeptBlock]) -> str:
    """Return the blocks of a session as JSON."""
    return json.dumps(list(map(asdict, blocks)))
