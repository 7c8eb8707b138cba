"""The page as music21 objects: its paper, and the texts around the staves."""

from collections.abc import Mapping
from fractions import Fraction

from music21.layout import PageLayout, ScoreLayout

from etudegen.notation.marks import PageRole, PageText
from etudegen.notation.page_style import SHEET
from etudegen.study import Paper, Study

# Width and height in millimetres. ISO 216: A4 is 210 by 297 mm; Letter is 8.5 by 11 inches.
_PAPER_MILLIMETRES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}
_TENTHS_PER_STAFF = 40
_FONT_POINTS = {
    PageRole.TITLE: 18,
    PageRole.SUBTITLE: 10,
    PageRole.INSTRUCTION: 10,
    PageRole.CAUTION: 8,
    PageRole.TIMING: 8,
}


def _tenths(millimetres: float) -> float:
    return round(millimetres * _TENTHS_PER_STAFF / SHEET.staff)


def score_layout(paper: Paper) -> ScoreLayout:
    """Return the size of paper, margins and staff."""
    width, height = (_tenths(side) for side in _PAPER_MILLIMETRES[paper])
    side, top, bottom = (_tenths(each) for each in (SHEET.side_margin, SHEET.top_margin, SHEET.bottom_margin))
    page = PageLayout(
        pageWidth=width, pageHeight=height, leftMargin=side, rightMargin=side, topMargin=top, bottomMargin=bottom
    )
    return ScoreLayout(scalingMillimeters=SHEET.staff, scalingTenths=_TENTHS_PER_STAFF, pageLayout=page)


def paper_of(layout: ScoreLayout) -> Paper:
    """Return the paper that a layout was made for: the one whose page is nearest in height."""
    height = layout.pageLayout.pageHeight
    return min(Paper, key=lambda paper: abs(_tenths(_PAPER_MILLIMETRES[paper][1]) - height))


def duration_text(seconds: Fraction) -> str:
    """Return a time as a page shows it."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def timing_text(study: Study) -> str:
    """Return what the foot of a page says about playing and resting."""
    if study.contact_seconds is not None:
        after = study.playing_seconds + study.resting_seconds - study.contact_seconds
        rest = f" · instrument down {duration_text(after)}" if after > 0 else ""
        return f"Contact {duration_text(study.contact_seconds)}{rest}"
    return f"Playing {duration_text(study.playing_seconds)} · resting {duration_text(study.resting_seconds)} in all"


def study_texts(study: Study) -> dict[PageRole, str]:
    """Return what the page of a study says around its staves."""
    return {
        PageRole.TITLE: study.title,
        PageRole.SUBTITLE: study.subtitle,
        PageRole.INSTRUCTION: study.instruction,
        PageRole.CAUTION: study.caution,
        PageRole.TIMING: timing_text(study),
    }


def page_texts(said: Mapping[PageRole, str], paper: Paper) -> list[PageText]:
    """Return the texts around the staves, placed for programs that read positions in tenths of a staff space."""
    width, height = (_tenths(side) for side in _PAPER_MILLIMETRES[paper])
    side, top, bottom = (_tenths(each) for each in (SHEET.side_margin, SHEET.top_margin, SHEET.bottom_margin))
    wanted = (
        (PageRole.TITLE, width / 2, height - top, "center", "top"),
        (PageRole.SUBTITLE, width / 2, height - top - 50, "center", "top"),
        (PageRole.INSTRUCTION, side, height - top - 85, "left", "top"),
        (PageRole.CAUTION, width / 2, bottom + 25, "center", "bottom"),
        (PageRole.TIMING, width / 2, bottom, "center", "bottom"),
    )
    texts = []
    for role, x, y, across, up in wanted:
        if said.get(role):
            text = PageText(said[role], role)
            text.style.absoluteX, text.style.absoluteY = x, y
            text.style.alignHorizontal, text.style.alignVertical = across, up
            text.style.justify = across
            text.style.fontSize = _FONT_POINTS[role]
            texts.append(text)
    return texts
