"""Sets a page as LilyPond text, its music through abjad.

Run as a program it reads a pickled page on standard input and writes the text to standard output: so abjad is
loaded in a process of its own while the score is still being made in another.
"""

import gc
import pickle
import sys
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from etudegen.engraving import leaves
from etudegen.engraving.book import Book, PlanSheet, Section
from etudegen.engraving.lean_abjad import abjad
from etudegen.engraving.page import Measure, Page, Sign
from etudegen.engraving.sheets_of_text import card_markups, markups
from etudegen.engraving.systems import breaks, lines_of
from etudegen.engraving.text import quoted
from etudegen.resources import templates

# From so few lines on, a page that is spread to its foot looks thin instead of open.
_LINES_THAT_FILL_A_PAGE = 7
_SYSTEMS_UNDER_HEADINGS = 8
# A line of more systems may be broken between pages.
_SYSTEMS_KEPT_ON_A_PAGE = 5
# What fits between the margins at the size of the field.
_CHARACTERS_IN_A_LINE = {"title": 42, "subtitle": 92}
_NUMERALS = ("", "two", "three", "four")
_SHORT_LABEL = 3
_ROOM_FOR_LONG_LABELS = "\\layout {\n  indent = 18\\mm\n  short-indent = 18\\mm\n}\n"
_BARLINES = {"double": "||", "final": "|."}
_KEYS = ("cf", "gf", "df", "af", "ef", "bf", "f", "c", "g", "d", "a", "e", "b", "fs", "cs")
_STYLE = "pages/sheet.ily"


def _before(*commands: str) -> Any:
    return abjad.LilyPondLiteral(list(commands), site="before")


def _after(*commands: str) -> Any:
    return abjad.LilyPondLiteral(list(commands), site="after")


def _leaf(sign: Sign) -> Any:
    if sign.pitch is None:
        return leaves.rest(sign.value)
    leaf = leaves.note(leaves.pitch(*sign.pitch), sign.value)
    # Said outright, so that reminders are printed where the score has them.
    if sign.shows_accidental:
        leaves.force_accidental(leaf)
    if sign.breath:
        abjad.attach(_after(r"\breathe"), leaf)
    if sign.bracket_starts:
        abjad.attach(_before(r"\ottava #-1"), leaf)
    if sign.bracket_stops:
        abjad.attach(_after(r"\ottava #0"), leaf)
    _attach_dynamics(sign, leaf)
    if sign.tied:
        abjad.attach(abjad.Tie(), leaf)
    if sign.slur_stops:
        abjad.attach(abjad.StopSlur(), leaf)
    if sign.slur_starts:
        abjad.attach(abjad.StartSlur(), leaf)
    if sign.beam:
        abjad.attach(abjad.StartBeam() if sign.beam == "[" else abjad.StopBeam(), leaf)
    for mark in sign.marks:
        abjad.attach(abjad.Articulation(mark), leaf)
    for style, text, direction in (
        ("fingering-digits", sign.fingering, abjad.DOWN),
        ("tongue-syllable", sign.syllable, abjad.DOWN),
        ("partial-number", sign.partial_number, abjad.UP),
        ("remark", sign.remark, abjad.UP),
    ):
        if text:
            abjad.attach(abjad.Markup(rf"\markup \{style} {quoted(text)}"), leaf, direction=direction)
    if sign.bent:
        abjad.attach(abjad.Markup(r"\markup \bend-sign"), leaf, direction=abjad.UP)
    return leaf


def _attach_dynamics(sign: Sign, leaf: Any) -> None:
    """Attach dynamics, through silent skips beside the note where one falls inside it."""
    if all(at == 0 for at, _ in sign.dynamics):
        if sign.dynamics:
            abjad.attach(_after(*(rf"\{command}" for _, command in sign.dynamics)), leaf)
        return
    moments = sorted({at for at, _ in sign.dynamics})
    skips = [] if moments[0] == 0 else [f"s1*{moments[0]}"]
    for at, following in zip(moments, [*moments[1:], sign.value], strict=True):
        commands = " ".join(rf"\{command}" for when, command in sign.dynamics if when == at)
        skips.append(f"s1*{following - at} {commands}" if following > at else f"<> {commands}")
    abjad.attach(_before("<< {"), leaf)
    abjad.attach(_after("} { " + " ".join(skips) + " } >>"), leaf)


def _groups(signs: Iterable[Sign]) -> Iterator[tuple[Sign, ...]]:
    """Yield the signs one by one, those of a tuplet together."""
    tuplet: list[Sign] = []
    for sign in signs:
        if sign.tuplet is None:
            yield (sign,)
            continue
        tuplet.append(sign)
        if sign.tuplet.stops:
            yield tuple(tuplet)
            tuplet = []


@cache
def _group_text(signs: tuple[Sign, ...]) -> str:
    """Return one sign, or a tuplet, as text; in exercises the same ones come again and again."""
    tuplet = signs[0].tuplet
    if tuplet is None:
        (component,) = map(_leaf, signs)
    else:
        component = abjad.Tuplet(f"{tuplet.actual}:{tuplet.normal}", list(map(_leaf, signs)))
        if not tuplet.bracket:
            abjad.attach(_before(r"\once \omit TupletBracket"), component[0])
    text: str = abjad.lilypond(component)
    return text


def _opening(measure: Measure) -> list[str]:
    """Return what changes at the start of a measure, in the order in which LilyPond wants it."""
    commands = []
    if measure.new_system:
        commands.append(r"\break")
    if measure.label:
        commands.append(rf"\line-label {quoted(measure.label)}")
    if measure.heading:
        commands.append(rf"\stage-heading {quoted(measure.heading)}")
    if measure.clef:
        commands.append(rf"\clef {quoted(measure.clef)}")
    if measure.sharps is not None:
        commands.append(rf"\key {_KEYS[measure.sharps + 7]} \major")
    if measure.metre is not None:
        commands.append(r"\time {}/{}".format(*measure.metre))
    if measure.tempo is not None:
        commands.append(rf"\swing-tempo #{measure.tempo}" if measure.swing else rf"\tempo 4 = {measure.tempo}")
    return commands


def _measure_text(measure: Measure, metre: tuple[int, int]) -> str:
    if measure.rest_bars:
        count = f"*{measure.rest_bars}" if measure.rest_bars > 1 else ""
        whole = f"R1*{metre[0]}/{metre[1]}" if metre != (4, 4) else "R1"
        body = whole + count
    else:
        body = "\n".join(["{", *map(_group_text, _groups(measure.signs)), "}"])
    parts = [*_opening(measure), body]
    if measure.barline:
        parts.append(rf'\bar "{_BARLINES[measure.barline]}"')
    return "\n".join(parts)


def _music(measures: Iterable[Measure]) -> Iterator[str]:
    metre = (4, 4)
    sharps = 0
    for line in lines_of(measures):
        sharps = sharps if line[0].sharps is None else line[0].sharps
        wanted = breaks(line, sharps)
        whole = len(wanted) < _SYSTEMS_KEPT_ON_A_PAGE
        for place, measure in enumerate(line):
            metre = measure.metre or metre
            if place and whole:
                # Nobody turns a page within a line. LilyPond fails where it may neither break a page nor keep a line
                # on one, so it is told as well where this line is broken into systems.
                yield r"\break \noPageBreak" if place in wanted else r"\noBreak"
            elif place in wanted:
                yield r"\break"
            if place == 1 and line[0].label:
                # Where a line runs on to a second system, the label would look like that of a new line.
                yield r"\no-label"
            yield _measure_text(measure, metre)


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
    """Return how a page's systems are spread: to its foot, or as they come where they are few."""
    if sum(bool(measure.heading) for measure in page.measures) > 1:
        # LilyPond forgets the headings when it guesses how much a page takes.
        return f"ragged-last-bottom = ##f\n  max-systems-per-page = {_SYSTEMS_UNDER_HEADINGS}"
    if page.lines < _LINES_THAT_FILL_A_PAGE:
        return "ragged-last-bottom = ##t\n  system-system-spacing.basic-distance = #20"
    return "ragged-last-bottom = ##f"


def _score(page: Page) -> str:
    music = "\n".join(_music(page.measures))
    longest = max(len(measure.label) for measure in page.measures)
    room = _ROOM_FOR_LONG_LABELS if longest > _SHORT_LABEL else ""
    below = any(sign.fingering or sign.syllable for measure in page.measures for sign in measure.signs)
    opening = "\\tuplet-numbers-above\n" if below else ""
    return f"\\score {{\n\\new Staff {{\n{opening}{music}\n}}\n{room}}}"


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
        shown = {role: text for role, text in content.texts.items() if role != "caution"}
        body = f"\\paper {{\n  {_fill(content)}\n}}\n{_score(content)}"
        fields |= {"title": content.title, **shown}
    else:
        fields |= {"title": content.title, "subtitle": content.subtitle}
        body = "\\paper {\n  ragged-last-bottom = ##t\n}\n" + "\n".join(
            markups(content) if isinstance(content, PlanSheet) else card_markups(content)
        )
    return f"\\bookpart {{\n{header(fields)}\n{body}\n}}"


def main() -> None:
    """Set the pickled page or book on standard input; write it to standard output and to the file named first."""
    # Everything made here lives to the end; looking for garbage takes a tenth of the time.
    gc.disable()
    given = pickle.load(sys.stdin.buffer)  # noqa: S301 - comes from our own parent process, never from a file
    text = (book_text(given) if isinstance(given, Book) else lilypond_text(given)).encode()
    Path(sys.argv[1]).write_bytes(text)
    sys.stdout.buffer.write(text)


if __name__ == "__main__":
    main()
