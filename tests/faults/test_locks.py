"""Whatever lies in the place of a lock: files are written, or one sentence tells why not, soon."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from etudegen.errors import MachineError
from etudegen.files import locking
from etudegen.files.locking import LOCK, only_writer
from tests.command_line import run


def _old(place: Path) -> None:
    place.write_text("1")
    os.utime(place, (0, 0))


def _from_the_future(place: Path) -> None:
    place.touch()
    os.utime(place, (4e9, 4e9))


def _fresh(place: Path) -> None:
    place.touch()


LEFT_BEHIND = [_old, _from_the_future, _fresh]
IN_THE_WAY: list[Callable[[Path], None]] = [
    Path.mkdir,
    lambda place: place.symlink_to("nowhere"),
    lambda place: place.symlink_to(place),
    lambda place: place.symlink_to("."),
]
WRITERS = {
    "sheet": ["slurs", "--format", "midi", "--out", "."],
    "profile": ["profile", "first.toml", "--low", "G3"],
}


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize("left", LEFT_BEHIND)
def test_what_was_left_behind_holds_up_nobody(
    left: Callable[[Path], None], writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    left(tmp_path / LOCK)
    begun = time.monotonic()
    assert run(*WRITERS[writer]).returncode == 0
    assert time.monotonic() - begun < 5
    assert not (tmp_path / LOCK).exists()


@pytest.mark.parametrize("writer", WRITERS)
@pytest.mark.parametrize("way", range(len(IN_THE_WAY)))
def test_what_is_no_file_in_the_place_of_the_lock_is_told(
    way: int, writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    IN_THE_WAY[way](tmp_path / LOCK)
    begun = time.monotonic()
    done = run(*WRITERS[writer])
    assert time.monotonic() - begun < 5
    assert done.returncode == 1
    assert LOCK in done.stderr
    assert "remove it" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == [LOCK]


_HOLDS = """
import sys, time
from pathlib import Path
from etudegen.files.locking import only_writer
with only_writer(Path(sys.argv[1])):
    print("has it", flush=True)
    time.sleep(float(sys.argv[2]))
"""


def _holder(folder: Path, seconds: float) -> "subprocess.Popen[str]":
    holder = subprocess.Popen([sys.executable, "-c", _HOLDS, folder, str(seconds)], stdout=subprocess.PIPE, text=True)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "has it\n"
    return holder


def test_a_lock_that_is_held_too_long_is_told_and_waited_for_no_longer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(locking, "SECONDS_TO_WAIT", 0.3)
    with _holder(tmp_path, 60) as holder:
        told = r"another etudegen has been writing into .* for 0\.3 seconds"
        with pytest.raises(MachineError, match=told), only_writer(tmp_path):
            pass
        # One that dies holds nothing any more.
        holder.kill()
    with only_writer(tmp_path):
        pass


def test_who_waits_has_the_lock_when_the_other_is_ready(tmp_path: Path) -> None:
    with _holder(tmp_path, 0.5), only_writer(tmp_path):
        assert (tmp_path / LOCK).exists()


_COUNTS = """
import sys
from pathlib import Path
from etudegen.files.locking import only_writer
place = Path(sys.argv[1]) / "count"
for _ in range(100):
    with only_writer(place.parent):
        place.write_text(str(int(place.read_text()) + 1))
"""


def test_eight_that_take_turns_are_never_in_at_once(tmp_path: Path) -> None:
    (tmp_path / "count").write_text("0")
    counting = [subprocess.Popen([sys.executable, "-c", _COUNTS, tmp_path]) for _ in range(8)]
    assert [each.wait(60) for each in counting] == [0] * 8
    assert (tmp_path / "count").read_text() == "800"
    assert not (tmp_path / LOCK).exists()
