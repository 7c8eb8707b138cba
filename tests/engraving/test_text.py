"""Texts from people inside LilyPond, which runs any code it finds."""

import io
import subprocess
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
from hypothesis import example, given, settings
from hypothesis import strategies as st

from etudegen.engraving.lilypond import find_lilypond
from etudegen.engraving.reading import read_page
from etudegen.engraving.text import quoted
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score
from etudegen.study import Study
from tests.printing import printed_together
from tests.strategies import NASTY_TITLES

ONE_LINE = study(SlurParameters(positions=(OPEN,)))
_ESCAPES = {"n": "\n", "t": "\t", "\\": "\\", '"': '"', "'": "'"}


def read_string(source: str) -> tuple[str, str]:
    """Read the LilyPond string that a source begins with; return it and what follows its closing quote.

    As in LilyPond's own lexer: a backslash escapes n, t, backslash and quotes, and is itself before anything else.
    """
    assert source[0] == '"', "no string begins here"
    text, at = "", 1
    while source[at] != '"':
        if source[at] == "\\" and source[at + 1] in _ESCAPES:
            text += _ESCAPES[source[at + 1]]
            at += 2
        else:
            text += source[at]
            at += 1
    return text, source[at + 1 :]


@settings(max_examples=200)
@given(st.text(st.characters()) | st.text('"\\\n\t\r #%{}()$a'))
@example('\\"')
@example("\\")
@example('\\\\"')
@example("%{")
@example("a\u2028b\u2029c\x85d\ud800e")
def test_any_text_becomes_one_string_that_reads_as_that_text_with_spaces_for_control_characters(text: str) -> None:
    result = quoted(text)
    read, rest = read_string(result)
    assert rest == ""
    assert len(read) == len(text)
    for given_sign, sign in zip(text, read, strict=True):
        if unicodedata.category(given_sign) in ("Cc", "Cs", "Zl", "Zp"):
            assert sign == " "
        else:
            assert sign == given_sign


@settings(max_examples=200)
@given(st.text(st.characters()))
def test_no_newline_and_nothing_that_cannot_be_encoded_is_left(text: str) -> None:
    result = quoted(text)
    assert len(result.splitlines()) == 1
    result.encode("utf-8")


def test_lilypond_does_run_code_in_its_input(tmp_path: Path) -> None:
    # Without this the next test would prove nothing.
    touched = tmp_path / "TOUCHED"
    source = tmp_path / "sheet.ly"
    source.write_text(f'\\header {{ title = #(begin (system "touch {touched}") "x") }}\n', encoding="utf-8")
    subprocess.run([find_lilypond(), "-o", tmp_path / "sheet", source], capture_output=True, check=True)
    assert touched.exists()


def test_a_title_made_to_run_code_is_printed_and_not_run(
    engraved: Callable[[Study], bytes], workshop: Path, tmp_path: Path
) -> None:
    touched = tmp_path / "TOUCHED"
    title = (
        f'He said "play" \\ %{{ then #(system "touch {touched}") \\" #(system "touch {touched}") \n '
        f'$(system "touch {touched}") \\markup "x" }} }} 😀 שלום end'
    )
    pdf = pypdf.PdfReader(io.BytesIO(engraved(replace(ONE_LINE, title=title, subtitle=title, instruction=title))))
    assert not touched.exists()
    assert list(workshop.iterdir()) == []
    printed = "".join(page.extract_text() for page in pdf.pages)
    kept = "".join(printed.split())
    for words in ('He said "play" \\ %{ then #(system "touch', '\\markup "x" } }'):
        assert "".join(words.split()) in kept
    assert pdf.metadata.title.split() == title.split()


def test_every_nasty_title_is_engraved_and_all_are_kept_in_the_description(
    engraved: Callable[[Study], bytes],
) -> None:
    studies = {f"title {number}": replace(ONE_LINE, title=title) for number, title in enumerate(NASTY_TITLES)}
    printed_together({name: read_page(write_score(made)) for name, made in studies.items()})
    title = " ".join(NASTY_TITLES)
    pdf = pypdf.PdfReader(io.BytesIO(engraved(replace(ONE_LINE, title=title))))
    assert pdf.metadata.title.split() == title.split()


def test_labels_and_headings_and_fingerings_cannot_run_code_either(
    engraved: Callable[[Study], bytes], tmp_path: Path
) -> None:
    touched = tmp_path / "TOUCHED"
    text = f'" #(system "touch {touched}") "'
    (line,) = ONE_LINE.lines
    first, *others = line.events
    marked = (replace(first, fingering=text, partial_number=text), *others)
    made = replace(ONE_LINE, lines=(replace(line, label=text, heading=text, events=marked),), caution=text)
    assert engraved(made).startswith(b"%PDF")
    assert not touched.exists()


def test_a_title_with_a_character_that_no_font_has_does_not_cost_the_player_the_sheet(
    engraved: Callable[[Study], bytes],
) -> None:
    # U+0378 is assigned to no character, so no font has it, whatever is installed.
    assert engraved(replace(ONE_LINE, title="Warm up \u0378")).startswith(b"%PDF")
