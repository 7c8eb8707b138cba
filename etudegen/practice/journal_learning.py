"""What is learned from the entries of a journal: how firmly each thing sits, by FSRS, and at which step it is.

What is kept follows from the entries and can be made again from them at any time.
"""

import datetime
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from etudegen.practice.entries import BEST, WORST, items_in, items_of
from etudegen.practice.items import Item
from etudegen.practice.spacing import State

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

# Intervals grow long for a motor skill: nothing in the pool is left longer than a month.
_LONGEST_INTERVAL = 30
_FIRST_DAY, _LAST_DAY = "", "a"
# The bounds of what FSRS calls difficulty.
_EASIEST, _HARDEST = 1, 10
_KNOWN = "stability, difficulty, day, rating, easy, step"


@dataclass(frozen=True, slots=True)
class Learned:
    """How firmly a thing sits, and how it went."""

    card: "Card"
    state: State


def learn(
    connection: sqlite3.Connection, known_by: str, items: Iterable[Item], day: datetime.date, *, added: int
) -> None:
    """Learn anew what a player's entries from a day on say of some things, after so many entries were ``added``.

    If others were added or taken away elsewhere, everything is learned anew.
    """
    if _is_in_step(connection, known_by, added):
        _learn(connection, known_by, set(items), day.isoformat())
        _note_step(connection, known_by)
    else:
        learn_all(connection, known_by)


def learn_all(connection: sqlite3.Connection, known_by: str) -> None:
    """Learn everything anew that a player's entries say."""
    connection.execute("delete from learned where profile = ?", (known_by,))
    _learn(connection, known_by, None, _FIRST_DAY)
    _note_step(connection, known_by)


def learned(
    connection: sqlite3.Connection, known_by: str, day: datetime.date, ratings: int | None = None
) -> dict[Item, tuple[float, State]]:
    """Return for each thing rated before a day the chance, 0 to 1, that it is still at hand that day, and how it went.

    With ``ratings``, the number of an entry, only up to that one.
    """
    end = day.isoformat()
    first = _FIRST_DAY
    known: dict[Item, Learned] = {}
    if _is_in_step(connection, known_by):
        first = min(end, _first_day_after(connection, known_by, ratings))
        for item in _rated(connection, known_by):
            row = _last_learned(connection, known_by, item, first)
            if row:
                known[item] = _read(row)
    if first < end:
        for _ in _days(connection, known_by, None, (first, end, ratings), known):
            pass
    if not known:
        return {}
    scheduler = _scheduler()
    return {
        item: (scheduler.get_card_retrievability(each.card, _noon(day)), each.state) for item, each in known.items()
    }


def _first_day_after(connection: sqlite3.Connection, known_by: str, ratings: int | None) -> str:
    """Return the first day on which something was rated after the entry of a number; the end of time if none was."""
    if ratings is None:
        return _LAST_DAY
    (day,) = connection.execute(
        "select min(day) from rated where number > ? and +profile = ?", (ratings, known_by)
    ).fetchone()
    return _LAST_DAY if day is None else str(day)


def _rated(connection: sqlite3.Connection, known_by: str) -> Iterator[Item]:
    """Yield the things that a player has rated, by steps in the index: ten years have many days of each."""
    columns = ("profile", "kind", "choice", "unit")

    def steps(*before: str) -> Iterator[tuple[str, ...]]:
        if len(before) == len(columns):
            yield before
            return
        column = columns[len(before)]
        place = " and ".join(f"{known} = ?" for known in columns[: len(before)])
        least = f"select min({column}) from learned where {place}"  # noqa: S608 - names of our own
        (found,) = connection.execute(least, before).fetchone()
        while found is not None:
            yield from steps(*before, found)
            (found,) = connection.execute(f"{least} and {column} > ?", (*before, found)).fetchone()

    for _, *values in steps(known_by):
        yield from items_of([dict(zip(columns[1:], values, strict=True))])


def _last_learned(connection: sqlite3.Connection, known_by: str, item: Item, before: str) -> Any:
    """Return how firmly a thing sat, and after which day, when it was last rated before a day."""
    return connection.execute(
        f"select {_KNOWN} from learned where profile = ? and kind = ? and choice = ? and unit = ?"  # noqa: S608 - ours
        " and day < ? order by day desc limit 1",
        (known_by, item.kind, item.choice, item.unit, before),
    ).fetchone()


def _is_in_step(connection: sqlite3.Connection, known_by: str, added: int = 0) -> bool:
    """Tell whether what was learned is of all entries that there are, but for those that were ``added``."""
    row = connection.execute("select entries from learned_of where profile = ?", (known_by,)).fetchone()
    return row is not None and _entries(connection, known_by) == row[0] + added


def _entries(connection: sqlite3.Connection, known_by: str) -> int:
    (count,) = connection.execute("select count(*) from rated where profile = ?", (known_by,)).fetchone()
    return int(count)


def _note_step(connection: sqlite3.Connection, known_by: str) -> None:
    connection.execute("insert or replace into learned_of values (?, ?)", (known_by, _entries(connection, known_by)))


def _learn(connection: sqlite3.Connection, known_by: str, items: set[Item] | None, first: str) -> None:
    known: dict[Item, Learned] = {}
    for item in items or ():
        connection.execute(
            "delete from learned where profile = ? and kind = ? and choice = ? and unit = ? and day >= ?",
            (known_by, item.kind, item.choice, item.unit, first),
        )
        row = _last_learned(connection, known_by, item, first)
        if row:
            known[item] = _read(row)
    for day, of_day in _days(connection, known_by, items, (first, _LAST_DAY, None), known):
        connection.executemany(
            "insert into learned values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (known_by, item.kind, item.choice, item.unit, day, each.card.stability, each.card.difficulty,
                 each.state.rating, each.state.easy, each.state.step)
                for item, each in of_day.items()
            ],
        )  # fmt: skip


def _days(
    connection: sqlite3.Connection,
    known_by: str,
    items: set[Item] | None,
    span: tuple[str, str, int | None],
    known: dict[Item, Learned],
) -> Iterator[tuple[str, dict[Item, Learned]]]:
    """Yield the days from one to before another, and what is known after each of the things rated on it.

    Of all things if none are named; the last of the ``span`` is the number of the last entry that counts, if not all
    do. ``known`` is what was known before, and is changed.
    """
    from fsrs import Card, Rating  # noqa: PLC0415 - only who keeps a journal needs it

    scheduler = _scheduler()
    first, end, ratings = span
    rows = connection.execute(
        "select day, session, block, part, rating, items from rated where profile = ? and day >= ? and day < ?"
        " and (?4 is null or number <= ?4) order by day, session, block, number",
        (known_by, first, end, ratings),
    ).fetchall()
    for day, of_day in groupby(rows, key=lambda row: row[0]):
        now = _noon(datetime.date.fromisoformat(day))
        that_day: dict[Item, Learned] = {}
        for _, of_block in groupby(of_day, key=lambda row: row[1:3]):
            for item, rating in _ratings(of_block).items():
                if items is None or item in items:
                    before = known.get(item)
                    card, _ = scheduler.review_card(
                        before.card if before else Card(card_id=0, due=now), Rating(rating), now
                    )
                    known[item] = that_day[item] = Learned(card, State.after(before.state if before else None, rating))
        yield day, that_day


def _ratings(rows: Iterable[tuple[Any, ...]]) -> dict[Item, int]:
    """Return how each thing of a block went: what was said of just that, else what was said of the whole block."""
    of_all: dict[Item, int] = {}
    of_parts: dict[Item, int] = {}
    for _, _, _, part, rating, practised in rows:
        if part:
            of_parts |= dict.fromkeys(items_in(practised), rating)
        else:
            of_all = dict.fromkeys(items_in(practised), rating)
    return of_all | of_parts


def _scheduler() -> "Scheduler":
    from fsrs import Scheduler  # noqa: PLC0415 - see above

    # Without steps within a day: what is rated is a whole block. What is kept hangs on these numbers: with others the
    # journal has to have another version.
    return Scheduler(learning_steps=(), relearning_steps=(), maximum_interval=_LONGEST_INTERVAL, enable_fuzzing=False)


def _read(row: tuple[Any, ...]) -> Learned:
    """Return what was learned of a thing as it is kept; raise :class:`ValueError` if it cannot be that."""
    from fsrs import Card, State as CardState  # noqa: PLC0415, I001 - see above

    stability, difficulty, day, rating, easy, step = row
    if not (
        isinstance(day, str)
        and isinstance(stability, float)
        and stability > 0
        and isinstance(difficulty, float)
        and _EASIEST <= difficulty <= _HARDEST
        and all(isinstance(number, int) for number in (rating, easy, step))
        and WORST <= rating <= BEST
    ):
        raise ValueError(f"a row of the table 'learned' for the day {str(day)[:40]!r} holds what cannot be there")
    last = _noon(datetime.date.fromisoformat(day))
    return Learned(Card(0, CardState.Review, None, stability, difficulty, last, last), State(rating, easy, step))


def _noon(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time(12), datetime.UTC)
