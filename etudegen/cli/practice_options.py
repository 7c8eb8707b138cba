"""The options that the commands of daily practice share, and how their texts are read."""

import datetime
import re
from pathlib import Path
from typing import Annotated

import typer

from etudegen.errors import InputError
from etudegen.exercises.settings import number_in, one_of, whole_number, whole_number_in
from etudegen.files.reading import kind_of_file
from etudegen.practice.journal import Journal
from etudegen.practice.levels import level, level_names
from etudegen.practice.profile import MOST_WEIGHT, Aim, profile_named
from etudegen.practice.rules import LEAST_LEVEL, LONGEST_SESSION, MOST_LEVEL, SHORTEST_SESSION
from etudegen.study import Paper
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import FASTEST, SLOWEST


def found_profile(named: Path | None) -> Path | None:
    """Return the profile that is meant by its path, or by its name in the folder one is in."""
    return named if named is None else profile_named(named)


MinutesOption = Annotated[
    str | None,
    typer.Option(
        "--minutes",
        metavar="MINUTES",
        help=f"Length of a session, {SHORTEST_SESSION} to {LONGEST_SESSION}. [default: as the profile says, else 45]",
    ),
]
DateOption = Annotated[
    str | None,
    typer.Option("--date", metavar="YYYY-MM-DD", help="Day of the session, or tomorrow. [default: today]"),
]
AimsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--aim",
        metavar="AIM[=WEIGHT]",
        help=f"One of {', '.join(Aim)}; several share the time by their weights. [default: as the profile says]",
    ),
]
RoutineOption = Annotated[
    str | None, typer.Option("--routine", metavar="NAME", help="A session routine by name, or a .toml file.")
]
ProfileOption = Annotated[
    Path | None,
    typer.Option("--profile", metavar="FILE|NAME", callback=found_profile, help="The player's profile."),
]
OneProfileOption = Annotated[
    Path, typer.Option("--profile", metavar="FILE|NAME", callback=found_profile, help="The player's profile.")
]
JournalOption = Annotated[
    Path | None,
    typer.Option("--journal", metavar="FILE", help="The journal. [default: journal.sqlite beside the profile]"),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON.")]
OutOption = Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder for the files.")]
PaperOption = Annotated[
    str | None,
    typer.Option("--paper", metavar="PAPER", help="Paper: A4 or Letter. [default: as the profile says, else A4]"),
]
SoundLevelOption = Annotated[
    str | None,
    typer.Option("--sound-level", metavar="DBA", help="Sound level in the room: tell the minutes NIOSH allows."),
]


def journal_of(profile: Path, named: Path | None) -> Journal:
    """Return the journal to use with a profile: the one named, or the one beside it."""
    if named is not None and kind_of_file(named.parent) != "folder":
        raise InputError(
            f"journal {str(named)!r} is not allowed: there is no folder {str(named.parent)!r} to keep it in"
        )
    return Journal(named or profile.parent / "journal.sqlite")


def read_day(text: str | None) -> datetime.date:
    """Read a day, today if none is given."""
    if text is None or text in ("today", "tomorrow"):
        return datetime.date.today() + datetime.timedelta(days=text == "tomorrow")
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise InputError(f"date {text!r} is not a day: write it like 2026-11-25, or today or tomorrow") from None


def read_number(what: str, text: str | None) -> int | None:
    """Read a whole number, whose limits are looked at later."""
    number = None if text is None else whole_number_in(text)
    if text is not None and number is None:
        raise InputError(f"{what} {text!r} is not allowed: give a whole number")
    return number


def read_minutes(text: str | None) -> int | None:
    """Read the minutes of a session."""
    return None if text is None else whole_number("minutes", SHORTEST_SESSION, LONGEST_SESSION)(text)


def read_paper(text: str | None) -> Paper | None:
    """Read the paper, None where the profile is to say."""
    return None if text is None else one_of(Paper, "paper")(text)


def read_sound_level(text: str | None) -> float | None:
    """Read a sound level in dBA."""
    if text is None:
        return None
    read = number_in(text)
    if read is None or not LEAST_LEVEL <= read <= MOST_LEVEL:
        raise InputError(f"sound level {text!r} is not allowed: give {LEAST_LEVEL:g} to {MOST_LEVEL:g} (dBA)")
    return read


def read_player_level(text: str | None) -> str | None:
    """Read the name of a player's level."""
    if text is not None and re.fullmatch(r"\s*[0-9]+([.,][0-9]+)?\s*(dBA?)?\s*", text, re.IGNORECASE):
        raise InputError(
            f"level {text!r} is not allowed: it is the player's, one of {', '.join(level_names())}; how loud the room "
            "is, is told by --sound-level"
        )
    return None if text is None else level(text.strip()).name


def read_aims(texts: list[str] | None) -> dict[Aim, int]:
    """Read aims, each with a weight or with that of one."""
    aims = {}
    for text in texts or ():
        name, equals, weight = text.partition("=")
        aim = one_of(Aim, "aim")(name)
        aims[aim] = whole_number(f"weight of {aim}", 0, MOST_WEIGHT)(weight) if equals else 1
    return aims


def read_tempi(texts: list[str] | None) -> dict[Rhythm, int]:
    """Read the tempo of each rhythm named, in quarter notes a minute."""
    tempi = {}
    for text in texts or ():
        name, equals, tempo = text.partition("=")
        if not equals:
            raise InputError(
                f"cannot read the tempo {text!r}: write the rhythm ({', '.join(Rhythm)}), an equals sign and quarter "
                "notes a minute, like eighths=88"
            )
        rhythm = one_of(Rhythm, "rhythm")(name)
        tempi[rhythm] = whole_number(f"tempo of {rhythm}", SLOWEST, FASTEST)(tempo)
    return tempi


def aims_of(texts: list[str] | None) -> dict[Aim, int] | None:
    """Return the aims asked for with their weights; None if the player's profile is to say."""
    aims = {aim: weight for aim, weight in read_aims(texts).items() if weight}
    if texts and not aims:
        raise InputError(
            f"aim {texts[-1]!r} leaves nothing to aim at: give at least one a weight from 1 to {MOST_WEIGHT}"
        )
    return aims or None
