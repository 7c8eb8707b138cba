"""Sets pages and books as LilyPond text, the music through abjad."""

from collections.abc import Mapping, Sequence
from dataclasses import fields

from etudegen.engraving.book import Book, PlanSheet, Section
from etudegen.engraving.music import music
from etudegen.engraving.page import Page
from etudegen.engraving.rows import chord_row, lyric_rows
from etudegen.engraving.sheets_of_text import card_markups, markups
from etudegen.engraving.text import quoted
from etudegen.files.templates import templates
from etudegen.notation.page_style import BOOK, SHEET, PageStyle

_SHORT_LABEL = 3
_ROOM_FOR_LONG_LABELS = "\\layout {\n  indent = #(* wide-indent-mm mm)\n  short-indent = #(* wide-indent-mm mm)\n}\n"
_TEMPLATES = ("pages.ily", "sheet.ily")
# What stands at the foot of every page of a single sheet is in a book said once, with the title.
_FOOT_OF_A_SHEET = {"caution": "footcaution", "timing": "foottiming"}


def _block(fields_of_header: Mapping[str, str], *more: str) -> str:
    """Return a header block; nothing in the texts can be read as code."""
    lines = [f"  {field} = {quoted(text)}" for field, text in fields_of_header.items() if text]
    return "\\header {\n" + "\n".join([*lines, *more]) + "\n}"


def _header(fields_of_header: Mapping[str, str]) -> str:
    # The metadata of the PDF, which file managers show.
    return _block(fields_of_header, '  pdfauthor = "etudegen"', "  tagline = ##f")


def _score(page: Page, title: Mapping[str, str]) -> str:
    """Return a study as a score, with the fields of its title; one without a title goes on from another part."""
    notes = "\n".join(music(page))
    longest = max(len(measure.label) for measure in page.measures)
    room = _ROOM_FOR_LONG_LABELS if longest > _SHORT_LABEL else ""
    digits = any(sign.fingering or sign.syllable for measure in page.measures for sign in measure.signs)
    above = chord_row(page.measures)
    below = "".join(f"\\new Lyrics \\lyricmode {{\n{row}\n}}\n" for row in lyric_rows(page.measures))
    opening = "" if title else "\\once \\omit Staff.TimeSignature\n"
    opening += ("\\digits-below\n" if digits else "") + ("\\endings-over-chords\n" if above else "")
    staff = f"\\new Staff {{\n{opening}{notes}\n}}"
    if above or below:
        chords = f"\\new Dynamics \\with {{ \\chord-row }} {{\n{above}\n}}\n" if above else ""
        staff = f"<<\n{chords}{staff}\n{below}>>"
    header = _block(title) if title else _block({}, "  goes-on = ##t")
    return f"\\score {{\n{staff}\n{header}\n{room}}}"


def _scheme(value: float | tuple[float, ...]) -> str:
    return f"'({' '.join(map(str, value))})" if isinstance(value, tuple) else str(value)


def _preamble(
    style: PageStyle, paper: str, names: Sequence[tuple[str, str, str]], running: str = "", *, goes_on: bool = False
) -> str:
    """Return what stands before the music: the style, its measures, and what the heads of pages say.

    ``names`` are the title, the heading and the caution of each section, ``running`` is what stands at the head of
    all pages; one that ``goes_on`` has a part after it.
    """
    measures = {field.name.replace("_", "-") + "-mm": getattr(style, field.name) for field in fields(style)}
    title_size = measures.pop("title-size-mm")
    texts = [(templates() / "pages" / name).read_text(encoding="utf-8") for name in _TEMPLATES]
    sections = " ".join(f"({' '.join(map(quoted, said))})" for said in names)
    return "\n".join(
        (
            '\\version "2.24.0"',
            '\\language "english"',
            *(f"#(define {name} {_scheme(value)})" for name, value in measures.items()),
            f"#(define staff-space-mm {style.staff_space})",
            f"#(define staff-points {style.staff_points})",
            f"#(define title-size {title_size})",
            f"#(define running-head {quoted(running)})",
            f"#(define section-names '({sections}))",
            f"#(define book-goes-on {'#t' if goes_on else '#f'})",
            *texts,
            f'#(set-default-paper-size "{paper}")\n',
        )
    )


def lilypond_text(page: Page) -> str:
    """Return a self-contained LilyPond file for a page."""
    title = {"title": page.title, **{role: text for role, text in page.texts.items() if role not in _FOOT_OF_A_SHEET}}
    foot = {field: page.texts.get(role, "") for role, field in _FOOT_OF_A_SHEET.items()}
    preamble = _preamble(SHEET, page.paper, [(page.title, "", "")])
    return f"{preamble}{_header({'pdftitle': page.title, **foot})}\n\n{_score(page, title)}\n"


def book_text(book: Book) -> str:
    """Return a self-contained LilyPond file for a book, or for a part of one."""
    names = [(section.content.title, section.heading, _caution(section)) for section in book.sections]
    preamble = _preamble(BOOK, book.paper, names, book.running, goes_on=book.goes_on)
    parts = [_section(section) for section in book.sections]
    # Text has pages of its own.
    for place, (section, before) in enumerate(zip(book.sections[1:], book.sections, strict=False), start=1):
        if not (isinstance(section.content, Page) and isinstance(before.content, Page)):
            parts[place] = f"\\pageBreak\n{parts[place]}"
    body = "\n\n".join(parts)
    return f"{preamble}\\book {{\n{_header({'pdftitle': book.title})}\n\n{body}\n}}\n"


def _caution(section: Section) -> str:
    return section.content.texts.get("caution", "") if isinstance(section.content, Page) else ""


def _section(section: Section) -> str:
    content = section.content
    if isinstance(content, Page):
        title = {"heading": section.heading, "title": content.title, **content.texts}
        return _score(content, {} if section.goes_on else title)
    rows = markups(content) if isinstance(content, PlanSheet) else card_markups(content)
    return "\n".join((_title_of_text(section.heading, content.title, content.subtitle), *rows))


def _title_of_text(heading: str, title: str, subtitle: str) -> str:
    return rf"\markup \text-title {quoted(heading)} {quoted(title)} {quoted(subtitle)}"
