"""Levels: what there is, in order, and what a file of one may say."""

from pathlib import Path

import pytest

from etudegen.errors import InputError
from etudegen.practice.levels import level, level_for, level_names, levels, read_level
from etudegen.theory.pitch import WrittenPitch

_FIRST = Path(__file__).parents[2] / "templates" / "levels" / "first-months.toml"


def test_who_is_further_on_never_knows_less() -> None:
    """Common practice, no source."""
    for before, after in zip(levels(), levels()[1:], strict=False):
        assert before.top.number < after.top.number
        assert set(before.rhythms) <= set(after.rhythms)
        assert set(before.kinds) <= set(after.kinds)
        for key in ("run", "longest", "signature", "counts", "difficulty"):
            assert getattr(before, key) <= getattr(after, key)
        assert before.music >= after.music
        assert all(before.tempo[rhythm] <= after.tempo[rhythm] for rhythm in before.rhythms)
        assert all(leap <= after.leap[rhythm] for rhythm, leap in before.leap.items())


def test_a_level_has_a_leap_for_each_of_its_rhythms() -> None:
    for each in levels():
        assert set(each.leap) == set(each.tempo)


@pytest.mark.parametrize(
    ("high", "name"),
    [("G4", "first-months"), ("D5", "elementary"), ("G5", "intermediate"), ("C6", "advanced"), ("E6", "professional")],
)
def test_without_a_word_the_level_follows_from_the_highest_note(high: str, name: str) -> None:
    """Common practice, no source."""
    assert level_for(WrittenPitch.parse(high)).name == name


def test_an_unknown_level_is_told_with_those_there_are() -> None:
    with pytest.raises(InputError) as caught:
        level("expert")
    assert "'expert'" in str(caught.value)
    assert all(name in str(caught.value) for name in level_names())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("run = 15", "run = 300", "run"),
        ('extent = "one"', 'extent = "three"', "one, two, full"),
        ("quarters = 66", "quavers = 66", "quavers"),
        ("place = 1", 'place = "first"', "place"),
        ('top = "C5"', 'top = "H5"', "H5"),
        ("music = 36", "musik = 36", "musik"),
    ],
)
def test_what_is_wrong_in_a_file_is_told_with_file_and_key(tmp_path: Path, old: str, new: str, said: str) -> None:
    text = _FIRST.read_text()
    assert old in text
    file = tmp_path / "own.toml"
    file.write_text(text.replace(old, new))
    with pytest.raises(InputError) as caught:
        read_level(file)
    assert str(file) in str(caught.value)
    assert said in str(caught.value)
