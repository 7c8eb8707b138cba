"""Sheets as LilyPond prints them: pages, paper, texts, and nothing to complain of."""

import io
import math
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from etudegen.engraving.lilypond import OPTIONS, find_lilypond, first_complaint
from etudegen.engraving.lilypond_text import lilypond_text
from etudegen.engraving.pdf import without_date
from etudegen.engraving.reading import read_page
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import NAMED, parse_contour
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.catalogue import instrument
from etudegen.instrument.valves import OPEN, Valves, parse_positions
from etudegen.notation.score import write_score
from etudegen.study import Paper, Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.printing import printed_together

MOST_SYSTEMS_ON_A_PAGE = 11
# In points of 1/72 inch. ISO 216: 210 by 297 mm; Letter is 8.5 by 11 inches.
SIZES = {Paper.A4: (210 / 25.4 * 72, 297 / 25.4 * 72), Paper.LETTER: (8.5 * 72, 11 * 72)}

RANGES = (("F#3", "G5"), ("C4", "C5"), ("F#3", "C6"), ("G2", "A5"))


def some_of_every_shape_and_rhythm() -> Iterator[tuple[str, SlurParameters]]:
    """Each contour with two rhythms and each rhythm with three contours, on ranges and options that take turns."""
    for row, (name, contour) in enumerate(NAMED.items()):
        for column, rhythm in enumerate(Rhythm):
            if (row + column) % 3:
                continue
            low, high = RANGES[(row + column // 2) % len(RANGES)]
            asked = SlurParameters(
                contour=contour,
                rhythm=rhythm,
                positions=parse_positions("0 2 13"),
                low=WrittenPitch.parse(low),
                high=WrittenPitch.parse(high),
                fingerings=list(Fingerings)[row % 3],
                rests=list(Rests)[(row + column) % 3],
                partial_numbers=row % 2 == 0,
                far_partials=column % 3 == 0,
                paper=list(Paper)[row // 2 % 2],
            )
            yield f"{name} in {rhythm} {low} to {high}", asked


def read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def starts_of_texts(page: pypdf.PageObject) -> Iterator[tuple[float, float, str]]:
    """Where each piece of text on a page begins, in points from its lower left corner."""
    found: list[tuple[float, float, str]] = []

    def visit(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            x, y = tm[4], tm[5]
            found.append((x * cm[0] + y * cm[2] + cm[4], x * cm[1] + y * cm[3] + cm[5], text))

    page.extract_text(visitor_text=visit)
    yield from found


@pytest.mark.parametrize("paper", Paper)
def test_lilypond_has_nothing_to_complain_of_and_page_breaks_fit(paper: Paper, workshop: Path) -> None:
    studies = {name: study(asked) for name, asked in some_of_every_shape_and_rhythm() if asked.paper is paper}
    assert studies
    pages = {name: read_page(write_score(made)) for name, made in studies.items()}
    for name, printed in printed_together(pages, next(iter(pages.values())).paper).items():
        assert len(printed) >= math.ceil(len(studies[name].lines) / MOST_SYSTEMS_ON_A_PAGE), name
    assert list(workshop.iterdir()) == [], "the engraver clears away its files"


def test_own_partials_on_a_c_trumpet_are_engraved_without_complaint(engraved: Callable[[Study], bytes]) -> None:
    asked = SlurParameters(
        contour=parse_contour("2 4 3 5 7"), rhythm=Rhythm.TRIPLETS, repeats=5, instrument=instrument("trumpet-c"),
        low=WrittenPitch.parse("Fb2").above(1, 2), high=WrittenPitch.parse("B##5"),
    )  # fmt: skip
    assert len(read(engraved(study(asked))).pages) >= 1


def test_the_usual_sheet_is_one_page_with_its_texts_as_text(engraved: Callable[[Study], bytes]) -> None:
    made = study(SlurParameters())
    (page,) = read(engraved(made)).pages
    printed = page.extract_text()
    words = " ".join(printed.split())
    assert made.title in words
    assert made.instruction in words
    assert made.caution in words
    assert re.search(r"Playing \d+ min \d+ s · resting \d+ min \d+ s", words)
    for label in ("0", "2", "1", "12", "23", "13", "123"):
        assert label in printed.split()


def test_a_ramp_fills_pages_that_are_numbered_and_carry_the_foot(engraved: Callable[[Study], bytes]) -> None:
    made = study(SlurParameters(ramp=True))
    pages = read(engraved(made)).pages
    assert len(made.lines) / MOST_SYSTEMS_ON_A_PAGE <= len(pages) <= len(made.lines) / 4
    texts = [" ".join(page.extract_text().split()) for page in pages]
    for number, text in enumerate(texts, 1):
        assert text.endswith(str(number))
        assert made.caution in text
    for line in made.lines:
        assert line.heading is None or sum(line.heading in text for text in texts) == 1


@pytest.mark.parametrize("paper", Paper)
def test_every_page_has_the_size_of_its_paper(paper: Paper, engraved: Callable[[Study], bytes]) -> None:
    pdf = read(engraved(study(SlurParameters(paper=paper, repeats=6))))
    assert len(pdf.pages) > 1
    width, height = SIZES[paper]
    for page in pdf.pages:
        assert abs(float(page.mediabox.width) - width) < 1
        assert abs(float(page.mediabox.height) - height) < 1


def test_title_and_author_are_in_the_description_of_the_file(engraved: Callable[[Study], bytes]) -> None:
    description = read(engraved(study(SlurParameters(title="Größe für Anfänger", positions=(OPEN,))))).metadata
    assert description.title == "Größe für Anfänger"
    assert description.author == "etudegen"


def test_all_fonts_are_embedded(engraved: Callable[[Study], bytes]) -> None:
    for page in read(engraved(study(SlurParameters(fingerings=Fingerings.EVERY, partial_numbers=True)))).pages:
        fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
        assert len(fonts) >= 3
        for font in fonts:
            inner = [each.get_object() for each in font.get("/DescendantFonts", [font])]
            if font["/Subtype"] != "/Type3":
                descriptor = inner[0]["/FontDescriptor"]
                assert any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))


@pytest.mark.parametrize(
    "asked",
    [
        pytest.param(SlurParameters(title=("Slow slurs for a quiet morning, " * 4)[:120]), id="title"),
        pytest.param(
            SlurParameters(contour=parse_contour(" ".join(["2 3 4 5 6 5 4 3"] * 8)), positions=(OPEN,)), id="contour"
        ),
    ],
)
def test_the_longest_texts_that_are_allowed_stay_on_the_page(
    asked: SlurParameters, engraved: Callable[[Study], bytes]
) -> None:
    page = read(engraved(study(asked))).pages[0]
    assert [text for x, y, text in starts_of_texts(page) if x < 0 or y < 0] == []


@pytest.mark.parametrize(
    "asked",
    [
        pytest.param(
            SlurParameters(
                contour=NAMED["neighbours"], rhythm=Rhythm.EIGHTHS, high=WrittenPitch.parse("C7"),
                positions=(Valves("13"),), rests=Rests.HALF,
            ),
            id="twelve bars in one line",
        ),
        pytest.param(
            SlurParameters(
                contour=NAMED["leaps"], rhythm=Rhythm.TRIPLETS, high=WrittenPitch.parse("C7"), rests=Rests.HALF,
                positions=parse_positions("12 0 13 3 1"), fingerings=Fingerings.EVERY,
            ),
            id="five lines of seventeen bars",
        ),
    ],
)  # fmt: skip
def test_long_lines_are_engraved_too(asked: SlurParameters, engraved: Callable[[Study], bytes]) -> None:
    assert len(read(engraved(study(asked))).pages) >= 1


def test_the_first_complaint_in_a_log_is_found() -> None:
    full = "warning: compressing over-full page by 3.4 staff-spaces\nwarning: page 2 has been compressed\n"
    assert first_complaint(full) == "warning: compressing over-full page by 3.4 staff-spaces"
    assert first_complaint(full, overfull_matters=False) == ""
    assert first_complaint(full + "error: unknown command\n", overfull_matters=False) == "error: unknown command"
    assert first_complaint("all is well\nsheet.ly:3:1: error: syntax error\nwarning: more") == "error: syntax error"
    assert first_complaint("fatal error: no such file") == "fatal error: no such file"
    assert first_complaint("Layout output to `sheet.pdf'...\n") == ""


def test_pdf_bytes_are_the_same_from_two_runs(tmp_path: Path) -> None:
    program = Path(sys.executable).with_name("etudegen")
    made = []
    for seed in ("1", "2"):
        subprocess.run(
            [program, "slurs", "--rhythm", "triplets", "--title", "Größe", "--out", tmp_path / seed],
            env={**os.environ, "PYTHONHASHSEED": seed}, check=True, capture_output=True,
        )  # fmt: skip
        made.append({path.name: path.read_bytes() for path in (tmp_path / seed).iterdir()})
    assert made[0] == made[1]
    assert [name for name in made[0] if name.endswith(".pdf")]


def test_a_fixed_date_takes_the_place_of_another_of_the_same_length() -> None:
    for date in (b"20261125134500Z", b"20261125134500+01'00'", b"2026", b"20261125134500Z00'00'xyz"):
        pdf = b"1 0 obj << /CreationDate (D:" + date + b") /ModDate(D:" + date + b") /Title (D:1999) >>"
        fixed = without_date(pdf)
        assert len(fixed) == len(pdf)
        assert date not in fixed
        assert fixed.endswith(b"/Title (D:1999) >>")
        assert without_date(pdf.replace(b"26", b"27")) == fixed


def test_the_lilypond_text_can_be_engraved_by_itself(workshop: Path) -> None:
    text = lilypond_text(read_page(write_score(study(SlurParameters(partial_numbers=True, rhythm=Rhythm.EIGHTHS)))))
    source = workshop / "alone.ly"
    source.write_text(text, encoding="utf-8")
    run = subprocess.run(
        [find_lilypond(), *OPTIONS, "--pdf", f"--output={workshop / 'alone'}", source], capture_output=True, text=True
    )
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    assert len(read((workshop / "alone.pdf").read_bytes()).pages) == 1


def test_counted_rests_are_printed_as_such_and_every_line_on_a_system_of_its_own() -> None:
    made = study(SlurParameters())
    text = lilypond_text(read_page(write_score(made)))
    assert text[text.index("\\score {\n") :].count(r"\break") == len(made.lines) - 1
    assert text.count("R1") == len(made.lines)
    assert [int(bars) for bars in re.findall(r"R1\*(\d+)", text)] == [
        int(line.events[-1].duration / 4) for line in made.lines
    ]
    assert '"a4"' in text
    assert '"letter"' in lilypond_text(read_page(write_score(replace(made, paper=Paper.LETTER))))
