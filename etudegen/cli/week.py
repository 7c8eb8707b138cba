"""The command that tells what comes up on the days of a week; it writes nothing."""

import datetime
import json as json_format

import typer

from etudegen.cli.practice_options import (
    AimsOption,
    DateOption,
    JournalOption,
    JsonOption,
    MinutesOption,
    OneProfileOption,
    RoutineOption,
    journal_of,
    read_day,
    read_minutes,
)
from etudegen.cli.practice_output import plan_json, week_table
from etudegen.cli.session import session_of
from etudegen.errors import InputError
from etudegen.practice.days import known_days, practice_days, sessions_ahead
from etudegen.practice.profile import read_profile

_LAST_FIRST_DAY = datetime.date.max - datetime.timedelta(days=6)


def week(
    profile: OneProfileOption,
    minutes: MinutesOption = None,
    aims: AimsOption = None,
    routine: RoutineOption = None,
    date: DateOption = None,
    journal: JournalOption = None,
    json: JsonOption = False,
) -> None:
    """The week from a day on: what comes up on each practice day."""
    playing, first, length = read_profile(profile), read_day(date), read_minutes(minutes)
    kept = journal_of(profile, journal)
    if first > _LAST_FIRST_DAY:
        raise InputError(f"the week from {first} does not end in any year: give a date up to {_LAST_FIRST_DAY}")
    days = known_days(kept, profile, practice_days(first, playing.days_per_week, playing.days_per_week))
    made = list(
        sessions_ahead(
            days, lambda day, history: session_of(playing, day, length, aims, routine, history, profile=profile)
        )
    )
    if json:
        typer.echo(json_format.dumps([plan_json(profile, each, None) for each in made]))
    else:
        typer.echo(week_table(made))
