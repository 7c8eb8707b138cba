"""How much memory long requests need, with all the processes that work for them."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.tunes.hostile import bars, note, score

pytestmark = pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="looks for processes in /proc")
_PROGRAM = [sys.executable, "-c", "from etudegen.cli import main; main()"]


def _family(process: int) -> list[int]:
    family = [process]
    for thread in Path(f"/proc/{process}/task").glob("*/children"):
        try:
            family += [each for child in thread.read_text().split() for each in _family(int(child))]
        except OSError:
            continue
    return family


def _own_kilobytes(process: int) -> int:
    """What a process has for itself; what it shares of libraries on the disk is not counted."""
    try:
        told = Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0
    return int(told.partition("RssAnon:")[2].split()[0]) if "RssAnon:" in told else 0


def _most_megabytes(folder: Path, *words: object) -> float:
    running = subprocess.Popen(
        [*_PROGRAM, *map(str, words)], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env=os.environ | {"TMPDIR": str(folder)},
    )  # fmt: skip
    most = 0
    while running.poll() is None:
        most = max(most, sum(map(_own_kilobytes, _family(running.pid))))
        time.sleep(0.05)
    assert running.returncode == 0
    return most / 1024


def test_a_tune_of_four_hundred_measures_on_paper_needs_less_than_700_megabytes(tmp_path: Path) -> None:
    measures = ["".join(note("CDEFGAB"[(place + each) % 7], 1) for each in range(8)) for place in range(34)]
    (tmp_path / "tune.musicxml").write_text(score(bars(*measures)), encoding="utf-8")
    assert _most_megabytes(tmp_path, "transpose", "tune.musicxml") < 700


def test_the_longest_session_needs_less_than_500_megabytes(tmp_path: Path) -> None:
    assert _most_megabytes(tmp_path, "session", "--minutes", 240, "--date", "2026-11-25") < 500
