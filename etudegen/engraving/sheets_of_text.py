"""Plans and cards as LilyPond markup: pages of a book without music."""

import re
from collections.abc import Iterator
from itertools import zip_longest
from textwrap import wrap
from typing import NamedTuple

from etudegen.engraving.book import Card, PlanSheet
from etudegen.engraving.text import quoted


class _Room(NamedTuple):
    """How many characters a text has room for: in a word, which cannot be broken, and between two page breaks."""

    word: int
    piece: int


_IN_A_COLUMN, _ON_A_LINE = _Room(18, 400), _Room(60, 800)
# A plan of more rows is set a little smaller, so that it stays on one page.
_ROWS_OF_USUAL_SIZE = 14


def _pieces(text: str, room: _Room) -> list[str]:
    """Return a text in pieces between which a page can break; nearly always it is one."""
    words = re.sub(rf"\S{{{room.word}}}(?=\S)", r"\g<0> ", text) if _longest_word(text) > room.word * 2 else text
    return wrap(words, room.piece, break_on_hyphens=False) if len(words) > room.piece else [words]


def _longest_word(text: str) -> int:
    return max(map(len, text.split()), default=0)


def markups(plan: PlanSheet) -> Iterator[str]:
    """Yield the rows of a plan and its remarks, each a markup of its own, so that pages can break between them."""
    size = "" if len(plan.rows) <= _ROWS_OF_USUAL_SIZE else "\\override #'(plan-pad . 0.05) \\fontsize #-1 "
    for row in plan.rows:
        style = "rest-row" if row.rest else "plan-row"
        pieces = zip_longest(
            [row.begins],
            [row.minutes],
            _pieces(row.what, _IN_A_COLUMN),
            _pieces(row.today, _IN_A_COLUMN),
            _pieces(row.why, _IN_A_COLUMN),
            fillvalue="",
        )
        first, last = row.sections or (-1, -1)
        for cells in pieces:
            yield f"\\markup {size}\\{style} {' '.join(map(quoted, cells))} #{first} #{last}"
            first, last = -1, -1
    yield r"\markup \vspace #0.6"
    for remark in plan.remarks:
        for piece in _pieces(remark, _ON_A_LINE):
            yield f"\\markup \\plan-remark {quoted(piece)}"


def card_markups(card: Card) -> Iterator[str]:
    """Yield what a card tells to aim for, then staves, or ruled lines."""
    for point in card.points:
        for piece in _pieces(point, _ON_A_LINE):
            yield f"\\markup \\card-point {quoted(piece)}"
    if card.staves:
        yield r"\markup \vspace #1"
        for _ in range(card.staves):
            yield r"\markup \empty-staff"
        return
    yield r'\markup \card-point "Notes"'
    for _ in range(card.ruled_lines):
        yield r"\markup \ruled-line"
