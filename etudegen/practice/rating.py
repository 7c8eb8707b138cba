"""How a block went, as a player says it: which block, what of it, how, and at which tempo."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from etudegen.errors import InputError
from etudegen.exercises.settings import whole_number
from etudegen.practice.entries import BEST, WORST, KeptBlock, KeptSession
from etudegen.practice.items import Item, said
from etudegen.practice.session import kind_name
from etudegen.theory.tempo import FASTEST, SLOWEST

_PART = re.compile(r"(?P<part>[^=]+)=(?P<rating>[^=@]*)(?:@(?P<tempo>[^=@]*))?")
_PLAINLY = str.maketrans({"♭": "b", "♯": "#"})


@dataclass(frozen=True, slots=True)
class PartRating:
    """How a part of a block went: a key, a scale, a position; ``tempo`` is the one reached, if it is told."""

    part: str
    rating: int
    tempo: int | None = None


def read_rating(text: str) -> int:
    """Return how something went."""
    return whole_number("rating", WORST, BEST)(text)


def read_tempo(text: str | None) -> int | None:
    """Return a tempo that was reached, None where it is not told."""
    return None if text is None else whole_number("tempo", SLOWEST, FASTEST)(text)


def read_part(text: str) -> PartRating:
    """Read how a part went, such as ``F=2`` or ``harmonic minor=3@72``."""
    read = _PART.fullmatch(text)
    if not read:
        raise InputError(
            f"cannot read {text!r}: write what it was, an equals sign and how it went, like F=2, or with the tempo "
            "reached, like F=2@72"
        )
    return PartRating(read["part"].strip(), read_rating(read["rating"]), read_tempo(read["tempo"]))


def block_named(kept: KeptSession, name: str) -> int:
    """Return the number, from 1, of the block that is meant: by its number, or by its kind or part.

    Raises :class:`InputError` with those that can be rated if there is none, or more than one.
    """
    blocks = {number: block for number, block in enumerate(kept.blocks, start=1) if block.items}
    if name.isdigit():
        if int(name) in blocks:
            return int(name)
        raise InputError(f"block {name} is no block to rate: choose one of {_told(blocks)}")
    wanted = _plain(name)
    meant = [
        number
        for number, block in blocks.items()
        if wanted in {_plain(each) for each in (block.kind, kind_name(block.kind), block.part)}
    ]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise InputError(f"block {name!r} may be {' or '.join(map(str, meant))}: say which by its number")
    raise InputError(f"block {name!r} is not in the session: choose one of {_told(blocks)}")


def items_meant(block: KeptBlock, part: str) -> tuple[Item, ...]:
    """Return what is meant by a part of a block: things of one key or position, of one scale, or one of both.

    Raises :class:`InputError` with what there is if nothing is.
    """
    wanted = _plain(part)
    found = tuple(
        item
        for item in block.items
        if wanted in {_plain(each) for each in (item.unit, item.choice, f"{item.choice} {item.unit}") if each}
    )
    if found:
        return found
    raise InputError(f"{part!r} is not in this block: it has {said(block.items) or 'nothing to tell apart'}")


def block_told(block: KeptBlock) -> str:
    """Return a block as a player would say it."""
    return ", ".join(filter(None, (kind_name(block.kind or block.items[0].kind), said(block.items))))


def _plain(text: str) -> str:
    return " ".join(text.translate(_PLAINLY).casefold().replace("-", " ").split())


def _told(blocks: dict[int, KeptBlock]) -> str:
    told: Sequence[str] = [
        f"{number} ({kind_name(block.kind or block.items[0].kind)})" for number, block in blocks.items()
    ]
    return ", ".join(told)
