"""How a part of a block went: what was said of just that counts before what was said of the whole block."""

import datetime
import sqlite3
from pathlib import Path

import pytest

from etudegen.errors import InputError
from etudegen.practice.entries import Entry, KeptSession
from etudegen.practice.items import Item
from etudegen.practice.journal import Journal
from etudegen.practice.rating import PartRating, block_named, items_meant, read_part
from etudegen.practice.spacing import State
from tests.kept import kept

_DAY = datetime.date(2026, 11, 25)
_NEXT = _DAY + datetime.timedelta(days=1)
_F, _FLAT, _MINOR = Item("scales", "major", "F"), Item("scales", "major", "Bb"), Item("scales", "harmonic minor", "F")
_SCALES = kept(_F, _FLAT, _MINOR)
_SESSION = KeptSession(
    _DAY,
    1,
    (
        kept(Item("slurs", "sweep", "12"), part="warm-up"),
        _SCALES,
        kept(),
        kept(Item("long-tones"), part="conditioning"),
        kept(Item("long-tones"), part="warm-down"),
    ),
)


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return Journal(tmp_path / "journal.sqlite")


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("F=2", PartRating("F", 2)), ("harmonic minor = 3@72", PartRating("harmonic minor", 3, 72)),
        ("C=1=4", None), ("F", None), ("=2", None), ("F=2@", None), ("F=@72", None), ("F=0", None), ("F=2@8000", None),
    ],
)  # fmt: skip
def test_a_part_is_read_with_how_it_went_and_the_tempo(text: str, read: PartRating | None) -> None:
    if read:
        assert read_part(text) == read
    else:
        with pytest.raises(InputError):
            read_part(text)


@pytest.mark.parametrize(
    ("name", "number"),
    [("1", 1), ("2", 2), ("scales", 2), ("Scales", 2), ("lip slurs", 1), ("warm-up", 1), ("warm down", 5)],
)
def test_a_block_is_found_by_its_number_kind_or_part(name: str, number: int) -> None:
    assert block_named(_SESSION, name) == number


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("3", "block 3 is no block to rate: choose one of 1 (lip slurs), 2 (scales), 4 (long tones)"),
        ("long tones", "block 'long tones' may be 4 or 5: say which by its number"),
        ("pedals", "block 'pedals' is not in the session"),
    ],
)
def test_a_block_that_is_none_or_several_is_told(name: str, told: str) -> None:
    with pytest.raises(InputError) as error:
        block_named(_SESSION, name)
    assert str(error.value).startswith(told)


@pytest.mark.parametrize(
    ("part", "items"),
    [
        ("F", (_F, _MINOR)), ("f", (_F, _MINOR)), ("B♭", (_FLAT,)), ("bb", (_FLAT,)), ("major", (_F, _FLAT)),
        ("harmonic-minor F", (_MINOR,)),
    ],
)  # fmt: skip
def test_a_part_is_a_key_a_scale_or_a_scale_in_a_key(part: str, items: tuple[Item, ...]) -> None:
    assert items_meant(_SCALES, part) == items
    with pytest.raises(InputError, match="'G' is not in this block: it has major in F B♭, harmonic minor in F"):
        items_meant(_SCALES, "G")


def test_what_is_said_of_a_part_counts_before_what_is_said_of_all(journal: Journal, tmp_path: Path) -> None:
    profile = tmp_path / "first.toml"
    journal.log(
        profile,
        Entry(_DAY, 2, 1, (_F,), part="major in F", tempo=66),
        Entry(_DAY, 2, 3, _SCALES.items),
    )
    states = journal.history(profile, _NEXT).states
    assert states == {_F: State(1, 0, -2), _FLAT: State(3), _MINOR: State(3)}
    assert [(entry.part, entry.rating, entry.tempo) for entry in journal.entries(profile)] == [
        ("", 3, None), ("major in F", 1, 66),
    ]  # fmt: skip
    # The tempo that was reached is where the next one starts from: two steps below it where it did not go.
    assert journal.history(profile, _NEXT).tempo(_F) == 60
    assert journal.history(profile, _NEXT).tempo(_FLAT) is None
    # The last word on a thing is the one that counts.
    journal.log(profile, Entry(_DAY, 2, 4, (_F,), part="major in F"))
    assert journal.history(profile, _NEXT).states[_F] == State(4, 1, 0)
    assert journal.history(profile, _NEXT).tempo(_F) is None
    assert len(journal.entries(profile)) == 2


def test_several_ratings_are_kept_together_or_not_at_all(journal: Journal, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="rating 9"):
        journal.log(tmp_path / "first.toml", Entry(_DAY, 2, 1, (_F,)), Entry(_DAY, 3, 9, (_F,)))
    with pytest.raises(InputError, match="tempo 9000"):
        journal.log(tmp_path / "first.toml", Entry(_DAY, 2, 1, (_F,), tempo=9000))
    assert not journal.path.exists()


def test_a_day_that_was_printed_is_made_again_from_what_was_known_then(journal: Journal, tmp_path: Path) -> None:
    profile = tmp_path / "first.toml"
    journal.keep_session(profile, _DAY, [kept(_F)])
    journal.log(profile, Entry(_DAY, 1, 2, (_F,)))
    days = [_DAY + datetime.timedelta(days=after) for after in (1, 2, 3)]
    for day in days[:2]:
        journal.keep_session(profile, day, [kept(_FLAT)])
    printed = [journal.history(profile, day) for day in days[:2]]
    assert [known.days for known in printed] == [1, 2]
    # Whatever is rated, replaced, or made for a day before, late.
    journal.log(profile, Entry(_DAY, 1, 4, (_F,)))
    journal.log(profile, Entry(_DAY, 1, 1, (_MINOR,), part="x"))
    journal.keep_session(profile, _DAY - datetime.timedelta(days=4), [kept(_MINOR)])
    journal.keep_session(profile, days[0], [kept(_MINOR)])
    assert [journal.history(profile, day) for day in days[:2]] == printed
    # The first day that is not printed knows all of it.
    known = journal.history(profile, days[2])
    assert known.states == {_F: State(4, 1, 0), _MINOR: State(1, 0, -2)}
    assert (known.days, known.had) == (4, {_MINOR: 2, _F: 1, _FLAT: 3})
    # Also where what was learned has to be learned anew.
    connection = sqlite3.connect(journal.path)
    connection.execute("delete from learned_of")
    connection.commit()
    connection.close()
    assert [journal.history(profile, day) for day in days[:2]] == printed
    assert journal.history(profile, days[2]) == known
