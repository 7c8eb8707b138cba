"""The command that makes, changes and shows a player's profile."""

import json as json_format
import os
from pathlib import Path
from typing import Annotated

import typer

from etudegen.cli.practice_options import (
    JsonOption,
    read_aims,
    read_day,
    read_number,
    read_paper,
    read_tempi,
)
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.exercises.settings import one_of
from etudegen.instrument.catalogue import USUAL
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.plain_text import printable
from etudegen.practice.levels import level_names
from etudegen.practice.profile import Aim, ListChanges, Profile, change_profile, known_kinds, read_profile
from etudegen.practice.routines import routine as find_routine
from etudegen.theory.rhythm import Rhythm


def profile(
    file: Annotated[Path, typer.Argument(metavar="FILE|NAME", help="The profile, a TOML file.")],
    label: Annotated[
        str | None, typer.Option("--label", metavar="TEXT", help="Who this is, such as 'first chair'.")
    ] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", metavar="NAME", help="What is played.")] = None,
    low: Annotated[str | None, typer.Option("--low", metavar="NOTE", help="Lowest comfortable note.")] = None,
    high: Annotated[str | None, typer.Option("--high", metavar="NOTE", help="Highest comfortable note.")] = None,
    reach: Annotated[str | None, typer.Option("--reach", metavar="NOTE", help="Highest note on a good day.")] = None,
    tempo: Annotated[
        list[str] | None, typer.Option("--tempo", metavar="RHYTHM=BPM", help="Fastest clean tempo, such as eighths=96.")
    ] = None,
    pedals: Annotated[
        str | None, typer.Option("--pedals", metavar="HOW", help="Pedal experience: none, some or regular.")
    ] = None,
    aims: Annotated[
        list[str] | None,
        typer.Option(
            "--aim", metavar="AIM[=WEIGHT]", help="An aim, such as range=3: it has three days for each of range=1."
        ),
    ] = None,
    minutes_per_day: Annotated[
        str | None, typer.Option("--minutes-per-day", metavar="MINUTES", help="Length of a usual session.")
    ] = None,
    days_per_week: Annotated[str | None, typer.Option("--days-per-week", metavar="DAYS", help="1 to 7.")] = None,
    days_since_played: Annotated[
        str | None, typer.Option("--days-since-played", metavar="DAYS", help="Days off; after 14 sessions are easier.")
    ] = None,
    last_played: Annotated[
        str | None, typer.Option("--last-played", metavar="YYYY-MM-DD", help="The day they played last.")
    ] = None,
    level: Annotated[
        str | None, typer.Option("--level", metavar="NAME", help=f"What they know: {', '.join(level_names())}.")
    ] = None,
    keys: Annotated[
        str | None, typer.Option("--keys", metavar="LIST", help="Keys that are known, by written tonic.")
    ] = None,
    rhythms: Annotated[
        list[str] | None, typer.Option("--rhythm", metavar="RHYTHM", help="A rhythm that is known; may be repeated.")
    ] = None,
    kinds: Annotated[
        list[str] | None, typer.Option("--kind", metavar="KIND", help="A kind of exercise that is known; repeated too.")
    ] = None,
    routine: Annotated[
        str | None, typer.Option("--routine", metavar="NAME", help="The routine that sessions follow.")
    ] = None,
    paper: Annotated[str | None, typer.Option("--paper", metavar="PAPER", help="Paper: A4 or Letter.")] = None,
    notes: Annotated[
        str | None, typer.Option("--notes", metavar="TEXT", help="The teacher's notes, printed on the plan page.")
    ] = None,
    private_notes: Annotated[
        str | None, typer.Option("--private-notes", metavar="TEXT", help="Notes that are never printed.")
    ] = None,
    tunes: Annotated[
        list[str] | None,
        typer.Option("--tune", metavar="FILE", help="A tune for the music blocks, MusicXML, in place of those there."),
    ] = None,
    add_tunes: Annotated[
        list[str] | None, typer.Option("--add-tune", metavar="FILE", help="A tune beside those there.")
    ] = None,
    remove_tunes: Annotated[
        list[str] | None, typer.Option("--remove-tune", metavar="FILE", help="A tune that goes, by its file or name.")
    ] = None,
    progressions: Annotated[
        list[str] | None,
        typer.Option(
            "--changes", metavar="CHORDS", help="Changes, such as '| Dm7 | G7 | Cmaj7 | % |', in place of those there."
        ),
    ] = None,
    add_progressions: Annotated[
        list[str] | None, typer.Option("--add-changes", metavar="CHORDS", help="Changes beside those there.")
    ] = None,
    remove_progressions: Annotated[
        list[str] | None, typer.Option("--remove-changes", metavar="CHORDS", help="Changes that go.")
    ] = None,
    remove_aims: Annotated[
        list[str] | None, typer.Option("--remove-aim", metavar="AIM", help="An aim that goes.")
    ] = None,
    unset: Annotated[
        list[str] | None,
        typer.Option("--unset", metavar="KEY", help="A key that goes, such as level, tunes or tempo.eighths."),
    ] = None,
    json: JsonOption = False,
) -> None:
    """Make a player's profile, change it, or show it: without any option it is shown as it is."""
    file = _toml(file)
    given = {
        "label": _printable(label), "notes": _printable(notes), "instrument": _printable(instrument),
        "low": _printable(low), "high": _printable(high), "reach": _printable(reach), "pedals": _printable(pedals),
        "minutes_per_day": read_number("minutes-per-day", minutes_per_day),
        "days_per_week": read_number("days-per-week", days_per_week),
        "days_since_played": read_number("days-since-played", days_since_played),
        "private_notes": _printable(private_notes), "level": _printable(level),
        "keys": _printable(keys), "rhythms": rhythms and [str(one_of(Rhythm, "rhythm")(each)) for each in rhythms],
        "kinds": kinds and list(map(_kind, kinds)), "routine": _routine(file, routine),
        "last_played": None if last_played is None else read_day(last_played),
        "paper": None if paper is None else str(read_paper(paper)),
        "tunes": _beside(file, tunes), "progressions": _all_printable(progressions) or None,
        **{f"tempo.{rhythm}": quarters for rhythm, quarters in read_tempi(tempo).items()},
        **{f"aims.{aim}": weight for aim, weight in read_aims(aims).items()},
    }  # fmt: skip
    changes = {key: value for key, value in given.items() if value is not None}
    add = {"tunes": _beside(file, add_tunes), "progressions": _all_printable(add_progressions)}
    remove = {"tunes": remove_tunes, "progressions": _all_printable(remove_progressions)}
    lists = ListChanges(
        {key: texts for key, texts in add.items() if texts},
        {key: texts for key, texts in remove.items() if texts},
        (*(unset or ()), *(f"aims.{one_of(Aim, 'aim')(aim)}" for aim in remove_aims or ())),
    )
    if changes or lists != ListChanges():
        change_profile(file, changes, file.stem.replace("-", " "), lists)
    elif not os.path.exists(file):
        raise InputError(f"there is no {str(file)!r} yet: give at least --label, --low or --high to make it")
    shown = read_profile(file)
    text = _as_json(file, shown) if json else f"{file}\n{file.read_bytes().decode('utf-8-sig')}".rstrip()
    (tell_made if changes or lists != ListChanges() else typer.echo)(text)


def _toml(file: Path) -> Path:
    """Return the file of a profile, whose suffix may be left out."""
    if file.suffix == ".toml":
        return file
    if "." in file.name or not file.name:
        raise InputError(f"a profile called {str(file)!r} is not allowed: its name must end in .toml, like first.toml")
    return file.with_name(f"{file.name}.toml")


def _kind(name: str) -> str:
    if name not in known_kinds():
        raise InputError(f"unknown kind {name!r}: choose among {', '.join(known_kinds())}")
    return name


def _routine(file: Path, name: str | None) -> str | None:
    """Return a routine if there is one of that name beside the profile, in the folder one is in, or ready-made."""
    if name is not None:
        find_routine(name, file)
    return name


def _printable(text: str | None) -> str | None:
    return None if text is None else "\n".join(map(printable, text.split("\n")))


def _all_printable(texts: list[str] | None) -> list[str]:
    return [_printable(text) or "" for text in texts or ()]


def _beside(file: Path, tunes: list[str] | None) -> list[str] | None:
    """Return tunes by their places beside a profile, as it names them."""
    for tune in tunes or ():
        if not os.path.isfile(tune):
            raise InputError(f"there is no tune {tune!r}: name a MusicXML file")
        from etudegen.tunes.keys import read_tune  # noqa: PLC0415 - loads the music library, which few profiles need

        # For whichever instrument: what is no tune is none for any.
        read_tune(Path(tune), None, find_instrument(USUAL))
    return [os.path.relpath(tune, file.parent) for tune in tunes] if tunes else None


def _as_json(file: Path, shown: Profile) -> str:
    return json_format.dumps(
        {
            "profile": str(file),
            "label": shown.label,
            "instrument": shown.instrument.key,
            "low": str(shown.low),
            "high": str(shown.high),
            "reach": str(shown.reach) if shown.reach else None,
            "tempo": {str(rhythm): tempo for rhythm, tempo in shown.tempo.items()},
            "pedals": str(shown.pedals) if shown.pedals else None,
            "aims": {str(aim): weight for aim, weight in shown.aims.items()},
            "minutes_per_day": shown.minutes_per_day,
            "days_per_week": shown.days_per_week,
            "days_since_played": shown.days_since_played,
            "last_played": shown.last_played and shown.last_played.isoformat(),
            "level": shown.level,
            "keys": [key.name for key in shown.keys],
            "rhythms": list(map(str, shown.rhythms)),
            "kinds": list(shown.kinds),
            "routine": shown.routine,
            "paper": str(shown.paper),
            "private_notes": shown.private_notes,
            "notes": shown.notes,
            "tunes": list(map(str, shown.tunes)),
            "progressions": list(shown.progressions),
        }
    )
