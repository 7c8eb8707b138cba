"""What a journal knows of a player before a day: what was had when, how it went, and when there were days off."""

import datetime
import sqlite3
from collections.abc import Mapping
from typing import Any

from etudegen.practice.entries import blocks_of, items_in
from etudegen.practice.items import Item
from etudegen.practice.journal_learning import learned
from etudegen.practice.spacing import History

# What has not been had in so many days of practice counts as never had.
_LOOKED_BACK = 200
# A tempo that was reached longer ago, in entries, says nothing of today.
_ENTRIES_WITH_TEMPI = 400


def history_of(
    connection: sqlite3.Connection, known_by: str, day: datetime.date, known: tuple[int, int] | None
) -> History[Item]:
    """Return what is known of a player before a day.

    With ``known``, the numbers of the last session and the last entry that count, only that.
    """
    sessions, ratings = known or (None, None)
    of_player = {"profile": known_by, "day": day.isoformat(), "sessions": sessions, "ratings": ratings}
    made = "planned where profile = :profile and day < :day and (:sessions is null or number <= :sessions)"
    (days,) = connection.execute(f"select count(distinct day) from {made}", of_player).fetchone()  # noqa: S608 - ours
    last = [
        each
        for (each,) in connection.execute(
            f"select distinct day from {made} order by day desc limit {_LOOKED_BACK}",  # noqa: S608 - ours
            of_player,
        )
    ]
    had: dict[Item, int] = {}
    if last:
        rows = connection.execute(
            f"select day, session, blocks from {made} and day >= :first order by number",  # noqa: S608 - ours
            of_player | {"first": last[-1]},
        )
        kept = {(that_day, session): blocks for that_day, session, blocks in rows}
        number = {that_day: days - after for after, that_day in enumerate(last, start=1)}
        for that_day, session in sorted(kept):
            items = (item for block in blocks_of(kept[that_day, session]) for item in block.items)
            had |= dict.fromkeys(items, number[that_day])
    rated = connection.execute(
        "select distinct day from rated where profile = :profile and day < :day"
        " and (:ratings is null or number <= :ratings) order by day desc limit :most",
        of_player | {"most": _LOOKED_BACK},
    ).fetchall()
    practised = sorted({*last, *(each for (each,) in rated)})
    found = learned(connection, known_by, day, ratings)
    return History(
        days=days,
        had=had,
        states={item: state for item, (_, state) in found.items()},
        held={item: held for item, (held, _) in found.items()},
        practised=tuple(map(datetime.date.fromisoformat, practised)),
        reached=_tempi_reached(connection, of_player),
    )


def _tempi_reached(connection: sqlite3.Connection, of_player: Mapping[str, Any]) -> dict[Item, int]:
    """Return the tempo that was reached with each thing when it was rated last, where it was told then."""
    rows = connection.execute(
        "select tempo, items from rated where profile = :profile and day < :day"
        " and (:ratings is null or number <= :ratings)"
        " order by day desc, session desc, block desc, part = '', number desc limit :most",
        {**of_player, "most": _ENTRIES_WITH_TEMPI},
    )
    last: dict[Item, int | None] = {}
    for tempo, items in rows:
        for item in items_in(items):
            last.setdefault(item, tempo)
    return {item: tempo for item, tempo in last.items() if tempo is not None}
