"""What reaches a terminal: the one place that all printed text goes through, whatever it is made of."""

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from etudegen.errors import MachineError
from etudegen.plain_text import fit_for_a_terminal, shortened

# A message longer than this is read by nobody: the beginning tells what is wrong, the end what is allowed.
LONGEST_MESSAGE = 500


class _Stream(io.TextIOBase):
    """A stream whose text cannot steer the terminal.

    It has no ``buffer``, so that nothing finds a way around it. ``stream`` is None for one that is closed.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        self._given_up = False

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return getattr(self._stream, "encoding", None) or "utf-8"

    def isatty(self) -> bool:
        return self._stream is not None and self._stream.isatty()

    def writable(self) -> bool:
        return True

    def write(self, text: str) -> int:
        lines = text.split("\n")
        self._pass_on("\n".join(map(self._fitted, lines)))
        return len(text)

    def flush(self) -> None:
        self._pass_on("")

    def _fitted(self, line: str) -> str:
        return fit_for_a_terminal(line)

    def _pass_on(self, text: str) -> None:
        if self._given_up:
            return
        if self._stream is None:
            if text:
                self._fail("it is closed")
            return
        try:
            if text:
                self._stream.write(text)
            self._stream.flush()
        except BrokenPipeError:
            # Whoever read our output has read enough; nothing more can or need be said.
            self._given_up = True
        except OSError as error:
            self._fail(error.strerror or str(error))

    def _fail(self, why: str) -> None:
        # Told once, to whoever writes first; what is made after that is made all the same.
        self._given_up = True
        raise MachineError(f"cannot write to standard output: {why}")


class _Messages(_Stream):
    """Standard error: its messages are bounded in length, and there is nobody to tell when it takes none."""

    def _fitted(self, line: str) -> str:
        return shortened(super()._fitted(line), LONGEST_MESSAGE)

    def _fail(self, why: str) -> None:
        self._given_up = True


@contextmanager
def fit_streams() -> Iterator[None]:
    """Within it everything that is printed is fit for a terminal.

    What cannot be written to standard output raises :class:`MachineError`; a reader that went away raises nothing.
    """
    out, err = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = _Stream(out), _Messages(err)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = out, err


def complain(message: str) -> None:
    """Tell what went wrong, in one line on standard error."""
    sys.stderr.write(f"etudegen: {' '.join(message.split())}\n")


def tell_made(text: str) -> None:
    """Print what was made. It is made all the same where nobody can be told: then only standard error says so."""
    try:
        sys.stdout.write(f"{text}\n")
    except MachineError as error:
        complain(f"it is made, but {error}")
