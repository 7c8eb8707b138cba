"""Engravers in a process that lives long: waiting, cancelled, in several threads, never used, and killed."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Timer

import pytest

from etudegen.engraving.engraver import Engraver, EngravingCancelledError, SpareEngravers
from etudegen.engraving.page import Page
from etudegen.engraving.reading import read_page
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.files.workshop import Workshop, clear_abandoned
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score

pytestmark = pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for processes in /proc")

# Cancelled, its processes end within this.
SECONDS = 2.0


@pytest.fixture(scope="module")
def page() -> Page:
    return read_page(write_score(study(SlurParameters(positions=(OPEN,)))))


@pytest.fixture(scope="module")
def long_page() -> Page:
    return read_page(write_score(study(SlurParameters(ramp=True))))


def processes_in(folder: Path) -> set[int]:
    """The processes that have a folder, or a place in it, in their command line or as their working folder."""
    found = set()
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state = (process / "stat").read_text().rpartition(")")[2].split()[0]
            told = (process / "cmdline").read_bytes().decode(errors="replace") + os.readlink(process / "cwd")
            if state != "Z" and str(folder) in told:
                found.add(int(process.name))
    return found


def wait_until(true: Callable[[], bool], seconds: float = SECONDS) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.02)
    return true()


def nothing_left(workshop: Path) -> bool:
    return not list(workshop.iterdir()) and not processes_in(workshop)


def test_one_that_is_never_used_leaves_no_process_and_no_folder(workshop: Path) -> None:
    with Engraver(parts=2) as engraver:
        assert engraver.waits
        assert wait_until(lambda: len(processes_in(workshop)) >= 2, 20)
    assert wait_until(lambda: nothing_left(workshop))
    assert not engraver.waits


def test_one_that_has_waited_engraves_what_it_is_handed_then(workshop: Path, page: Page) -> None:
    with Engraver() as engraver:
        assert wait_until(lambda: len(processes_in(workshop)) == 1, 20)
        time.sleep(1)
        engraver.engrave(page)
        assert engraver.pdf().startswith(b"%PDF")
    assert wait_until(lambda: nothing_left(workshop))


@pytest.mark.parametrize("seconds", [0.0, 0.1, 0.4, 0.8])
def test_cancelled_from_another_thread_it_ends_at_once_and_says_so(
    seconds: float, workshop: Path, long_page: Page
) -> None:
    engraver = Engraver(parts=2)
    engraver.engrave(long_page)
    engraver.engrave(long_page)
    timer = Timer(seconds, engraver.cancel)
    timer.start()
    with contextlib.suppress(EngravingCancelledError):
        engraver.pdf()
        pytest.fail("it was ready before it was cancelled: make the page longer")
    timer.join()
    assert wait_until(lambda: nothing_left(workshop))


def test_cancelled_before_it_is_handed_anything_it_refuses(workshop: Path, page: Page) -> None:
    engraver = Engraver()
    engraver.cancel()
    engraver.cancel()
    with pytest.raises(EngravingCancelledError):
        engraver.engrave(page)
    with pytest.raises(EngravingCancelledError):
        engraver.pdf()
    assert wait_until(lambda: nothing_left(workshop))


def test_several_threads_engrave_at_once_each_its_own(workshop: Path, page: Page, long_page: Page) -> None:
    def engraved(content: Page) -> bytes:
        with Engraver() as engraver:
            engraver.engrave(content)
            return engraver.pdf()

    with ThreadPoolExecutor(4) as pool:
        short, long, again, longer = pool.map(engraved, [page, long_page, page, long_page])
    assert short == again
    assert long == longer
    assert short != long
    assert wait_until(lambda: nothing_left(workshop))


def test_spare_ones_are_there_when_wanted_and_go_when_no_longer(workshop: Path, page: Page) -> None:
    with SpareEngravers(pdf=True, svg=True) as spare:
        for _ in range(2):
            with spare.take() as engraver:
                engraver.engrave(page)
                assert engraver.pdf().startswith(b"%PDF")
                (svg,) = engraver.svg()
                assert b"<svg" in svg
        assert len(list(workshop.iterdir())) == 1
    assert wait_until(lambda: nothing_left(workshop))


def test_two_at_once_are_had_too_and_one_waits_again_when_they_have_ended(workshop: Path, page: Page) -> None:
    with SpareEngravers() as spare:
        with spare.take() as one, spare.take() as other:
            assert one is not other
            for engraver in (one, other):
                engraver.engrave(page)
            assert one.pdf() == other.pdf()
        (folder,) = workshop.iterdir()
        with spare.take() as third:
            assert third.folder == folder


def test_a_spare_one_that_has_died_is_not_handed_out(workshop: Path, page: Page) -> None:
    with SpareEngravers() as spare:
        (folder,) = workshop.iterdir()
        spare._waiting[0]._typesetter.kill()
        spare._waiting[0]._typesetter.wait()
        with spare.take() as engraver:
            assert engraver.folder != folder
            engraver.engrave(page)
            assert engraver.pdf().startswith(b"%PDF")


def test_svg_has_a_file_for_each_page(workshop: Path, long_page: Page) -> None:
    with Engraver(pdf=False, svg=True) as engraver:
        engraver.engrave(long_page)
        pages = engraver.svg()
        (made,) = engraver.pages()
        assert made is not None
        assert len(pages) == len(made.filled) > 1
        assert all(b"<svg" in page for page in pages)


_DIES = """
import os, signal, sys, time
from etudegen.engraving.engraver import Engraver
from etudegen.engraving.reading import read_page
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.notation.score import write_score
page = read_page(write_score(study(SlurParameters(ramp=True))))
engraver = Engraver(parts=2)
if sys.argv[1] == "engraving":
    engraver.engrave(page)
    engraver._await("set", 0)
else:
    time.sleep(0.5)
print(engraver.folder, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.fixture
def killed(workshop: Path) -> Iterator[Callable[[str], Path]]:
    """Return a function that starts a process with an engraver and kills it, and returns the folder it leaves."""

    def start(what: str) -> Path:
        run = subprocess.run([sys.executable, "-c", _DIES, what], capture_output=True, text=True)
        assert run.returncode == -signal.SIGKILL
        return Path(run.stdout.strip())

    return start


@pytest.mark.parametrize("what", ["waiting", "engraving"])
def test_the_processes_of_a_killed_process_end_and_a_later_one_clears_its_folder(
    what: str, killed: Callable[[str], Path], workshop: Path
) -> None:
    folder = killed(what)
    assert folder.is_dir()
    assert wait_until(lambda: not processes_in(workshop))
    with Engraver() as engraver:
        assert list(workshop.iterdir()) == [engraver.folder]


def test_folders_in_use_and_kept_ones_and_strange_ones_are_not_cleared(workshop: Path) -> None:
    used, kept, ended = Workshop(), Workshop(), Workshop()
    (kept.folder / "log").touch()
    kept.close(keep=True)
    strange = workshop / "etudegen-of-somebody"
    strange.mkdir()
    (workshop / "etudegen-file").touch()
    (workshop / "other").mkdir()
    (workshop / "other" / "in-use").touch()
    ended._lock.close()
    clear_abandoned()
    left = {used.folder, kept.folder, strange, workshop / "etudegen-file", workshop / "other"}
    assert set(workshop.iterdir()) == left
    used.close()
    assert set(workshop.iterdir()) == left - {used.folder}
