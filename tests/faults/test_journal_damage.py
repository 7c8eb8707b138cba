"""A journal that is damaged, not to be written, in use by others, or long: a sentence, and nothing of it changes."""

import ctypes
import datetime
import functools
import json
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from etudegen.errors import MachineError
from etudegen.practice import journal_file, journal_learning
from etudegen.practice.entries import Entry
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from tests.command_line import run
from tests.kept import kept

_DAY = datetime.date(2026, 11, 25)
_FLAT, _SHARP = Item("scales", "major", "Bb"), Item("scales", "major", "F#")


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """A player with a session and two entries in the journal beside the profile."""
    profile = tmp_path / "first.toml"
    profile.write_text('label = "First chair"\n', encoding="utf-8")
    journal = Journal(tmp_path / "journal.sqlite")
    journal.keep_session(profile, _DAY, [kept(_FLAT), kept(), kept(_SHARP)])
    journal.log(profile, Entry(_DAY, 1, 2, (_FLAT,)))
    journal.log(profile, Entry(_DAY, 3, 4, (_SHARP,)))
    return profile


def _by(*statements: str) -> Callable[[Path], None]:
    def change(path: Path) -> None:
        connection = sqlite3.connect(path)
        connection.executescript(";".join(statements))
        connection.close()

    return change


def _at(place: int, *, length: int = 40) -> Callable[[Path], None]:
    def overwrite(path: Path) -> None:
        content = path.read_bytes()
        path.write_bytes(content[:place] + b"\xa5" * length + content[place + length :])

    return overwrite


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


_OF_WHAT_WAS_LEARNED: dict[str, Callable[[Path], None]] = {
    "stability of words": _by("update learned set stability = 'firm'"),
    "stability below zero": _by("update learned set stability = -1.0"),
    "difficulty of 99": _by("update learned set difficulty = 99.0"),
}
DAMAGES: dict[str, Callable[[Path], None]] = {
    "rating 9": _by("update rated set rating = 9"),
    "rating 0": _by("update rated set rating = 0"),
    "rating of words": _by("update rated set rating = 'good'"),
    "half a rating": _by("update rated set rating = 2.5"),
    "rating a blob": _by("update rated set rating = x'00'"),
    "block of words": _by("update rated set block = 'one' where block = 1"),
    "impossible day": _by("update rated set day = '2026-02-30'"),
    "day of words": _by("update rated set day = 'Monday'"),
    "day a blob": _by("update rated set day = x'323032362d31312d3235'"),
    "day a number": _by("update rated set day = cast(5 as blob)"),
    "bad JSON": _by("update rated set items = '[{'"),
    "JSON of another shape": _by("update rated set items = '{}'"),
    "items a blob": _by("update rated set items = x'ff00'"),
    "note a blob": _by("update rated set note = x'ff00'"),
    "impossible day of a session": _by("update planned set day = '2026-13-01'"),
    "bad JSON of a session": _by("update planned set blocks = 'nonsense'"),
    "blob of a session": _by("update planned set blocks = x'ff'"),
    **_OF_WHAT_WAS_LEARNED,
    "a foreign table": _by("create table stamps (country text)"),
    "a view": _by("create view seen as select * from rated"),
    "a trigger": _by("create trigger t after insert on rated begin delete from rated; end"),
    "an extra column": _by("alter table rated add column mood text"),
    "a renamed column": _by("alter table planned rename column blocks to parts"),
    "a missing table": _by("drop table rated"),
    "a missing table of what was learned": _by("drop table learned"),
    "a newer version": _by("pragma user_version = 99"),
    "a version of another program": _by("pragma user_version = 1"),
    "a damaged header": _at(0),
    "a damaged first page": _at(100, length=400),
    "cut off": _cut,
    "words": lambda path: path.write_bytes(b"Practised well today. " * 300),
    "a database of something else that is newer": lambda path: (
        path.unlink(),
        _by("create table songs (title text)", "pragma user_version = 99")(path),
    ),
    "one byte": lambda path: path.write_bytes(b"x"),
    "five bytes": lambda path: path.write_bytes(b"hello"),
}


def _state(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("damage", DAMAGES)
def test_damage_is_told_in_a_sentence_and_the_file_left(
    damage: str, first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    DAMAGES[damage](tmp_path / "journal.sqlite")
    before = _state(tmp_path)
    profile = ["--profile", "first.toml", "--date", "2026-11-26"]
    # What was learned of one thing is read where it counts: another can be rated.
    read_by = (["session", "--dry-run"], ["week"], ["session"], ["log", "--block", "1", "--rating", "1"])
    for words in read_by[: 3 if damage in _OF_WHAT_WAS_LEARNED else 4]:
        done = run(*words, *profile)
        assert done.returncode in (1, 2), done.stdout
        assert done.stdout == ""
        assert "journal.sqlite" in done.stderr
        assert len(done.stderr.splitlines()) == 1
        assert len(done.stderr) < 400
        assert "Traceback" not in done.stderr
        assert _state(tmp_path) == before


@pytest.mark.parametrize("items", ['[{"what": "bends"}]', "[3]", '[{"kind": 3}]', '[{"kind": "bends", "more": ""}]'])
def test_things_practised_that_are_none_are_told_where_they_are_read(items: str, first: Path, tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    blocks = f'[{{"part": "", "kind": "", "minutes": 0, "items": {items}}}]'
    _by(f"update rated set items = '{items}' where block = 1", f"update planned set blocks = '{blocks}'")(journal.path)
    before = journal.path.read_bytes()
    for read in (
        lambda: journal.entries(first),
        lambda: journal.session(first, _DAY),
        lambda: journal.log(first, Entry(_DAY, 1, 1, (_FLAT,))),
    ):
        with pytest.raises(MachineError, match=r"journal\.sqlite.*it is left as it is"):
            read()
    assert journal.path.read_bytes() == before


def test_damage_to_what_stands_of_one_player_costs_no_other(first: Path, tmp_path: Path) -> None:
    second = tmp_path / "second.toml"
    journal = Journal(tmp_path / "journal.sqlite")
    journal.log(second, Entry(_DAY, 1, 2, (_FLAT,)))
    _by("update rated set rating = 9 where profile = 'first.toml'")(journal.path)
    journal.log(second, Entry(_DAY, 2, 2, (_FLAT,)))
    assert len(journal.entries(second)) == 2


def test_entries_that_were_added_or_taken_away_by_others_count(first: Path, tmp_path: Path) -> None:
    journal, later = Journal(tmp_path / "journal.sqlite"), _DAY + datetime.timedelta(days=3)
    item = json.dumps([asdict(Item("bends"))])
    _by(f"insert into rated values (null, 'first.toml', '{_DAY}', 1, 5, '', 1, null, '{item}', '')")(journal.path)
    assert journal.history(first, later).held.keys() == {_FLAT, _SHARP, Item("bends")}
    journal.log(first, Entry(_DAY, 6, 3, (_FLAT,)))
    held = journal.history(first, later).held
    assert held.keys() == {_FLAT, _SHARP, Item("bends")}
    _by("delete from rated where block = 5")(journal.path)
    assert journal.history(first, later).held == {item: held[item] for item in (_FLAT, _SHARP)}


def test_what_is_kept_of_entries_is_what_follows_from_them(tmp_path: Path) -> None:
    """In whatever order they are put down, changed or replaced."""
    profile, days = tmp_path / "x.toml", [_DAY + datetime.timedelta(days=n) for n in (0, 2, 2, 3, 9)]
    entries = [Entry(day, n, 1 + n % 4, (_FLAT, _SHARP)[: 1 + n % 2]) for n, day in enumerate(days)]
    in_order, mixed = Journal(tmp_path / "a.sqlite"), Journal(tmp_path / "b.sqlite")
    for entry in entries:
        in_order.log(profile, entry)
    mixed.log(profile, Entry(days[0], 0, 4, (Item("bends"), _SHARP)))
    for place in (4, 1, 0, 3, 2, 4):
        mixed.log(profile, entries[place])
    again = Journal(tmp_path / "c.sqlite")
    shutil.copy(in_order.path, again.path)
    _by("delete from learned_of")(again.path)
    for after in range(12):
        day = _DAY + datetime.timedelta(days=after)
        known = [journal.history(profile, day) for journal in (in_order, mixed, again)]
        assert known[0].held == known[1].held == known[2].held
        assert known[0].states == known[1].states == known[2].states


# As it was when a day had one session, and before that when nothing was learned but from all entries.
_ONE_A_DAY = (
    "alter table planned rename to p",
    "alter table rated rename to r",
    "create table planned (profile text not null, day text not null, blocks text not null, primary key (profile, day))",
    "create table rated (profile text not null, day text not null, block integer not null, rating integer not null,"
    " items text not null, note text not null, primary key (profile, day, block))",
    "insert into planned select profile, day, '" + json.dumps([[asdict(_FLAT)], [], [asdict(_SHARP)]]) + "' from p",
    "insert into rated select profile, day, block, rating, items, note from r",
    "drop table p",
    "drop table r",
)
_OLDER = {
    1: (*_ONE_A_DAY, "drop table learned", "drop table learned_of", "pragma user_version = 1"),
    2: (
        *_ONE_A_DAY,
        "alter table learned rename to l",
        "create table learned (profile text not null, kind text not null, choice text not null, unit text not null,"
        " day text not null, stability real not null, difficulty real not null,"
        " primary key (profile, kind, choice, unit, day)) without rowid",
        "insert into learned select profile, kind, choice, unit, day, stability, difficulty from l",
        "drop table l",
        "pragma user_version = 2",
    ),
}


@pytest.mark.parametrize("version", _OLDER)
def test_a_journal_of_a_version_before_is_read_and_taken_over(version: int, first: Path, tmp_path: Path) -> None:
    journal, later = Journal(tmp_path / "journal.sqlite"), _DAY + datetime.timedelta(days=3)
    expected = journal.history(first, later).held
    _by(*_OLDER[version])(journal.path)
    before = journal.path.read_bytes()
    assert journal.history(first, later).held == expected
    assert journal.path.read_bytes() == before
    assert [block.items for block in journal.session(first, _DAY).blocks] == [(_FLAT,), (), (_SHARP,)]
    journal.keep_session(first, later, [kept(_FLAT)])
    assert journal.history(first, later).held == expected
    assert len(journal.entries(first)) == 2


def _like_anybody() -> None:
    """Take from the process that is about to start what lets root write wherever it likes."""
    # linux/prctl.h and linux/capability.h
    drop_from_bounding_set, dac_override = 24, 1
    ctypes.CDLL(None).prctl(drop_from_bounding_set, dac_override, 0, 0, 0)


@pytest.mark.skipif(sys.platform != "linux", reason="root writes everywhere, and is kept from it as on Linux only")
def test_in_a_folder_that_cannot_be_written_it_is_read_and_a_book_printed_all_the_same(
    first: Path, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    out = tmp_path_factory.mktemp("out")
    tmp_path.chmod(0o555)
    (tmp_path / "journal.sqlite").chmod(0o444)
    program = [sys.executable, "-c", "from etudegen.cli import main; main()"]
    day = ["--profile", str(first), "--date", "2026-11-26"]

    def said(*words: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [*program, *words, *day], capture_output=True, text=True, cwd=out, preexec_fn=_like_anybody
        )

    for words in (["session", "--dry-run"], ["week"]):
        done = said(*words)
        assert (done.returncode, done.stderr) == (0, "")
    done = said("session", "--minutes", "10", "--out", str(out / "books"))
    assert done.returncode == 1
    assert "the book was made, but the session cannot be recorded" in done.stderr
    assert all(Path(line).is_file() for line in done.stdout.splitlines())
    assert Path(done.stdout.splitlines()[0]).read_bytes().startswith(b"%PDF")
    done = said("log", "--block", "1", "--rating", "1")
    assert done.returncode in (1, 2)
    assert len(done.stderr.splitlines()) == 1
    tmp_path.chmod(0o755)


def test_a_studio_whose_books_cannot_be_recorded_prints_them_and_makes_them_again(
    first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise MachineError("the disk is full")

    ask = ["studio", tmp_path, "--minutes", "10", "--date", "2026-11-26", "--out", tmp_path / "out"]
    with monkeypatch.context() as patch:
        patch.setattr(Journal, "keep_session", fails)
        done = run(*ask)
    assert done.returncode == 1
    assert Path(done.stdout.split()[0]).is_file()
    assert "the disk is full" in done.stderr
    done = run(*ask)
    assert done.returncode == 0
    assert "(unchanged)" not in done.stdout


def test_one_that_others_hold_too_long_is_told(first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_file, "_SECONDS_TO_WAIT", 0.2)
    holder = sqlite3.connect(tmp_path / "journal.sqlite", isolation_level=None)
    holder.execute("begin exclusive")
    begun = time.monotonic()
    with pytest.raises(MachineError, match="another program has had it in use"):
        Journal(tmp_path / "journal.sqlite").log(first, Entry(_DAY, 1, 1, (_FLAT,)))
    assert time.monotonic() - begun < 5
    holder.close()


_WRITER = """
import datetime, sys
from pathlib import Path
from typing import Any
from etudegen.practice.items import Item
from etudegen.practice.entries import Entry
from etudegen.practice.journal import Journal
for block in range(20):
    Journal(Path(sys.argv[1])).log(
        Path(sys.argv[2]), Entry(datetime.date(2026, 1, 1), block + int(sys.argv[3]), 1 + block % 4, (Item("bends"),))
    )
"""


def test_eight_writers_of_one_journal_lose_nothing(first: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-c", _WRITER, tmp_path / "journal.sqlite", first]
    writers = [subprocess.Popen([*command, str(100 * (number + 1))]) for number in range(8)]
    assert [writer.wait(120) for writer in writers] == [0] * 8
    journal = Journal(tmp_path / "journal.sqlite")
    assert len(journal.entries(first)) == 2 + 8 * 20
    held = journal.history(first, _DAY).held
    _by("delete from learned_of")(journal.path)
    assert journal.history(first, _DAY).held == held


def test_after_midnight_the_last_session_is_named(first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Later(datetime.date):
        @classmethod
        def today(cls) -> datetime.date:
            return _DAY + datetime.timedelta(days=1)

    monkeypatch.setattr("etudegen.cli.practice_options.datetime.date", Later)
    rating = ["--profile", first, "--block", "1", "--rating", "3"]
    done = run("log", *rating)
    assert done.returncode == 2
    assert "no session of" in done.stderr
    assert "on 2026-11-26" in done.stderr
    assert "give --date 2026-11-25" in done.stderr
    assert run("log", *rating, "--date", "2026-11-25").returncode == 0


class _Counted(sqlite3.Connection):
    """A connection that counts the thousands of steps that SQLite takes for it: work is measured, not time."""

    steps = 0

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.set_progress_handler(self._count, 1000)

    def _count(self) -> None:
        _Counted.steps += 1


def test_ten_years_of_entries_are_not_gone_through_each_time(
    first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    units = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
    rows = []
    for after in range(3650):
        day = _DAY - datetime.timedelta(days=after + 1)
        for block in range(1, 9):
            items = [asdict(Item("scales", f"scale {block}", units[(after + n) % 12])) for n in range(4)]
            rows.append(("first.toml", day.isoformat(), block, 1 + (after + block) % 4, json.dumps(items), ""))
    connection = sqlite3.connect(journal.path)
    connection.executemany("insert into rated values (null, ?, ?, 1, ?, '', ?, null, ?, ?)", rows)
    connection.commit()
    connection.close()
    # What was added from outside is learned with the next entry.
    journal.log(first, Entry(_DAY, 1, 1, (_FLAT,)))
    made, reviewed = sqlite3.connect, []
    monkeypatch.setattr(journal_file.sqlite3, "connect", functools.partial(made, factory=_Counted))
    monkeypatch.setattr(journal_learning, "_days", lambda *_: reviewed.append(1) or iter(()))
    # Whether the rows are sound is looked at once, with some ninety steps for each of 29,200; then only what a player
    # has in the pool is read, of each thing the last day.
    steps = []
    for after in range(1, 8):
        _Counted.steps = 0
        assert len(journal.history(first, _DAY + datetime.timedelta(days=after)).held) == 8 * 12 + 2
        steps.append(_Counted.steps)
    assert steps[0] < 120 * 29.2
    assert max(steps[1:]) < 150
    assert not reviewed
