"""What is learned from the entries of a journal: how firmly each thing sits, by FSRS, and how that is kept.

What is kept follows from the entries and can be made again from them at any time.
"""

import datetime
import json
import sqlite3
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from etudegen.practice.items import Item

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

# Intervals grow long for a motor skill: nothing in the pool is left longer than a month.
_LONGEST_INTERVAL = 30
_FIRST_DAY = ""
# The bounds of what FSRS calls difficulty.
_EASIEST, _HARDEST = 1, 10


def items_of(values: object) -> tuple[Item, ...]:
    """Return things practised as they are kept in JSON; raise :class:`TypeError` for what are none."""
    if not isinstance(values, list):
        raise TypeError(f"{values!r} is no list of things practised")
    items = tuple(Item(**value) for value in values)
    for item in items:
        if not all(isinstance(text, str) for text in (item.kind, item.choice, item.unit)):
            raise TypeError(f"{item!r} is nothing that can be practised")
    return items


def items_of_blocks(text: str) -> list[tuple[Item, ...]]:
    """Return what each block of a session held, of the JSON that it is kept as."""
    return [items_of(block) for block in json.loads(text)]


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


def retained(connection: sqlite3.Connection, known_by: str, day: datetime.date) -> dict[Item, float]:
    """Return for each thing practised before a day the chance, 0 to 1, that it is still at hand that day."""
    if not connection.execute(
        "select 1 from rated where profile = ? and day < ? limit 1", (known_by, day.isoformat())
    ).fetchone():
        return {}
    if _is_in_step(connection, known_by):
        cards = {}
        for item in _practised(connection, known_by):
            row = _last_learned(connection, known_by, item, day.isoformat())
            if row:
                cards[item] = _card(*row)
    else:
        cards = {}
        for _, cards_that_day in _days(connection, known_by, None, _FIRST_DAY, day.isoformat(), {}):
            cards |= cards_that_day
    scheduler = _scheduler()
    return {item: scheduler.get_card_retrievability(card, _noon(day)) for item, card in cards.items()}


def _practised(connection: sqlite3.Connection, known_by: str) -> Iterator[Item]:
    """Yield the things that a player has practised, by steps in the index: ten years have many days of each."""
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
    """Return how firmly a thing sat, and after which day, when it was last practised before a day."""
    return connection.execute(
        "select stability, difficulty, day from learned where profile = ? and kind = ? and choice = ? and unit = ?"
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
    cards: dict[Item, Card] = {}
    for item in items or ():
        connection.execute(
            "delete from learned where profile = ? and kind = ? and choice = ? and unit = ? and day >= ?",
            (known_by, item.kind, item.choice, item.unit, first),
        )
        row = _last_learned(connection, known_by, item, first)
        if row:
            cards[item] = _card(*row)
    for day, learned in _days(connection, known_by, items, first, "a", cards):
        connection.executemany(
            "insert into learned values (?, ?, ?, ?, ?, ?, ?)",
            [
                (known_by, item.kind, item.choice, item.unit, day, card.stability, card.difficulty)
                for item, card in learned.items()
            ],
        )


def _days(
    connection: sqlite3.Connection,
    known_by: str,
    items: set[Item] | None,
    first: str,
    end: str,
    cards: "dict[Item, Card]",
) -> "Iterator[tuple[str, dict[Item, Card]]]":
    """Yield the days from one to before another, and the cards of the things (all, if none are named) rated on each.

    ``cards`` are those before, and are changed.
    """
    from fsrs import Card, Rating  # noqa: PLC0415 - only who keeps a journal needs it

    scheduler = _scheduler()
    rows = connection.execute(
        "select day, rating, items from rated where profile = ? and day >= ? and day < ? order by day, session, block",
        (known_by, first, end),
    ).fetchall()
    that_day: dict[Item, Card] = {}
    for place, (day, rating, practised) in enumerate(rows):
        now = _noon(datetime.date.fromisoformat(day))
        for item in items_of(json.loads(practised)):
            if items is None or item in items:
                card = cards.get(item) or Card(card_id=0, due=now)
                cards[item], _ = scheduler.review_card(card, Rating(rating), now)
                that_day[item] = cards[item]
        if place + 1 == len(rows) or rows[place + 1][0] != day:
            yield day, that_day
            that_day = {}


def _scheduler() -> "Scheduler":
    from fsrs import Scheduler  # noqa: PLC0415 - see above

    # Without steps within a day: what is rated is a whole block. What is kept hangs on these numbers: with others the
    # journal has to have another version.
    return Scheduler(learning_steps=(), relearning_steps=(), maximum_interval=_LONGEST_INTERVAL, enable_fuzzing=False)


def _card(stability: object, difficulty: object, day: object) -> "Card":
    """Return the state of a thing as it is kept; raise :class:`ValueError` if it cannot be one."""
    from fsrs import Card, State  # noqa: PLC0415 - see above

    if not (
        isinstance(day, str)
        and isinstance(stability, float)
        and stability > 0
        and isinstance(difficulty, float)
        and _EASIEST <= difficulty <= _HARDEST
    ):
        raise ValueError(f"a row of the table 'learned' for the day {str(day)[:40]!r} holds what cannot be there")

    last = _noon(datetime.date.fromisoformat(day))
    return Card(0, State.Review, None, stability, difficulty, last, last)


def _noon(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time(12), datetime.UTC)
