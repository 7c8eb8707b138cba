"""The journal: what was practised and how it went; whose it is, and that nothing of it is lost."""

import datetime
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from fsrs import Card, Rating, Scheduler

from etudegen.errors import InputError, MachineError
from etudegen.practice.entries import Entry, KeptSession
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from tests.kept import kept
from tests.reference.tables import value

_DAY = datetime.date(2026, 11, 25)
_KILLS = 30
_BENDS = Item("bends")


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return Journal(tmp_path / "journal.sqlite")


@pytest.fixture
def first(tmp_path: Path) -> Path:
    return _profile(tmp_path / "first.toml", "First chair")


def _profile(file: Path, label: str) -> Path:
    file.write_text(f"label = {json.dumps(label)}\n", encoding="utf-8")
    return file


def _state(folder: Path) -> dict[str, tuple[int, bytes]]:
    """What is in a folder: names, times of change and content."""
    state = {str(path): (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.rglob("*") if path.is_file()}
    return state | {"": (folder.stat().st_mtime_ns, b"")}


def test_retention_is_that_of_the_published_formula() -> None:
    """fsrs 6.3.2: R after so many days at stability 10, as in the table."""
    scheduler = Scheduler(enable_fuzzing=False)
    then = datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC)
    for days in (5, 10, 20, 100):
        card = Card(stability=10.0, difficulty=5.0, last_review=then)
        now = then + datetime.timedelta(days=days)
        expected = float(value("spacing", f"R after {days} days at stability 10"))
        assert scheduler.get_card_retrievability(card, now) == pytest.approx(expected, abs=1e-6)


def test_what_went_badly_is_retained_less(journal: Journal, first: Path) -> None:
    flat, natural = Item("scales", "major", "Bb"), Item("scales", "major", "F")
    journal.log(first, Entry(_DAY, 1, 1, (flat,)))
    journal.log(first, Entry(_DAY, 2, 4, (natural,)))
    later = journal.history(first, _DAY + datetime.timedelta(days=3)).held
    assert later[flat] < later[natural] <= 1
    again = Scheduler(learning_steps=(), relearning_steps=(), maximum_interval=30, enable_fuzzing=False)
    noon = datetime.datetime(2026, 11, 25, 12, tzinfo=datetime.UTC)
    card, _ = again.review_card(Card(card_id=0, due=noon), Rating.Again, noon)
    theirs = again.get_card_retrievability(card, noon + datetime.timedelta(days=3))
    assert later[flat] == pytest.approx(theirs)


def test_a_second_rating_replaces_the_first(journal: Journal, first: Path) -> None:
    journal.log(first, Entry(_DAY, 1, 1, (_BENDS,)))
    journal.log(first, Entry(_DAY, 1, 3, (_BENDS,), "better"))
    assert journal.entries(first) == [Entry(_DAY, 1, 3, (_BENDS,), "better")]


def test_a_session_is_kept_as_it_was_whatever_its_things_are_called(journal: Journal, first: Path) -> None:
    blocks = (kept(Item("scales", "my: own", "F#"), Item("scales", "größe", "Bb")), kept(), kept(_BENDS))
    journal.keep_session(first, _DAY, blocks)
    assert journal.session(first, _DAY) == KeptSession(_DAY, 1, blocks)
    assert journal.sessions(first) == [KeptSession(_DAY, 1, blocks)]


def test_a_rating_from_one_to_four_and_a_session_are_asked_for(journal: Journal, first: Path) -> None:
    with pytest.raises(InputError, match="rating 5"):
        journal.log(first, Entry(_DAY, 1, 5, ()))
    with pytest.raises(InputError, match="no journal"):
        journal.session(first, _DAY)
    journal.log(first, Entry(_DAY, 1, 4, ()))
    with pytest.raises(InputError, match=r"no session of .*first\.toml' on 2026-11-25"):
        journal.session(first, _DAY)


def test_two_profiles_with_one_label_have_journals_of_their_own(journal: Journal, tmp_path: Path) -> None:
    first, other = (_profile(tmp_path / f"{name}.toml", "Chair") for name in ("first", "第一"))
    journal.log(first, Entry(_DAY, 1, 1, (_BENDS,)))
    journal.log(other, Entry(_DAY, 1, 4, (Item("pedals", "triad"),)))
    assert [entry.rating for profile in (first, other) for entry in journal.entries(profile)] == [1, 4]


def test_a_player_keeps_the_journal_when_the_label_changes(journal: Journal, first: Path) -> None:
    journal.log(first, Entry(_DAY, 1, 2, (_BENDS,)))
    _profile(first, "Solo chair")
    assert len(journal.entries(first)) == 1


def test_a_player_keeps_the_journal_when_the_folder_moves(tmp_path: Path) -> None:
    band = tmp_path / "band"
    band.mkdir()
    Journal(band / "journal.sqlite").log(_profile(band / "first.toml", "x"), Entry(_DAY, 1, 2, (_BENDS,)))
    moved = band.rename(tmp_path / "elsewhere")
    assert len(Journal(moved / "journal.sqlite").entries(moved / "first.toml")) == 1


def test_a_player_is_the_same_however_the_folder_is_named(
    tmp_path: Path, first: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Journal(tmp_path / "journal.sqlite").log(first, Entry(_DAY, 1, 2, (_BENDS,)))
    (tmp_path / "link").symlink_to(tmp_path)
    monkeypatch.chdir(tmp_path)
    for folder in (Path(), Path("link"), tmp_path / "link"):
        assert len(Journal(folder / "journal.sqlite").entries(folder / "first.toml")) == 1


def test_a_profile_whose_name_is_no_text_has_a_journal_too(journal: Journal, tmp_path: Path) -> None:
    named = [tmp_path / name for name in ("x\udcff.toml", "x\udcfe.toml", "x.toml")]
    for rating, profile in enumerate(named, start=1):
        journal.log(profile, Entry(_DAY, 1, rating, (_BENDS,)))
    assert [entry.rating for profile in named for entry in journal.entries(profile)] == [1, 2, 3]


def test_reading_writes_nothing(journal: Journal, first: Path, tmp_path: Path) -> None:
    before = _state(tmp_path)
    assert journal.entries(first) == []
    assert journal.history(first, _DAY).held == {}
    assert _state(tmp_path) == before
    journal.log(first, Entry(_DAY, 1, 2, (_BENDS,)))
    before = _state(tmp_path)
    assert len(journal.entries(first)) == 1
    assert journal.history(first, _DAY + datetime.timedelta(days=1)).held.keys() == {_BENDS}
    assert _state(tmp_path) == before


def _older_journal(path: Path, *labels: str) -> None:
    """Write a journal as it was when players were known by their labels."""
    connection = sqlite3.connect(path)
    connection.execute("pragma journal_mode = wal")
    connection.executescript(
        "create table session (player text not null, day text not null, blocks text not null,"
        " primary key (player, day));"
        "create table entry (id integer primary key, player text not null, day text not null, block integer not null,"
        " rating integer not null, items text not null, note text not null, unique (player, day, block));"
    )
    for label in labels:
        blocks = json.dumps([["long-tones"], [], ["scales:major:F#"]])
        connection.execute("insert into session values (?, ?, ?)", (label, _DAY.isoformat(), blocks))
        items = json.dumps(["scales:my: own:F#", "pedals:triad", "long-tones"])
        connection.execute(
            "insert into entry (player, day, block, rating, items, note) values (?, ?, 3, 2, ?, 'a word')",
            (label, _DAY.isoformat(), items),
        )
    connection.commit()
    connection.close()


_TAKEN_OVER = Entry(
    _DAY, 3, 2, (Item("scales", "my: own", "F#"), Item("pedals", "triad"), Item("long-tones")), "a word"
)


def test_an_older_journal_can_be_read_and_is_not_touched_by_that(journal: Journal, first: Path, tmp_path: Path) -> None:
    _older_journal(journal.path, "First chair")
    before = _state(tmp_path)
    assert journal.entries(first) == [_TAKEN_OVER]
    assert [block.items for block in journal.session(first, _DAY).blocks] == [
        (Item("long-tones"),), (), (Item("scales", "major", "F#"),),
    ]  # fmt: skip
    assert _state(tmp_path) == before


def test_an_older_journal_is_taken_over_once(journal: Journal, first: Path, tmp_path: Path) -> None:
    _older_journal(journal.path, "First chair")
    later = Entry(_DAY + datetime.timedelta(days=1), 1, 4, (_BENDS,))
    journal.log(first, later)
    assert journal.unclaimed == ()
    assert journal.entries(first) == [_TAKEN_OVER, later]
    # What another profile gets that label later is nobody's but its own.
    other = _profile(tmp_path / "other.toml", "First chair")
    journal.log(other, later)
    assert journal.entries(other) == [later]
    assert [path.name for path in tmp_path.glob("journal*")] == ["journal.sqlite"]


def test_what_stands_under_the_label_of_two_profiles_or_of_none_stays_and_is_told(
    journal: Journal, first: Path, tmp_path: Path
) -> None:
    _older_journal(journal.path, "First chair", "Gone", "Second chair")
    _profile(tmp_path / "also.toml", "First chair")
    second = _profile(tmp_path / "second.toml", "Second chair")
    (tmp_path / "routine.toml").write_text("about = 'no profile'\n", encoding="utf-8")
    journal.log(first, Entry(_DAY, 1, 4, (_BENDS,)))
    assert journal.unclaimed == ("First chair", "Gone")
    assert journal.entries(second) == [_TAKEN_OVER]
    assert [entry.block for entry in journal.entries(first)] == [1]
    connection = sqlite3.connect(journal.path)
    for table in ("session", "entry"):
        assert connection.execute(f"select player from {table} order by player").fetchall() == [
            ("First chair",), ("Gone",),
        ]  # fmt: skip
    connection.close()


def test_a_journal_beside_other_folders_takes_the_label_from_the_players_folder(tmp_path: Path) -> None:
    band = tmp_path / "band"
    band.mkdir()
    journal = Journal(tmp_path / "kept" / "journal.sqlite")
    journal.path.parent.mkdir()
    _older_journal(journal.path, "First chair")
    assert journal.entries(_profile(band / "first.toml", "First chair")) == [_TAKEN_OVER]


@pytest.mark.parametrize("content", [b"this is not a database at all, only a text of some length" * 20, b"x" * 5])
def test_a_file_that_is_no_journal_is_told(journal: Journal, first: Path, content: bytes) -> None:
    journal.path.write_bytes(content)
    with pytest.raises(MachineError, match="cannot use the journal"):
        journal.entries(first)
    with pytest.raises(MachineError, match="cannot use the journal"):
        journal.log(first, Entry(_DAY, 1, 1, ()))
    assert journal.path.read_bytes() == content


def test_the_database_of_something_else_is_refused_and_left_as_it_is(journal: Journal, first: Path) -> None:
    connection = sqlite3.connect(journal.path)
    connection.execute("create table stamps (country text)")
    connection.close()
    before = journal.path.read_bytes()
    with pytest.raises(InputError, match="the database of something else"):
        journal.log(first, Entry(_DAY, 1, 1, ()))
    with pytest.raises(InputError, match="the database of something else"):
        journal.entries(first)
    assert journal.path.read_bytes() == before


def test_a_folder_is_no_journal(tmp_path: Path, first: Path) -> None:
    with pytest.raises(InputError, match="it is no file but a folder"):
        Journal(tmp_path).log(first, Entry(_DAY, 1, 1, ()))


def test_a_journal_of_a_newer_program_is_told(journal: Journal, first: Path) -> None:
    journal.log(first, Entry(_DAY, 1, 1, ()))
    connection = sqlite3.connect(journal.path)
    connection.execute("pragma user_version = 99")
    connection.close()
    with pytest.raises(MachineError, match="newer etudegen"):
        journal.entries(first)


@pytest.mark.parametrize("items", ["nonsense", '[{"what": "bends"}]', "[3]", "3"])
def test_an_entry_that_makes_no_sense_is_told_with_the_journal(journal: Journal, first: Path, items: str) -> None:
    journal.log(first, Entry(_DAY, 1, 1, ()))
    connection = sqlite3.connect(journal.path)
    connection.execute("update rated set items = ?", (items,))
    connection.commit()
    connection.close()
    with pytest.raises(MachineError, match="cannot use the journal"):
        journal.entries(first)


def test_a_writer_that_was_cut_off_is_read_as_before_its_last_change(
    journal: Journal, first: Path, tmp_path: Path
) -> None:
    journal.log(first, Entry(_DAY, 1, 2, (_BENDS,)))
    code = (
        "import os, sqlite3, sys\n"
        "connection = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "connection.execute('pragma cache_size = 1')\n"
        "connection.execute('begin immediate')\n"
        "for day in range(2000):\n"
        "    row = ('first.toml', str(day), '', '[]', 'x' * 500)\n"
        "    connection.execute('insert into rated values (null, ?, ?, 1, 1, ?, 1, null, ?, ?)', row)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    subprocess.run([sys.executable, "-c", code, journal.path], check=False)
    assert (tmp_path / "journal.sqlite-journal").exists()
    before = _state(tmp_path)
    assert [entry.day for entry in journal.entries(first)] == [_DAY]
    assert _state(tmp_path) == before
    journal.log(first, Entry(_DAY, 2, 2, (_BENDS,)))
    assert len(journal.entries(first)) == 2


_WRITER = """
import datetime, sys
from pathlib import Path
from etudegen.practice.items import Item
from etudegen.practice.entries import Entry, KeptSession
from etudegen.practice.journal import Journal
journal, profile, start = Journal(Path(sys.argv[1])), Path(sys.argv[2]), int(sys.argv[3])
for number in range(start, start + int(sys.argv[4])):
    journal.log(profile, Entry(datetime.date(2026, 1, 1), number, 1 + number % 4, (Item("bends"),)))
    print(number, flush=True)
"""


def _writer(path, profile, start: int, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", _WRITER, str(path), str(profile), str(start), str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_a_writer_that_is_killed_loses_nothing_that_it_acknowledged(tmp_path) -> None:
    path, acknowledged = tmp_path / "journal.sqlite", set()
    chance = random.Random(7)
    for attempt in range(_KILLS):
        writer = _writer(path, tmp_path / "x.toml", 1000 * attempt, 999)
        assert writer.stdout is not None
        first = writer.stdout.readline()
        time.sleep(chance.uniform(0, 0.05))
        os.kill(writer.pid, signal.SIGKILL)
        said, _ = writer.communicate()
        acknowledged |= {int(line) for line in (first + said).split()}
        kept = {entry.block for entry in Journal(path).entries(tmp_path / "x.toml")}
        assert acknowledged <= kept
    assert len(acknowledged) > _KILLS


def test_two_writers_at_once_lose_nothing(tmp_path) -> None:
    path = tmp_path / "journal.sqlite"
    writers = [_writer(path, tmp_path / f"{name}.toml", 0, 40) for name in ("first", "second")]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    for writer in writers:
        assert writer.stdout is not None
        writer.stdout.close()
    assert [len(Journal(path).entries(tmp_path / f"{name}.toml")) for name in ("first", "second")] == [40, 40]


def test_what_was_rated_of_a_session_stays_when_another_is_made_that_day(journal: Journal, first: Path) -> None:
    morning, evening = (kept(_BENDS), kept(Item("slurs"))), (kept(Item("scales", "major", "F")),)
    assert journal.keep_session(first, _DAY, evening) == 1
    # One that nobody has played is replaced.
    assert journal.keep_session(first, _DAY, morning) == 1
    journal.log(first, Entry(_DAY, 1, 2, (_BENDS,)))
    assert journal.keep_session(first, _DAY, morning) == 1
    assert journal.keep_session(first, _DAY, evening) == 2
    assert journal.session(first, _DAY) == KeptSession(_DAY, 2, evening)
    assert journal.session(first, _DAY, 1) == KeptSession(_DAY, 1, morning)
    journal.log(first, Entry(_DAY, 1, 4, evening[0].items, session=2))
    assert [(entry.session, entry.rating) for entry in journal.entries(first)] == [(1, 2), (2, 4)]
    with pytest.raises(InputError, match="session 3 of 2026-11-25 is not in the journal: it has 1, 2"):
        journal.session(first, _DAY, 3)


def test_a_label_that_nobody_had_is_claimed_by_the_first_profile_that_gets_it(
    journal: Journal, first: Path, tmp_path: Path
) -> None:
    _older_journal(journal.path, "First chair", "Second chair")
    journal.log(first, Entry(_DAY, 1, 4, (_BENDS,)))
    assert journal.unclaimed == ("Second chair",)
    second = _profile(tmp_path / "second.toml", "Second chair")
    before = _state(tmp_path)
    assert journal.entries(second) == [_TAKEN_OVER]
    assert _state(tmp_path) == before
    journal.log(second, Entry(_DAY, 1, 3, (_BENDS,)))
    assert [entry.block for entry in journal.entries(second)] == [1, 3]
    assert journal.unclaimed == ()


def test_two_folders_with_a_link_to_one_journal_do_not_mix_their_players(tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    journals = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        _profile(tmp_path / name / "chair.toml", name)
        (tmp_path / name / "journal.sqlite").symlink_to(kept / "journal.sqlite")
        journals.append(Journal(tmp_path / name / "journal.sqlite"))
    for rating, (journal, name) in enumerate(zip(journals, ("one", "two"), strict=True), start=1):
        journal.log(tmp_path / name / "chair.toml", Entry(_DAY, 1, rating, (_BENDS,)))
    for rating, (journal, name) in enumerate(zip(journals, ("one", "two"), strict=True), start=1):
        assert [entry.rating for entry in journal.entries(tmp_path / name / "chair.toml")] == [rating]
    # By another way to the same folder it is the same player.
    (tmp_path / "way").symlink_to(tmp_path / "one")
    way = Journal(tmp_path / "way" / "journal.sqlite")
    assert [entry.rating for entry in way.entries(tmp_path / "way" / "chair.toml")] == [1]
