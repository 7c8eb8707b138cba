"""The engraver: LilyPond, and a program that sets text for it, started before there is anything to print.

Both need about as long to start as to work, so they are started as soon as it is clear that something will be printed,
or kept waiting by a process that lives long, and load their libraries while the score is still being made.
"""

import logging
import pickle
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Lock, RLock
from types import TracebackType
from typing import TYPE_CHECKING, NoReturn, Self
from weakref import WeakSet

from etudegen.engraving.lilypond import OPTIONS, find_lilypond, first_complaint
from etudegen.engraving.pages_made import PagesMade, made_by_lilypond, read_pages
from etudegen.engraving.pdf import is_whole, without_date
from etudegen.engraving.typesetter import WHOLE, Task, log_file, output_stem, pages_file, text_file
from etudegen.errors import InputError, MachineError, check_type, shown
from etudegen.files.workshop import Workshop, clear_abandoned

if TYPE_CHECKING:
    # Not loaded with the engraver: it has to be started before anything else is.
    from etudegen.engraving.book import Book
    from etudegen.engraving.page import Page

# As many as share what is made alone; books made side by side need no more than one each.
PARTS = 2
# More engravers wait for nobody: each takes some 50 MB.
MOST_WAITING = 64
# From when something is handed over to when it is printed.
SECONDS_TO_ENGRAVE = 900.0
_SECONDS_TO_STOP = 1.0
_TYPESETTER_LOG = "typesetter.log"
# All that there are in this process.
_THERE: "WeakSet[Engraver]" = WeakSet()


class EngravingCancelledError(MachineError):
    """What is asked for was cancelled meanwhile."""


class Engraver:
    """Engraves one page or book, with two ``parts`` in any number of them and two at a time; as PDF, SVG or both.

    Use it in a ``with`` block, or :meth:`cancel` it at the end: that ends its processes and clears away its files. It
    may wait as long as it likes for what it is to engrave. One thread works with it; any thread may cancel it.
    Raises :class:`MachineError` when LilyPond is missing, complains, or takes longer than 15 minutes; then the files
    it worked on are kept.
    """

    def __init__(self, *, pdf: bool = True, svg: bool = False, parts: int = 1) -> None:
        check_type("pdf", pdf, bool, "True or False")
        check_type("svg", svg, bool, "True or False")
        if type(parts) is not int or not 1 <= parts <= PARTS:
            raise InputError(f"parts {shown(parts)} is not allowed: give 1 to {PARTS}")
        formats = (*(("--pdf",) if pdf else ()), *(("--svg",) if svg else ()))
        command = (str(find_lilypond()), *OPTIONS, *formats) if formats else ()
        self.parts = parts
        self._formats = [*(["pdf"] if pdf else []), *(["svg"] if svg else [])]
        self._parts: list[Page | Book] = []
        self._text_of = 0
        self._told: set[tuple[str, int]] = set()
        self._codes: dict[int, int] = {}
        self._keep = False
        self._ended = False
        self._when_ended: Callable[[], None] = lambda: None
        self._ending = RLock()
        # Whoever cancels it meanwhile waits until there is something to end.
        with self._ending:
            _THERE.add(self)
            self._workshop = Workshop()
            try:
                # -P: a file that happens to be called like a library in the user's folder must not be run.
                with (self.folder / _TYPESETTER_LOG).open("wb") as log:
                    self._typesetter = subprocess.Popen(
                        [sys.executable, "-P", "-m", "etudegen.engraving.typesetter"],
                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log,
                    )  # fmt: skip
                self._send(Task(self.folder, command, parts, SECONDS_TO_ENGRAVE))
            except BaseException:
                self.cancel()
                raise
        clear_abandoned()

    @property
    def folder(self) -> Path:
        """Where it works."""
        return self._workshop.folder

    @property
    def waits(self) -> bool:
        """Whether it is ready for something to engrave."""
        return not self._ended and not self._parts and self._typesetter.poll() is None

    def _send(self, what: object) -> None:
        assert self._typesetter.stdin is not None
        try:
            pickle.dump(what, self._typesetter.stdin)
            self._typesetter.stdin.flush()
        except (BrokenPipeError, ValueError):
            # It has ended, or been ended: that is told to whoever asks for what it made.
            pass

    def engrave(self, content: "Page | Book") -> None:
        """Hand over a page or a book, or the next part of a book; engraving goes on by itself.

        Raises :class:`InputError` where what it engraves alone has been handed over already.
        """
        self._check_open()
        if self.parts == 1 and self._parts:
            raise InputError("this engraver has been used, and engraves once: start another")
        self._parts.append(content)
        self._send((len(self._parts) - 1, content))

    def set_whole(self, content: "Page | Book") -> None:
        """Hand over as one what is engraved in several parts, for its :meth:`text`."""
        self._check_open()
        self._text_of = WHOLE
        self._send((self._text_of, content))

    def _check_open(self) -> None:
        if self._ended:
            raise EngravingCancelledError("the engraving was cancelled, or its engraver has been used and ended")

    def _check_used(self) -> None:
        self._check_open()
        if not self._parts:
            raise InputError("this engraver has nothing to engrave yet: hand it a page or a book first")

    def text(self) -> bytes:
        """Return the LilyPond text once it is set: of what was handed over as one, else of the first part."""
        self._check_used()
        self._await("set", self._text_of)
        return text_file(self.folder, self._text_of).read_bytes()

    def pdf(self) -> bytes:
        """Return the PDF, once it is engraved; that of a book with its parts joined and with bookmarks."""
        from etudegen.engraving.book import Book  # noqa: PLC0415 - see above

        self._await_all("pdf")
        printed = [self._printed(self._output(part, "pdf")) for part in range(len(self._parts))]
        if not all(map(is_whole, printed)):
            self._fail("LilyPond could not engrave the page", "the PDF that it wrote is empty or breaks off")
        printed = list(map(without_date, printed))
        books = [part for part in self._parts if isinstance(part, Book)]
        if not books:
            return printed[0]
        from etudegen.engraving.joining import joined  # noqa: PLC0415 - loads a library that only books need

        return joined(printed, books, self.pages())

    def svg(self) -> list[bytes]:
        """Return the pages as SVG, once they are engraved."""
        self._await_all("svg")
        pages: list[bytes] = []
        for part in range(len(self._parts)):
            single = self._output(part, "svg")
            numbered = sorted(self.folder.glob(f"{single.stem}-*.svg"), key=lambda path: (len(path.name), path.name))
            numbered = [path for path in numbered if path.stem.removeprefix(f"{single.stem}-").isdecimal()]
            pages += [self._printed(path) for path in numbered or [single]]
        return pages

    def pages(self) -> list[PagesMade | None]:
        """Return for each part what its pages are like, once it is engraved; see :func:`read_pages`."""
        self._await_all()
        return [read_pages(pages_file(self.folder, part)) for part in range(len(self._parts))]

    def _output(self, part: int, ending: str) -> Path:
        return output_stem(self.folder, part).with_suffix(f".{ending}")

    def _printed(self, place: Path) -> bytes:
        if not place.is_file():
            self._fail("LilyPond could not engrave the page", "")
        return place.read_bytes()

    def _await_all(self, wanted: str = "") -> None:
        self._check_used()
        if (wanted and wanted not in self._formats) or not self._formats:
            raise InputError(f"this engraver makes no {wanted or 'page'}: it was started for {self._formats or 'text'}")
        for part in range(len(self._parts)):
            self._await("engraved", part)
            log = log_file(self.folder, part).read_text(errors="replace")
            by_lilypond = made_by_lilypond(pages_file(self.folder, part))
            if self._codes[part] != 0 or first_complaint(log, overfull_matters=not by_lilypond):
                self._fail("LilyPond could not engrave the page", log)
            if by_lilypond and part == 0:
                logging.getLogger(__name__).warning(
                    "this LilyPond lacks what pages are made with, and made them itself: staves may stand unevenly"
                )

    def _await(self, what: str, part: int) -> None:
        """Wait until something is told of a part."""
        assert self._typesetter.stdout is not None
        while (what, part) not in self._told:
            try:
                word, number, code = self._typesetter.stdout.readline().decode().split() or ["ended", "0", "0"]
            except ValueError:
                word, number, code = "ended", "0", "0"
            if self._ended:
                raise EngravingCancelledError("the engraving was cancelled")
            if word == "refused":
                raise MachineError((self.folder / _TYPESETTER_LOG).read_text(errors="replace").strip())
            if word == "late":
                self._fail(f"LilyPond did not end within {SECONDS_TO_ENGRAVE:.0f} seconds", "")
            if word == "ended":
                self._fail("the page could not be set", (self.folder / _TYPESETTER_LOG).read_text(errors="replace"))
            self._told.add((word, int(number)))
            if word == "engraved":
                self._codes[int(number)] = int(code)
                if int(code) != 0:
                    # The parts before and after it would wait for its pages.
                    log = log_file(self.folder, int(number)).read_text(errors="replace")
                    self._fail("LilyPond could not engrave the page", log)

    def _fail(self, what: str, log: str) -> NoReturn:
        self._keep = True
        lines = [line for line in log.splitlines() if line.strip()]
        why = first_complaint(log) or (lines[-1].strip() if lines else "it gave no reason")
        raise MachineError(f"{what}: {why}; its text and log are kept in {self.folder}")

    def cancel(self) -> None:
        """End what is going on, from whatever thread; the same as leaving the ``with`` block."""
        with self._ending:
            if self._ended:
                return
            self._ended = True
            typesetter: subprocess.Popen[bytes] | None = getattr(self, "_typesetter", None)
            if typesetter is not None:
                self._end(typesetter)
            workshop: Workshop | None = getattr(self, "_workshop", None)
            if workshop is not None:
                workshop.close(keep=self._keep)
        self._when_ended()

    @staticmethod
    def _end(typesetter: subprocess.Popen[bytes]) -> None:
        assert typesetter.stdin is not None
        with suppress(OSError):
            # It ends when this closes, and ends its LilyPonds first.
            typesetter.stdin.close()
        try:
            typesetter.wait(_SECONDS_TO_STOP)
        except subprocess.TimeoutExpired:
            typesetter.kill()
            typesetter.wait()
        assert typesetter.stdout is not None
        typesetter.stdout.close()

    def __del__(self) -> None:
        # One that nobody ended and nobody has any more ends as well; who works so gets no other for it.
        self._when_ended = lambda: None
        with suppress(Exception):
            self.cancel()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.cancel()


def cancel_all() -> None:
    """Cancel every engraver of this process: for one that is to end at once, from whatever thread."""
    for engraver in list(_THERE):
        engraver.cancel()


class SpareEngravers:
    """Keeps engravers of one sort waiting, for a process that lives long; its threads may share it.

    The parameters are those of :class:`Engraver`.
    """

    def __init__(self, count: int = 1, *, pdf: bool = True, svg: bool = False, parts: int = 1) -> None:
        if type(count) is not int or not 1 <= count <= MOST_WAITING:
            raise InputError(f"count {shown(count)} is not allowed: give 1 to {MOST_WAITING}")
        self._sort = {"pdf": pdf, "svg": svg}
        self._parts = parts
        self._count = count
        self._lock = Lock()
        self._closed = False
        self._waiting = [self._new() for _ in range(count)]

    def _new(self) -> Engraver:
        return Engraver(**self._sort, parts=self._parts)

    def take(self) -> Engraver:
        """Return an engraver that has been waiting, to be used in a ``with`` block.

        Another takes its place when it has ended: while it works, the two would only be in each other's way.
        """
        with self._lock:
            waiting = self._waiting.pop(0) if self._waiting else None
        if waiting is not None and not waiting.waits:
            waiting.cancel()
            waiting = None
        taken = waiting or self._new()
        taken._when_ended = self._fill
        return taken

    def _fill(self) -> None:
        """Start another where one is missing."""
        with self._lock:
            if self._closed or len(self._waiting) >= self._count:
                return
            # Whoever cannot be started now is told of when somebody asks for one.
            with suppress(MachineError):
                self._waiting.append(self._new())

    def close(self) -> None:
        """End those that wait; those taken are ended by who took them."""
        with self._lock:
            self._closed = True
            waiting, self._waiting = self._waiting, []
        for engraver in waiting:
            engraver.cancel()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
