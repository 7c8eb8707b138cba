"""The command that makes a book for every player in a folder."""

import json as json_format
import re
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.practice_options import (
    AimsOption,
    DateOption,
    JournalOption,
    JsonOption,
    MinutesOption,
    OutOption,
    PaperOption,
    RoutineOption,
    SoundLevelOption,
    aims_of,
    journal_of,
    read_day,
    read_minutes,
    read_paper,
    read_sound_level,
)
from etudegen.cli.practice_output import tell_recorded
from etudegen.cli.terminal import complain, tell_made
from etudegen.errors import InputError
from etudegen.exercises.settings import whole_number
from etudegen.files.writing import check_free
from etudegen.plain_text import printable
from etudegen.practice.days import MOST_DAYS, DaysAsked
from etudegen.practice.journal import Journal
from etudegen.practice.profile import profiles_in
from etudegen.practice.routines import routine as find_routine

if TYPE_CHECKING:
    from etudegen.sheets.studio import BookResult

_MOST_WORKERS = 64
_FILE_NAME = re.compile(r"[^/\\:.][^/\\:]{0,100}\.pdf")


def studio(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder with a profile for each player.")],
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    days: Annotated[
        str | None, typer.Option("--days", metavar="NUMBER", help=f"So many practice days in a book, 1 to {MOST_DAYS}.")
    ] = None,
    first: Annotated[
        str | None, typer.Option("--from", metavar="YYYY-MM-DD", help="All practice days from this one on, with --to.")
    ] = None,
    last: Annotated[
        str | None, typer.Option("--to", metavar="YYYY-MM-DD", help="All practice days up to this one, with --from.")
    ] = None,
    sound_level: SoundLevelOption = None,
    paper: PaperOption = None,
    out: OutOption = Path("output"),
    one_file: Annotated[
        str | None, typer.Option("--one-file", metavar="NAME.pdf", help="All books in one file as well, to print.")
    ] = None,
    roster: Annotated[
        Path | None, typer.Option("--roster", metavar="FILE.csv", help="Make or change profiles by a table, no books.")
    ] = None,
    write_roster: Annotated[
        Path | None, typer.Option("--write-roster", metavar="FILE.csv", help="Write the profiles as a table, no books.")
    ] = None,
    journal: JournalOption = None,
    workers: Annotated[
        str, typer.Option("--workers", metavar="NUMBER", help=f"Books made at the same time, 1 to {_MOST_WORKERS}.")
    ] = "2",
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="Made by a Dask cluster, tcp://HOST:PORT.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
    json: JsonOption = False,
) -> None:
    """A book for every player in a folder; what has not changed since the last time is kept."""
    if roster is not None or write_roster is not None:
        from etudegen.cli import roster as rosters  # noqa: PLC0415 - seldom wanted

        days_told = {"date": date, "days": days, "from": first, "to": last}
        rosters.check_alone(
            minutes=minutes,
            aim=aims,
            routine=routine,
            sound_level=sound_level,
            one_file=one_file,
            journal=journal,
            cluster=cluster,
            **days_told,
        )
        if roster is not None and write_roster is not None:
            raise InputError("--roster and --write-roster are two things: say one after the other")
        if roster is not None:
            rosters.profiles_from(roster, folder, json=json)
        elif write_roster is not None:
            rosters.write_roster(write_roster, folder, force=force)
        return
    from etudegen.sheets.studio import BookRequest, bind_books, make_books  # noqa: PLC0415 - planning needs no engraver

    asked, length = _days_asked(date, days, first, last), read_minutes(minutes)
    together = whole_number("workers", 1, _MOST_WORKERS)(workers)
    requests = [
        BookRequest(
            file,
            asked,
            length,
            aims_of(aims),
            routine,
            read_paper(paper),
            read_sound_level(sound_level),
            out,
            journal_of(file, journal).path,
            force,
        )
        for file in profiles_in(folder)
    ]
    if routine is not None:
        # One sentence for all: they have their routines in one folder.
        find_routine(routine, requests[0].profile_file)
    if one_file is not None:
        _check_name(one_file)
        if not force:
            check_free(out, [one_file])
    books: list[BookResult] = []
    with ExitStack() as stack:
        elsewhere = None
        if cluster is not None:
            from etudegen.sheets.cluster import Cluster  # noqa: PLC0415 - needs an extra, and is slow to load

            elsewhere = stack.enter_context(Cluster(cluster)).results
        for book in make_books(requests, together, lambda said: typer.echo(f"etudegen: {said}", err=True), elsewhere):
            books.append(book)
            done = "unchanged" if book.kept else "made" if book.files else "not made"
            typer.echo(f"{done}: {book.profile_file.stem} ({len(books)} of {len(requests)})", err=True)
    books.sort(key=lambda book: book.profile_file.name)
    if json:
        tell_made(json_format.dumps(list(map(_as_values, books))))
    else:
        for book in books:
            if book.files:
                tell_made(f"{book.files[0]}{' (unchanged)' if book.kept else ''}")
    for book in books:
        tell_replaced(book.replaced)
        for left_out in book.left_out:
            typer.echo(f"left out: {book.profile_file.name}: {left_out}", err=True)
    if any(book.files and not book.kept and not book.trouble for book in books):
        # All of a folder have the same one.
        tell_recorded(Journal(requests[0].journal))
    for trouble in dict.fromkeys(book.trouble for book in books if book.trouble):
        # What all have in common is told once.
        whose = [str(book.profile_file) for book in books if book.trouble == trouble]
        shown = "" if any(file in trouble for file in whose) else f"{', '.join(whose)}: "
        complain(f"{shown}{trouble}")
    if one_file is not None and any(book.files for book in books):
        bound = bind_books(books, out, one_file, force=force)
        tell_replaced(bound.replaced)
        if not json:
            tell_made(str(bound.files[0]))
        for book in books:
            if not book.files:
                typer.echo(f"left out of {one_file}: {book.profile_file.stem}", err=True)
    if any(book.trouble for book in books):
        raise typer.Exit(max(book.exit_code for book in books))


def _days_asked(date: str | None, days: str | None, first: str | None, last: str | None) -> DaysAsked:
    """Read which days are asked for: one if nothing tells."""
    if first is None and last is None:
        return DaysAsked(read_day(date), 1 if days is None else whole_number("days", 1, MOST_DAYS)(days))
    if first is None or last is None:
        raise InputError("--from and --to belong together: give both, or --days with --date")
    if date is not None or days is not None:
        raise InputError("--from and --to tell the days: leave out --date and --days")
    return DaysAsked(read_day(first), last=read_day(last))


def _check_name(one_file: str) -> None:
    if _FILE_NAME.fullmatch(one_file) is None or printable(one_file) != one_file:
        raise InputError(
            f"one-file {one_file!r} is not allowed: give a name that ends in .pdf, like all.pdf, without a folder"
        )


def _as_values(book: "BookResult") -> dict[str, Any]:
    return {
        "profile": str(book.profile_file),
        "kept": book.kept,
        "trouble": book.trouble,
        "files": list(map(str, book.files)),
    }
