"""What is learned from the entries of a journal: how firmly each thing sits, by FSRS, and how that is kept.

What is kept follows from the entries and can be made again from them at any time.
"""

import datetime
import json
import sqlite3
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from etudegen.practice.items import Item

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

# Intervals grow long for a motor skill: nothing in the pool is left longer than a month.
_LONGEST_INTERVAL = 30
_FIRST_DAY = ""


def items_of(values: object) -> tuple[Item, ...]:
    """Return things practised as they are kept in JSON; raise :class:`TypeError` for what are none."""
    if not isinstance(values, list):
        raise TypeError(f"{values!r} is no list of things practised")
    items = tuple(Item(**value) for value in values)
    for item in items:
        if not all(isinstance(text, str) for text in (item.kind, item.choice, item.unit)):
            raise TypeError(f"{item!r} is nothing that can be practised")
    return items


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
        # Beside a greatest value SQLite gives the rest of its row: https://www.sqlite.org/lang_select.html#bareagg
        rows = connection.execute(
            "select kind, choice, unit, stability, difficulty, max(day) from learned where profile = ? and day < ?"
            " group by kind, choice, unit",
            (known_by, day.isoformat()),
        )
        cards = {Item(*row[:3]): _card(*row[3:]) for row in rows}
    else:
        cards = {}
        for _, cards_that_day in _days(connection, known_by, None, _FIRST_DAY, day.isoformat(), {}):
            cards |= cards_that_day
    scheduler = _scheduler()
    return {item: scheduler.get_card_retrievability(card, _noon(day)) for item, card in cards.items()}


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
        of_item = (known_by, item.kind, item.choice, item.unit, first)
        place = "profile = ? and kind = ? and choice = ? and unit = ?"
        connection.execute(f"delete from learned where {place} and day >= ?", of_item)  # noqa: S608 - see above
        row = connection.execute(
            f"select stability, difficulty, day from learned where {place} and day < ?"  # noqa: S608
            " order by day desc limit 1",
            of_item,
        ).fetchone()
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
        "select day, rating, items from rated where profile = ? and day >= ? and day < ? order by day, block",
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


def _card(stability: float, difficulty: float, day: str) -> "Card":
    from fsrs import Card, State  # noqa: PLC0415 - see above

    last = _noon(datetime.date.fromisoformat(day))
    return Card(0, State.Review, None, stability, difficulty, last, last)


def _noon(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time(12), datetime.UTC)
