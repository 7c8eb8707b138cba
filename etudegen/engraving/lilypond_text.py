"""Sets a page as LilyPond text, its music through abjad.

Run as a program it reads a pickled page on standard input and writes the text to standard output: so abjad is
loaded in a process of its own while the score is still being made in another.
"""

import gc
import os
import pickle
import sys
import textwrap
from collections.abc import Mapping
from pathlib import Path

from etudegen.engraving.book import Book, PlanSheet, Section
from etudegen.engraving.music import music
from etudegen.engraving.page import Page
from etudegen.engraving.rows import chord_row, lyric_rows
from etudegen.engraving.sheets_of_text import card_markups, markups
from etudegen.engraving.systems import most_systems, systems_of
from etudegen.engraving.text import quoted
from etudegen.files.templates import templates

# With fewer, a page that is spread to its foot looks thin instead of open.
_SYSTEMS_THAT_FILL_A_PAGE = 6
_SYSTEMS_UNDER_HEADINGS = 8
# What fits between the margins at the size of the field.
_CHARACTERS_IN_A_LINE = {"title": 42, "subtitle": 92}
_NUMERALS = ("", "two", "three", "four")
_SHORT_LABEL = 3
_ROOM_FOR_LONG_LABELS = "\\layout {\n  indent = 18\\mm\n  short-indent = 18\\mm\n}\n"
_STYLE = "pages/sheet.ily"


def _wrapped(field: str, text: str) -> list[str]:
    width = _CHARACTERS_IN_A_LINE.get(field)
    return textwrap.wrap(text, width)[: len(_NUMERALS)] if width else [text]


def header(fields: Mapping[str, str]) -> str:
    """Return a header block; long titles in several lines; nothing in the texts can be read as code."""
    texts = {
        f"{field}{_NUMERALS[place]}": line
        for field, text in fields.items()
        for place, line in enumerate(_wrapped(field, text))
    }
    lines = [f"  {field} = {quoted(text)}" for field, text in texts.items() if text]
    # The metadata of the PDF, which file managers show.
    return "\\header {\n" + "\n".join([*lines, '  pdfauthor = "etudegen"', "  tagline = ##f"]) + "\n}"


def _fill(page: Page) -> str:
    """Return how a page's systems are spread: to the foot of each page, or as they come where there are few on each."""
    headings = sum(bool(measure.heading) for measure in page.measures) > 1
    # LilyPond forgets the headings when it guesses how much a page takes.
    most = min(most_systems(page), _SYSTEMS_UNDER_HEADINGS) if headings else most_systems(page)
    limit = f"\n  max-systems-per-page = {most}" if headings else ""
    systems = systems_of(page)
    pages = -(-systems // most)
    if systems / pages < _SYSTEMS_THAT_FILL_A_PAGE:
        # Few systems on several pages are shared out evenly, or the last would be left with a scrap.
        shared = f"\n  max-systems-per-page = {-(-systems // pages)}" if pages > 1 else ""
        return (
            "ragged-bottom = ##t\n  ragged-last-bottom = ##t\n"
            f"  system-system-spacing.basic-distance = #{20 if pages == 1 else 16}{shared}"
        )
    return f"ragged-last-bottom = ##f{limit}"


def _score(page: Page) -> str:
    notes = "\n".join(music(page))
    longest = max(len(measure.label) for measure in page.measures)
    room = _ROOM_FOR_LONG_LABELS if longest > _SHORT_LABEL else ""
    digits = any(sign.fingering or sign.syllable for measure in page.measures for sign in measure.signs)
    opening = "\\digits-below\n" if digits else ""
    staff = f"\\new Staff {{\n{opening}{notes}\n}}"
    above = chord_row(page.measures)
    below = "".join(f"\\new Lyrics \\lyricmode {{\n{row}\n}}\n" for row in lyric_rows(page.measures))
    if above or below:
        chords = f"\\new Dynamics \\with {{ \\chord-row }} {{\n{above}\n}}\n" if above else ""
        staff = f"<<\n{chords}{staff}\n{below}>>"
    return f"\\score {{\n{staff}\n{room}}}"


def _style(paper: str) -> str:
    style = (templates() / Path(_STYLE)).read_text(encoding="utf-8")
    return f'{style}\n#(set-default-paper-size "{paper}")\n'


def lilypond_text(page: Page) -> str:
    """Return a self-contained LilyPond file for a page."""
    fields = {"title": page.title, **page.texts, "pdftitle": page.title}
    return f"{_style(page.paper)}{header(fields)}\n\n\\paper {{\n  {_fill(page)}\n}}\n\n{_score(page)}\n"


def book_text(book: Book) -> str:
    """Return a self-contained LilyPond file for a book, or for the part of one that begins at its first page."""
    parts = "\n\n".join(_book_part(place, section, book) for place, section in enumerate(book.sections))
    fields = {"pdftitle": book.title, "running": book.running}
    return (
        f"{_style(book.paper)}\\book {{\n\\paper {{ first-page-number = {book.first_page} }}\n"
        f"{header(fields)}\n{parts}\n}}\n"
    )


def _book_part(place: int, section: Section, book: Book) -> str:
    fields = {"running": book.running, "block": section.heading, "section": str(place)}
    content = section.content
    if isinstance(content, Page):
        body = f"\\paper {{\n  {_fill(content)}\n}}\n{_score(content)}"
        fields |= {"title": content.title, **content.texts}
    else:
        fields |= {"title": content.title, "subtitle": content.subtitle}
        body = "\\paper {\n  ragged-last-bottom = ##t\n}\n" + "\n".join(
            markups(content) if isinstance(content, PlanSheet) else card_markups(content)
        )
    return f"\\bookpart {{\n{header(fields)}\n{body}\n}}"


def main() -> None:
    """Set the pickled pages or books on standard input, each with the file it is written to; the first goes on as well.

    Where it goes on to, standard output, may be closed before it is all read: then the others are set all the same, and
    that is told at the end.
    """
    # Everything made here lives to the end; looking for garbage takes a tenth of the time.
    gc.disable()
    first, broken = True, False
    while True:
        try:
            place, given = pickle.load(sys.stdin.buffer)  # noqa: S301 - from our own parent process, never from a file
        except EOFError:
            break
        text = (book_text(given) if isinstance(given, Book) else lilypond_text(given)).encode()
        # Written beside and renamed, since somebody waits for it to be there as a whole.
        beside = Path(f"{place}.part")
        beside.write_bytes(text)
        beside.replace(place)
        if first:
            try:
                sys.stdout.buffer.write(text)
                sys.stdout.buffer.flush()
                os.close(sys.stdout.fileno())
            except BrokenPipeError:
                broken = True
        first = False
    if broken:
        sys.stderr.write("Broken pipe\n")
    sys.stderr.flush()
    os._exit(int(broken))


if __name__ == "__main__":
    main()
