"""Parsing with typer, and how anything that goes wrong is told: one sentence, the right exit code."""

import re
import sys
from collections.abc import Callable, Iterable, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import typer
from typer.main import get_command

from etudegen.cli.terminal import complain
from etudegen.errors import InputError, MachineError

_SURPLUS = re.compile(r"argument\(?s?\)? \((.*)\)\Z", re.DOTALL)


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
    parser = get_command(app)
    for parameter in parser.params:
        # Whether a file may be read is told where it is read, in words that are ours.
        if hasattr(parameter.type, "readable"):
            parameter.type.readable = False
    try:
        outcome = parser.main(args=arguments, prog_name=f"etudegen {name}", standalone_mode=False)
    except (InputError, MachineError) as error:
        complain(str(error))
        return error.exit_code
    except Exception as error:
        # What typer raises for a wrong command line has no public base class in every release.
        if not hasattr(error, "format_message"):
            raise
        complain(f"{name}: {_in_our_words(name, error, parser.params)}")
        return int(getattr(error, "exit_code", 2))
    return outcome if isinstance(outcome, int) else 0


def _in_our_words(name: str, error: Any, parameters: Sequence[Any]) -> str:
    """Say what is wrong with a command line: the parser's own words are a programmer's."""
    words = {word: each for each in parameters for word in (*each.opts, *each.secondary_opts)}
    match type(error).__name__:
        case "NoSuchOption":
            nearest = get_close_matches(error.option_name, words, n=1)
            offered = f"did you mean {nearest[0]}? " if nearest else ""
            return f"there is no option {error.option_name!r}: {offered}`etudegen {name} --help` tells them all"
        case "BadOptionUsage":
            option = words[error.option_name]
            if option.is_flag:
                return f"{error.option_name} takes no value: leave out what follows it"
            return f"{error.option_name} is without a value: give {_what(option)} after it"
        case "MissingParameter":
            option_name = error.param.opts[0] if error.param.param_type_name == "option" else ""
            return f"{option_name} {_what(error.param)} is missing: {error.param.help}".strip()
    surplus = _SURPLUS.search(error.format_message())
    if surplus is None:
        return str(error.format_message())
    arguments = [_what(each) for each in parameters if each.param_type_name == "argument"]
    taken = f"only {' '.join(arguments)}" if arguments else "options only"
    return f"{surplus[1]!r} is too much: the command takes {taken}; put a text of several words into quotes"


def _what(parameter: Any) -> str:
    return str(parameter.metavar or "a text")


def tell_replaced(files: Iterable[Path]) -> None:
    """Say on standard error in the places of which files other content stood before."""
    for file in files:
        sys.stderr.write(f"replaced: {file}\n")
