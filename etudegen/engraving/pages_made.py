"""What the page maker tells of the pages it made."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_STOCK = [["stock"]]


@dataclass(frozen=True, slots=True)
class PagesMade:
    """The pages of a part: by section the page it begins on and those its lines begin on, and how each page looks.

    ``filled`` is by page number how much of it is filled, from 0 to 1; ``distances`` are its staff distances, from
    the top line of one staff to that of the next of the same study, in millimetres. Pages are numbered as printed.
    """

    sections: dict[int, int]
    lines: dict[int, tuple[int, ...]]
    filled: dict[int, float]
    distances: dict[int, tuple[float, ...]]


def read_pages(place: Path) -> PagesMade | None:
    """Read the file that the page maker wrote; None where it was not there to write one."""
    try:
        rows = [line.split() for line in place.read_text(encoding="utf-8").splitlines()]
    except FileNotFoundError:
        return None
    if rows == _STOCK:
        return None

    def of(word: str) -> Sequence[tuple[int, float]]:
        return [(int(row[1]), float(row[2])) for row in rows if row[0] == word]

    lines: dict[int, tuple[int, ...]] = {}
    for section, page in of("line"):
        lines[section] = (*lines.get(section, ()), int(page))
    distances: dict[int, tuple[float, ...]] = {}
    for page, distance in of("distance"):
        distances[page] = (*distances.get(page, ()), distance)
    return PagesMade({section: int(page) for section, page in of("section")}, lines, dict(of("page")), distances)


def made_by_lilypond(place: Path) -> bool:
    """Tell whether LilyPond had to make the pages itself, for want of what the page maker needs."""
    return place.is_file() and [line.split() for line in place.read_text(encoding="utf-8").splitlines()] == _STOCK
