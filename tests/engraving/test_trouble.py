"""When LilyPond is missing or fails: one sentence, exit code 1, and no files."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from etudegen.engraving.engraver import Engraver
from etudegen.engraving.lilypond import VARIABLE, find_lilypond
from etudegen.engraving.reading import read_page
from etudegen.errors import MachineError
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score
from etudegen.sheets.contents import Format
from etudegen.sheets.sheet import write_sheets

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the stand-ins for LilyPond are shell scripts")

PROGRAM = Path(sys.executable).with_name("etudegen")
ONE_LINE = study(SlurParameters(positions=(OPEN,)))
READS_ALL = "cat > /dev/null\n"
FINDS_OUTPUT = 'for each in "$@"; do case "$each" in --output=*) output=${each#--output=};; esac; done\n'

# What a stand-in for LilyPond does, and what of it the player has to be told.
FAILURES = {
    "fails after reading": (READS_ALL + "echo 'error: x' >&2; exit 1\n", "error: x"),
    "fails at once": ("echo 'error: x' >&2; exit 1\n", "error: x"),
    "complains on standard output": (READS_ALL + "echo 'sheet.ly:1:2: error: x'; exit 1\n", "error: x"),
    "hangs without reading and exits": ("sleep 0.3; exit 3\n", "LilyPond could not engrave the page"),
    "is killed": (READS_ALL + "kill -9 $$\n", "LilyPond could not engrave the page"),
    "prints nothing and says all is well": (READS_ALL, "LilyPond could not engrave the page"),
    "warns": (
        FINDS_OUTPUT + READS_ALL + "echo '%PDF' > \"$output.pdf\"; echo 'warning: no glyph' >&2\n",
        "warning: no glyph",
    ),
    "finds every page over-full": (
        FINDS_OUTPUT + READS_ALL + "echo '%PDF' > \"$output.pdf\"; echo 'warning: compressing over-full page' >&2\n",
        "over-full page",
    ),
}


@pytest.fixture
def stand_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Path]:
    """Return a function that puts a shell script in the place of LilyPond."""

    def put(script: str) -> Path:
        place = tmp_path / "lilypond-stand-in"
        place.write_text(f"#!/bin/sh\n{script}")
        place.chmod(0o755)
        monkeypatch.setenv(VARIABLE, str(place))
        return place

    return put


def printed() -> bytes:
    with Engraver() as engraver:
        engraver.engrave(read_page(write_score(ONE_LINE)))
        return engraver.pdf()


@pytest.mark.parametrize(("script", "told"), FAILURES.values(), ids=list(FAILURES))
def test_what_goes_wrong_in_lilypond_is_told_in_one_sentence_and_no_file_is_written(
    script: str, told: str, stand_in: Callable[[str], Path], workshop: Path, tmp_path: Path
) -> None:
    stand_in(script)
    out = tmp_path / "out"
    with pytest.raises(MachineError) as failed:
        write_sheets([ONE_LINE], out)
    assert told in str(failed.value)
    assert list(out.iterdir()) == []
    (kept,) = workshop.iterdir()
    assert str(kept) in str(failed.value)
    assert (kept / "sheet.ly").read_text(encoding="utf-8").startswith("\\version")
    assert (kept / "lilypond.log").is_file()


@pytest.mark.parametrize("name", ["fails after reading", "fails at once", "hangs without reading and exits"])
def test_on_the_command_line_a_failing_lilypond_is_one_line_and_exit_code_1(
    name: str, stand_in: Callable[[str], Path], workshop: Path, tmp_path: Path
) -> None:
    script, told = FAILURES[name]
    stand_in(script)
    out = tmp_path / "out"
    run = subprocess.run([PROGRAM, "slurs", "--out", out], capture_output=True, text=True)
    assert (run.returncode, run.stdout) == (1, "")
    (sentence,) = run.stderr.splitlines()
    assert sentence.startswith("etudegen: ")
    assert told in sentence
    assert list(out.iterdir()) == []


def test_a_missing_lilypond_is_told_with_the_variable_that_names_it(
    workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, "/nonexistent")
    out = tmp_path / "out"
    with pytest.raises(MachineError, match=f"no LilyPond at '/nonexistent'.*{VARIABLE}"):
        write_sheets([ONE_LINE], out)
    assert list(out.iterdir()) == []
    assert list(workshop.iterdir()) == []
    run = subprocess.run([PROGRAM, "slurs", "--out", out], capture_output=True, text=True)
    assert (run.returncode, run.stdout) == (1, "")
    (sentence,) = run.stderr.splitlines()
    assert sentence.startswith("etudegen: no LilyPond at '/nonexistent'")
    assert list(out.iterdir()) == []


def test_without_a_package_and_without_a_program_the_player_is_told_to_install_lilypond(
    workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setitem(sys.modules, "lilypond", None)
    monkeypatch.setenv("PATH", str(workshop))
    with pytest.raises(MachineError, match=f"LilyPond was not found: install it .*{VARIABLE}"):
        find_lilypond()


def test_a_lilypond_on_the_path_is_used_where_the_package_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "lilypond"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setitem(sys.modules, "lilypond", None)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert find_lilypond() == program


def test_a_file_that_is_no_program_is_told(workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "garbage"
    place.write_bytes(b"\x00\x01garbage")
    monkeypatch.setenv(VARIABLE, str(place))
    with pytest.raises(MachineError, match="no LilyPond at"):
        printed()
    place.chmod(0o755)
    with pytest.raises(MachineError, match="does not start"):
        printed()
    assert list(workshop.iterdir()) == []


def test_midi_and_musicxml_and_lilypond_text_need_no_lilypond(
    workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, "/nonexistent")
    sheet = write_sheets([ONE_LINE], tmp_path / "out", (Format.MIDI, Format.MUSICXML, Format.LY))
    assert [path.suffix for path in sheet.files] == [".mid", ".musicxml", ".ly"]
    assert all(path.stat().st_size > 100 for path in sheet.files)
    assert list(workshop.iterdir()) == []


def test_lilypond_is_run_once_whatever_it_says(stand_in: Callable[[str], Path], workshop: Path, tmp_path: Path) -> None:
    runs = tmp_path / "runs"
    stand_in(f"echo run >> {runs}\n" + FAILURES["finds every page over-full"][0])
    with pytest.raises(MachineError):
        printed()
    assert runs.read_text().split() == ["run"]


def test_other_warnings_beside_over_full_pages_are_not_passed_over(
    stand_in: Callable[[str], Path], workshop: Path
) -> None:
    stand_in(
        FINDS_OUTPUT + 'cat > "$output.pdf"\n'
        "echo 'warning: compressing over-full page' >&2; echo 'warning: slur collides' >&2\n"
    )
    with pytest.raises(MachineError, match=r"slur collides|over-full"):
        printed()


def test_no_room_for_temporary_files_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "missing"))
    with pytest.raises(MachineError, match=r"no room to work in .*missing"):
        Engraver()


def test_a_page_that_cannot_be_set_is_told(workshop: Path) -> None:
    with Engraver(pdf=False) as engraver:
        engraver.engrave("no page at all")
        with pytest.raises(MachineError, match=r"the page could not be set: .*kept in"):
            engraver.text()


def test_an_engraving_that_takes_too_long_is_ended_and_told(
    stand_in: Callable[[str], Path], workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(READS_ALL + "exec sleep 300\n")
    monkeypatch.setattr("etudegen.engraving.engraver.SECONDS_TO_ENGRAVE", 0.5)
    with pytest.raises(MachineError, match="LilyPond did not end within"):
        printed()
