"""Degrees as musicians count them, and what is refused as one."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.theory.degrees import Degree, parse_degrees
from etudegen.theory.pitch import STEPS, WrittenPitch

_SIGNS = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2}
_LOWEST, _HIGHEST = -13, 22


@pytest.mark.parametrize(
    ("text", "half_steps"),
    [
        ("1", 0),
        ("b2", 1),
        ("2", 2),
        ("b3", 3),
        ("3", 4),
        ("4", 5),
        ("#4", 6),
        ("b5", 6),
        ("5", 7),
        ("#5", 8),
        ("b6", 8),
        ("6", 9),
        ("bb7", 9),
        ("b7", 10),
        ("7", 11),
        ("8", 12),
        ("b9", 13),
        ("9", 14),
        ("#9", 15),
        ("##9", 16),
        ("11", 17),
        ("#11", 18),
        ("13", 21),
        ("15", 24),
        ("0", -1),
        ("b0", -2),
        ("-1", -3),
        ("-6", -12),
    ],
)
def test_a_degree_is_so_many_half_steps_above_the_tonic(text, half_steps):
    """Common practice, no source. That 0 is the note below 1 is this program's own way of counting on downwards."""
    (degree,) = parse_degrees(text)
    assert degree.half_steps == half_steps


@pytest.mark.parametrize(
    ("tonic", "degrees", "spelled"),
    [
        ("C4", "1 b3 5 b7 9", "C4 Eb4 G4 Bb4 D5"),
        ("E4", "1 3 5", "E4 G#4 B4"),
        ("Gb4", "4 b7 8", "Cb5 Fb5 Gb5"),
        ("B3", "7 0 -6", "A#4 A#3 B2"),
        ("C4", "1 b3 b5 bb7", "C4 Eb4 Gb4 Bbb4"),
        ("A4", "#5 ##4", "E#5 D##5"),
    ],
)
def test_a_degree_keeps_its_letter_and_its_octave_over_a_tonic(tonic, degrees, spelled):
    """Spelled by hand: common practice, no source."""
    notes = [degree.above(WrittenPitch.parse(tonic)) for degree in parse_degrees(degrees)]
    assert " ".join(map(str, notes)) == spelled
    assert {type(note) for note in notes} == {WrittenPitch}


@given(st.integers(-30, 30), st.integers(-2, 2), st.sampled_from(STEPS), st.integers(-1, 1), st.integers(1, 7))
def test_a_degree_over_a_tonic_lies_its_letters_and_its_half_steps_higher(number, bend, step, alter, octave):
    degree, tonic = Degree(number, bend), WrittenPitch(step, alter, octave)
    note = degree.above(tonic)
    assert note.number - tonic.number == degree.half_steps
    letters = 7 * note.octave + STEPS.index(note.step) - 7 * tonic.octave - STEPS.index(tonic.step)
    assert letters == number - 1


@given(st.integers(-30, 30), st.integers(-2, 2))
def test_seven_degrees_further_is_the_same_note_an_octave_higher(number, bend):
    assert Degree(number + 7, bend).half_steps == Degree(number, bend).half_steps + 12


@given(
    st.lists(st.tuples(st.sampled_from(list(_SIGNS)), st.integers(_LOWEST, _HIGHEST)), min_size=1, max_size=20),
    st.sampled_from([" ", "  ", ",", ", ", " , ", "\t", "\n"]),
)
def test_degrees_read_as_they_are_written_with_blanks_or_commas_between(written, between):
    text = between.join(f"{sign}{number}" for sign, number in written)
    assert parse_degrees(text) == tuple(Degree(number, _SIGNS[sign]) for sign, number in written)


@pytest.mark.parametrize(
    "word",
    ["H", "I", "b", "#", "3b", "bbb3", "###4", "b#3", "1.5", "+1", "--1", "♭3", "1-2", "100", "-14", "23", "１", "²"],
)
def test_what_is_not_a_degree_is_refused_with_the_word_and_an_example(word):
    with pytest.raises(InputError, match="like 1, b3") as caught:
        parse_degrees(f"1 {word} 3")
    assert repr(word) in str(caught.value)


@pytest.mark.parametrize("text", ["", " ", ",", " ,\n, "])
def test_no_degrees_at_all_are_refused(text):
    with pytest.raises(InputError, match="no degrees"):
        parse_degrees(text)


@settings(max_examples=100)
@given(st.text(st.characters()) | st.text("0123456789b#-, \t♭♯", max_size=12))
def test_any_text_is_read_as_degrees_or_refused_and_nothing_else_happens(text):
    words = text.replace(",", " ").split()
    meant = [re.fullmatch("(bb|b|##|#|)(-?[0-9]{1,2})", word) for word in words]
    readable = bool(words) and all(match and _LOWEST <= int(match[2]) <= _HIGHEST for match in meant)
    try:
        degrees = parse_degrees(text)
    except InputError:
        assert not readable
    else:
        assert readable
        assert len(degrees) == len(words)
