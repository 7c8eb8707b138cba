"""Mistakes on the command line: exit code 2, one sentence with the value, and nothing written."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from etudegen.cli.commands import run
from etudegen.cli.exercise import parse_formats
from etudegen.cli.parsing import carry_out
from etudegen.errors import InputError, MachineError
from etudegen.sheets.contents import Format

MISTAKES = [
    (["--low", "G5", "--high", "C4"], ["G5", "C4"]),
    (["--low", "H9"], ["H9", "A to G"]),
    (["--low", "C4", "--high", "D4"], ["C4", "D4"]),
    (["--low", "C1"], ["C1", "F#2", "C7"]),
    (["--tempo", "0"], ["'0'", "20", "300"]),
    (["--tempo", "301"], ["'301'", "20", "300"]),
    (["--tempo", "abc"], ["'abc'", "20", "300"]),
    (["--contour", "blob"], ["'blob'", "sweep"]),
    (["--contour", "2 x"], ["'2 x'", "2 3 4 3 2"]),
    (["--contour", "1 2"], ["'1 2'", "2 to 16"]),
    (["--positions", "4"], ["'4'", "123"]),
    (["--positions", "0 0"], ["'0 0'", "once"]),
    (["--paper", "A5"], ["'A5'", "Letter"]),
    (["--rests", "maybe"], ["'maybe'", "half"]),
    (["--format", "gif"], ["'gif'", "pdf"]),
    (["--format", ""], ["''", "pdf"]),
    (["--seed", "-1"], ["'-1'", "0"]),
    (["--instrument", "kazoo"], ["'kazoo'", "trumpet-c"]),
    (["--title", "x" * 121], ["121", "120"]),
    (["--title", "two\nlines" * 20], ["120"]),
    (["--unheard-of"], ["--unheard-of"]),
    (["--tempo"], ["--tempo"]),
    (["surplus"], ["surplus"]),
    (["sur\nplus\r"], ["sur", "plus"]),
    (["--ramp", "--contour", "leaps"], ["ramp", "contour"]),
    (["--ramp", "--rhythm", "eighths"], ["ramp", "rhythm"]),
]


def complaint(arguments: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """The sentence that a command line which is refused leaves on standard error."""
    assert run(arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    (sentence,) = printed.err.splitlines()
    assert sentence.startswith("etudegen: ")
    assert "Traceback" not in sentence
    assert list(folder.iterdir()) == [], "nothing is written"
    assert list((folder.parent / "elsewhere").iterdir()) == [], "no temporary file is left"
    return sentence


@pytest.mark.parametrize(("arguments", "told"), MISTAKES, ids=lambda value: " ".join(value)[:30])
def test_a_mistake_is_told_in_one_sentence_with_the_value_and_what_is_allowed(
    arguments: list[str], told: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sentence = complaint(["slurs", *arguments], folder, capsys)
    for words in told:
        assert words in sentence


def test_an_unknown_command_is_told_with_those_there_are(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sentence = complaint(["sight-reading"], folder, capsys)
    assert "'sight-reading'" in sentence
    assert "slurs" in sentence


@pytest.mark.parametrize(
    "title", ["be\x07ll", "none\uffff", "Gr\udcfc\udcdfe", "two\nlines", "\u202eright to left"], ids=ascii
)
def test_any_title_gives_a_sheet_or_a_sentence(title: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = run(["slurs", "--title", title, "--positions", "0"])
    printed = capsys.readouterr()
    assert code in (0, 2), printed.err
    assert len(printed.out.splitlines()) == (3 if code == 0 else 0)


def test_a_concert_note_beyond_the_instrument_is_told_as_it_was_typed(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "E1" in complaint(["slurs", "--concert", "--low", "E1"], folder, capsys)


@pytest.mark.parametrize(
    ("trouble", "code", "told"),
    [
        (InputError("two\n  lines"), 2, "etudegen: two lines\n"),
        (MachineError("two\n  lines"), 1, "etudegen: two lines\n"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_each_way_to_fail_has_its_exit_code_and_one_line(
    trouble: BaseException, code: int, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def command() -> None:
        raise trouble

    assert carry_out("slurs", command, []) == code
    assert capsys.readouterr() == ("", told)


def test_formats_are_read_with_commas_once_each() -> None:
    assert parse_formats("pdf") == (Format.PDF,)
    assert parse_formats("midi, PDF,midi") == (Format.MIDI, Format.PDF)


@given(st.text("pdfmil y,x"))
def test_any_list_of_formats_is_read_or_refused_with_those_there_are(text: str) -> None:
    try:
        formats = parse_formats(text)
    except InputError as refused:
        assert "pdf,musicxml,midi,ly" in str(refused)  # noqa: PT017
    else:
        assert {str(format_) for format_ in formats} == {word.strip() for word in text.split(",")} - {""}


@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    option=st.sampled_from(["--low", "--tempo", "--contour", "--positions", "--rests", "--direction", "--seed"]),
    value=st.text(st.characters(exclude_categories=("Cs",)), max_size=12),
)
def test_any_text_after_an_option_ends_without_a_traceback(
    option: str, value: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = run(["slurs", "--format", "ly", "--out", "/dev/null/x", option, value])
    assert code == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert sentence.startswith("etudegen: ")
