"""Parsing with typer, and how anything that goes wrong is told: one sentence, the right exit code."""

import sys
from collections.abc import Callable, Iterable
from pathlib import Path

import typer

from etudegen.errors import InputError, MachineError


def carry_out(name: str, command: Callable[..., None], arguments: list[str]) -> int:
    """Parse a command's options, call it, and return its exit code."""
    app = typer.Typer(
        add_completion=False,
        # Rich would double the time that help takes.
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )
    app.command()(command)
    try:
        outcome = app(args=arguments, prog_name=f"etudegen {name}", standalone_mode=False)
    except (InputError, MachineError) as error:
        _complain(str(error))
        return error.exit_code
    except BrokenPipeError:
        raise
    except Exception as error:
        # What typer raises for a wrong command line has no public base class in every release.
        say = getattr(error, "format_message", None)
        if say is None:
            raise
        _complain(f"{name}: {say()}")
        return int(getattr(error, "exit_code", 2))
    return outcome if isinstance(outcome, int) else 0


def tell_replaced(files: Iterable[Path]) -> None:
    """Say on standard error in the places of which files other content stood before."""
    for file in files:
        sys.stderr.write(f"replaced: {file}\n")


def _complain(message: str) -> None:
    sys.stderr.write(f"etudegen: {' '.join(message.split())}\n")
