"""The commands there are, and the way to each: only what a command line asks for is loaded."""

import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

from etudegen import __version__
from etudegen.cli.terminal import complain, fit_streams
from etudegen.errors import MachineError
from etudegen.exercises.kinds import Kind, all_kinds
from etudegen.plain_text import without_halves

if TYPE_CHECKING:
    from etudegen.engraving.engraver import Engraver

_HELP = ("-h", "--help")


class Command(NamedTuple):
    """A command: its name, what it does in one line, and what carries it out and returns its exit code."""

    name: str
    purpose: str
    carry_out: Callable[[list[str]], int]


def _kind_command(kind: Kind) -> Command:
    def carry_out(arguments: list[str]) -> int:
        with _early_engraver(arguments) as engraver:
            from etudegen.cli import parsing  # noqa: PLC0415
            from etudegen.cli.exercise import exercise_command  # noqa: PLC0415

            return parsing.carry_out(kind.name, exercise_command(kind, engraver), arguments)

    return Command(kind.name, kind.purpose, carry_out)


@contextmanager
def _early_engraver(arguments: list[str], parts: int = 1) -> "Iterator[Engraver | None]":
    """Start an engraver before the command line is even read, if it is one that usually ends in printed pages."""
    with ExitStack() as stack:
        started: Engraver | None = None
        if not any(argument in _HELP or argument.startswith("--format") for argument in arguments):
            from etudegen.engraving import engraver  # noqa: PLC0415

            # A missing LilyPond is told when a page is really wanted: what is wrong with the command line comes first.
            with suppress(MachineError):
                started = stack.enter_context(engraver.Engraver(parts=parts))
        yield started


def _transpose(arguments: list[str]) -> int:
    # Twelve keys of a tune are enough work for two.
    with _early_engraver(arguments, parts=2) as engraver:
        from etudegen.cli import parsing, transpose  # noqa: PLC0415

        return parsing.carry_out("transpose", transpose.transpose_command(engraver), arguments)


def _play_along(arguments: list[str]) -> int:
    from etudegen.cli import parsing, play_along  # noqa: PLC0415

    return parsing.carry_out("play-along", play_along.play_along, arguments)


def _fingerings(arguments: list[str]) -> int:
    from etudegen.cli import instrument, parsing  # noqa: PLC0415

    return parsing.carry_out("fingerings", instrument.fingerings, arguments)


def _tuning(arguments: list[str]) -> int:
    from etudegen.cli import instrument, parsing  # noqa: PLC0415

    return parsing.carry_out("tuning", instrument.tuning, arguments)


def _kinds(arguments: list[str]) -> int:
    from etudegen.cli import kinds, parsing  # noqa: PLC0415

    return parsing.carry_out("kinds", kinds.kinds, arguments)


def _practice(name: str, purpose: str) -> Command:
    def carry_out(arguments: list[str]) -> int:
        from etudegen.cli import parsing  # noqa: PLC0415

        module = import_module(f"etudegen.cli.{name}")
        return parsing.carry_out(name, getattr(module, name), arguments)

    return Command(name, purpose, carry_out)


_BEFORE_KINDS = (
    _practice("session", "Today's session for a player, as a book: plan page, studies, rests."),
    _practice("week", "What comes up on each practice day of a week."),
    _practice("studio", "A book for every player in a folder, side by side, skipping what has not changed."),
    _practice("profile", "Make, change or show a player's profile."),
    _practice("log", "Put down how a block, or a key of it, went; what went badly comes up sooner."),
    _practice("routine", "Routines of your own: list, show, copy or make them, a block said in a line."),
    _practice("history", "What was practised: minutes by week and part, tempi reached, what is due."),
)
_AFTER_KINDS = (
    Command("transpose", "A tune of your own, from MusicXML, in every key.", _transpose),
    Command("play-along", "MIDI and sound to play along with, from any sheet or tune in MusicXML.", _play_along),
    Command("kinds", "The kinds of exercise: what each is for, and how strenuous it is.", _kinds),
    Command("fingerings", "Chart of every written note's valves, and the alternates.", _fingerings),
    Command("tuning", "Frequency and tuning of each partial, and how far to draw the third slide.", _tuning),
)


def commands() -> tuple[Command, ...]:
    """Return all commands, one for each kind of exercise among them."""
    return (*_BEFORE_KINDS, *map(_kind_command, all_kinds()), *_AFTER_KINDS)


def overview() -> str:
    """Return what ``etudegen --help`` says."""
    listed = commands()
    width = max(len(command.name) for command in listed) + 2
    rows = "\n".join(f"  {command.name:<{width}}{command.purpose}" for command in listed)
    return (
        "Usage: etudegen COMMAND [OPTIONS]\n\n"
        "Practice material for trumpet players: sheets made for one player's range, aim and time.\n\n"
        f"Commands:\n{rows}\n\n"
        "`etudegen COMMAND --help` tells the options of a command; `etudegen --version` the version.\n"
    )


def run(arguments: list[str]) -> int:
    """Carry out one command line and return its exit code: 0, 2 for the user's input, 1 for the machine."""
    with fit_streams():
        try:
            return _run(list(map(without_halves, arguments)))
        except MachineError as error:
            complain(str(error))
            return error.exit_code


def _run(arguments: list[str]) -> int:
    name = arguments[0] if arguments else "--help"
    if name in _HELP:
        sys.stdout.write(overview())
        return 0
    if name == "--version":
        sys.stdout.write(f"etudegen {__version__}\n")
        return 0
    for command in commands():
        if command.name == name:
            return command.carry_out(arguments[1:])
    # Only who mistypes needs it.
    from difflib import get_close_matches  # noqa: PLC0415

    names = [command.name for command in commands()]
    nearest = get_close_matches(name, names, n=1)
    offered = f"did you mean {nearest[0]}? There are" if nearest else "choose one of"
    complain(f"unknown command {name!r}: {offered} {', '.join(names)}")
    return 2
