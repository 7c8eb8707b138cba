"""Standard output and error closed, full or left by their reader: files are made, and the exit code tells the truth."""

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from etudegen.cli.terminal import LONGEST_MESSAGE, complain, fit_streams, tell_made
from etudegen.plain_text import fit_for_a_terminal, shortened
from tests.faults.wrong import steers_a_terminal

pytestmark = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="the streams are those of Linux")

PROGRAM = Path(sys.executable).with_name("etudegen")
# How a shell hands over the streams, with what stands in "$@" being the program.
STREAMS = {
    "output full": '"$@" > /dev/full', "output closed": '"$@" >&-', "error full": '"$@" 2> /dev/full',
    "error closed": '"$@" 2>&-', "both full": '"$@" > /dev/full 2> /dev/full', "both closed": '"$@" >&- 2>&-',
    "all closed": '"$@" <&- >&- 2>&-', "output left": '{ "$@"; echo $? > code; } | true; exit $(cat code)',
    "error left": '{ "$@" 2>&1 >&3 3>&-; echo $? > code; } 3>out.txt | true; exit $(cat code)',
}  # fmt: skip
MAKES = {
    "slurs": ["slurs", "--format", "midi,ly", "--out", "made"],
    "transpose": ["transpose", "tune.musicxml", "--keys", "C", "--format", "midi,ly", "--out", "made"],
    "play-along": ["play-along", "tune.musicxml", "--sound", "none", "--out", "made"],
    "profile": ["profile", "made/first.toml", "--label", "First"],
}
PLAYER = str(Path(__file__).parents[2] / "demo" / "harbour-band" / "first-chair.toml")
ANSWERS = [
    ["fingerings"], ["routine"], ["history", "--profile", PLAYER], ["--help"], ["--version"], ["kinds", "--help"],
]  # fmt: skip
TUNE = Path(__file__).parents[2] / "demo" / "harbour-band" / "quay-waltz.musicxml"


def run(streams: str, *words: str, folder: Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        ["/bin/bash", "-c", STREAMS[streams], "bash", PROGRAM, *words], cwd=folder, capture_output=True, text=True
    )


@pytest.mark.parametrize("command", MAKES)
@pytest.mark.parametrize("streams", STREAMS)
def test_files_are_made_whatever_becomes_of_the_streams(streams: str, command: str, tmp_path: Path) -> None:
    (tmp_path / "tune.musicxml").write_bytes(TUNE.read_bytes())
    done = run(streams, *MAKES[command], folder=tmp_path)
    assert done.returncode == 0, done.stderr
    files = [path for path in (tmp_path / "made").iterdir() if not path.name.startswith(".")]
    assert files
    assert all(path.stat().st_size > 10 for path in files)
    assert "Traceback" not in done.stderr
    if "output" in streams and "left" not in streams:
        assert done.stderr.startswith("etudegen: it is made, but cannot write to standard output: ")


@pytest.mark.parametrize("streams", STREAMS)
@pytest.mark.parametrize("words", ANSWERS, ids=" ".join)
def test_an_answer_that_nobody_got_is_the_machines_failure(streams: str, words: list[str], tmp_path: Path) -> None:
    done = run(streams, *words, folder=tmp_path)
    got = "error" in streams or "left" in streams
    assert done.returncode == (0 if got else 1)
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("streams", STREAMS)
def test_wrong_input_is_told_by_the_exit_code_alone_if_need_be(streams: str, tmp_path: Path) -> None:
    assert run(streams, "slurs", "--low", "H9", folder=tmp_path).returncode == 2
    assert run(streams, "sight-reading", folder=tmp_path).returncode == 2


def test_that_nobody_can_be_told_is_said_once_however_much_was_made(monkeypatch: pytest.MonkeyPatch) -> None:
    said = io.StringIO()
    with open("/dev/full", "w", encoding="utf-8") as full:
        monkeypatch.setattr(sys, "stdout", full)
        monkeypatch.setattr(sys, "stderr", said)
        with fit_streams():
            for name in ("first.pdf", "second.pdf", "third.pdf"):
                tell_made(name)
        # What it still holds goes nowhere either.
        with contextlib.suppress(OSError):
            full.flush()
        monkeypatch.undo()
        os.dup2(os.open(os.devnull, os.O_WRONLY), full.fileno())
    assert said.getvalue().splitlines() == [
        "etudegen: it is made, but cannot write to standard output: No space left on device"
    ]


def test_no_file_takes_the_place_of_a_closed_stream(tmp_path: Path) -> None:
    # What a library writes to a closed standard error would else land in the first file that is opened.
    done = run("all closed", "slurs", "--format", "pdf,midi", "--positions", "0", folder=tmp_path)
    assert done.returncode == 0
    (pdf,) = (tmp_path / "output").glob("*.pdf")
    assert pdf.read_bytes().startswith(b"%PDF-")


def test_what_steers_a_terminal_is_taken_out_of_all_that_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    hostile = "a\x1b[31m\x07\x9b2J\u202eb\u2066\u200fc\ud800\udcff\x85d"
    with fit_streams():
        print(hostile)
        complain(hostile)
        sys.stderr.write(f"replaced: {hostile}\n")
    printed = capsys.readouterr()
    assert steers_a_terminal(printed.out + printed.err) == []
    assert printed.out == "a [31m  2Jbc\ufffd\ufffd d\n"


def test_a_mistake_of_the_program_itself_is_one_line_too(tmp_path: Path) -> None:
    script = (
        "import sys\nfrom etudegen.cli import commands, main\n"
        "def mistaken(arguments): raise RuntimeError('a\\x1b\\nb' * 900)\n"
        "commands.run = mistaken\nmain()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("etudegen: a mistake in etudegen itself (RuntimeError: a")
    assert steers_a_terminal(line) == []
    assert len(line) <= LONGEST_MESSAGE


def test_signs_of_several_parts_and_other_scripts_stay() -> None:
    for text in ("👩\u200d🎤 Größe", "שלום", "مرحبا", "中文", "F♯3", "e\u0301"):
        assert fit_for_a_terminal(text) == text


@pytest.mark.parametrize("length", [10, 499, 500, 501, 5_000, 1_000_000])
def test_a_message_has_a_bounded_length_and_keeps_both_its_ends(
    length: int, capsys: pytest.CaptureFixture[str]
) -> None:
    with fit_streams():
        complain(f"cannot read {'x' * length!r}: write a letter A to G")
    (line,) = capsys.readouterr().err.splitlines()
    assert len(line) <= LONGEST_MESSAGE
    assert line.startswith("etudegen: cannot read 'xxxx")
    assert line.endswith("x': write a letter A to G")
    assert len(shortened("y" * length, LONGEST_MESSAGE)) == min(length, LONGEST_MESSAGE)
