"""Studios in one folder at once, with kinds of exercise from outside, and with many players."""

import subprocess
import sys
from pathlib import Path

import pytest

from etudegen.errors import MachineError
from etudegen.exercises.kinds import add_kind
from etudegen.practice.journal import Journal
from tests.command_line import run
from tests.kinds.made_up import ECHOES
from tests.kinds.test_adding import OUTLINE

_PROGRAM = [sys.executable, "-c", "from etudegen.cli import main; main()"]


def _band(folder: Path, *names: str) -> Path:
    folder.mkdir()
    for name in names:
        (folder / f"{name}.toml").write_text(f'label = "{name}"\n', encoding="utf-8")
    return folder


def _asked(band: Path, out: Path, *more: object) -> list[str]:
    return ["studio", str(band), "--minutes", "10", "--date", "2026-11-25", "--out", str(out), *map(str, more)]


def test_two_in_one_folder_at_once_lose_nothing(tmp_path: Path) -> None:
    out, journal = tmp_path / "out", tmp_path / "journal.sqlite"
    bands = [_band(tmp_path / "one", "a", "b"), _band(tmp_path / "two", "c", "d"), tmp_path / "one"]
    asked = [_asked(band, out, "--journal", journal) for band in bands]
    studios = [subprocess.Popen([*_PROGRAM, *words], stdout=subprocess.DEVNULL) for words in asked]
    assert [each.wait(120) for each in studios] == [0, 0, 0]
    for words in asked:
        done = run(*words)
        assert done.returncode == 0
        assert done.stdout.count("(unchanged)") == 2
    assert not [path for path in out.iterdir() if path.name.startswith(".etudegen-") and path.suffix != ".json"]


@pytest.mark.usefixtures("plain_press")
def test_books_that_cannot_be_recorded_are_printed_and_the_cause_is_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise MachineError("the disk is full")

    monkeypatch.setattr(Journal, "keep_session", full)
    band, out = _band(tmp_path / "band", "a", "b"), tmp_path / "out"
    done = run(*_asked(band, out, "--workers", "1"))
    assert done.returncode == 1
    assert [Path(line).suffix for line in done.stdout.splitlines()] == [".pdf", ".pdf"]
    assert "recorded in" not in done.stderr
    (sentence,) = [line for line in done.stderr.splitlines() if line.startswith("etudegen: ")]
    why = "the book was made but cannot be recorded: the disk is full"
    assert sentence == f"etudegen: {band / 'a.toml'}, {band / 'b.toml'}: {why}"


@pytest.fixture
def echoes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("etudegen.exercises.kinds._ADDED", {})
    add_kind(ECHOES)


@pytest.mark.usefixtures("echoes")
def test_kinds_that_were_added_are_known_to_all_workers(tmp_path: Path) -> None:
    outline = tmp_path / "echoes.toml"
    outline.write_text(OUTLINE, encoding="utf-8")
    words = _asked(_band(tmp_path / "band", "a", "b"), tmp_path / "out", "--routine", outline)
    words[words.index("10")] = "20"
    done = run(*words)
    assert (done.returncode, len(done.stdout.splitlines())) == (0, 2), done.stderr


_MANY = """
import datetime, gc, sys
from pathlib import Path
from etudegen.practice.days import DaysAsked
from etudegen.sheets.studio import BookRequest, make_requested_book
from etudegen.study import Paper
gc.disable()
folder, day = Path(sys.argv[1]), DaysAsked(datetime.date(2026, 11, 25))
for name in sorted(folder.glob("*.toml")):
    request = BookRequest(
        name, day, 10, None, None, Paper.A4, None, folder / "out", folder / "journal", False
    )
    made = make_requested_book(request, 1)
    assert not made.trouble, made.trouble
    print(next(line.split()[1] for line in Path("/proc/self/status").open() if line.startswith("VmRSS")), flush=True)
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for memory in /proc")
def test_a_worker_needs_no_more_memory_for_many_players_than_for_few(tmp_path: Path) -> None:
    band = _band(tmp_path / "band", *"abcdef")
    made = subprocess.run([sys.executable, "-c", _MANY, band], capture_output=True, text=True, check=True)
    needed = list(map(int, made.stdout.split()))
    assert len(needed) == 6
    assert needed[-1] < 1.03 * needed[1]
