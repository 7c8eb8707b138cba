"""The command that makes a day's session: its book, or the plan alone."""

import datetime
import json as json_format
from pathlib import Path
from typing import Annotated, Any

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
    ProfileOption,
    RoutineOption,
    SoundLevelOption,
    aims_of,
    journal_of,
    read_day,
    read_minutes,
    read_paper,
    read_player_level,
    read_sound_level,
)
from etudegen.cli.practice_output import plan_json, plan_table, tell_recorded
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError, MachineError
from etudegen.files.names import distinct_name, player_name
from etudegen.files.writing import Written
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.practice.items import Item
from etudegen.practice.levels import level_names
from etudegen.practice.profile import Profile, read_profile
from etudegen.practice.routines import asked_for
from etudegen.practice.session import Session, make_session
from etudegen.practice.spacing import History
from etudegen.theory.pitch import WrittenPitch


def _profile_from(
    file: Path | None, low: str | None, high: str | None, instrument: str | None, level: str | None
) -> Profile:
    if file is not None:
        if low or high or instrument or level:
            raise InputError(
                "the profile tells the range and the level: leave out --low, --high, --instrument and --level, or "
                "--profile"
            )
        return read_profile(file)
    given: dict[str, Any] = {"label": "practice"}
    if instrument is not None:
        given["instrument"] = find_instrument(instrument)
    if low is not None:
        given["low"] = WrittenPitch.parse(low)
    if high is not None:
        given["high"] = WrittenPitch.parse(high)
    if level is not None:
        given["level"] = level
    return Profile(**given)


def session_of(
    playing: Profile,
    day: datetime.date,
    minutes: int | None,
    aims: list[str] | None,
    routine: str | None,
    history: History[Item],
    *,
    profile: Path | None = None,
    with_rests: bool = False,
) -> Session:
    """Return the session that a command line asks for."""
    chosen, length = asked_for(routine, minutes, (playing.routine, playing.minutes_per_day), profile)
    if with_rests and (chosen is None or not chosen.literal):
        raise InputError("--with-rests is for a routine of your own whose blocks have minutes: others have rests")
    return make_session(
        playing,
        day,
        length,
        aims_of(aims),
        chosen,
        history,
        with_rests=with_rests,
    )


def session(
    profile: ProfileOption = None,
    low: Annotated[str | None, typer.Option("--low", metavar="NOTE", help="Lowest note, without a profile.")] = None,
    high: Annotated[str | None, typer.Option("--high", metavar="NOTE", help="Highest note, without a profile.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", metavar="NAME", help="Without a profile.")] = None,
    level: Annotated[
        str | None,
        typer.Option(
            "--level", metavar="NAME", help=f"{', '.join(level_names())}; without a profile. [default: by the range]"
        ),
    ] = None,
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    with_rests: Annotated[
        bool, typer.Option("--with-rests", help="Put rests into a routine of your own where they are due.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Print the plan, write nothing.")] = False,
    sound_level: SoundLevelOption = None,
    paper: PaperOption = None,
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
        read_paper(paper),
        read_sound_level(sound_level),
    )
    playing = _profile_from(profile, low, high, instrument, read_player_level(level))
    if profile is None and journal is not None:
        raise InputError("--journal is of use only with --profile: without one nothing is recorded")
    kept = journal_of(profile, journal) if profile else None

    def planned() -> Session:
        history: History[Item] = kept.history(profile, day) if kept and profile else History()
        return session_of(playing, day, length, aims, routine, history, profile=profile, with_rests=with_rests)

    written = Written((), ())
    unrecorded: MachineError | None = None
    if dry_run:
        made = planned()
    else:
        from etudegen.engraving.engraver import PARTS, Engraver  # noqa: PLC0415
        from etudegen.sheets.session import make_book  # noqa: PLC0415 - planning needs no engraver

        with Engraver(parts=PARTS) as engraver:
            made = planned()
            written = make_book(
                made,
                out,
                engraver,
                name=player_name(profile, routine) if profile else _file_words(made, routine),
                paper=sheet or playing.paper,
                level=allowed,
                force=force,
                audio=audio,
                tell=lambda left_out: typer.echo(f"left out: {left_out}", err=True),
            )
        tell_replaced(written.replaced)
        if kept and profile:
            try:
                before = kept.planned(profile, day)
                number = kept.keep_session(profile, day, made.kept_blocks)
                tell_recorded(kept)
                if number > 1:
                    typer.echo(f"session {number} of {day}: what was rated of the one before stays", err=True)
                elif before not in ("", kept.planned(profile, day)):
                    typer.echo(f"in place of another session of {day}: blocks are rated by this one's plan", err=True)
            except (InputError, MachineError) as error:
                # The book is made, and its files are told first.
                unrecorded = MachineError(f"the book was made, but the session cannot be recorded: {error}")
    if profile is None:
        _tell_assumed({"low": low, "high": high, "aim": aims, "minutes": minutes}, made)
    if json:
        (typer.echo if dry_run else tell_made)(
            json_format.dumps(plan_json(profile, made, None if dry_run else written.files))
        )
    elif dry_run:
        typer.echo(plan_table(made, allowed))
    else:
        tell_made("\n".join(map(str, written.files)))
    if unrecorded:
        raise unrecorded


def _file_words(made: Session, routine: str | None) -> str:
    """Return what the files of somebody without a profile are called: by what was asked for."""
    playing = made.profile
    notes = [str(note).replace("#", "s").lower() for note in (playing.low, playing.high)]
    other = [] if playing.instrument == Profile(label=playing.label).instrument else [playing.instrument.key]
    own = [distinct_name(Path(routine).stem)] if routine else []
    return "-".join([playing.label, *other, *notes, *own])


def _tell_assumed(given: dict[str, Any], made: Session) -> None:
    """Say in a line what was taken because it was not given."""
    taken = {"low": made.profile.low, "high": made.profile.high, "aim": made.plan.aim, "minutes": made.plan.minutes}
    assumed = [name for name in taken if not given[name]]
    if not made.plan.weights:
        # A routine that is kept as it was said has no aim, and tells how long it is.
        assumed = [name for name in assumed if name in ("low", "high")]
    if assumed:
        said_so = ", ".join(f"{name} {taken[name]}" for name in assumed)
        options = ", ".join(f"--{name}" for name in assumed)
        typer.echo(f"etudegen: assumed {said_so}: say others by {options}", err=True)
