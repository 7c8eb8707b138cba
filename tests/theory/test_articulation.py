"""Articulations: which notes of a run the tongue starts, what it says, and what is printed over them."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises.common import ordinary_tone
from etudegen.exercises.keyed import laid_over
from etudegen.theory.articulation import Articulation, Mark, articulation, articulation_names
from etudegen.theory.pitch import WrittenPitch

_C = ordinary_tone(WrittenPitch("C", 0, 5), Fraction(1, 2))
_D = replace(_C, pitch=WrittenPitch.parse("D4"))


def run(spoken: Articulation, notes: int = 8):
    # No note twice in a row: a repeated note is tongued whatever the mask says.
    return list(laid_over(spoken, [_C if place % 2 == 0 else _D for place in range(notes)]))


def tongued(tones) -> str:
    """T for each note that the tongue starts, s for each that is slurred into."""
    into = [False, *(tone.slurred for tone in tones)]
    return "".join("s" if slurred else "T" for slurred in into[: len(tones)])


def own_articulation(folder, entry: str) -> Articulation:
    file = folder / "own.toml"
    file.write_text(f"[mine]\n{entry}\n", encoding="utf-8")
    return articulation("mine", file)


def test_there_are_all_the_articulations_that_the_exercises_call_for():
    """The section on articulation in the description of the exercises; slurs of two are there besides."""
    assert articulation_names() == (
        "tongued",
        "slurred",
        "slur-two-tongue-two",
        "tongue-two-slur-two",
        "slur-three-tongue-one",
        "slur-two",
        "staccato",
        "legato",
        "accented",
        "swing",
        "double-tongue",
        "triple-tongue",
    )


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("tongued", "TTTTTTTT"),
        ("slurred", "Tsssssss"),
        ("slur-two-tongue-two", "TsTTTsTT"),
        ("tongue-two-slur-two", "TTTsTTTs"),
        ("slur-three-tongue-one", "TssTTssT"),
        ("slur-two", "TsTsTsTs"),
        ("staccato", "TTTTTTTT"),
        ("legato", "TTTTTTTT"),
        ("accented", "TTTTTTTT"),
        ("swing", "TTsTsTsT"),
        ("double-tongue", "TTTTTTTT"),
        ("triple-tongue", "TTTTTTTT"),
    ],
)
def test_over_eight_notes_the_tongue_starts_those_worked_out_by_hand(name, expected):
    """What the names mean: common practice, no source."""
    assert tongued(run(articulation(name))) == expected


@pytest.mark.parametrize("notes", range(2, 30))
def test_in_swing_every_other_note_is_tongued_and_each_off_beat_is_slurred_into_the_beat(notes):
    """Common practice, no source. Eighth notes from a beat on: the odd places are off the beat."""
    tones = run(articulation("swing"), notes)
    started = [place for place, letter in enumerate(tongued(tones)) if letter == "T"]
    assert started == [0, *range(1, notes, 2)]
    assert [place for place, tone in enumerate(tones) if tone.slurred] == list(range(1, notes - 1, 2))


def test_only_swing_is_played_in_swung_eighths():
    assert [name for name in articulation_names() if articulation(name).swing] == ["swing"]


@pytest.mark.parametrize(("name", "expected"), [("double-tongue", "t k t k t k t"), ("triple-tongue", "t t k t t k t")])
def test_the_tongue_says_t_and_k_but_nothing_on_the_held_note(name, expected):
    """Double tongue t k, triple tongue t t k: common practice, no source."""
    assert [tone.syllable for tone in run(articulation(name))] == [*expected.split(), ""]


def test_elsewhere_no_syllables_are_printed():
    for name in set(articulation_names()) - {"double-tongue", "triple-tongue"}:
        assert {tone.syllable for tone in run(articulation(name))} == {""}


@pytest.mark.parametrize(
    ("name", "mark"), [("staccato", Mark.STACCATO), ("legato", Mark.TENUTO), ("accented", Mark.ACCENT)]
)
def test_a_mark_stands_over_every_moving_note_and_not_over_the_held_one(name, mark):
    assert [tone.marks for tone in run(articulation(name))] == [(mark,)] * 7 + [()]


def test_elsewhere_no_marks_are_printed():
    for name in set(articulation_names()) - {"staccato", "legato", "accented"}:
        assert {tone.marks for tone in run(articulation(name))} == {()}


def test_a_mark_stands_over_tongued_notes_only(tmp_path):
    mine = own_articulation(tmp_path, 'mask = "( - ) ."\nmark = "accent"')
    marked = [bool(tone.marks) for tone in run(mine, 9)]
    assert marked == [True, False, False, True, True, False, False, True, False]


def test_a_mark_is_added_to_those_a_note_has():
    tones = [replace(_C, marks=(Mark.TENUTO,)), _D]
    assert [tone.marks for tone in laid_over(articulation("accented"), tones)] == [(Mark.TENUTO, Mark.ACCENT), ()]


def test_notes_of_ones_own_stand_before_the_first_group(tmp_path):
    mine = own_articulation(tmp_path, 'first = ". ( )"\nmask = "( - )"')
    assert tongued(run(mine, 9)) == "TTsTssTss"


def test_blanks_in_a_mask_do_not_matter(tmp_path):
    spread = own_articulation(tmp_path, 'mask = " (  - ) \\t . "')
    assert spread == own_articulation(tmp_path, 'mask = "(-)."')


@given(
    st.lists(st.integers(1, 6), min_size=1, max_size=8),
    st.lists(st.integers(1, 6), max_size=4),
    st.integers(1, 60),
)
def test_any_mask_tongues_the_first_note_of_each_group_again_and_again(tmp_path_factory, lengths, first, notes):
    """A group of one is a tongued note, a longer one a slur; the last note of a run ends whatever slur it is in."""

    def mask(groups):
        return "".join("." if length == 1 else f"({'-' * (length - 2)})" for length in groups)

    folder = tmp_path_factory.getbasetemp()
    mine = own_articulation(folder, f'mask = "{mask(lengths)}"\nfirst = "{mask(first)}"')
    groups = [*first, *(lengths * notes)]
    expected = "".join("T" + "s" * (length - 1) for length in groups)[:notes]
    tones = run(mine, notes)
    assert tongued(tones) == expected
    assert not tones[-1].slurred


@given(st.sampled_from(articulation_names()), st.integers(1, 60))
def test_an_articulation_changes_neither_notes_nor_durations_nor_valves(name, notes):
    played = [_C if place % 2 == 0 else _D for place in range(notes)]
    spoken = laid_over(articulation(name), played)
    assert [(tone.pitch, tone.duration, tone.valves, tone.partial) for tone in spoken] == [
        (tone.pitch, tone.duration, tone.valves, tone.partial) for tone in played
    ]


@pytest.mark.parametrize(
    ("entry", "key"),
    [
        ('mask = "( ."', "mask"),
        ('mask = "("', "mask"),
        ('mask = "( -"', "mask"),
        ('mask = "( ("', "mask"),
        ('mask = "( ) )"', "mask"),
        ('mask = "- )"', "mask"),
        ('mask = ")"', "mask"),
        ('mask = ". - ."', "mask"),
        ('mask = "( ) x"', "mask"),
        ('mask = "(–)"', "mask"),
        ('mask = ""', "mask"),
        ('mask = "  "', "mask"),
        ('mark = "accent"', "mask"),
        ("whole = false", "mask"),
        ('mask = "."\nwhole = true', "mask"),
        ('mask = "."\nfirst = "("', "first"),
        ('mask = "."\nfirst = ")"', "first"),
        ('mask = "."\nmark = "marcato"', "mark"),
        ('mask = "."\nmark = "Accent"', "mark"),
        ('mask = ". ."\nsyllables = "t"', "syllables"),
        ('mask = ". ."\nsyllables = "t k t"', "syllables"),
        ('mask = ". ."\nsyllables = "t tuku"', "syllables"),
        ('whole = true\nsyllables = "t"', "syllables"),
        ("mask = 1", "mask"),
        ('mask = ["."]', "mask"),
        ('mask = "."\nmark = true', "mark"),
        ('mask = "."\nsyllables = 3', "syllables"),
        ('mask = "."\nfirst = false', "first"),
        ('mask = "."\nswing = "yes"', "swing"),
        ('mask = "."\nswing = 1', "swing"),
        ('whole = "true"', "whole"),
        ('mask = "."\nmasks = "."', "masks"),
    ],
)
def test_a_bad_articulation_is_refused_with_its_file_its_name_and_the_key(tmp_path, entry, key):
    with pytest.raises(InputError) as caught:
        own_articulation(tmp_path, entry)
    message = str(caught.value)
    assert str(tmp_path / "own.toml") in message
    assert "[mine]" in message
    assert f" {key} is " in message or f"unknown key {key!r}" in message


def test_an_unknown_articulation_is_refused_with_those_there_are():
    with pytest.raises(InputError, match=r"unknown articulation 'slured': choose one of tongued, .*triple-tongue"):
        articulation("slured")


def test_a_repeated_note_is_tongued_under_any_mask():
    tones = list(laid_over(articulation("slurred"), [_C, _C, _D, _D]))
    assert [tone.slurred for tone in tones] == [False, True, False, False]
