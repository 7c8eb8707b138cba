"""The command line: parse, call, print paths."""

import gc
import os
import sys


def main() -> None:
    """Run the program and leave at once, without taking the loaded libraries apart piece by piece."""
    # A command is short: looking for garbage costs a tenth of it and finds none worth the while.
    gc.disable()
    from etudegen.cli.commands import run  # noqa: PLC0415 - the collector is off by now

    code = 1
    try:
        code = run(sys.argv[1:])
        sys.stdout.flush()
        sys.stderr.flush()
    except BrokenPipeError:
        # Whoever read our output has read enough; nothing more can or need be said.
        pass
    os._exit(code)
