"""Days ahead: which of them a player practises on, and the session of each as if those before had been practised."""

import datetime
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from etudegen.practice.session import Session
from etudegen.practice.spacing import History

# A month of practice days: nobody's plans hold for longer.
MOST_DAYS = 31
_WEEK = 7


@dataclass(frozen=True, slots=True)
class DaysAsked:
    """What was asked for: so many practice days from the ``first`` on, or, with ``last``, all of them up to that."""

    first: datetime.date
    count: int = 1
    last: datetime.date | None = None

    def __post_init__(self) -> None:
        if self.last is None:
            return
        if self.last < self.first:
            raise InputError(f"{self.last} lies before {self.first}: give the first day and then the last")
        if (self.last - self.first).days >= MOST_DAYS:
            raise InputError(
                f"{self.first} to {self.last} are {(self.last - self.first).days + 1} days: allowed are {MOST_DAYS}"
            )

    def of(self, days_per_week: int) -> tuple[datetime.date, ...]:
        """Return the days on which somebody practises who does so on so many days a week, spread evenly."""
        if self.last is None:
            return practice_days(self.first, days_per_week, self.count)
        length = (self.last - self.first).days + 1
        # Those whose place, spread evenly, comes before the end.
        return practice_days(self.first, days_per_week, -(-length * days_per_week // _WEEK))


def practice_days(first: datetime.date, days_per_week: int, count: int) -> tuple[datetime.date, ...]:
    """Return so many practice days from a first one on; raise :class:`InputError` where they do not end in any year."""
    after = [_WEEK * place // days_per_week for place in range(count)]
    if first.toordinal() + after[-1] > datetime.date.max.toordinal():
        raise InputError(f"{count} practice days from {first} on do not end in any year: give an earlier day")
    return tuple(first + datetime.timedelta(days=each) for each in after)


@dataclass(frozen=True, slots=True)
class KnownDay:
    """A day with what the journal knows of a player before it, and whether a session of it ``was_made`` already."""

    day: datetime.date
    history: History[Item]
    was_made: bool = False


def known_days(journal: Journal, profile: Path, days: Sequence[datetime.date]) -> tuple[KnownDay, ...]:
    """Return what a journal knows of days ahead."""
    return tuple(KnownDay(day, journal.history(profile, day), bool(journal.planned(profile, day))) for day in days)


def sessions_ahead(
    days: Sequence[KnownDay], make: Callable[[datetime.date, History[Item]], Session]
) -> Iterator[Session]:
    """Yield the session of each day, made of what is known by then if those before are practised.

    A day of which one was made already comes as it was then: what was known is known.
    """
    made: list[Session] = []
    for known in days:
        history = known.history
        for before in made:
            # What is not in the journal yet will be by then.
            if not known.was_made and before.day not in history.practised:
                history = history.after(before.items, before.day)
        made.append(make(known.day, history))
        yield made[-1]
