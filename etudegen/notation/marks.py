"""What a practice sheet shows beside notes, as music21 objects, so that every reader of the score finds it.

Each is a plain music21 class under a name of its own: a program that knows only music21 sees ordinary words and
text boxes, and ours can tell a line's label from a player's remark.
"""

from enum import StrEnum
from fractions import Fraction

from music21.articulations import TechnicalIndication
from music21.expressions import TextExpression
from music21.layout import SystemLayout
from music21.musicxml import xmlObjects
from music21.note import Lyric
from music21.text import TextBox

from etudegen.notation.ids import TONGUE


class LineLabel(TextExpression):  # type: ignore[misc]
    """The name of a line (a valve position, a key), which hangs left of its staff."""


class StageHeading(TextExpression):  # type: ignore[misc]
    """The words above the first line of a stage."""


class RepeatTimes(TextExpression):  # type: ignore[misc]
    """How often a repeated line is played, under the sign that ends it."""


class PartialNumber(TextExpression):  # type: ignore[misc]
    """The number of the partial that a note is played on."""


class Remark(TextExpression):  # type: ignore[misc]
    """A word or two about one note."""


class SwingMark(TextExpression):  # type: ignore[misc]
    """The word that asks for swung eighth notes; ``ratio`` is how unequal, None where the tempo decides."""

    def __init__(self, content: str = "Swing", ratio: Fraction | None = None) -> None:
        super().__init__(content)
        self.ratio = ratio


class PhraseLayout(SystemLayout):  # type: ignore[misc]
    """A new system within a line of music, where a phrase begins."""


class SungLyric(Lyric):  # type: ignore[misc]
    """A syllable of the words of a tune."""


class TongueSyllable(Lyric):  # type: ignore[misc]
    """What the tongue says at a note, such as ``t`` or ``k``; MusicXML knows it by the name of its row."""

    def __init__(self, text: str = "") -> None:
        super().__init__(text, 1, identifier=TONGUE)


class BrassBend(TechnicalIndication):  # type: ignore[misc]
    """A bend by the lips; ``half_steps`` tells how far below the resonance of the tube the note is brought."""

    def __init__(self, half_steps: int = 1) -> None:
        super().__init__()
        self.half_steps = half_steps


# MusicXML has an element for it that music21 does not know yet; this is the table its writer looks names up in.
xmlObjects.TECHNICAL_MARKS_REV[BrassBend] = "brass-bend"


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
