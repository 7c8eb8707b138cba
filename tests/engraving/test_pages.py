"""Pages as the page maker makes them: even staves, full pages, nothing lost at a foot, the right bookmarks."""

import datetime
import io
import os
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from etudegen.engraving import typesetter
from etudegen.engraving.book import Book, Card, Section, book_of_lines, cuts, halfway, in_parts
from etudegen.engraving.engraver import PARTS, Engraver
from etudegen.engraving.lilypond import OPTIONS, find_lilypond, first_complaint
from etudegen.engraving.lilypond_text import book_text, lilypond_text
from etudegen.engraving.page import Page
from etudegen.engraving.pages_made import PagesMade, made_by_lilypond, read_pages
from etudegen.engraving.reading import read_page
from etudegen.exercises.common import Fingerings
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.notation.page_style import SHEET
from etudegen.notation.score import write_score
from etudegen.practice.profile import read_profile
from etudegen.practice.session import make_session
from etudegen.sheets.session import book_of
from etudegen.study import Paper
from etudegen.theory.rhythm import Rhythm

_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
# A heading between two systems, or notes far below one and far above the next, need more than the style gives.
_MOST_FOR_HEADINGS = 40.0


def page_of(**asked: object) -> Page:
    return read_page(write_score(study(SlurParameters(**asked))))


def made_of(content: Page | Book, parts: list[Book] | None = None) -> tuple[bytes, list[PagesMade]]:
    with Engraver(parts=min(PARTS, len(parts or [content]))) as engraver:
        for part in parts or [content]:
            engraver.engrave(part)
        pdf = engraver.pdf()
        made = [each for each in engraver.pages() if each is not None]
    return pdf, made


def texts(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"rhythm": Rhythm.EIGHTHS, "fingerings": Fingerings.EVERY, "repeats": 3},
        {"paper": Paper.LETTER, "repeats": 4},
    ],
    ids=str,
)
def test_staves_of_a_study_stand_evenly_and_no_page_but_the_last_is_left_half_empty(
    asked: dict[str, object], workshop: Path
) -> None:
    _, (made,) = made_of(page_of(**asked))
    distances = [distance for page in made.distances.values() for distance in page]
    assert min(distances) >= SHEET.least_staff_distance - 0.01
    assert max(distances) <= SHEET.spread_staff_distance + 0.01
    # All pages of a study are spread alike, up to what one of them lacks the room for.
    assert max(distances) - min(distances) <= SHEET.most_spread + 0.01
    assert all(len(set(page)) == 1 for page in made.distances.values())
    assert all(filled >= 0.6 for page, filled in made.filled.items() if page < max(made.filled))
    assert all(filled <= 1 for filled in made.filled.values())


def test_a_long_book_in_two_parts_has_even_staves_full_pages_running_numbers_and_bookmarks(workshop: Path) -> None:
    session = make_session(read_profile(_DEMO / "first-chair.toml"), datetime.date(2026, 11, 25), 75)
    book = book_of(session, Paper.A4)
    cut = halfway([1] * len(book.sections))
    halves = [replace(book, sections=book.sections[:cut]), replace(book, sections=book.sections[cut:])]
    pdf, parts = made_of(book, halves)
    _check_staves(book, parts)
    _check_bookmarks(book, pdf, parts)


def _check_staves(book: Book, parts: list[PagesMade]) -> None:
    distances = [each for made in parts for page in made.distances.values() for each in page]
    within = [each for each in distances if SHEET.least_staff_distance <= each <= SHEET.spread_staff_distance]
    assert len(within) / len(distances) > 0.9
    assert max(distances) <= _MOST_FOR_HEADINGS
    filled = [share for made in parts for share in made.filled.values()]
    # Text has pages of its own, and music before it ends where it ends.
    alone = sum(not isinstance(section.content, Page) for section in book.sections)
    assert sum(share < 0.6 for share in filled) <= 2 * alone


def _check_bookmarks(book: Book, pdf: bytes, parts: list[PagesMade]) -> None:
    first, second = parts
    assert [*first.filled, *second.filled] == list(range(1, len(texts(pdf)) + 1))
    pages = texts(pdf)
    reader = PdfReader(io.BytesIO(pdf))
    assert [item.title for item in reader.outline] == [section.bookmark for section in book.sections]
    for section, item in zip(book.sections, reader.outline, strict=True):
        text = pages[reader.get_destination_page_number(item)]
        assert " ".join(section.content.title.split()) in text
        assert section.heading in text
    for number, text in enumerate(pages, start=1):
        assert str(number) in text.split()


def test_a_study_that_goes_on_has_its_name_at_the_head_of_every_page_and_its_title_once(workshop: Path) -> None:
    page = page_of(repeats=6)
    pdf, (made,) = made_of(page)
    first, *others = texts(pdf)
    assert len(others) >= 1
    assert f"{page.title}, continued" not in first
    assert all(text.startswith(f"{page.title}, continued") for text in others)
    assert len(made.filled) == len(others) + 1


def _short(count: int) -> Iterator[Section]:
    for number in range(1, count + 1):
        page = page_of(title=f"Study {number}", positions=(OPEN,))
        yield Section(f"Study {number}", f"{number} · slurs", page)


def test_short_studies_share_a_page_and_none_begins_with_its_title_alone(workshop: Path) -> None:
    book = Book("Book", "Player", "a4", tuple(_short(8)))
    pdf, (made,) = made_of(book)
    pages = texts(pdf)
    assert 2 <= len(pages) <= 4
    assert sorted(made.sections) == list(range(8))
    for section, page in made.sections.items():
        # Its one line of music begins on the page of its title.
        assert made.lines[section] == (page,)
        assert f"Study {section + 1}" in pages[page - 1]


def test_text_has_a_page_of_its_own(workshop: Path) -> None:
    one, two = _short(2)
    card = Section("Card", "2 · music", Card("Music", "20 minutes", ("Slowly first",)))
    another = replace(card, bookmark="Another", content=Card("More", "5 minutes", ("Then faster",)))
    _, (made,) = made_of(Book("Book", "Player", "a4", (one, card, another, two)))
    assert made.sections == {0: 1, 1: 2, 2: 3, 3: 4}


def test_lines_that_are_named_are_found_in_the_outline(workshop: Path) -> None:
    page = page_of(repeats=6)
    names = tuple(measure.label for measure in page.measures if measure.label)
    section = Section("Slurs", "", page, names)
    pdf, (made,) = made_of(Book("Book", "", "a4", (section,)))
    reader = PdfReader(io.BytesIO(pdf))
    _, lines = reader.outline
    assert [line.title for line in lines] == list(names)
    assert [reader.get_destination_page_number(line) + 1 for line in lines] == list(made.lines[0])
    assert max(made.lines[0]) > 1


def test_a_book_is_engraved_in_one_run_of_lilypond_a_part(
    workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs = tmp_path / "runs"
    counting = tmp_path / "lilypond-counting"
    counting.write_text(f'#!/bin/sh\necho run >> {runs}\nexec {find_lilypond()} "$@"\n')
    counting.chmod(0o755)
    monkeypatch.setenv("ETUDEGEN_LILYPOND", str(counting))
    halves = [Book("Book", "", "a4", (section,)) for section in _short(2)]
    made_of(halves[0], halves)
    assert len(runs.read_text().split()) == 2


def run_by_itself(text: str, folder: Path) -> tuple[Path, str]:
    """Run LilyPond on a text; return where its page maker tells of the pages, and what it says itself."""
    pages = typesetter.pages_file(folder, 0)
    source = folder / "sheet.ly"
    source.write_text(text, encoding="utf-8")
    run = subprocess.run(
        [find_lilypond(), *OPTIONS, "--pdf", f"--output={folder / 'sheet'}", source],
        env=os.environ | {"ETUDEGEN_PAGES": str(pages)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return pages, run.stdout + run.stderr


def test_this_lilypond_has_what_the_page_maker_needs(tmp_path: Path) -> None:
    pages, said = run_by_itself(lilypond_text(page_of(positions=(OPEN,))), tmp_path)
    assert said == ""
    assert not made_by_lilypond(pages)
    assert read_pages(pages) is not None


@pytest.mark.parametrize("missing", ["make-page", "paper-system-stencil"])
def test_without_it_lilypond_makes_the_pages_and_that_is_told(missing: str, tmp_path: Path) -> None:
    text = book_text(Book("Book", "Player", "a4", tuple(_short(2)))).replace(f"'{missing}))", "'gone))")
    pages, said = run_by_itself(text, tmp_path)
    assert first_complaint(said, overfull_matters=False) == ""
    assert made_by_lilypond(pages)
    assert read_pages(pages) is None
    assert "Study 2" in " ".join(texts((tmp_path / "sheet.pdf").read_bytes()))


def test_memory_is_looked_after_where_a_book_takes_much(tmp_path: Path) -> None:
    text = lilypond_text(page_of(positions=(OPEN,)))
    told = "(begin (set! memory-is-free #f) (gc-enable)"
    assert told in text
    for limit, switched in (("1000", True), ("1000000000000", False)):
        changed = re.sub(r"memory-limit \d+", f"memory-limit {limit}", text)
        changed = changed.replace(told, told + ' (format (current-error-port) "switched")')
        _, said = run_by_itself(changed, tmp_path)
        assert ("switched" in said) == switched


def test_texts_in_the_heads_of_pages_and_of_sections_cannot_run_code(workshop: Path) -> None:
    words = '" #(system "touch HACKED") " back\\slash \\ ")) (exit 3) \\'
    page = replace(page_of(repeats=6), title=words)
    card = Section(words, words, Card(words, words, (words,)))
    pdf, _ = made_of(Book(words, words, "a4", (Section(words, words, page), card)))
    kept = ["".join(text.split()) for text in texts(pdf)]
    assert all("".join(words.split()) in text for text in kept)


def test_a_study_in_two_parts_says_and_bookmarks_what_it_does_in_one(workshop: Path) -> None:
    page = page_of(repeats=5)
    whole = book_of_lines(page)
    first, rest = in_parts(whole, 2)
    (said, _), (said_in_parts, _) = made_of(whole), made_of(first, [first, rest])
    opening, *others = texts(said_in_parts)
    assert page.title in opening
    assert f"{page.title}, continued" not in opening
    assert len(others) >= 1
    assert all(text.startswith(f"{page.title}, continued") for text in others)
    lines = [line.title for line in PdfReader(io.BytesIO(said)).outline[1]]
    assert [line.title for line in PdfReader(io.BytesIO(said_in_parts)).outline[1]] == lines
    assert lines == [measure.label for measure in page.measures if measure.label]
    assert r"\once \omit Staff.TimeSignature" in book_text(rest)


def test_a_study_in_more_parts_than_are_engraved_at_a_time_is_one_book(workshop: Path) -> None:
    page = page_of(repeats=8)
    whole = book_of_lines(page)
    parts = in_parts(whole, 5)
    pdf, made = made_of(parts[0], list(parts))
    assert [number for each in made for number in each.filled] == list(range(1, len(texts(pdf)) + 1))
    assert len(made) == 5
    lines = [line.title for line in PdfReader(io.BytesIO(pdf)).outline[1]]
    assert lines == [measure.label for measure in page.measures if measure.label]
    assert [measure.signs for part in parts for measure in part.sections[0].content.measures] == [
        measure.signs for measure in page.measures
    ]
    # Whatever key and metre held before a cut is said behind it.
    for part in parts[1:]:
        opening = part.sections[0].content.measures[0]
        assert opening.metre
        assert opening.sharps is not None


@given(st.lists(st.integers(1, 50), min_size=1, max_size=30), st.data())
def test_work_is_cut_into_parts_of_about_as_much_none_of_them_empty(works: list[int], data: st.DataObject) -> None:
    count = data.draw(st.integers(1, len(works)))
    places = [0, *cuts(works, count), len(works)]
    parts = [works[first:end] for first, end in pairwise(places)]
    assert len(parts) == count
    assert all(parts)
    assert [work for part in parts for work in part] == works
    if count * max(works) <= min(works) * len(works):
        # Where there is room to choose, no part has more than its share and a piece of work at each of its ends.
        assert max(map(sum, parts)) <= sum(works) / count + 2 * max(works)


def test_the_text_of_a_study_in_two_parts_is_in_one_piece(workshop: Path) -> None:
    whole = book_of_lines(page_of())
    with Engraver(pdf=False, parts=2) as engraver:
        for part in in_parts(whole, 2):
            engraver.engrave(part)
        engraver.set_whole(whole)
        assert engraver.text().decode() == book_text(whole)
