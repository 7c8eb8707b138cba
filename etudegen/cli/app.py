"""The program ``etudegen``: its commands, and how anything that goes wrong is told."""

import os
import sys

import typer

from etudegen.cli.exercise import exercise_command
from etudegen.cli.instrument import fingerings, tuning
from etudegen.errors import InputError, MachineError
from etudegen.exercises.kinds import KINDS

app = typer.Typer(
    name="etudegen",
    help="Practice material for trumpet players: sheets made for one player's range, aim and time.",
    no_args_is_help=True,
    add_completion=False,
    # Rich would double the time that help takes.
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
for kind in KINDS:
    app.command(kind.name)(exercise_command(kind))
app.command("fingerings")(fingerings)
app.command("tuning")(tuning)


def run(arguments: list[str]) -> int:
    """Carry out one command line and return its exit code: 0, 2 for the user's input, 1 for the machine."""
    try:
        outcome = app(args=arguments, prog_name="etudegen", standalone_mode=False)
    except (InputError, MachineError) as error:
        _complain(str(error))
        return error.exit_code
    except KeyboardInterrupt:
        _complain("stopped")
        return 130
    except Exception as error:
        # What typer raises for a wrong command line has no public base class in every release.
        say = getattr(error, "format_message", None)
        if say is None:
            raise
        message = say()
        if message:
            _complain(message)
        return int(getattr(error, "exit_code", 2))
    return outcome if isinstance(outcome, int) else 0


def _complain(message: str) -> None:
    sys.stderr.write(f"etudegen: {' '.join(message.split())}\n")


def main() -> None:
    """Run the program and leave at once, without taking the loaded libraries apart piece by piece."""
    code = 1
    try:
        code = run(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read our output has read enough; nothing more can or need be said.
        pass
    sys.stderr.flush()
    os._exit(code)
