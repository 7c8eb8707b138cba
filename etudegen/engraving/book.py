"""What the engraver is told of a book: its sections as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass

from etudegen.engraving.page import Page
from etudegen.engraving.systems import systems_of

# Measured: on so many pages LilyPond sets music, and so many rows of a plan fit on one.
_SYSTEMS_ON_A_PAGE = 9
_SYSTEMS_UNDER_HEADINGS = 7
_ROWS_ON_A_PAGE = 28


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
    """A section of a book, which begins on a page of its own; ``bookmark`` names it in the file's routine."""

    bookmark: str
    heading: str
    content: Page | PlanSheet | Card


@dataclass(frozen=True, slots=True)
class Book:
    """A book, or a part of one: ``running`` is the text at the head of its pages."""

    title: str
    running: str
    paper: str
    sections: tuple[Section, ...]
    first_page: int = 1


def halfway(works: Sequence[int]) -> int:
    """Return where to cut so much work, in order, into two parts that are about as much, neither of them empty."""
    return min(range(1, len(works)), key=lambda place: abs(2 * sum(works[:place]) - sum(works)))


def likely_pages(section: Section) -> int:
    """Return a guess at how many pages a section takes."""
    if isinstance(section.content, Page):
        headings = any(measure.heading for measure in section.content.measures)
        return -(-systems_of(section.content) // (_SYSTEMS_UNDER_HEADINGS if headings else _SYSTEMS_ON_A_PAGE))
    if isinstance(section.content, PlanSheet):
        return -(-len(section.content.rows) // _ROWS_ON_A_PAGE)
    return 1
