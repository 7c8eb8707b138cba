"""The page as music21 objects: its paper, and the texts around the staves."""

from collections.abc import Mapping
from fractions import Fraction

from music21.layout import PageLayout, ScoreLayout

from etudegen.notation.marks import PageRole, PageText
from etudegen.study import Paper, Study

# 20.5 points of 25.4 / 72.27 mm: a staff that reads well from a metre away.
STAFF_MILLIMETRES = 7.2
_TENTHS_PER_STAFF = 40
_PAPER_MILLIMETRES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}
_MARGIN_MILLIMETRES = 15.0
_FONT_POINTS = {
    PageRole.TITLE: 18,
    PageRole.SUBTITLE: 10,
    PageRole.INSTRUCTION: 10,
    PageRole.CAUTION: 8,
    PageRole.TIMING: 8,
}


def _tenths(millimetres: float) -> float:
    return round(millimetres * _TENTHS_PER_STAFF / STAFF_MILLIMETRES)


def score_layout(paper: Paper) -> ScoreLayout:
    """Return the size of paper, margins and staff."""
    width, height = (_tenths(side) for side in _PAPER_MILLIMETRES[paper])
    margin = _tenths(_MARGIN_MILLIMETRES)
    page = PageLayout(
        pageWidth=width, pageHeight=height,
        leftMargin=margin, rightMargin=margin, topMargin=margin, bottomMargin=margin,
    )  # fmt: skip
    return ScoreLayout(scalingMillimeters=STAFF_MILLIMETRES, scalingTenths=_TENTHS_PER_STAFF, pageLayout=page)


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
    margin = _tenths(_MARGIN_MILLIMETRES)
    wanted = (
        (PageRole.TITLE, width / 2, height - margin, "center", "top"),
        (PageRole.SUBTITLE, width / 2, height - margin - 50, "center", "top"),
        (PageRole.INSTRUCTION, margin, height - margin - 85, "left", "top"),
        (PageRole.CAUTION, width / 2, margin + 25, "center", "bottom"),
        (PageRole.TIMING, width / 2, margin, "center", "bottom"),
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
