"""The press: LilyPond and the setter, started before there is anything to print.

Both need about as long to start as to work, so they are started as soon as it is clear that a page will be
printed, and load their libraries while the score is still being made. The setter's text runs straight into
LilyPond; nothing waits for anything but music.
"""

import os
import pickle
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from pathlib import Path
from threading import Thread
from time import sleep
from types import TracebackType
from typing import IO, TYPE_CHECKING, NoReturn, Self

from etudegen.engraving.lilypond import OPTIONS, find_lilypond, first_complaint, is_overfull
from etudegen.engraving.pdf import without_date
from etudegen.errors import MachineError

if TYPE_CHECKING:
    # Not loaded with the press: it has to be started before anything else is.
    from etudegen.engraving.book import Book
    from etudegen.engraving.page import Page

# As many as share what is made alone; books made side by side need no more than one each.
PRESSES = 2
_SECONDS_TO_STOP = 5
_SECONDS_BETWEEN_LOOKS = 0.002
_SECONDS_TO_ENGRAVE = 900
_ANNOUNCED = re.compile(r"etudegen-page (\d+) (\d+)\n")
_MOST_SYSTEMS = re.compile(rb"(max-systems-per-page = )(\d+)")
# Phrases are kept on one page where they fit.
_PHRASE_KEPT, _PHRASE_BROKEN = rb"phrase-break = { \break \noPageBreak }", rb"phrase-break = { \break }"
_FEWER_SYSTEMS = (9, 8, 7, 6, 5)
# LilyPond spends a third of its time looking for memory to use again (its collector is Boehm's, which reads these:
# https://github.com/bdwgc/bdwgc/blob/master/docs/README.environment). A book of three hours needs half a gigabyte
# without; what needs more than the limit is engraved once more, thriftily.
_LAVISH = {"GC_DONT_GC": "1", "GC_MAXIMUM_HEAP_SIZE": "1G"}
_OUT_OF_MEMORY = re.compile("out of memory|not enough memory", re.IGNORECASE)


def _at_most(systems: int, found: re.Match[bytes]) -> bytes:
    return found[1] + b"%d" % min(systems, int(found[2]))


class _Setter:
    """The second Python, which sets pages one after the other; the text of the first runs into its standard output."""

    def __init__(self, output: IO[bytes] | int | None, log: Path) -> None:
        # -P: a file that happens to be called like a library in the user's folder must not be run.
        command = [sys.executable, "-P", "-m", "etudegen.engraving.lilypond_text"]
        self._log = log
        self._awaited = 1
        with log.open("wb") as errors:
            self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=output, stderr=errors)

    def await_another(self) -> None:
        """Be told that one page more is to come."""
        self._awaited += 1

    def set(self, page: "Page | Book", place: Path) -> None:
        """Hand over a page and where its text goes."""
        assert self.process.stdin is not None
        self._awaited -= 1
        try:
            pickle.dump((str(place), page), self.process.stdin)
            self.process.stdin.flush()
            if not self._awaited:
                self.process.stdin.close()
        except BrokenPipeError:
            self.process.wait()

    def finished(self) -> bool:
        """Wait until all pages are set, and tell whether that went well."""
        if self.process.stdin is not None and not self.process.stdin.closed:
            self.process.stdin.close()
        return self.process.wait() == 0

    @property
    def said(self) -> str:
        """What it complained of."""
        return self._log.read_text(errors="replace")


class Press:
    """Prints one page; use it in a ``with`` block, which ends its processes and clears away its files.

    A press ``beside`` another shares its setter, and is to be handed its page after that. Raises :class:`MachineError`
    when LilyPond is missing or complains; then the files it worked on are kept.
    """

    def __init__(self, *, pdf: bool = True, beside: "Press | None" = None) -> None:
        try:
            self._folder = Path(tempfile.mkdtemp(prefix="etudegen-"))
        except OSError as error:
            raise MachineError(f"no room to engrave in {tempfile.gettempdir()!r}: {error.strerror}") from error
        self._text = self._folder / "sheet.ly"
        self._printed = self._folder / "sheet.pdf"
        self._log_path = self._folder / "lilypond.log"
        self._keep = False
        self._engraver: subprocess.Popen[bytes] | None = None
        self._feeder: Thread | None = None
        self._memory = _LAVISH
        try:
            self._log = self._log_path.open("wb")
            if pdf:
                self._engraver = self._start_engraver()
            self._setter = self._setter_beside(beside) if beside else self._start_setter()
        except BaseException:
            self.__exit__(None, None, None)
            raise

    def _start_engraver(self) -> subprocess.Popen[bytes]:
        command = [str(find_lilypond()), *OPTIONS, f"--output={self._folder / 'sheet'}", "-"]
        try:
            return subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=self._log,
                stderr=self._log,
                cwd=self._folder,
                env=os.environ | self._memory,
            )
        except OSError as error:
            raise MachineError(f"LilyPond at {command[0]} does not start: {error.strerror or error}") from error

    def _start_setter(self) -> _Setter:
        setter = _Setter(self._engraver.stdin if self._engraver else subprocess.DEVNULL, self._folder / "setter.log")
        if self._engraver and self._engraver.stdin:
            self._engraver.stdin.close()
        return setter

    def _setter_beside(self, other: "Press") -> _Setter:
        other._setter.await_another()
        self._feeder = Thread(target=self._feed, daemon=True)
        return other._setter

    def _feed(self) -> None:
        """Bring the text to LilyPond as soon as it is set."""
        assert self._engraver is not None
        assert self._engraver.stdin is not None
        while not self._text.is_file() and self._setter.process.poll() is None:
            sleep(_SECONDS_BETWEEN_LOOKS)
        # LilyPond may have ended, or been ended, by now: what it says is looked at elsewhere.
        with suppress(OSError, ValueError), self._engraver.stdin as opened:
            if self._text.is_file():
                opened.write(self._text.read_bytes())

    def begin(self, page: "Page | Book") -> None:
        """Hand over the page or book; setting and engraving go on by themselves."""
        self._setter.set(page, self._text)
        if self._feeder is not None:
            self._feeder.start()

    def text(self) -> bytes:
        """Return the LilyPond text of the page, once it is set."""
        if not self._setter.finished():
            if not (self._engraver and "Broken pipe" in self._setter.said and self._text.is_file()):
                self._fail("the page could not be set", self._setter.said)
            # A LilyPond that ends at once breaks the pipe; what it says then is what matters.
            self._wait()
            if self._engraver.returncode != 0 and not self._ran_out_of_memory():
                self._fail("LilyPond could not engrave the page", self._complaints())
        return self._text.read_bytes()

    def pdf(self) -> bytes:
        """Return the PDF, once it is engraved; a page that turns out too full is broken again with less on it."""
        assert self._engraver is not None
        text = self.text()
        self._wait()
        if self._ran_out_of_memory():
            self._memory = {}
            self._engrave_again()
        for systems in _FEWER_SYSTEMS:
            if not is_overfull(self._complaints()):
                break
            looser = text.replace(_PHRASE_KEPT, _PHRASE_BROKEN)
            self._text.write_bytes(_MOST_SYSTEMS.sub(partial(_at_most, systems), looser))
            self._engrave_again()
        if self._engraver.returncode != 0 or first_complaint(self._complaints()) or not self._printed.is_file():
            self._fail("LilyPond could not engrave the page", self._complaints())
        return without_date(self._printed.read_bytes())

    def print_again(self, old: bytes, new: bytes) -> None:
        """Print the same text once more with one passage changed."""
        self._text.write_bytes(self.text().replace(old, new, 1))
        self._engrave_again()

    def last_pages(self) -> list[int]:
        """Return for each section of a book, in order, the number of its last page."""
        # LilyPond tries pages out before it settles on them: what it says last of a section holds.
        pages = {
            int(section): int(page) for section, page in _ANNOUNCED.findall(self._log_path.read_text(errors="replace"))
        }
        return [pages[section] for section in sorted(pages)]

    def _ran_out_of_memory(self) -> bool:
        return bool(self._memory) and bool(_OUT_OF_MEMORY.search(self._complaints()))

    def _complaints(self) -> str:
        return _ANNOUNCED.sub("", self._log_path.read_text(errors="replace"))

    def _wait(self) -> int:
        assert self._engraver is not None
        try:
            return self._engraver.wait(_SECONDS_TO_ENGRAVE)
        except subprocess.TimeoutExpired:
            self._fail(f"LilyPond did not end within {_SECONDS_TO_ENGRAVE} seconds", self._complaints())

    def _engrave_again(self) -> None:
        self._log.seek(0)
        self._log.truncate()
        self._engraver = self._start_engraver()
        self._engraver.communicate(self._text.read_bytes())

    def _fail(self, what: str, log: str) -> NoReturn:
        self._keep = True
        lines = [line for line in log.splitlines() if line.strip()]
        why = first_complaint(log) or (lines[-1].strip() if lines else "it gave no reason")
        raise MachineError(f"{what}: {why}; its text and log are kept in {self._folder}")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        setter: _Setter | None = getattr(self, "_setter", None)
        for process in (setter.process if setter else None, self._engraver):
            if process is not None:
                if process.stdin is not None and not process.stdin.closed:
                    process.stdin.close()
                if process.poll() is None:
                    process.kill()
                process.wait(_SECONDS_TO_STOP)
        log = getattr(self, "_log", None)
        if log is not None:
            log.close()
        if not self._keep:
            shutil.rmtree(self._folder, ignore_errors=True)


@contextmanager
def presses(count: int = PRESSES) -> Iterator[list[Press]]:
    """Start presses that share one sheet or book, best before it is made: they take as long to start as that takes."""
    with ExitStack() as stack:
        started: list[Press] = []
        for _ in range(count):
            started.append(stack.enter_context(Press(beside=started[0] if started else None)))
        yield started
