"""The commands of daily practice: who plays, today's session, the week, how it went, and a book for everybody."""

import datetime
import json as json_format
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from etudegen.cli.practice_options import (
    AimsOption,
    DateOption,
    JournalOption,
    JsonOption,
    LevelOption,
    MinutesOption,
    OutOption,
    PaperOption,
    ProfileOption,
    RoutineOption,
    aim_of,
    read_aims,
    read_day,
    read_level,
    read_minutes,
    read_number,
    read_tempi,
)
from etudegen.cli.practice_output import plan_json, plan_table, week_table
from etudegen.errors import InputError
from etudegen.exercises.settings import one_of, whole_number
from etudegen.files.writing import write_text_in_place
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.practice.journal import Entry, Journal
from etudegen.practice.pools import said
from etudegen.practice.profile import Profile, changed_profile, profiles_in, read_profile
from etudegen.practice.routines import routine as find_routine
from etudegen.practice.session import Session, kind_name, make_session
from etudegen.study import Paper
from etudegen.theory.pitch import WrittenPitch

_MOST_WORKERS = 64


def journal_of(profile_file: Path, named: Path | None) -> Journal:
    """Return the journal to use with a player's file: the one named, or the one beside it."""
    return Journal(named or profile_file.parent / "journal.sqlite")


def profile(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The profile, a TOML file.")],
    label: Annotated[str | None, typer.Option("--label", help="Who this is, such as 'first chair'.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", metavar="NAME")] = None,
    low: Annotated[str | None, typer.Option("--low", metavar="NOTE", help="Lowest comfortable note.")] = None,
    high: Annotated[str | None, typer.Option("--high", metavar="NOTE", help="Highest comfortable note.")] = None,
    reach: Annotated[str | None, typer.Option("--reach", metavar="NOTE", help="Highest note on a good day.")] = None,
    tempo: Annotated[
        list[str] | None, typer.Option("--tempo", metavar="RHYTHM=BPM", help="Fastest clean tempo, such as eighths=96.")
    ] = None,
    pedals: Annotated[str | None, typer.Option("--pedals", help="Pedal experience: none, some or regular.")] = None,
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
    notes: Annotated[str | None, typer.Option("--notes", help="The teacher's notes.")] = None,
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
        "label": label, "instrument": instrument, "low": low, "high": high, "reach": reach, "pedals": pedals,
        "minutes_per_day": read_number("minutes-per-day", minutes_per_day),
        "days_per_week": read_number("days-per-week", days_per_week),
        "days_since_played": read_number("days-since-played", days_since_played), "notes": notes,
        "tunes": _beside(file, tunes), "progressions": progressions or None,
        **{f"tempo.{rhythm}": quarters for rhythm, quarters in read_tempi(tempo).items()},
        **{f"aims.{aim}": weight for aim, weight in read_aims(aims).items()},
    }  # fmt: skip
    if file.suffix != ".toml":
        raise InputError(f"a profile called {str(file)!r} is not allowed: its name must end in .toml, like first.toml")
    changes = {key: value for key, value in given.items() if value is not None}
    before = _profile_text(file)
    if changes:
        if before is None and label is None:
            changes["label"] = file.stem.replace("-", " ")
        write_text_in_place(file, changed_profile(before or "", changes))
    elif before is None:
        raise InputError(f"there is no {str(file)!r} yet: give at least --label, --low or --high to make it")
    shown = read_profile(file)
    typer.echo(_profile_json(shown) if json else f"{file}\n{file.read_text(encoding='utf-8')}".rstrip())


def _beside(file: Path, tunes: list[str] | None) -> list[str] | None:
    """Return tunes by their places beside a profile, as it names them."""
    for tune in tunes or ():
        if not Path(tune).is_file():
            raise InputError(f"there is no tune {tune!r}: name a MusicXML file")
    return [os.path.relpath(tune, file.parent) for tune in tunes] if tunes else None


def _profile_text(file: Path) -> str | None:
    if not file.exists():
        return None
    read_profile(file)
    return file.read_text(encoding="utf-8")


def _profile_json(shown: Profile) -> str:
    return json_format.dumps(
        {
            "label": shown.label,
            "instrument": shown.instrument.key,
            "low": str(shown.low),
            "high": str(shown.high),
            "reach": str(shown.reach) if shown.reach else None,
            "tempo": {str(rhythm): tempo for rhythm, tempo in shown.tempo.items()},
            "pedals": str(shown.pedals),
            "aims": {str(aim): weight for aim, weight in shown.aims.items()},
            "minutes_per_day": shown.minutes_per_day,
            "days_per_week": shown.days_per_week,
            "days_since_played": shown.days_since_played,
            "notes": shown.notes,
            "tunes": list(map(str, shown.tunes)),
            "progressions": list(shown.progressions),
        }
    )


def _profile_from(file: Path | None, low: str | None, high: str | None, instrument: str | None) -> Profile:
    if file is not None:
        if low or high or instrument:
            raise InputError("a player's file tells the range: leave out --low, --high and --instrument, or --player")
        return read_profile(file)
    given: dict[str, Any] = {"label": "practice"}
    if instrument is not None:
        given["instrument"] = find_instrument(instrument)
    if low is not None:
        given["low"] = WrittenPitch.parse(low)
    if high is not None:
        given["high"] = WrittenPitch.parse(high)
    return Profile(**given)


def session_of(
    playing: Profile,
    day: datetime.date,
    minutes: int | None,
    aims: list[str] | None,
    routine: str | None,
    journal: Journal | None,
) -> Session:
    """Return the session that a command line asks for."""
    return make_session(
        playing,
        day,
        minutes if minutes is not None else playing.minutes_per_day,
        aim_of(aims, day),
        find_routine(routine) if routine is not None else None,
        journal.retained(playing.label, day) if journal else {},
    )


def session(
    profile: ProfileOption = None,
    low: Annotated[str | None, typer.Option("--low", metavar="NOTE", help="Lowest note, without a profile.")] = None,
    high: Annotated[str | None, typer.Option("--high", metavar="NOTE", help="Highest note, without a profile.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", metavar="NAME", help="Without a profile.")] = None,
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Print the plan, write nothing.")] = False,
    level: LevelOption = None,
    paper: PaperOption = "A4",
    out: OutOption = Path("output"),
    journal: JournalOption = None,
    audio: Annotated[bool, typer.Option("--audio", help="Write the whole session as sound (FLAC) as well.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
    json: JsonOption = False,
) -> None:
    """Today's session as a book: a plan page, then every study in playing order."""
    day, length, sheet, allowed = (
        read_day(date),
        read_minutes(minutes),
        one_of(Paper, "paper")(paper),
        read_level(level),
    )
    playing = _profile_from(profile, low, high, instrument)
    book_of = journal_of(profile, journal) if profile else None
    files: list[Path] = []
    if dry_run:
        made = session_of(playing, day, length, aims, routine, book_of)
    else:
        from etudegen.engraving.engraver import PARTS, Engraver  # noqa: PLC0415
        from etudegen.sheets.session import make_book  # noqa: PLC0415 - planning needs no engraver

        with Engraver(parts=PARTS) as engraver:
            made = session_of(playing, day, length, aims, routine, book_of)
            named = "" if profile else _file_words(made, routine)
            files = make_book(
                made,
                out,
                engraver,
                paper=sheet,
                level=allowed,
                force=force,
                named=named,
                audio=audio,
                tell=lambda left_out: typer.echo(f"left out: {left_out}", err=True),
            )
        if book_of:
            book_of.keep_session(playing.label, day, made.blocks_with_items)
    if profile is None:
        _tell_assumed({"low": low, "high": high, "aim": aims, "minutes": minutes}, made)
    if json:
        typer.echo(json_format.dumps(plan_json(made, files if not dry_run else None)))
    elif dry_run:
        typer.echo(plan_table(made, allowed))
    else:
        typer.echo("\n".join(map(str, files)))


def _file_words(made: Session, routine: str | None) -> str:
    """Return what the files of somebody without a profile are called: by what was asked for."""
    playing = made.profile
    notes = [str(note).replace("#", "s") for note in (playing.low, playing.high)]
    other = [] if playing.instrument == Profile(label=playing.label).instrument else [playing.instrument.key]
    return "-".join([playing.label, *other, *notes, str(made.plan.aim), *([Path(routine).stem] if routine else [])])


def _tell_assumed(given: dict[str, Any], made: Session) -> None:
    """Say in a line what was taken because it was not given."""
    taken = {"low": made.profile.low, "high": made.profile.high, "aim": made.plan.aim, "minutes": made.plan.minutes}
    assumed = [name for name in taken if not given[name]]
    if assumed:
        said_so = ", ".join(f"{name} {taken[name]}" for name in assumed)
        options = ", ".join(f"--{name}" for name in assumed)
        typer.echo(f"etudegen: assumed {said_so}: say others by {options}", err=True)


def week(
    profile: Annotated[Path, typer.Option("--profile", metavar="FILE", help="The player's profile.")],
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    journal: JournalOption = None,
    json: JsonOption = False,
) -> None:
    """The week from a day on: what comes up on each practice day."""
    playing, first, length = read_profile(profile), read_day(date), read_minutes(minutes)
    book_of = journal_of(profile, journal)
    days = [first + datetime.timedelta(days=after) for after in practice_days(playing.days_per_week)]
    made = [session_of(playing, day, length, aims, routine, book_of) for day in days]
    if json:
        typer.echo(json_format.dumps([{"date": each.day.isoformat(), **plan_json(each, None)} for each in made]))
    else:
        typer.echo(week_table(made))


def practice_days(days: int) -> list[int]:
    """Return which days of a week to practise on, 0 to 6, spread evenly."""
    return [7 * place // days for place in range(days)]


def log(
    profile: Annotated[Path, typer.Option("--profile", metavar="FILE", help="The player's profile.")],
    block: Annotated[
        str | None, typer.Option("--block", metavar="NUMBER", help="Number of the block on the plan page.")
    ] = None,
    rating: Annotated[
        str | None, typer.Option("--rating", metavar="1-4", help="How it went: 1 not yet ... 4 easily.")
    ] = None,
    date: DateOption = None,
    note: Annotated[str, typer.Option("--note", help="A word about it.")] = "",
    journal: JournalOption = None,
) -> None:
    """Put down how a block of a session went; what went badly comes up sooner."""
    number, went = read_number("block", block), read_number("rating", rating)
    if number is None:
        raise InputError("which block it was is missing: give --block and the number that it has on the plan page")
    if went is None:
        raise InputError("how it went is missing: give --rating and 1 (not yet) to 4 (easily)")
    playing, day = read_profile(profile), read_day(date)
    book = journal_of(profile, journal)
    blocks = book.blocks_of(playing.label, day)
    rated = [place for place, items in enumerate(blocks, start=1) if items]
    if number not in rated:
        raise InputError(f"block {number} is no block to rate: choose one of {', '.join(map(str, rated))}")
    items = blocks[number - 1]
    book.log(playing.label, Entry(day, number, went, items, note))
    names = ", ".join(filter(None, (kind_name(items[0].split(":")[0]), said(items))))
    typer.echo(f"{day} block {number}: {went} ({names})")


def studio(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder with a profile for each player.")],
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    level: LevelOption = None,
    paper: PaperOption = "A4",
    out: OutOption = Path("output"),
    journal: JournalOption = None,
    workers: Annotated[
        str, typer.Option("--workers", metavar="NUMBER", help=f"Books made at the same time, 1 to {_MOST_WORKERS}.")
    ] = "2",
    force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
    json: JsonOption = False,
) -> None:
    """A book for every player in a folder; what has not changed since the last time is kept."""
    from etudegen.sheets.studio import Order, make_books  # noqa: PLC0415 - planning needs no engraver

    day, length, together = read_day(date), read_minutes(minutes), whole_number("workers", 1, _MOST_WORKERS)(workers)
    if routine is not None:
        find_routine(routine)
    orders = [
        Order(
            file,
            day,
            length,
            aim_of(aims, day),
            routine,
            one_of(Paper, "paper")(paper),
            read_level(level),
            out,
            journal or file.parent / "journal.sqlite",
            force,
        )
        for file in profiles_in(folder)
    ]
    made = []
    with typer.progressbar(length=len(orders), file=sys.stderr, hidden=not sys.stderr.isatty()) as progress:
        for each in make_books(orders, together):
            made.append(each)
            progress.update(1)
    made.sort(key=lambda each: each.profile_file.name)
    if json:
        rows = [
            {
                "profile": str(each.profile_file),
                "kept": each.kept,
                "trouble": each.trouble,
                "files": list(map(str, each.files)),
            }
            for each in made
        ]
        typer.echo(json_format.dumps(rows))
    else:
        for each in made:
            if each.files:
                typer.echo(f"{each.files[0]}{' (unchanged)' if each.kept else ''}")
    for each in made:
        for left_out in each.left_out:
            typer.echo(f"left out: {each.profile_file.name}: {left_out}", err=True)
    for each in made:
        if each.trouble:
            whose = "" if str(each.profile_file) in each.trouble else f"{each.profile_file}: "
            typer.echo(f"etudegen: {whose}{' '.join(each.trouble.split())}", err=True)
    if any(each.trouble for each in made):
        raise typer.Exit(max(each.exit_code for each in made))
