"""From a session to its book: one PDF in playing order, and MusicXML of each study beside it."""

import io
import re
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

from etudegen.engraving.book import Book, Card, PlanRow, PlanSheet, Section, halves
from etudegen.engraving.page import Page
from etudegen.engraving.press import Press
from etudegen.export.files import check_free, prepare_folder, write_all
from etudegen.practice.plan import Block
from etudegen.practice.rules import Part
from etudegen.practice.session import Session, block_name, card_points, clock, remarks
from etudegen.study import Paper, Study

_LILYPOND_PAPER = {Paper.A4: "a4", Paper.LETTER: "letter"}


def book_name(session: Session) -> str:
    """Return the plain name of a session's files."""
    label = re.sub(r"[^A-Za-z0-9]+", "-", session.player.label).strip("-").lower() or "session"
    return f"{label}-{session.day.isoformat()}-{session.plan.minutes}-min"


def make_book(
    session: Session, folder: Path, *, paper: Paper = Paper.A4, level: float | None = None, force: bool = False
) -> list[Path]:
    """Write a session's book and the MusicXML of its studies into a folder, all of them or none."""
    name = book_name(session)
    studies = [
        (place, number, replace(study, paper=paper))
        for place, filled in session.filled.items()
        for number, study in enumerate(filled.studies, start=1)
    ]
    names = [f"{name}.pdf", *(_study_file(name, place, number, study) for place, number, study in studies)]
    prepare_folder(folder)
    if not force:
        check_free(folder, names)
    with ExitStack() as presses:
        started = [presses.enter_context(Press()) for _ in range(2)]
        # Loaded here and not above: the presses are starting by now, and load their own libraries meanwhile.
        from etudegen.engraving.reading import read_page  # noqa: PLC0415
        from etudegen.export.musicxml import musicxml  # noqa: PLC0415
        from etudegen.notation.score import write_score  # noqa: PLC0415

        scores = {(place, number): write_score(study) for place, number, study in studies}
        pages = {where: read_page(score) for where, score in scores.items()}
        parts = halves(_book(session, pages, paper, level))
        for press, part in zip(started, parts, strict=False):
            press.begin(part)
        contents = {
            _study_file(name, place, number, study): musicxml(scores[place, number]) for place, number, study in studies
        }
        pdf = _printed(started, parts)
    return write_all(folder, {f"{name}.pdf": pdf, **contents})


def book_of(session: Session, paper: Paper, level: float | None = None) -> Book:
    """Return a session's book as the engraver is told of it, in one piece."""
    from etudegen.engraving.reading import read_page  # noqa: PLC0415
    from etudegen.notation.score import write_score  # noqa: PLC0415

    pages = {
        (place, number): read_page(write_score(replace(study, paper=paper)))
        for place, filled in session.filled.items()
        for number, study in enumerate(filled.studies, start=1)
    }
    return _book(session, pages, paper, level)


def _study_file(name: str, place: int, number: int, study: Study) -> str:
    kind = study.name.split("-")[0]
    return f"{name}-{place + 1:02d}-{kind}{'' if number == 1 else f'-{number}'}.musicxml"


def _subtitle(session: Session) -> str:
    plan = session.plan
    return (
        f"{session.player.label} · {session.player.instrument.name} · {session.player.low.pretty} to "
        f"{session.player.high.pretty} · {plan.minutes} minutes · {plan.aim}"
    )


def _plan_rows(session: Session) -> Iterator[PlanRow]:
    elapsed = 0
    for number, block in enumerate(session.plan.blocks, start=1):
        what = f"{number} · {block_name(block)}{', strenuous' if block.strenuous else ''}"
        yield PlanRow(clock(elapsed), f"{block.minutes} min", what, block.why, rest=block.part is Part.REST)
        elapsed += block.minutes


def _heading(number: int, block: Block) -> str:
    return f"{number} · {block_name(block)} · {block.minutes} min"


def _book(session: Session, pages: dict[tuple[int, int], Page], paper: Paper, level: float | None) -> Book:
    plan = PlanSheet(f"Practice, {session.day:%A} {session.day.isoformat()}", _subtitle(session),
                     tuple(_plan_rows(session)), remarks(session, level))  # fmt: skip
    sections = [Section("Plan", "", plan)]
    for place, block in enumerate(session.plan.blocks):
        if block.part is Part.REST:
            continue
        heading = _heading(place + 1, block)
        if place not in session.filled:
            card = Card(block_name(block).capitalize(), f"{block.minutes} minutes · {block.why}", card_points(block))
            sections.append(Section(heading, heading, card))
        for number in range(1, len(session.filled[place].studies) + 1 if place in session.filled else 1):
            page = pages[place, number]
            sections.append(Section(heading if number == 1 else page.title, heading, page))
    running = f"{session.player.label} · {session.day.isoformat()} · {session.plan.minutes} minutes"
    return Book(plan.title, running, _LILYPOND_PAPER[paper], tuple(sections))


def _printed(presses: list[Press], parts: tuple[Book, ...]) -> bytes:
    """Return the parts as one PDF with bookmarks; a part whose first page was guessed wrong is printed again."""
    from pikepdf import Dictionary, Name, OutlineItem, Pdf  # noqa: PLC0415 - only books need it

    whole = Pdf.new()
    bookmarks: list[OutlineItem] = []
    for press, part in zip(presses, parts, strict=False):
        first = len(whole.pages) + 1
        printed = press.pdf()
        if part.first_page != first:
            press.print_again(b"first-page-number = %d" % part.first_page, b"first-page-number = %d" % first)
            printed = press.pdf()
        begins = [first, *(page + 1 for page in press.last_pages()[:-1])]
        bookmarks += [
            OutlineItem(section.bookmark, page - 1) for section, page in zip(part.sections, begins, strict=True)
        ]
        with Pdf.open(io.BytesIO(printed)) as half:
            whole.pages.extend(half.pages)
            if first == 1:
                whole.trailer.Info = whole.copy_foreign(half.make_indirect(half.docinfo))
    with whole.open_outline() as outline:
        outline.root.extend(bookmarks)
    whole.Root.PageMode = Name.UseOutlines
    assert isinstance(whole.trailer.Info, Dictionary)
    file = io.BytesIO()
    whole.save(file, deterministic_id=True)
    return file.getvalue()
