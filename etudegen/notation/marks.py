"""What a practice sheet shows beside notes, as music21 objects, so that every reader of the score finds it.

Each is a plain music21 class under a name of its own: a program that knows only music21 sees ordinary words and
text boxes, and ours can tell a line's label from a player's remark.
"""

from enum import StrEnum

from music21.expressions import TextExpression
from music21.text import TextBox


class LineLabel(TextExpression):  # type: ignore[misc]
    """The name of a line (a valve position, a key), which hangs left of its staff."""


class StageHeading(TextExpression):  # type: ignore[misc]
    """The words above the first line of a stage."""


class PartialNumber(TextExpression):  # type: ignore[misc]
    """The number of the partial that a note is played on."""


class PageRole(StrEnum):
    """What a text on the page is there for."""

    TITLE = "title"
    SUBTITLE = "subtitle"
    INSTRUCTION = "instruction"
    TIMING = "timing"
    CAUTION = "caution"


class PageText(TextBox):  # type: ignore[misc]
    """A text outside the staves."""

    def __init__(self, content: str = "", role: PageRole = PageRole.TITLE) -> None:
        super().__init__(content)
        self.role = role
