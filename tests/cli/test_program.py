"""The installed program, as a player's terminal runs it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import mido
import pypdf
import pytest

PROGRAM = Path(sys.executable).with_name("etudegen")


def run(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, encoding="utf-8", **options)


def one_complaint(done: subprocess.CompletedProcess[str], code: int = 2) -> str:
    """The one sentence on standard error of a run that failed."""
    assert (done.returncode, done.stdout) == (code, "")
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("etudegen: ")
    return sentence


def files_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if not path.name.startswith("."))


def test_a_run_without_options_prints_the_paths_of_three_files_that_exist(folder: Path) -> None:
    done = run("slurs")
    assert (done.returncode, done.stderr) == (0, "")
    paths = [Path(line) for line in done.stdout.splitlines()]
    assert [path.suffix for path in paths] == [".pdf", ".musicxml", ".mid"]
    assert {path.parent for path in paths} == {Path("output")}
    assert {path.stem for path in paths} == {"slurs-Fs3-G5-72"}
    assert files_in(folder) == sorted(["output", *map(str, paths)])
    assert len(pypdf.PdfReader(paths[0]).pages) == 1
    assert paths[1].read_bytes().startswith(b"<?xml")
    assert mido.MidiFile(paths[2]).length > 60
    assert list((folder.parent / "elsewhere").iterdir()) == [], "temporary files are cleared away"


def test_json_tells_files_bars_times_and_what_was_left_out(folder: Path) -> None:
    done = run(
        "slurs", "--json", "--format", "midi", "--low", "C4", "--high", "C5", "--contour", "2 3 4", "--tempo", "60"
    )
    assert (done.returncode, done.stderr) == (0, "")
    told = json.loads(done.stdout)
    assert set(told) == {"files", "bars", "playing_seconds", "resting_seconds", "skipped"}
    (file,) = told["files"]
    assert abs(mido.MidiFile(file).length - told["playing_seconds"] - told["resting_seconds"]) < 0.001
    # Two quarters and a hold to the next barline, then as much rest: 4 + 4 seconds at 60 a minute.
    assert (told["bars"], told["playing_seconds"], told["resting_seconds"]) == (2, 4, 4)
    assert {"what": "position 2", "why": "partial 2 is B3, outside C4 to C5"} in told["skipped"]
    assert len(told["skipped"]) == 6


def test_what_was_left_out_is_told_on_standard_error_beside_the_paths(folder: Path) -> None:
    done = run("slurs", "--format", "midi", "--low", "C4", "--high", "C5", "--contour", "2 3 4")
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 1
    assert done.stderr.splitlines()[0] == "left out: position 2: partial 2 is B3, outside C4 to C5"
    assert len(done.stderr.splitlines()) == 6


def test_the_lilypond_text_is_written_when_asked_for(folder: Path) -> None:
    done = run("slurs", "--format", "ly", "--out", "sheets", "--title", 'Nr. 1 "x" \\')
    assert (done.returncode, done.stderr) == (0, "")
    assert files_in(folder) == ["sheets", done.stdout.strip()]
    text = Path(done.stdout.strip()).read_text(encoding="utf-8")
    assert 'title = "Nr. 1 \\"x\\" \\\\"' in text
    assert str(folder) not in text


def test_all_formats_at_once_in_any_order_and_case(folder: Path) -> None:
    done = run("slurs", "--format", " LY, midi,pdf ,musicxml,midi", "--positions", "0")
    assert (done.returncode, done.stderr) == (0, "")
    assert [Path(line).suffix for line in done.stdout.splitlines()] == [".ly", ".mid", ".pdf", ".musicxml"]


def test_concert_pitch_is_asked_for_with_a_flag(folder: Path) -> None:
    done = run("slurs", "--concert", "--low", "E3", "--high", "F5", "--format", "midi")
    assert Path(done.stdout.strip()).name == "slurs-Fs3-G5-72.mid"


def test_a_file_in_place_of_the_folder_is_refused(folder: Path) -> None:
    (folder / "sheets").write_text("mine")
    assert "'sheets'" in one_complaint(run("slurs", "--out", "sheets"))
    assert (folder / "sheets").read_text() == "mine"
    assert files_in(folder) == ["sheets"]


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="needs a place that nobody can write to")
def test_a_place_that_cannot_be_written_to_is_refused(folder: Path) -> None:
    assert "'/proc/x'" in one_complaint(run("slurs", "--out", "/proc/x"))


def test_a_sheet_can_be_made_again_in_place_but_not_over_an_edited_file(folder: Path) -> None:
    command = ("slurs", "--format", "midi,musicxml", "--positions", "0,2")
    assert run(*command).returncode == 0
    assert run(*command).returncode == 0
    (edited,) = (folder / "output").glob("*.musicxml")
    (other,) = (folder / "output").glob("*.mid")
    edited.write_text("my own markings")
    before = other.stat().st_mtime_ns
    sentence = one_complaint(run(*command))
    assert edited.name in sentence
    assert "--force" in sentence
    assert edited.read_text() == "my own markings"
    assert other.stat().st_mtime_ns == before
    assert run(*command, "--force").returncode == 0
    assert edited.read_bytes().startswith(b"<?xml")


def test_a_foreign_file_is_not_overwritten_by_a_pdf(folder: Path) -> None:
    (folder / "output").mkdir()
    mine = folder / "output" / "slurs-Fs3-G5-72.pdf"
    mine.write_bytes(b"mine")
    assert mine.name in one_complaint(run("slurs"))
    assert mine.read_bytes() == b"mine"
    assert len(files_in(folder)) == 2


@pytest.mark.skipif(os.name == "nt", reason="limits on the size of files are POSIX")
def test_a_write_that_fails_half_way_leaves_nothing(folder: Path) -> None:
    def limit() -> None:
        import resource

        # The MIDI file is smaller than this, the MusicXML file larger.
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    done = run("slurs", "--format", "midi,musicxml", "--out", "sheets", preexec_fn=limit)
    assert "cannot write into 'sheets'" in one_complaint(done, 1)
    assert list((folder / "sheets").iterdir()) == []


def test_a_title_that_is_no_utf_8_is_printed_or_refused_without_a_traceback(folder: Path) -> None:
    done = subprocess.run([PROGRAM, "slurs", "--title", b"Gr\xfc\xdfe"], capture_output=True)
    assert b"Traceback" not in done.stderr
    assert done.returncode in (0, 2)


def test_a_concert_note_with_double_accidentals_is_read_or_refused_without_a_traceback(folder: Path) -> None:
    done = run("slurs", "--concert", "--low", "E##3", "--format", "midi")
    assert "Traceback" not in done.stderr
    assert done.returncode in (0, 2)


def test_help_is_printed_for_the_program_and_for_a_command(folder: Path) -> None:
    overview = run("--help")
    assert (overview.returncode, overview.stderr) == (0, "")
    assert "  slurs " in overview.stdout
    assert run().stdout == run("-h").stdout == overview.stdout
    options = run("slurs", "--help")
    assert (options.returncode, options.stderr) == (0, "")
    for option in ("--low", "--far-partials", "--contour", "--concert", "--out", "--format", "--force", "--json"):
        assert option in options.stdout
    assert files_in(folder) == []


def test_the_version_is_printed(folder: Path) -> None:
    done = run("--version")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split()[0] == "etudegen"


def test_a_reader_that_has_read_enough_is_no_error_to_complain_of(folder: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run([PROGRAM, "slurs", "--format", "midi"], stdout=write, stderr=subprocess.PIPE, text=True)
    os.close(write)
    assert done.stderr == ""
