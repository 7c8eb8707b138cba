"""What the file of a journal looks like, and that it does: tables, their columns, and what can stand in them."""

import sqlite3

VERSION = 3
# The sessions of a day are numbered from 1.
_KEPT = {
    "planned": "create table planned (profile text not null, day text not null, session integer not null,"
    " blocks text not null, primary key (profile, day, session))",
    "rated": "create table rated (profile text not null, day text not null, session integer not null,"
    " block integer not null, rating integer not null, items text not null, note text not null,"
    " primary key (profile, day, session, block))",
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
    " primary key (profile, kind, choice, unit, day)) without rowid",
    "learned_of": "create table learned_of (profile text primary key not null, entries integer not null) without rowid",
}
# Those of the older form stay where some of what is in them belongs to nobody.
_BY_LABEL = {"session", "entry"}
_TABLES = {1: _KEPT_BY_DAY, 2: _KEPT_BY_DAY | LEARNED, VERSION: _KEPT | LEARNED}

# Counted, so that a 30th of February becomes another day.
_A_DAY = "typeof(day) = 'text' and date(day, '+0 days') is day"
_A_SESSION = "typeof(session) = 'integer' and session >= 1"
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
    connection.execute("insert into planned select profile, day, 1, blocks from planned_before")
    connection.execute("insert into rated select profile, day, 1, block, rating, items, note from rated_before")
    for name in _TABLES[version]:
        connection.execute(f"drop table {name}_before")


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
        numbered = table in _KEPT and version == VERSION
        condition = f"{_ROWS[table]} and {_A_SESSION}" if numbered else _ROWS[table]
        wrong = connection.execute(
            # Names and conditions of our own.
            f"select quote(day) from {table} where profile = ? and not ({condition}) limit 1",  # noqa: S608
            (known_by,),
        ).fetchone()
        if wrong:
            return f"a row of the table {table!r} for the day {wrong[0][:40]} holds what cannot be there"
    return ""
