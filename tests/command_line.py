"""The command line inside the process of the tests; ``tests/cli/test_program.py`` runs the installed program."""

import contextlib
import io
import subprocess

from etudegen.cli import commands


def run(*arguments: object) -> "subprocess.CompletedProcess[str]":
    """Carry out a command line and return its exit code and what it wrote, as for a process of its own."""
    out, err = io.StringIO(), io.StringIO()
    words = [str(argument) for argument in arguments]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = commands.run(words)
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())
