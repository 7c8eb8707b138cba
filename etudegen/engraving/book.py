"""What the engraver is told of a book: its sections as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass

from etudegen.engraving.page import Page


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A row of a plan: when the block begins, what it is, how long it is, and why it is there."""

    begins: str
    minutes: str
    what: str
    why: str
    rest: bool = False


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """The plan of a session, with remarks under it."""

    title: str
    subtitle: str
    rows: tuple[PlanRow, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """A card for material of the player's own: what to aim for, and ruled lines for notes."""

    title: str
    subtitle: str
    points: tuple[str, ...]
    ruled_lines: int = 12


@dataclass(frozen=True, slots=True)
class Section:
    """A section of a book; ``bookmark`` names it in the file's outline, ``heading`` is what block it belongs to.

    ``line_bookmarks`` are names for the lines of its music that are to be found in the outline too, in order; an empty
    one for a line that is not.
    """

    bookmark: str
    heading: str
    content: Page | PlanSheet | Card
    line_bookmarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Book:
    """A book, or a part of one: ``running`` is the text at the head of its pages."""

    title: str
    running: str
    paper: str
    sections: tuple[Section, ...]


def halfway(works: Sequence[int]) -> int:
    """Return where to cut so much work, in order, into two parts that are about as much, neither of them empty."""
    return min(range(1, len(works)), key=lambda place: abs(2 * sum(works[:place]) - sum(works)))
