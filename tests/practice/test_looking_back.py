"""Looking back: minutes by week and part as they were kept, tempi reached, what is due; printed, as tables, drawn."""

import csv
import datetime
import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from etudegen.practice.entries import Entry
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from etudegen.practice.looking_back import Due, look_back
from etudegen.practice.spacing import History, State
from tests.command_line import run
from tests.kept import kept

# A Wednesday.
_DAY = datetime.date(2026, 11, 25)
_F, _D = Item("scales", "major", "F"), Item("scales", "major", "D")


@pytest.fixture
def third(tmp_path: Path) -> Path:
    """A player with five sessions in three weeks, of which one is still to come."""
    profile = tmp_path / "third-chair.toml"
    profile.write_text('label = "Third $chair$"\n', encoding="utf-8")
    journal = Journal(tmp_path / "journal.sqlite")
    for ago, minutes in ((14, 10), (9, 20), (2, 12), (0, 30), (-1, 100)):
        day = _DAY - datetime.timedelta(days=ago)
        slurs = kept(Item("slurs", "sweep", "12"), part="warm-up", minutes=5)
        journal.keep_session(profile, day, [slurs, kept(minutes=5), kept(_F, _D, minutes=minutes)])
        if ago > 0:
            journal.log(profile, Entry(day, 3, 3, (_F, _D), tempo=80 - ago))
    journal.log(
        profile,
        Entry(_DAY, 3, 1, (_F,), part="major in F", tempo=66),
        Entry(_DAY, 3, 2, (_D,), part="major in D", tempo=72),
    )
    return profile


def _values(profile: Path, *words: str) -> dict[str, object]:
    done = run("history", "--profile", profile, "--date", str(_DAY), "--json", *words)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_minutes_by_week_and_part_are_those_of_the_sessions_up_to_the_day(third: Path) -> None:
    values = _values(third, "--weeks", "3")
    assert [(week["monday"], week["days"], week["minutes"], week["played"]) for week in values["weeks"]] == [
        ("2026-11-09", 1, {"warm-up": 5, "rest": 5, "technique": 10}, 15),
        ("2026-11-16", 1, {"warm-up": 5, "rest": 5, "technique": 20}, 25),
        ("2026-11-23", 2, {"warm-up": 10, "rest": 10, "technique": 42}, 52),
    ]
    assert [(each["day"], each["kind"], each["what"], each["tempo"]) for each in values["tempi"]] == [
        ("2026-11-11", "scales", "major in F D", 66), ("2026-11-16", "scales", "major in F D", 71),
        ("2026-11-23", "scales", "major in F D", 78), ("2026-11-25", "scales", "major in D", 72),
        ("2026-11-25", "scales", "major in F", 66),
    ]  # fmt: skip
    assert values["due"] == [
        {"kind": "scales", "what": "major in F", "rating": 1, "days_ago": 1, "steps": -2},
        {"kind": "scales", "what": "major in D", "rating": 2, "days_ago": 1, "steps": -1},
    ]


def test_the_table_for_a_spreadsheet_says_the_same(third: Path) -> None:
    values = _values(third)
    done = run("history", "--profile", third, "--date", str(_DAY), "--csv")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    minutes = [(row["date"], row["of"], int(row["number"])) for row in rows if row["tells"] == "minutes"]
    assert minutes == [(week["monday"], *each) for week in values["weeks"] for each in week["minutes"].items()]
    assert [int(row["number"]) for row in rows if row["tells"] == "tempo"] == [
        each["tempo"] for each in values["tempi"]
    ]
    assert [row["what"] for row in rows if row["tells"] == "due"] == ["major in F", "major in D"]


def test_it_is_told_in_lines_that_add_up(third: Path) -> None:
    done = run("history", "--profile", third, "--date", str(_DAY), "--weeks", "2")
    head, first, second, *others = done.stdout.splitlines()
    assert head.split() == ["week", "from", "days", "warm-up", "technique", "rest", "in", "all"]
    assert first.split() == ["2026-11-16", "1", "5", "20", "5", "30"]
    assert second.split() == ["2026-11-23", "2", "10", "42", "10", "62"]
    assert "  scales    71   66   78" in others
    assert "  scales, major in F: rated 1, 2 steps slower, had 1 practice day ago" in others


@pytest.mark.parametrize(("name", "begins"), [("h.png", b"\x89PNG"), ("h.svg", b"<?xml"), ("H.PDF", b"%PDF")])
def test_it_is_drawn_the_same_every_time_and_replaces_nothing_of_others(
    name: str, begins: bytes, third: Path, tmp_path: Path
) -> None:
    drawn = tmp_path / "pictures" / name
    words = ["history", "--profile", third, "--date", str(_DAY), "--picture", drawn]
    assert run(*words).returncode == 0
    content = drawn.read_bytes()
    assert content.startswith(begins)
    if name.endswith("svg"):
        ET.fromstring(content)
    assert run(*words).returncode == 0
    assert drawn.read_bytes() == content
    drawn.write_bytes(b"mine")
    done = run(*words)
    assert (done.returncode, drawn.read_bytes()) == (2, b"mine")
    assert name in done.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--weeks", "0"], "weeks '0'"), (["--weeks", "many"], "weeks 'many'"), (["--csv", "--json"], "choose one"),
        (["--picture", "h.gif"], ".png, .svg, .pdf"), (["--date", "0001-01-05"], "not in any calendar"),
        (["--date", "9999-12-31"], "not in any calendar"), (["--picture", "."], "must end in"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_for_is_told_in_one_sentence(words: list[str], told: str, third: Path) -> None:
    done = run("history", "--profile", third, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_nobody_who_has_done_nothing_is_left_without_an_answer(tmp_path: Path) -> None:
    profile = tmp_path / "new.toml"
    profile.write_text('label = "New chair"\n', encoding="utf-8")
    done = run("history", "--profile", profile, "--picture", tmp_path / "h.svg")
    assert (done.returncode, done.stdout.strip()) == (0, "no sessions in these weeks")
    assert sorted(path.name for path in tmp_path.iterdir() if not path.name.startswith(".")) == ["h.svg", "new.toml"]


def test_what_went_alike_is_told_together() -> None:
    journal_items = {_F: 1, _D: 1, Item("bends"): 2}
    history = History(5, dict.fromkeys(journal_items, 2), {item: State(n) for item, n in journal_items.items()})
    assert look_back([], [], history, _DAY, 1).due == (
        Due("scales", "major in F D", 1, 3, 0),
        Due("bends", "", 2, 3, 0),
    )
