"""The command that puts down how a block of a session went."""

from typing import Annotated

import typer

from etudegen.cli.practice_options import DateOption, JournalOption, OneProfileOption, journal_of, read_day, read_number
from etudegen.cli.practice_output import tell_recorded
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.plain_text import printable
from etudegen.practice.entries import LONGEST_NOTE, Entry
from etudegen.practice.items import said
from etudegen.practice.profile import read_profile
from etudegen.practice.rating import block_named, block_told, items_meant, read_part, read_rating, read_tempo


def log(
    profile: OneProfileOption,
    block: Annotated[
        str | None,
        typer.Option("--block", metavar="NUMBER|NAME", help="The block, by its number on the plan, or name."),
    ] = None,
    rating: Annotated[
        str | None, typer.Option("--rating", metavar="1-4", help="How it went: 1 not yet ... 4 easily.")
    ] = None,
    parts: Annotated[
        list[str] | None,
        typer.Option(
            "--part", metavar="WHAT=1-4[@TEMPO]", help="How a key, position or sheet of it went: F=2, major=3@72."
        ),
    ] = None,
    tempo: Annotated[str | None, typer.Option("--tempo", metavar="BPM", help="The tempo reached.")] = None,
    date: DateOption = None,
    session: Annotated[
        str | None,
        typer.Option("--session", metavar="NUMBER", help="Which session of the day, from 1. [default: the last]"),
    ] = None,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="A word about it.")] = "",
    journal: JournalOption = None,
) -> None:
    """Put down how a block of a session, or a part of it, went; what went badly comes up sooner, and slower."""
    of_day = read_number("session", session)
    if of_day is not None and of_day < 1:
        raise InputError(f"session {of_day} is not allowed: the sessions of a day are numbered from 1")
    if block is None:
        raise InputError("which block it was is missing: give --block and the number or name that the plan page has")
    if rating is None and not parts:
        raise InputError(
            "how it went is missing: give --rating and 1 (not yet) to 4 (easily), or --part and a part of it, like F=2"
        )
    went = None if rating is None else read_rating(rating)
    reached, of_parts = read_tempo(tempo), [read_part(text) for text in parts or ()]
    if reached is not None and went is None:
        raise InputError(
            f"the tempo {reached} is of the whole block: give --rating too, or a part with it, like F=2@72"
        )
    word = printable(note)
    if len(word) > LONGEST_NOTE:
        raise InputError(f"note of {len(word)} characters is too long: allowed are {LONGEST_NOTE}")
    read_profile(profile)
    day, kept = read_day(date), journal_of(profile, journal)
    made = kept.session(profile, day, of_day)
    number = block_named(made, block.strip())
    chosen = made.blocks[number - 1]
    entries = [Entry(day, number, went, chosen.items, word, made.number, "", reached)] if went is not None else []
    told = [f"{went} ({block_told(chosen)}){_at(reached)}"] if went is not None else []
    for each in of_parts:
        items = items_meant(chosen, each.part)
        entries.append(Entry(day, number, each.rating, items, word, made.number, said(items) or each.part, each.tempo))
        told.append(f"{each.rating} ({entries[-1].part}){_at(each.tempo)}")
    kept.log(profile, *entries)
    which = "" if made.number == 1 else f" session {made.number}"
    tell_made("\n".join(f"{day}{which} block {number}: {each}" for each in told))
    tell_recorded(kept)


def _at(tempo: int | None) -> str:
    return "" if tempo is None else f" at {tempo}"
