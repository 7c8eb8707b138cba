"""What the engraver is told of a book: its sections as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

from etudegen.engraving.page import Page


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A row of a plan: when the block begins, what it is, how long it is, and why it is there.

    ``today`` tells more of what is in it, such as keys and tempi; ``sections`` are the places of the first and the last
    of its sections in the book, whose pages are told, if it has any.
    """

    begins: str
    minutes: str
    what: str
    why: str
    rest: bool = False
    today: str = ""
    sections: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """The plan of a session, with remarks under it."""

    title: str
    subtitle: str
    rows: tuple[PlanRow, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """A card for material of the player's own: what to aim for, and ruled lines for notes, or staves to write on."""

    title: str
    subtitle: str
    points: tuple[str, ...]
    ruled_lines: int = 12
    staves: int = 0


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
    """A book, or a part of one: ``running`` is the text at the head of its pages.

    With a ``bookmark`` a part has a name of its own in the file's outline, under which its sections stand. One that
    ``goes_on`` has a part after it, of whose sections a plan may tell the pages, too.
    """

    title: str
    running: str
    paper: str
    sections: tuple[Section, ...]
    bookmark: str = ""
    goes_on: bool = False


def halfway(works: Sequence[int]) -> int:
    """Return where to cut so much work, in order, into two parts that are about as much, neither of them empty."""
    (cut,) = cuts(works, 2)
    return cut


def cuts(works: Sequence[int], count: int) -> tuple[int, ...]:
    """Return where to cut so much work, in order, into so many parts that are about as much, none of them empty."""
    done = [0, *accumulate(works)]
    places: list[int] = []
    for number in range(1, count):
        # One at least is left for each part that is still to come.
        free = range((places[-1] if places else 0) + 1, len(works) - (count - number) + 1)
        places.append(min(free, key=lambda place: abs(count * done[place] - number * done[-1])))
    return tuple(places)


def book_of_lines(page: Page) -> Book:
    """Return a page as a book with a bookmark for each of its lines."""
    names = tuple(measure.label for place, measure in enumerate(page.measures) if measure.new_system or place == 0)
    return Book(page.title, "", page.paper, (Section(page.title, "", page, names),))


def in_parts(book: Book, count: int) -> tuple[Book, ...]:
    """Cut a book of one section with music, of as many lines or more, between lines into parts of as many notes."""
    (section,) = book.sections
    page = section.content
    assert isinstance(page, Page)
    starts = [0, *(place for place, measure in enumerate(page.measures) if measure.new_system and place)]
    lines = [page.measures[place:end] for place, end in zip(starts, [*starts[1:], None], strict=True)]
    places = [0, *cuts([sum(1 + len(measure.signs) for measure in line) for line in lines], count), len(lines)]
    parts = []
    metre, sharps = None, None
    for first, end in pairwise(places):
        opening, *others = (measure for line in lines[first:end] for measure in line)
        # What holds there was said before.
        opening = replace(
            opening,
            metre=opening.metre or metre,
            sharps=sharps if opening.sharps is None else opening.sharps,
        )
        for measure in (opening, *others):
            metre = measure.metre or metre
            sharps = sharps if measure.sharps is None else measure.sharps
        part = replace(
            section,
            content=replace(page, measures=(opening, *others)),
            line_bookmarks=section.line_bookmarks[first:end],
            goes_on=first > 0,
        )
        parts.append(replace(book, sections=(part,)))
    return tuple(parts)
