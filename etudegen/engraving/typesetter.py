"""The program beside an engraver: it loads abjad, has LilyPonds waiting, and has them engrave what it is handed.

Whoever started it holds the other end of its standard input. When that end closes, because nothing more is wanted or
because that process has died, this one ends at once, and its LilyPonds with it.
"""

import gc
import os
import pickle
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue
from threading import Lock, Thread, Timer
from typing import IO, Any, NamedTuple

from etudegen.deferral import OF_ABJAD, defer
from etudegen.engraving.lilypond import surroundings

# LilyPond spends a third of its time looking for memory to use again (its collector is Boehm's, which reads this:
# https://github.com/bdwgc/bdwgc/blob/master/docs/README.environment). Text with very many measures switches that on
# again: nearly a megabyte is needed for each of them, and only a third of that has to be kept.
_NO_COLLECTOR = {"GC_DONT_GC": "1"}
_COLLECTOR = b"#(gc-enable)\n"
_MANY_MEASURES = 597


# Stands for the number of a part where text of all of them is set, and not engraved.
WHOLE = -1


class Task(NamedTuple):
    """What the program is started with: LilyPond's command where it is to print, for so many parts at a time."""

    folder: Path
    command: tuple[str, ...]
    parts: int
    seconds: float


def text_file(folder: Path, part: int) -> Path:
    """Return where the LilyPond text of a part is."""
    return folder / f"sheet{_number(part)}.ly"


def log_file(folder: Path, part: int) -> Path:
    """Return where LilyPond's messages about a part are."""
    return folder / f"lilypond{_number(part)}.log"


def output_stem(folder: Path, part: int) -> Path:
    """Return the path of LilyPond's output for a part, without an ending."""
    return folder / f"sheet{_number(part)}"


def pages_file(folder: Path, part: int) -> Path:
    """Return where the page maker tells what is on the pages of a part."""
    return folder / f"pages{_number(part)}"


def _number(part: int) -> str:
    return "-whole" if part == WHOLE else f"-part-{part + 1}" if part else ""


class _Programs:
    """The LilyPonds of a task, and what has become of them, told on standard output a line each."""

    def __init__(self, task: Task) -> None:
        self._task = task
        self._lock = Lock()
        self._surroundings = surroundings(task.folder)
        self._running = [self._start(part) for part in range(task.parts)] if task.command else []
        # Further parts have their LilyPond when one of those before has ended: in order, since each waits for the last
        # page of the one before it.
        self._further: SimpleQueue[tuple[int, bytes]] = SimpleQueue()

    def _start(self, part: int) -> subprocess.Popen[bytes]:
        folder = self._task.folder
        # A plan tells the pages of what is in the part after its own, too.
        places = {
            "ETUDEGEN_PAGES": str(pages_file(folder, part)), "ETUDEGEN_PAGES_AFTER": str(pages_file(folder, part + 1)),
        }  # fmt: skip
        if part:
            places["ETUDEGEN_PAGES_BEFORE"] = str(pages_file(folder, part - 1))
        with log_file(folder, part).open("wb") as log:
            return subprocess.Popen(
                [*self._task.command, f"--output={output_stem(folder, part)}", "-"],
                stdin=subprocess.PIPE, stdout=log, stderr=log, cwd=folder,
                env=os.environ | _NO_COLLECTOR | self._surroundings | places,
            )  # fmt: skip

    def engrave(self, part: int, text: bytes) -> None:
        """Have a part engraved, if it is one that is printed; this returns at once."""
        if part == WHOLE or not self._running:
            return
        if part < self._task.parts:
            Thread(target=self._engrave_in_turn, args=(part, text), daemon=True).start()
        else:
            self._further.put((part, text))

    def _engrave_in_turn(self, part: int, text: bytes) -> None:
        self._engrave(self._running[part], part, text)
        while True:
            further, text = self._further.get()
            with self._lock:
                process = self._start(further)
                self._running[further % self._task.parts] = process
            self._engrave(process, further, text)

    def _engrave(self, process: subprocess.Popen[bytes], part: int, text: bytes) -> None:
        assert process.stdin is not None
        try:
            with process.stdin as opened:
                opened.write(text)
        except OSError:
            # LilyPond has ended by now: its exit code and its log tell why.
            pass
        self.tell("engraved", part, process.wait())

    def tell(self, what: str, part: int, code: int = 0) -> None:
        """Tell whoever started this program."""
        # Whoever started this may be gone.
        with self._lock, suppress(BrokenPipeError):
            sys.stdout.write(f"{what} {part} {code}\n")
            sys.stdout.flush()

    def leave(self, why: str = "ended") -> None:
        """End LilyPonds and this program, whatever they are doing."""
        self.tell(why, 0)
        for process in self._running:
            process.kill()
        os._exit(0)


def _receive(given: IO[bytes], waiting: "SimpleQueue[tuple[int, Any]]", programs: _Programs) -> None:
    while True:
        try:
            waiting.put(pickle.load(given))  # noqa: S301 - from our own parent process, never from a file
        except EOFError:
            programs.leave()


def main() -> None:
    """Set each part that comes on standard input, with its number, as text, and have it engraved."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Everything made here lives to the end; looking for garbage takes a tenth of the time.
    gc.disable()
    task: Task = pickle.load(sys.stdin.buffer)  # noqa: S301 - see above
    try:
        programs = _Programs(task)
    except OSError as error:
        sys.stderr.write(f"LilyPond at {task.command[0]} does not start: {error.strerror or error}")
        sys.stdout.write("refused 0 0\n")
        sys.exit(1)
    for number in filter(None, (getattr(signal, name, None) for name in ("SIGTERM", "SIGHUP"))):
        # Whoever ends this one ends its LilyPonds. By a thread: this one may be telling something right now.
        signal.signal(number, lambda *_: Thread(target=programs.leave).start())
    waiting: SimpleQueue[tuple[int, Any]] = SimpleQueue()
    Thread(target=_receive, args=(sys.stdin.buffer, waiting, programs), daemon=True).start()
    # abjad leaves its settings in the home of whoever loads it, or among the temporary files where there is none.
    os.environ["HOME"] = str(task.folder)
    defer(OF_ABJAD)
    # abjad asks for it, and has it only by what is put off now.
    import uqbar.graphs  # noqa: F401, PLC0415 - after that

    from etudegen.engraving.book import Book  # noqa: PLC0415
    from etudegen.engraving.lilypond_text import book_text, lilypond_text  # noqa: PLC0415
    from etudegen.engraving.page import Page  # noqa: PLC0415

    limited = False
    while True:
        part, content = waiting.get()
        if not limited:
            limit = Timer(task.seconds, programs.leave, ("late",))
            limit.daemon = limited = True
            limit.start()
        try:
            text = (book_text(content) if isinstance(content, Book) else lilypond_text(content)).encode()
            pages = [each.content for each in content.sections] if isinstance(content, Book) else [content]
            if sum(len(page.measures) for page in pages if isinstance(page, Page)) > _MANY_MEASURES:
                text = _COLLECTOR + text
            text_file(task.folder, part).write_bytes(text)
        except Exception as error:
            why = f"{type(error).__name__}: {error}"
            if isinstance(error, OSError):
                why = f"cannot write into {str(task.folder)!r}: {error.strerror or error}"
            sys.stderr.write(f"{why}\n")
            sys.stderr.flush()
            programs.leave()
        else:
            programs.tell("set", part)
            programs.engrave(part, text)
            if part >= task.parts:
                # What is long is not to be in the memory all at once.
                del content, pages, text
                gc.collect()


if __name__ == "__main__":
    main()
