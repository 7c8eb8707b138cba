"""The command that makes a book for every player in a folder."""

import json as json_format
import sys
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
from etudegen.cli.terminal import tell_made
from etudegen.exercises.settings import whole_number
from etudegen.practice.journal import Journal
from etudegen.practice.profile import profiles_in
from etudegen.practice.routines import routine as find_routine

if TYPE_CHECKING:
    from etudegen.sheets.studio import BookResult

_MOST_WORKERS = 64


def studio(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder with a profile for each player.")],
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    sound_level: SoundLevelOption = None,
    paper: PaperOption = None,
    out: OutOption = Path("output"),
    journal: JournalOption = None,
    workers: Annotated[
        str, typer.Option("--workers", metavar="NUMBER", help=f"Books made at the same time, 1 to {_MOST_WORKERS}.")
    ] = "2",
    force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
    json: JsonOption = False,
) -> None:
    """A book for every player in a folder; what has not changed since the last time is kept."""
    from etudegen.sheets.studio import BookRequest, make_books  # noqa: PLC0415 - planning needs no engraver

    day, length, together = read_day(date), read_minutes(minutes), whole_number("workers", 1, _MOST_WORKERS)(workers)
    requests = [
        BookRequest(
            file,
            day,
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
    books = []
    with typer.progressbar(length=len(requests), file=sys.__stderr__, hidden=not sys.stderr.isatty()) as progress:
        for book in make_books(requests, together, tell=lambda said: typer.echo(f"etudegen: {said}", err=True)):
            books.append(book)
            progress.update(1)
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
    if any(book.files and not book.kept for book in books):
        # All of a folder have the same one.
        tell_recorded(Journal(requests[0].journal))
    for book in books:
        if book.trouble:
            whose = "" if str(book.profile_file) in book.trouble else f"{book.profile_file}: "
            typer.echo(f"etudegen: {whose}{' '.join(book.trouble.split())}", err=True)
    if any(book.trouble for book in books):
        raise typer.Exit(max(book.exit_code for book in books))


def _as_values(book: "BookResult") -> dict[str, Any]:
    return {
        "profile": str(book.profile_file),
        "kept": book.kept,
        "trouble": book.trouble,
        "files": list(map(str, book.files)),
    }
