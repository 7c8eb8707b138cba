"""What the engraver is told of a book: its sections as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

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
    one for a line that is not. One that ``goes_on`` is the rest of the study that the part of a book before it ends
    with: it has no title of its own.
    """

    bookmark: str
    heading: str
    content: Page | PlanSheet | Card
    line_bookmarks: tuple[str, ...] = ()
    goes_on: bool = False


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


def book_of_lines(page: Page) -> Book:
    """Return a page as a book with a bookmark for each of its lines."""
    names = tuple(measure.label for place, measure in enumerate(page.measures) if measure.new_system or place == 0)
    return Book(page.title, "", page.paper, (Section(page.title, "", page, names),))


def in_two_parts(book: Book) -> tuple[Book, Book]:
    """Cut a book of one section with music, of two lines or more, between lines where half of its notes are over."""
    (section,) = book.sections
    page = section.content
    assert isinstance(page, Page)
    places = [0, *(place for place, measure in enumerate(page.measures) if measure.new_system and place)]
    lines = [page.measures[place:end] for place, end in zip(places, [*places[1:], None], strict=True)]
    line = halfway([sum(1 + len(measure.signs) for measure in line) for line in lines])
    before, (opening, *after) = page.measures[: places[line]], page.measures[places[line] :]
    # What holds there was said before.
    opening = replace(
        opening,
        metre=opening.metre or next(each.metre for each in reversed(before) if each.metre),
        sharps=next(each.sharps for each in (opening, *reversed(before)) if each.sharps is not None),
    )
    names = section.line_bookmarks
    first = replace(section, content=replace(page, measures=before), line_bookmarks=names[:line])
    rest = replace(
        section, content=replace(page, measures=(opening, *after)), line_bookmarks=names[line:], goes_on=True
    )
    return replace(book, sections=(first,)), replace(book, sections=(rest,))
