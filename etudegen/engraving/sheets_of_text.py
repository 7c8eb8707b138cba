"""Plans and cards as LilyPond markup: pages of a book without music."""

from collections.abc import Iterator

from etudegen.engraving.book import Card, PlanSheet
from etudegen.engraving.text import quoted


def markups(plan: PlanSheet) -> Iterator[str]:
    """Yield the rows of a plan and its remarks, each a markup of its own, so that pages can break between them."""
    for row in plan.rows:
        style = "rest-row" if row.rest else "plan-row"
        cells = " ".join(quoted(text) for text in (row.begins, row.minutes, row.what, row.why))
        yield f"\\markup \\{style} {cells}"
    yield r"\markup \vspace #0.6"
    for remark in plan.remarks:
        yield f"\\markup \\plan-remark {quoted(remark)}"


def card_markups(card: Card) -> Iterator[str]:
    """Yield what a card tells to aim for, then ruled lines."""
    for point in card.points:
        yield f"\\markup \\card-point {quoted(point)}"
    yield r'\markup \card-point "Notes"'
    for _ in range(card.ruled_lines):
        yield r"\markup \ruled-line"
