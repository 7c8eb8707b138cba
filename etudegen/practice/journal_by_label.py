"""The older form of the journal, in which players were known by their labels and things practised by one text."""

import json
import sqlite3
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from etudegen.errors import InputError
from etudegen.practice.items import Item
from etudegen.practice.journal_schema import add_planned, add_rated
from etudegen.practice.profile import read_profile

_TABLES = {"session", "entry"}


def is_by_label(connection: sqlite3.Connection) -> bool:
    """Tell whether a journal has the tables of the older form."""
    return {name for (name,) in connection.execute("select name from sqlite_master where type = 'table'")} >= _TABLES


def claimable(connection: sqlite3.Connection, profiles: Mapping[str, Path]) -> bool:
    """Tell whether something still stands under the label of one of some profiles, and of no other of them."""
    if not is_by_label(connection):
        return False
    left = {label for (label,) in connection.execute("select player from session union select player from entry")}
    return bool(left) and not left.isdisjoint(_sole_owners(profiles))


def take_over(connection: sqlite3.Connection, profiles: Mapping[str, Path]) -> tuple[str, ...]:
    """Move what stands under a label to the one profile that has it; ``profiles`` are files by what they are known by.

    What stands under the label of several profiles, or of none, stays where it is; these labels are returned.
    """
    for label, known_by in _sole_owners(profiles).items():
        rows = connection.execute(
            "select day, block, rating, items, note from entry where player = ? order by day", (label,)
        )
        for day, block, rating, items, note in rows.fetchall():
            if not _is_there(connection, "rated", known_by, day, block):
                add_rated(connection, known_by, day, block, rating, json.dumps(_as_values(json.loads(items))), note)
        for day, blocks in connection.execute(
            "select day, blocks from session where player = ? order by day", (label,)
        ).fetchall():
            if not _is_there(connection, "planned", known_by, day):
                add_planned(connection, known_by, day, json.dumps([_as_values(items) for items in json.loads(blocks)]))
        for table in _TABLES:
            connection.execute(f"delete from {table} where player = ?", (label,))  # noqa: S608 - names of our own
    left = connection.execute("select player from session union select player from entry order by player").fetchall()
    return tuple(label for (label,) in left)


def _is_there(connection: sqlite3.Connection, table: str, known_by: str, day: str, *block: int) -> bool:
    """Tell whether the journal has something in the newer form for a day, or a block of it: that counts."""
    condition = "profile = ? and day = ?" + (" and block = ?" if block else "")
    query = f"select 1 from {table} where {condition} limit 1"  # noqa: S608 - names of our own
    return connection.execute(query, (known_by, day, *block)).fetchone() is not None


def _sole_owners(profiles: Mapping[str, Path]) -> dict[str, str]:
    """Return what the one profile with a label is known by, for each label of just one."""
    owners: dict[str, set[str]] = defaultdict(set)
    for known_by, file in profiles.items():
        try:
            owners[read_profile(file).label].add(known_by)
        except InputError:
            # A file that is no profile, such as a routine, owns nothing.
            continue
    return {label: known_by for label, (known_by, *others) in owners.items() if not others}


def _as_values(texts: list[str]) -> list[dict[str, str]]:
    """Return things practised as values: they were written ``kind:choice:unit``, without what there was not."""
    values = []
    for text in texts:
        kind, _, rest = text.partition(":")
        choice, _, unit = rest.rpartition(":") if ":" in rest else (rest, "", "")
        values.append(asdict(Item(kind, choice, unit)))
    return values
