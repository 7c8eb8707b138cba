"""The command that makes, changes and shows a player's profile."""

import json as json_format
import os
from pathlib import Path
from typing import Annotated

import typer

from etudegen.cli.practice_options import JsonOption, read_aims, read_number, read_tempi
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.instrument.catalogue import USUAL
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.plain_text import printable
from etudegen.practice.profile import Profile, change_profile, read_profile


def profile(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The profile, a TOML file.")],
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
    notes: Annotated[str | None, typer.Option("--notes", metavar="TEXT", help="The teacher's notes.")] = None,
    tunes: Annotated[
        list[str] | None, typer.Option("--tune", metavar="FILE", help="A tune for the music blocks, MusicXML.")
    ] = None,
    progressions: Annotated[
        list[str] | None,
        typer.Option("--changes", metavar="CHORDS", help="Changes, such as '| Dm7 | G7 | Cmaj7 | % |'."),
    ] = None,
    json: JsonOption = False,
) -> None:
    """Make a player's profile, change it, or show it: without any option it is shown as it is."""
    given = {
        "label": _printable(label), "notes": _printable(notes), "instrument": _printable(instrument),
        "low": _printable(low), "high": _printable(high), "reach": _printable(reach), "pedals": _printable(pedals),
        "minutes_per_day": read_number("minutes-per-day", minutes_per_day),
        "days_per_week": read_number("days-per-week", days_per_week),
        "days_since_played": read_number("days-since-played", days_since_played),
        "tunes": _beside(file, tunes), "progressions": list(map(_printable, progressions or ())) or None,
        **{f"tempo.{rhythm}": quarters for rhythm, quarters in read_tempi(tempo).items()},
        **{f"aims.{aim}": weight for aim, weight in read_aims(aims).items()},
    }  # fmt: skip
    if file.suffix != ".toml":
        raise InputError(f"a profile called {str(file)!r} is not allowed: its name must end in .toml, like first.toml")
    changes = {key: value for key, value in given.items() if value is not None}
    if changes:
        change_profile(file, changes, label=file.stem.replace("-", " "))
    elif not os.path.exists(file):
        raise InputError(f"there is no {str(file)!r} yet: give at least --label, --low or --high to make it")
    shown = read_profile(file)
    text = _as_json(file, shown) if json else f"{file}\n{file.read_bytes().decode('utf-8-sig')}".rstrip()
    (tell_made if changes else typer.echo)(text)


def _printable(text: str | None) -> str | None:
    return None if text is None else "\n".join(map(printable, text.split("\n")))


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
            "notes": shown.notes,
            "tunes": list(map(str, shown.tunes)),
            "progressions": list(shown.progressions),
        }
    )
