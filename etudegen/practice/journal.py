"""The journal: what was practised, how it went, and what is known of it on a day.

One SQLite file for the players of a folder. A player is known by the place of the profile beside the journal, so that
neither another label nor another place of the whole folder parts a player from what was practised. Every entry is on
the disk before it is acknowledged, and two processes can write at the same time. Nothing is taken away: a day that was
made once can be made again as it was.
"""

import datetime
import hashlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.reading import kind_of_file
from etudegen.practice.entries import (
    BEST,
    WORST,
    Entry,
    KeptBlock,
    KeptSession,
    blocks_of,
    items_in,
    text_of_blocks,
    text_of_items,
)
from etudegen.practice.items import Item
from etudegen.practice.journal_file import JournalFile
from etudegen.practice.journal_history import history_of
from etudegen.practice.journal_learning import learn
from etudegen.practice.spacing import History
from etudegen.theory.tempo import FASTEST, SLOWEST


class Journal:
    """The journal of all players of a folder, made when it is first written to."""

    def __init__(self, path: Path) -> None:
        self._file = JournalFile(path)

    @property
    def path(self) -> Path:
        """Where its file is."""
        return self._file.path

    @property
    def unclaimed(self) -> tuple[str, ...]:
        """Labels that a change found in an older form of it, and whose entries are nobody's."""
        return self._file.unclaimed

    def keep_session(self, profile: Path, day: datetime.date, blocks: Sequence[KeptBlock]) -> int:
        """Remember what each block of a session holds, so that it can be rated later; return its number that day.

        It takes the place of the day's last session, unless something of that has been rated: then that one was
        played, and this is another.
        """
        told = text_of_blocks(blocks)
        of_day = (self._file.place(profile), day.isoformat())
        with self._file.writing(profile) as connection:
            number, before = _last(connection, of_day) or (1, "")
            if before == told:
                return number
            if (
                before
                and connection.execute(
                    "select 1 from rated where profile = ? and day = ? and session = ? limit 1", (*of_day, number)
                ).fetchone()
            ):
                number += 1
            known = _known_first(connection, of_day) or _known_now(connection)
            connection.execute("insert into planned values (null, ?, ?, ?, ?, ?, ?)", (*of_day, number, *known, told))
        return number

    def planned(self, profile: Path, day: datetime.date) -> str:
        """Return what tells the last session of a day from another, nothing where none is remembered."""
        if not kind_of_file(self.path):
            return ""
        with self._file.reading(profile) as connection:
            last = _last(connection, (self._file.place(profile), day.isoformat()))
        return "" if last is None else hashlib.sha256(last[1].encode()).hexdigest()

    def session(self, profile: Path, day: datetime.date, number: int | None = None) -> KeptSession:
        """Return a session of a day, the last one if no number is given; raise :class:`InputError` if none was made."""
        if not kind_of_file(self.path):
            raise InputError(f"there is no journal {str(self.path)!r} yet: make a session first")
        with self._file.reading(profile) as connection:
            known_by = self._file.place(profile)
            kept = dict(
                connection.execute(
                    "select session, blocks from planned where profile = ? and day = ? order by number",
                    (known_by, day.isoformat()),
                ).fetchall()
            )
            wanted = number or max(kept, default=1)
            found = blocks_of(kept[wanted]) if wanted in kept else None
            (last,) = connection.execute("select max(day) from planned where profile = ?", (known_by,)).fetchone()
        if found is not None:
            return KeptSession(day, wanted, found)
        if kept:
            raise InputError(
                f"session {wanted} of {day} is not in the journal: it has {', '.join(map(str, sorted(kept)))}"
            )
        what = f"no session of {str(profile)!r} on {day} is in the journal"
        if last:
            # Such as yesterday's, for who practised past midnight.
            raise InputError(f"{what}: the last one is that of {last}: give --date {last} if that is meant")
        raise InputError(f"{what}: make one with `etudegen session --profile`")

    def sessions(self, profile: Path) -> list[KeptSession]:
        """Return the sessions that were made for a player, oldest first."""
        if not kind_of_file(self.path):
            return []
        with self._file.reading(profile) as connection:
            rows = connection.execute(
                "select day, session, blocks from planned where profile = ? order by number",
                (self._file.place(profile),),
            )
            kept = {(day, session): blocks for day, session, blocks in rows}
            return [
                KeptSession(datetime.date.fromisoformat(day), session, blocks_of(kept[day, session]))
                for day, session in sorted(kept)
            ]

    def log(self, profile: Path, *entries: Entry) -> None:
        """Put down how blocks or parts of them went; once this returns it is on the disk, all of it or nothing.

        A second rating of the same thing counts instead of the first.
        """
        for entry in entries:
            if not WORST <= entry.rating <= BEST:
                raise InputError(f"rating {entry.rating} is not allowed: give {WORST} (not yet) to {BEST} (easily)")
            if entry.tempo is not None and not SLOWEST <= entry.tempo <= FASTEST:
                raise InputError(f"tempo {entry.tempo} is not allowed: give {SLOWEST} to {FASTEST}")
        known_by = self._file.place(profile)
        with self._file.writing(profile) as connection:
            for entry in entries:
                of_block = (known_by, entry.day.isoformat(), entry.session, entry.block)
                before = connection.execute(
                    "select items from rated where profile = ? and day = ? and session = ? and block = ?", of_block
                ).fetchall()
                connection.execute(
                    "insert into rated values (null, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (*of_block, entry.part, entry.rating, entry.tempo, text_of_items(entry.items), entry.note),
                )
                changed = {*entry.items, *(item for (text,) in before for item in items_in(text))}
                learn(connection, known_by, changed, entry.day, added=1)

    def entries(self, profile: Path) -> list[Entry]:
        """Return a player's entries that count, oldest day first."""
        if not kind_of_file(self.path):
            return []
        with self._file.reading(profile) as connection:
            rows = connection.execute(
                "select day, session, block, part, rating, tempo, items, note from rated where profile = ?"
                " order by number",
                (self._file.place(profile),),
            )
            kept = {tuple(row[:4]): row[4:] for row in rows}
            return [
                Entry(datetime.date.fromisoformat(day), block, rating, items_in(items), note, session, part, tempo)
                for (day, session, block, part), (rating, tempo, items, note) in sorted(
                    kept.items(), key=lambda each: each[0]
                )
            ]

    def known_after(self, profile: Path, day: datetime.date) -> History[Item]:
        """Return everything that is known by now of a player up to a day."""
        if not kind_of_file(self.path):
            return History()
        with self._file.reading(profile) as connection:
            return history_of(connection, self._file.place(profile), day + datetime.timedelta(days=1), None)

    def history(self, profile: Path, day: datetime.date) -> History[Item]:
        """Return what is known of a player before a day; of a day that a session was made for, what was known then."""
        if not kind_of_file(self.path):
            return History()
        with self._file.reading(profile) as connection:
            known_by = self._file.place(profile)
            known = _known_first(connection, (known_by, day.isoformat()))
            return history_of(connection, known_by, day, known)


def _last(connection: sqlite3.Connection, of_day: tuple[str, str]) -> tuple[int, str] | None:
    """Return the number of a player's last session of a day and what its blocks hold, None if there is none."""
    row: tuple[int, str] | None = connection.execute(
        "select session, blocks from planned where profile = ? and day = ? order by session desc, number desc limit 1",
        of_day,
    ).fetchone()
    return row


def _known_first(connection: sqlite3.Connection, of_day: tuple[str, str]) -> tuple[int, int] | None:
    """Return how much was known when the first session of a day was made, None where there is none."""
    row: tuple[int, int] | None = connection.execute(
        "select known_sessions, known_ratings from planned where profile = ? and day = ? order by number limit 1",
        of_day,
    ).fetchone()
    return row


def _known_now(connection: sqlite3.Connection) -> tuple[int, int]:
    (sessions,) = connection.execute("select coalesce(max(number), 0) from planned").fetchone()
    (ratings,) = connection.execute("select coalesce(max(number), 0) from rated").fetchone()
    return sessions, ratings
