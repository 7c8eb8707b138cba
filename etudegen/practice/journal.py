"""The journal: what was practised, how it went, and what is due again.

One SQLite file. Every entry is on the disk before it is acknowledged (full synchronisation, write-ahead log), and two
processes can write at the same time. When things are due is left to FSRS, an open algorithm for spaced repetition.
"""

import datetime
import json
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import astuple, dataclass
from pathlib import Path

from etudegen.errors import InputError, MachineError
from etudegen.practice.items import Item

_SCHEMA = """
create table if not exists session (
  player text not null, day text not null, blocks text not null, primary key (player, day)
);
create table if not exists entry (
  id integer primary key, player text not null, day text not null, block integer not null,
  rating integer not null, items text not null, note text not null,
  unique (player, day, block)
);
"""
_SECONDS_TO_WAIT = 30
_SECONDS_BETWEEN_TRIES = 0.02
# Intervals grow long for a motor skill: nothing in the pool is left longer than a month.
_LONGEST_INTERVAL = 30
WORST, BEST = 1, 4


@dataclass(frozen=True, slots=True)
class Entry:
    """How a block went: 1 (not yet) to 4 (easily), with the things that were practised in it."""

    day: datetime.date
    block: int
    rating: int
    items: tuple[Item, ...]
    note: str = ""


class Journal:
    """The journal of all players in one file, made when it is first written to."""

    def __init__(self, path: Path) -> None:
        self._path = path

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(self._path, timeout=_SECONDS_TO_WAIT, isolation_level="IMMEDIATE")
        except (OSError, sqlite3.Error) as error:
            raise MachineError(f"cannot open the journal {str(self._path)!r}: {error}") from error
        try:
            _set_up(connection)
            with connection:
                yield connection
        except sqlite3.DatabaseError as error:
            raise MachineError(f"cannot use the journal {str(self._path)!r}: {error}") from error
        finally:
            connection.close()

    def keep_session(self, player: str, day: datetime.date, blocks: Sequence[Sequence[Item]]) -> None:
        """Remember what each block of a day's session holds, so that it can be rated later."""
        with self._open() as connection:
            connection.execute(
                "insert or replace into session values (?, ?, ?)",
                (player, day.isoformat(), json.dumps([list(map(astuple, items)) for items in blocks])),
            )

    def blocks_of(self, player: str, day: datetime.date) -> list[tuple[Item, ...]]:
        """Return what each block of a day's session held; raise :class:`InputError` if none was made."""
        if not self._path.exists():
            raise InputError(f"there is no journal {str(self._path)!r} yet: make a session first")
        with self._open() as connection:
            row = connection.execute(
                "select blocks from session where player = ? and day = ?", (player, day.isoformat())
            ).fetchone()
        if row is None:
            raise InputError(f"no session of {player!r} on {day}: make one with `etudegen session --profile`")
        return [_items(items) for items in json.loads(row[0])]

    def log(self, player: str, entry: Entry) -> None:
        """Put down how a block went; once this returns the entry is on the disk. A second rating replaces the first."""
        if not WORST <= entry.rating <= BEST:
            raise InputError(f"rating {entry.rating} is not allowed: give {WORST} (not yet) to {BEST} (easily)")
        with self._open() as connection:
            connection.execute(
                "insert or replace into entry (player, day, block, rating, items, note) values (?, ?, ?, ?, ?, ?)",
                (
                    player,
                    entry.day.isoformat(),
                    entry.block,
                    entry.rating,
                    _json(entry.items),
                    entry.note,
                ),
            )

    def entries(self, player: str) -> list[Entry]:
        """Return a player's entries, oldest first."""
        if not self._path.exists():
            return []
        with self._open() as connection:
            rows = connection.execute(
                "select day, block, rating, items, note from entry where player = ? order by day, block", (player,)
            ).fetchall()
        return [
            Entry(datetime.date.fromisoformat(day), block, rating, _items(json.loads(items)), note)
            for day, block, rating, items, note in rows
        ]

    def retained(self, player: str, day: datetime.date) -> dict[Item, float]:
        """Return for each thing practised before a day the chance, 0 to 1, that it is still at hand that day."""
        entries = [entry for entry in self.entries(player) if entry.day < day]
        if not entries:
            return {}
        from fsrs import Card, Rating, Scheduler  # noqa: PLC0415 - only who keeps a journal needs it

        scheduler = Scheduler(
            learning_steps=(), relearning_steps=(), maximum_interval=_LONGEST_INTERVAL, enable_fuzzing=False
        )
        cards: dict[Item, Card] = {}
        for entry in entries:
            for item in entry.items:
                card = cards.get(item) or Card(card_id=0, due=_noon(entry.day))
                cards[item], _ = scheduler.review_card(card, Rating(entry.rating), _noon(entry.day))
        return {item: scheduler.get_card_retrievability(card, _noon(day)) for item, card in cards.items()}


def _json(items: Sequence[Item]) -> str:
    return json.dumps(list(map(astuple, items)))


def _items(rows: Sequence[Sequence[str]]) -> tuple[Item, ...]:
    return tuple(Item(*row) for row in rows)


def _set_up(connection: sqlite3.Connection) -> None:
    """Make the tables if need be; wait for others who are just doing that, for whom SQLite itself does not wait."""
    deadline = time.monotonic() + _SECONDS_TO_WAIT
    while True:
        try:
            connection.execute("pragma journal_mode = wal")
            connection.execute("pragma synchronous = full")
            connection.executescript(_SCHEMA)
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(_SECONDS_BETWEEN_TRIES)
        else:
            return


def _noon(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time(12), datetime.UTC)
