"""What fills a block, what comes up when, and the journal that remembers how it went."""

import datetime
import os
import random
import signal
import subprocess
import sys
import time
from fractions import Fraction

import pytest
from fsrs import Card, Rating, Scheduler
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError, MachineError
from etudegen.practice.content import fill
from etudegen.practice.journal import Entry, Journal
from etudegen.practice.plan import make_plan
from etudegen.practice.player import Aim, Player
from etudegen.practice.pools import Today
from etudegen.practice.rotation import todays
from etudegen.practice.rules import CARDS
from etudegen.practice.session import make_session
from etudegen.theory.pitch import WrittenPitch
from tests.reference.tables import value

_DAY = datetime.date(2026, 11, 25)
_KILLS = 30


@settings(deadline=None, max_examples=40)
@given(st.integers(54, 60), st.integers(70, 84), st.integers(15, 120), st.sampled_from(Aim), st.integers(0, 400))
def test_studies_fill_their_block_to_within_five_per_cent(low, high, minutes, aim, day) -> None:
    player = Player(label="x", low=WrittenPitch.from_number(low), high=WrittenPitch.from_number(high))
    for block in make_plan(player, minutes, aim).blocks:
        if block.part == "rest" or block.kind in CARDS:
            continue
        filled = fill(block, player, Today(day, {}))
        seconds = sum(study.playing_seconds + study.resting_seconds for study in filled.studies)
        assert abs(seconds / (60 * block.minutes) - 1) <= Fraction(1, 20)
        for study in filled.studies:
            assert study.tempo <= block.tempo
            for line in study.lines:
                assert line.duration % 4 == 0
                assert all(block.low.number <= tone.pitch.number <= block.high.number for tone in line.tones
                           if study.title != "Half-step bends")  # fmt: skip


@given(st.lists(st.text(min_size=1), min_size=1, max_size=12, unique=True), st.integers(0, 10_000))
def test_over_as_many_days_as_the_pool_has_members_each_comes_first_once(pool, day) -> None:
    assert sorted(todays(pool, day + later, {})[0] for later in range(len(pool))) == sorted(pool)
    assert sorted(todays(pool, day, {})) == sorted(pool)


def test_what_is_half_forgotten_comes_before_what_is_not() -> None:
    order = todays(["C", "F", "Bb", "Eb"], 0, {"Eb": 0.4, "Bb": 0.8, "F": 0.97})
    assert order == ["C", "Eb", "Bb", "F"]


def test_in_twelve_days_every_key_comes_first_once() -> None:
    firsts = set()
    for later in range(12):
        made = make_session(Player(label="x"), _DAY + datetime.timedelta(days=later), 60, Aim.TECHNIQUE)
        scales = next(filled for filled in made.filled.values() if filled.block.kind == "scales")
        firsts.add(scales.items[0].split(":")[-1])
    assert len(firsts) == 12


def test_retention_is_that_of_the_published_formula() -> None:
    """fsrs 6.3.2: R after so many days at stability 10, as in the table."""
    scheduler = Scheduler(enable_fuzzing=False)
    then = datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC)
    for days in (5, 10, 20, 100):
        card = Card(stability=10.0, difficulty=5.0, last_review=then)
        now = then + datetime.timedelta(days=days)
        expected = float(value("spacing", f"R after {days} days at stability 10"))
        assert scheduler.get_card_retrievability(card, now) == pytest.approx(expected, abs=1e-6)


def test_what_went_badly_is_retained_less(tmp_path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.log("third chair", Entry(_DAY, 1, 1, ("scales:major:Bb",)))
    journal.log("third chair", Entry(_DAY, 2, 4, ("scales:major:F",)))
    later = journal.retained("third chair", _DAY + datetime.timedelta(days=3))
    assert later["scales:major:Bb"] < later["scales:major:F"] <= 1
    again = Scheduler(learning_steps=(), relearning_steps=(), maximum_interval=30, enable_fuzzing=False)
    noon = datetime.datetime(2026, 11, 25, 12, tzinfo=datetime.UTC)
    card, _ = again.review_card(Card(card_id=0, due=noon), Rating.Again, noon)
    theirs = again.get_card_retrievability(card, noon + datetime.timedelta(days=3))
    assert later["scales:major:Bb"] == pytest.approx(theirs)


def test_a_second_rating_replaces_the_first(tmp_path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    journal.log("x", Entry(_DAY, 1, 1, ("bends",)))
    journal.log("x", Entry(_DAY, 1, 3, ("bends",), "better"))
    assert journal.entries("x") == [Entry(_DAY, 1, 3, ("bends",), "better")]


def test_a_rating_from_one_to_four_and_a_session_are_asked_for(tmp_path) -> None:
    journal = Journal(tmp_path / "journal.sqlite")
    with pytest.raises(InputError, match="rating 5"):
        journal.log("x", Entry(_DAY, 1, 5, ()))
    with pytest.raises(InputError, match="no journal"):
        journal.blocks_of("x", _DAY)


def test_a_file_that_is_no_journal_is_told(tmp_path) -> None:
    path = tmp_path / "journal.sqlite"
    path.write_bytes(b"this is not a database at all, only a text of some length" * 20)
    with pytest.raises(MachineError, match="cannot use the journal"):
        Journal(path).entries("x")


_WRITER = """
import datetime, sys
from pathlib import Path
from etudegen.practice.journal import Entry, Journal
journal, name, start = Journal(Path(sys.argv[1])), sys.argv[2], int(sys.argv[3])
for number in range(start, start + int(sys.argv[4])):
    journal.log(name, Entry(datetime.date(2026, 1, 1), number, 1 + number % 4, ("x",)))
    print(number, flush=True)
"""


def _writer(path, name: str, start: int, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", _WRITER, str(path), name, str(start), str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_a_writer_that_is_killed_loses_nothing_that_it_acknowledged(tmp_path) -> None:
    path, acknowledged = tmp_path / "journal.sqlite", set()
    chance = random.Random(7)
    for attempt in range(_KILLS):
        writer = _writer(path, "x", 1000 * attempt, 999)
        time.sleep(chance.uniform(0.08, 0.2))
        os.kill(writer.pid, signal.SIGKILL)
        said, _ = writer.communicate()
        acknowledged |= {int(line) for line in said.split()}
        kept = {entry.block for entry in Journal(path).entries("x")}
        assert acknowledged <= kept
    assert acknowledged


def test_two_writers_at_once_lose_nothing(tmp_path) -> None:
    path = tmp_path / "journal.sqlite"
    writers = [_writer(path, name, 0, 40) for name in ("first chair", "second chair")]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    for writer in writers:
        assert writer.stdout is not None
        writer.stdout.close()
    assert [len(Journal(path).entries(name)) for name in ("first chair", "second chair")] == [40, 40]
