"""What the file of a journal looks like, and that it does: tables, their columns, and what can stand in them."""

import json
import sqlite3

VERSION = 3
# Nothing that was once put down is changed or taken away, so that a day that was printed can be made again from what
# was known then: of several rows for the same thing the one with the greatest number counts. The sessions of a day are
# numbered from 1; of what was rated, ``part`` tells what of a block it was, nothing for all of it. ``known_sessions``
# and ``known_ratings`` are the greatest numbers that there were when a session was made first.
_KEPT = {
    "planned": "create table planned (number integer primary key, profile text not null, day text not null,"
    " session integer not null, known_sessions integer not null, known_ratings integer not null, blocks text not null,"
    " unique (profile, day, session, number))",
    "rated": "create table rated (number integer primary key, profile text not null, day text not null,"
    " session integer not null, block integer not null, part text not null, rating integer not null, tempo integer,"
    " items text not null, note text not null, unique (profile, day, session, block, part, number))",
}
# Before a day could have more than one.
_KEPT_BY_DAY = {
    "planned": "create table planned (profile text not null, day text not null, blocks text not null,"
    " primary key (profile, day))",
    "rated": "create table rated (profile text not null, day text not null, block integer not null,"
    " rating integer not null, items text not null, note text not null, primary key (profile, day, block))",
}
# What follows from the entries, and is kept so that ten years of them need not be gone through each time: how firmly
# each thing sat after each day on which it was practised, and of how many entries of a player this was learned.
LEARNED = {
    "learned": "create table learned (profile text not null, kind text not null, choice text not null,"
    " unit text not null, day text not null, stability real not null, difficulty real not null,"
    " rating integer not null, easy integer not null, step integer not null,"
    " primary key (profile, kind, choice, unit, day)) without rowid",
    "learned_of": "create table learned_of (profile text primary key not null, entries integer not null) without rowid",
}
_LEARNED_BEFORE = {
    **LEARNED,
    "learned": "create table learned (profile text not null, kind text not null, choice text not null,"
    " unit text not null, day text not null, stability real not null, difficulty real not null,"
    " primary key (profile, kind, choice, unit, day)) without rowid",
}
# Those of the older form stay where some of what is in them belongs to nobody.
_BY_LABEL = {"session", "entry"}
_TABLES = {1: _KEPT_BY_DAY, 2: _KEPT_BY_DAY | _LEARNED_BEFORE, VERSION: _KEPT | LEARNED}

# Counted, so that a 30th of February becomes another day.
_A_DAY = "typeof(day) = 'text' and date(day, '+0 days') is day"
_NUMBERED = {
    "planned": "typeof(session) = 'integer' and session >= 1 and typeof(known_sessions + known_ratings) = 'integer'",
    "rated": "typeof(session) = 'integer' and session >= 1 and typeof(part) = 'text'"
    " and typeof(tempo) in ('integer', 'null')",
}
# What is learned is looked at where it is read.
_ROWS = {
    "planned": f"{_A_DAY} and typeof(blocks) = 'text' and json_valid(blocks) and json_type(blocks) = 'array'",
    "rated": (
        f"{_A_DAY} and typeof(block) = 'integer' and block >= 0"
        " and typeof(rating) = 'integer' and rating between 1 and 4 and typeof(note) = 'text'"
        " and typeof(items) = 'text' and json_valid(items) and json_type(items) = 'array'"
    ),
}


def make(connection: sqlite3.Connection) -> None:
    """Make the tables of a new journal."""
    for statement in (_KEPT | LEARNED).values():
        connection.execute(statement)


def number_sessions(connection: sqlite3.Connection, version: int) -> None:
    """Bring the tables of an older version into the form of this one: what a day has was its first session."""
    for name in _TABLES[version]:
        connection.execute(f"alter table {name} rename to {name}_before")
    make(connection)
    # By the day, and how it went first: what a session was made of is what was known before its day.
    for row in connection.execute("select profile, day, block, rating, items, note from rated_before order by day"):
        add_rated(connection, *row)
    for row in connection.execute("select profile, day, blocks from planned_before order by day"):
        add_planned(connection, *row)
    for name in _TABLES[version]:
        connection.execute(f"drop table {name}_before")


def add_planned(connection: sqlite3.Connection, profile: str, day: str, blocks: str) -> None:
    """Put down the session of a day from an older form, in which a block was the list of what was practised in it."""
    told = [
        {"part": "", "kind": items[0]["kind"] if items else "", "minutes": 0, "items": items}
        for items in json.loads(blocks)
    ]
    connection.execute(
        "insert into planned values (null, ?1, ?2, 1, (select coalesce(max(number), 0) from planned),"
        " (select coalesce(max(number), 0) from rated where day < ?2), ?3)",
        (profile, day, json.dumps(told)),
    )


def add_rated(
    connection: sqlite3.Connection, profile: str, day: str, block: int, rating: int, items: str, note: str
) -> None:
    """Put down how a block went from an older form."""
    connection.execute(
        "insert into rated values (null, ?, ?, 1, ?, '', ?, null, ?, ?)", (profile, day, block, rating, items, note)
    )


def strange_tables(connection: sqlite3.Connection, version: int) -> str:
    """Return what is wrong with the tables of a journal of a version, nothing if they are as they were made."""
    expected = _TABLES[version]
    there = {
        name: statement
        for kind, name, statement in connection.execute("select type, name, sql from sqlite_master where sql not null")
        if kind != "table" or name not in _BY_LABEL
    }
    for name in [*expected, *there]:
        if name not in there:
            return f"its table {name!r} is missing"
        if name not in expected:
            return f"it holds {name!r}, which is none of a journal's"
        if there[name].split() != expected[name].replace("create table", "CREATE TABLE", 1).split():
            return f"its table {name!r} has other columns than a journal's"
    return ""


def strange_row(connection: sqlite3.Connection, known_by: str, version: int) -> str:
    """Return in which row of a player's something stands that cannot be, nothing if there is none."""
    for table in _TABLES[version]:
        if table not in _ROWS:
            continue
        condition = f"{_ROWS[table]} and {_NUMBERED[table]}" if version == VERSION else _ROWS[table]
        wrong = connection.execute(
            # Names and conditions of our own.
            f"select quote(day) from {table} where profile = ? and not ({condition}) limit 1",  # noqa: S608
            (known_by,),
        ).fetchone()
        if wrong:
            return f"a row of the table {table!r} for the day {wrong[0][:40]} holds what cannot be there"
    return ""
