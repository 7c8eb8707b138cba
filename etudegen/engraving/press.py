"""The press: LilyPond and the setter, started before there is anything to print.

Both need about as long to start as to work, so they are started as soon as it is clear that a page will be
printed, and load their libraries while the score is still being made. The setter's text runs straight into
LilyPond; nothing waits for anything but music.
"""

import pickle
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

from etudegen.engraving.lilypond import OPTIONS, find_lilypond, first_complaint
from etudegen.engraving.page import Page
from etudegen.engraving.pdf import without_date
from etudegen.errors import MachineError

_SECONDS_TO_STOP = 5


class Press:
    """Prints one page; use it in a ``with`` block, which ends its processes and clears away its files.

    Raises :class:`MachineError` when LilyPond is missing or complains; then the files it worked on are kept.
    """

    def __init__(self, *, pdf: bool = True) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="etudegen-"))
        self._text = self._folder / "sheet.ly"
        self._keep = False
        self._engraver: subprocess.Popen[bytes] | None = None
        try:
            self._log = (self._folder / "lilypond.log").open("wb")
            self._setter_log = (self._folder / "setter.log").open("wb")
            if pdf:
                self._engraver = self._start_engraver()
            self._setter = self._start_setter()
        except BaseException:
            self.__exit__(None, None, None)
            raise

    def _start_engraver(self) -> subprocess.Popen[bytes]:
        command = [str(find_lilypond()), *OPTIONS, f"--output={self._folder / 'sheet'}", "-"]
        try:
            return subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=self._log, stderr=self._log, cwd=self._folder
            )
        except OSError as error:
            raise MachineError(f"LilyPond at {command[0]} does not start: {error.strerror or error}") from error

    def _start_setter(self) -> subprocess.Popen[bytes]:
        # -P: a file that happens to be called like a library in the user's folder must not be run.
        command = [sys.executable, "-P", "-m", "etudegen.engraving.setting", str(self._text)]
        output = self._engraver.stdin if self._engraver else subprocess.DEVNULL
        setter = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=output, stderr=self._setter_log)
        if self._engraver and self._engraver.stdin:
            self._engraver.stdin.close()
        return setter

    def begin(self, page: Page) -> None:
        """Hand over the page; setting and engraving go on by themselves."""
        assert self._setter.stdin is not None
        try:
            pickle.dump(page, self._setter.stdin)
            self._setter.stdin.close()
        except BrokenPipeError:
            self._setter.wait()

    def text(self) -> bytes:
        """Return the LilyPond text of the page, once it is set."""
        if self._setter.wait() != 0:
            self._fail("the page could not be set", (self._folder / "setter.log").read_text(errors="replace"))
        return self._text.read_bytes()

    def pdf(self) -> bytes:
        """Return the PDF, once it is engraved."""
        assert self._engraver is not None
        self.text()
        code = self._engraver.wait()
        log = (self._folder / "lilypond.log").read_text(errors="replace")
        printed = self._folder / "sheet.pdf"
        if code != 0 or first_complaint(log) or not printed.is_file():
            self._fail("LilyPond could not engrave the page", log)
        return without_date(printed.read_bytes())

    def _fail(self, what: str, log: str) -> None:
        self._keep = True
        lines = [line for line in log.splitlines() if line.strip()]
        why = first_complaint(log) or (lines[-1].strip() if lines else "it gave no reason")
        raise MachineError(f"{what}: {why}; its text and log are kept in {self._folder}")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for process in (getattr(self, "_setter", None), self._engraver):
            if process is not None:
                if process.stdin is not None and not process.stdin.closed:
                    process.stdin.close()
                if process.poll() is None:
                    process.kill()
                process.wait(_SECONDS_TO_STOP)
        for log in (getattr(self, "_log", None), getattr(self, "_setter_log", None)):
            if log is not None:
                log.close()
        if not self._keep:
            shutil.rmtree(self._folder, ignore_errors=True)
