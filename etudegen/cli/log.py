"""The command that puts down how a block of a session went."""

from typing import Annotated

import typer

from etudegen.cli.practice_options import DateOption, JournalOption, OneProfileOption, journal_of, read_day, read_number
from etudegen.cli.practice_output import tell_recorded
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.plain_text import printable
from etudegen.practice.items import said
from etudegen.practice.journal import Entry
from etudegen.practice.profile import read_profile
from etudegen.practice.session import kind_name


def log(
    profile: OneProfileOption,
    block: Annotated[
        str | None, typer.Option("--block", metavar="NUMBER", help="Number of the block on the plan page.")
    ] = None,
    rating: Annotated[
        str | None, typer.Option("--rating", metavar="1-4", help="How it went: 1 not yet ... 4 easily.")
    ] = None,
    date: DateOption = None,
    session: Annotated[
        str | None,
        typer.Option("--session", metavar="NUMBER", help="Which session of the day, from 1. [default: the last]"),
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="A word about it.")] = "",
    journal: JournalOption = None,
) -> None:
    """Put down how a block of a session went; what went badly comes up sooner."""
    number, went, of_day = read_number("block", block), read_number("rating", rating), read_number("session", session)
    if of_day is not None and of_day < 1:
        raise InputError(f"session {of_day} is not allowed: the sessions of a day are numbered from 1")
    if number is None:
        raise InputError("which block it was is missing: give --block and the number that it has on the plan page")
    if went is None:
        raise InputError("how it went is missing: give --rating and 1 (not yet) to 4 (easily)")
    read_profile(profile)
    day, kept = read_day(date), journal_of(profile, journal)
    of_day, blocks = kept.blocks_of(profile, day, of_day)
    rated = [place for place, items in enumerate(blocks, start=1) if items]
    if number not in rated:
        raise InputError(f"block {number} is no block to rate: choose one of {', '.join(map(str, rated))}")
    items = blocks[number - 1]
    kept.log(profile, Entry(day, number, went, items, printable(note), of_day))
    names = ", ".join(filter(None, (kind_name(items[0].kind), said(items))))
    which = "" if of_day == 1 else f" session {of_day}"
    tell_made(f"{day}{which} block {number}: {went} ({names})")
    tell_recorded(kept)
