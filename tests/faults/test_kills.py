"""Commands that are ended at any moment leave no half file, no process and no folder, and lose nothing acknowledged."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.faults.kills import Band, end_commands, wait_until

pytestmark = pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for processes in /proc")


def test_commands_ended_at_random_moments_leave_nothing_and_lose_nothing(tmp_path: Path) -> None:
    assert end_commands(tmp_path, 4, seed=1).total() == 4


# Sends a signal to itself when the so many-th module is looked for.
_INTERRUPTED = """
import os, signal, sys
class Finder:
    left, number = int(sys.argv.pop(1)), int(sys.argv.pop(1))
    def find_spec(self, *asked):
        Finder.left -= 1
        if Finder.left == 0:
            os.kill(os.getpid(), self.number)
from etudegen.cli import main
sys.meta_path.insert(0, Finder())
main()
"""


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
@pytest.mark.parametrize("place", [1, 2, 3, 10, 50, 100, 150])
def test_stopped_while_it_is_still_being_loaded_it_says_so(
    place: int, number: signal.Signals, code: int, tmp_path: Path
) -> None:
    run = subprocess.run(
        [sys.executable, "-c", _INTERRUPTED, str(place), str(int(number)), "slurs"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (code, "", "etudegen: stopped\n")
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_what_is_ignored_when_it_is_started_stays_ignored(tmp_path: Path) -> None:
    """Such as what is started by ``nohup``."""
    code = "import signal, os, sys; signal.signal(signal.SIGHUP, signal.SIG_IGN); os.execv(sys.argv[1], sys.argv[1:])"
    run = subprocess.run(
        [sys.executable, "-c", code, sys.executable, "-c", _INTERRUPTED, "50", str(int(signal.SIGHUP)), "kinds"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (run.returncode, run.stderr) == (0, "")


# A LilyPond that hears nothing: neither the end of its input nor a request to end.
_HANGS = """#!/usr/bin/env python3
import signal, time
for each in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
    signal.signal(each, signal.SIG_IGN)
while True:
    time.sleep(60)
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("words", [["studio", "band", "--minutes", "12"], ["slurs"]], ids=lambda words: words[0])
def test_a_lilypond_that_hangs_ends_with_whoever_started_it(
    words: list[str], how: signal.Signals, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    band = Band(tmp_path)
    lilypond = tmp_path / "programs" / "lilypond"
    lilypond.parent.mkdir()
    lilypond.write_text(_HANGS)
    lilypond.chmod(0o755)
    code = (
        "import os, sys, etudegen.engraving.lilypond as lilypond\n"
        "from pathlib import Path\n"
        "lilypond.find_lilypond = lambda: Path(os.environ['HANGING'])\n"
        "import etudegen.engraving.engraver\n"
        "from etudegen.cli import main\n"
        "main()\n"
    )
    # A file, since the workers of a studio begin as their parent did.
    (tmp_path / "hanging.py").write_text(code.replace("main()\n", "if __name__ == '__main__':\n    main()\n"))
    run = subprocess.Popen(
        [sys.executable, tmp_path / "hanging.py", *words],
        cwd=tmp_path, env=band._environment | {"HANGING": str(lilypond)}, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    end = time.monotonic() + 30
    while not any(str(lilypond) in line for line in band.processes()):
        assert time.monotonic() < end
        time.sleep(0.05)
    os.kill(run.pid, how)
    run.communicate(timeout=30)
    assert wait_until(lambda: not band.processes()), band.processes()
    # Only what is killed itself leaves its folder, to be cleared away by the next run: workers clear away their own.
    left = [path for path in band.temporary.iterdir() if path.name != "music21"]
    assert len(left) == (how == signal.SIGKILL and words[0] == "slurs")


def test_locks_of_workers_that_were_left_are_cleared_in_silence() -> None:
    program = (
        "import os; from etudegen.deferral import be_quick; be_quick(); import multiprocessing\n"
        "lock = multiprocessing.get_context('spawn').Lock(); os._exit(130)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")
