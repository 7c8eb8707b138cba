"""What a journal tells of the weeks behind: minutes by part, tempi that were reached, and what is due."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from etudegen.practice.entries import Entry, KeptSession
from etudegen.practice.items import Item, said
from etudegen.practice.rules import Part
from etudegen.practice.session import kind_name
from etudegen.practice.spacing import History

MOST_WEEKS = 520
# Of sessions that were made before the minutes of blocks were kept.
_UNKNOWN = "not told"


@dataclass(frozen=True, slots=True)
class Week:
    """A week, from its Monday on: on how many days there was a session, and the minutes of each part, rests too."""

    monday: datetime.date
    days: int
    minutes: dict[str, int]

    @property
    def played(self) -> int:
        """The minutes that are no rest."""
        return sum(minutes for part, minutes in self.minutes.items() if part != Part.REST)


@dataclass(frozen=True, slots=True)
class Reached:
    """A tempo that was reached: on which day, in which kind of exercise, with what, and how it went."""

    day: datetime.date
    kind: str
    what: str
    tempo: int
    rating: int


@dataclass(frozen=True, slots=True)
class Due:
    """Things that went badly when they were rated last: how, and how many days of practice ago they were had.

    ``steps`` are those of a metronome above (or, below zero, below) the clean tempo at which they come.
    """

    kind: str
    what: str
    rating: int
    days_ago: int
    steps: int


@dataclass(frozen=True, slots=True)
class LookBack:
    """The weeks behind, oldest first; the tempi reached in them; and what is due, the worst first."""

    weeks: tuple[Week, ...]
    tempi: tuple[Reached, ...]
    due: tuple[Due, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that there were, in the order of a session."""
        there = {part for week in self.weeks for part in week.minutes}
        return tuple(part for part in (*map(str, Part), _UNKNOWN) if part in there)

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of exercise in which tempi were reached, by name."""
        return tuple(sorted({reached.kind for reached in self.tempi}))


def look_back(
    sessions: Sequence[KeptSession],
    entries: Sequence[Entry],
    history: History[Item],
    day: datetime.date,
    weeks: int,
) -> LookBack:
    """Return so many weeks up to the one that a day is in; nothing after the day counts."""
    this_week = day - datetime.timedelta(days=day.weekday())
    mondays = [this_week - datetime.timedelta(weeks=weeks - 1 - after) for after in range(weeks)]
    return LookBack(
        tuple(_week(monday, [each for each in sessions if each.day <= day]) for monday in mondays),
        tuple(
            Reached(each.day, kind_name(each.items[0].kind), said(each.items) or each.part, each.tempo, each.rating)
            for each in entries
            if each.tempo is not None and each.items and mondays[0] <= each.day <= day
        ),
        tuple(_due(history)),
    )


def _week(monday: datetime.date, sessions: Sequence[KeptSession]) -> Week:
    of_week = [each for each in sessions if 0 <= (each.day - monday).days < 7]
    minutes: dict[str, int] = {}
    for session in of_week:
        for block in session.blocks:
            part = block.part or _UNKNOWN
            minutes[part] = minutes.get(part, 0) + block.minutes
    return Week(monday, len({each.day for each in of_week}), minutes)


def _due(history: History[Item]) -> list[Due]:
    """Return what is weak, told together where it went alike."""
    alike: dict[tuple[int, int, str, int], list[Item]] = {}
    for item, state in history.states.items():
        if state.is_weak:
            ago = history.days - history.had.get(item, history.days - 1)
            alike.setdefault((state.rating, -ago, kind_name(item.kind), state.step), []).append(item)
    return [
        Due(kind, said(alike[rating, ago, kind, step]), rating, -ago, step) for rating, ago, kind, step in sorted(alike)
    ]
