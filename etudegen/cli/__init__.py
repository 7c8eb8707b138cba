"""The command line: parse, call, print paths."""

import codecs
import gc
import io
import os
import sys
import warnings

from etudegen.deferral import OF_MUSIC21, defer

# What a shell expects of a program that was interrupted from the keyboard.
_INTERRUPTED = 130
_PLAIN = str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "x", "·": "-", "−": "-"})


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Replace what a terminal cannot show by the plain form of the trade's signs, or a question mark."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    plain = error.object[error.start : error.end].translate(_PLAIN)
    return "".join(sign if sign.isascii() else "?" for sign in plain), error.end


def main() -> None:
    """Run the program and leave at once, without taking the loaded libraries apart piece by piece."""
    # A command is short: looking for garbage costs a tenth of it and finds none worth the while.
    gc.disable()
    defer(OF_MUSIC21)
    # The music library warns of bars that hold too much; ours are read as they are, and what is lost is told.
    warnings.filterwarnings("ignore", module="music21")
    from etudegen.cli.commands import run  # noqa: PLC0415 - the collector is off by now

    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plainly")
    code = 1
    try:
        code = run(sys.argv[1:])
        sys.stdout.flush()
        sys.stderr.flush()
    except KeyboardInterrupt:
        code = _INTERRUPTED
        sys.stderr.write("etudegen: stopped\n")
    except BrokenPipeError:
        # Whoever read our output has read enough; nothing more can or need be said.
        pass
    os._exit(code)
