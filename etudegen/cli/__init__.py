"""The command line: parse, call, print paths."""

import codecs
import io
import os
import signal
import sys
from contextlib import suppress
from types import FrameType

# What stops a program in good order: Ctrl-C, whoever ends it, a terminal that closes (Windows has no such signal).
_STOPPING = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
_STANDARD_ERROR = 2
_PLAIN = str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "x", "·": "-", "−": "-"})


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Replace what a terminal cannot show by the plain form of the trade's signs, or a question mark."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    plain = error.object[error.start : error.end].translate(_PLAIN)
    return "".join(sign if sign.isascii() else "?" for sign in plain), error.end


class Stopped(BaseException):
    """The program was stopped by a signal; it ends with the code that a shell expects then."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.exit_code = 128 + number


def _stop(number: int, frame: FrameType | None) -> None:
    for each in _STOPPING:
        # Who asks twice does not want to wait until everything is in order: what is left ends by itself.
        signal.signal(each, lambda again, _: os._exit(128 + again))
    raise Stopped(number)


def _keep_standard_places() -> None:
    """Fill the places of standard streams that are closed: the next file opened would be written to as one of them."""
    opened = os.open(os.devnull, os.O_RDWR)
    while opened <= _STANDARD_ERROR:
        opened = os.open(os.devnull, os.O_RDWR)
    os.close(opened)


def main() -> None:
    """Run the program and leave at once, without taking the loaded libraries apart piece by piece."""
    code = 1
    try:
        for number in _STOPPING:
            # What whoever started this has it ignore, such as `nohup`, stays ignored.
            if signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, _stop)
        code = _run()
    except (Stopped, KeyboardInterrupt) as stopped:
        code = getattr(stopped, "exit_code", 128 + signal.SIGINT)
        with suppress(OSError, AttributeError):
            # Standard error may be full, or closed.
            sys.stderr.write("etudegen: stopped\n")
            sys.stderr.flush()
    os._exit(code)


def _run() -> int:
    _keep_standard_places()
    from etudegen.deferral import be_quick  # noqa: PLC0415 - loaded when it can be interrupted in good order

    be_quick()
    from etudegen.cli.commands import run  # noqa: PLC0415 - the collector is off by now
    from etudegen.cli.terminal import complain, fit_streams  # noqa: PLC0415
    from etudegen.errors import MachineError  # noqa: PLC0415

    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plainly")
    try:
        return run(sys.argv[1:])
    except Exception as error:
        # A mistake of ours: those who look for it run Python in its development mode.
        if sys.flags.dev_mode:
            raise
        with fit_streams():
            complain(f"a mistake in etudegen itself ({type(error).__name__}: {error}): please report what you typed")
        return MachineError.exit_code
