"""Spelled pitches: how they are read and shown, and that written and sounding ones never mix."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import pitch as music21_pitch

from etudegen.errors import InputError
from etudegen.theory.pitch import Pitch, SoundingPitch, WrittenPitch

_KINDS = (Pitch, WrittenPitch, SoundingPitch)
_SPELLED = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(-1, 9))
_SIGNS = {"": 0, "#": 1, "b": -1, "♯": 1, "♭": -1, "♮": 0, "##": 2, "bb": -2, "x": 2, "𝄪": 2, "𝄫": -2}
_NOT_NOTES = ["", " ", "H3", "C", "4", "#4", "C10", "C 4", "C###4", "Cb#4", "C4 D4", "C--1", "C+4", "Do4"]
# A Cyrillic letter, a full-width digit, a raised digit, and what a terminal would not show.
_STRANGE = ["С4", "C４", "C²", "C\x004", "C\n4"]


@pytest.mark.parametrize("sign", _SIGNS, ids=lambda sign: sign or "none")
def test_accidentals_are_read_in_ascii_and_in_print(sign):
    for letter, octave in itertools.product("ABCDEFG", range(-1, 10)):
        assert WrittenPitch.parse(f"{letter}{sign}{octave}") == WrittenPitch(letter, _SIGNS[sign], octave)


@pytest.mark.parametrize("text", ["f#3", "bb4", "bbb4", "b4"])
def test_small_letters_are_notes_too_and_a_b_after_the_letter_is_a_flat(text):
    assert str(Pitch.parse(text)) == text[0].upper() + text[1:]


def test_blanks_around_a_note_do_not_matter():
    assert Pitch.parse("  C♯5\n") == Pitch("C", 1, 5)


@given(_SPELLED)
def test_a_pitch_reads_back_from_its_ascii_text(pitch):
    assert str(pitch).isascii()
    assert Pitch.parse(str(pitch)) == pitch


@given(_SPELLED)
def test_a_pitch_reads_back_from_its_printed_text(pitch):
    assert Pitch.parse(pitch.pretty) == pitch


def test_print_shows_the_signs_of_the_trade():
    shown = [Pitch("B", alter, 4).pretty for alter in (-2, -1, 0, 1, 2)]
    assert shown == ["B𝄫4", "B♭4", "B4", "B♯4", "B𝄪4"]


def test_the_name_is_the_spelling_without_its_octave():
    assert [Pitch("A", alter, 3).name for alter in (-2, -1, 0, 1, 2)] == ["Abb", "Ab", "A", "A#", "A##"]


@pytest.mark.parametrize("text", [*_NOT_NOTES, *_STRANGE])
def test_what_is_not_a_note_is_refused_with_the_text_and_an_example(text):
    with pytest.raises(InputError, match="like F#3") as caught:
        WrittenPitch.parse(text)
    assert repr(text) in str(caught.value)


@settings(max_examples=150)
@given(st.text(st.characters()) | st.text("ABCDEFGHabcdefgh#b♯♭♮𝄪𝄫x-0123456789 ", max_size=6))
def test_any_text_is_read_as_it_stands_or_refused_and_nothing_else_happens(text):
    parts = itertools.product("ABCDEFGabcdefg", _SIGNS, range(-1, 10))
    documented = {f"{letter}{sign}{octave}" for letter, sign, octave in parts}
    try:
        pitch = Pitch.parse(text)
    except InputError:
        assert text.strip() not in documented
    else:
        bare = text.strip()
        assert pitch.step == bare[0].upper()
        assert pitch.octave == int(bare[-2:] if bare[-2] == "-" else bare[-1])


def test_key_numbers_agree_with_music21_for_every_spelling():
    """From octave 0 up: in the text of a music21 pitch a minus sign is a flat."""
    signs = {-2: "--", -1: "-", 0: "", 1: "#", 2: "##"}
    for step, alter, octave in itertools.product("CDEFGAB", range(-2, 3), range(9)):
        theirs = music21_pitch.Pitch(f"{step}{signs[alter]}{octave}").midi
        assert Pitch(step, alter, octave).number == theirs


def test_middle_c_is_key_number_60_and_an_accidental_does_not_change_the_octave():
    """MIDI 1.0 specification: middle C = 60. B#3 sounds like C4, Cb4 like B3: common practice, no source."""
    assert Pitch.parse("C4").number == 60
    assert Pitch.parse("B#3").number == 60
    assert Pitch.parse("Cb4").number == Pitch.parse("B3").number == 59
    assert Pitch.parse("C-1").number == 0
    assert Pitch.parse("G9").number == 127


@given(st.integers(0, 127), st.sampled_from(_KINDS))
def test_a_key_number_is_spelled_with_at_most_one_accidental_and_keeps_its_number(number, kind):
    pitch = kind.from_number(number)
    assert pitch.number == number
    assert type(pitch) is kind
    assert abs(pitch.alter) <= 1


def test_the_black_keys_are_spelled_as_in_fingering_charts():
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/"""
    assert [Pitch.from_number(number).name for number in (61, 63, 66, 68, 70)] == [
        "C#",
        "Eb",
        "F#",
        "Ab",
        "Bb",
    ]


@pytest.mark.parametrize(
    ("text", "staff_steps", "half_steps", "expected"),
    [
        ("C5", -1, -2, "Bb4"),
        ("E4", -1, -2, "D4"),
        ("F#3", -1, -2, "E3"),
        ("Cb4", -1, -2, "Bbb3"),
        ("B3", 1, 1, "C4"),
        ("Bb2", 7, 12, "Bb3"),
        ("Ab2", 18, 31, "Eb5"),
        ("C4", -7, -12, "C3"),
        ("C#4", 1, 0, "Db4"),
        ("F4", 3, 6, "B4"),
        ("F4", 4, 6, "Cb5"),
    ],
)
def test_an_interval_leads_to_the_right_letter_octave_and_sign(text, staff_steps, half_steps, expected):
    """Spelled by hand: common practice, no source."""
    assert str(Pitch.parse(text).above(staff_steps, half_steps)) == expected


@given(_SPELLED, st.integers(-21, 21), st.integers(-36, 36))
def test_an_interval_moves_by_its_steps_and_half_steps_and_back_again(pitch, staff_steps, half_steps):
    moved = pitch.above(staff_steps, half_steps)
    places = [7 * note.octave + "CDEFGAB".index(note.step) for note in (pitch, moved)]
    assert places[1] - places[0] == staff_steps
    assert moved.number - pitch.number == half_steps
    assert moved.above(-staff_steps, -half_steps) == pitch


@pytest.mark.parametrize("kind", _KINDS)
def test_an_interval_and_a_text_keep_the_kind_of_pitch(kind):
    assert type(kind.parse("C4")) is kind
    assert type(kind.parse("C4").above(2, 4)) is kind


@given(_SPELLED)
def test_a_written_pitch_is_never_equal_to_a_sounding_one(pitch):
    written = WrittenPitch(pitch.step, pitch.alter, pitch.octave)
    sounding = SoundingPitch(pitch.step, pitch.alter, pitch.octave)
    assert written != sounding
    assert len({written, sounding, pitch}) == 3


def test_equal_pitches_of_one_kind_are_one_member_of_a_set():
    assert {WrittenPitch.parse("B♭4"), WrittenPitch.parse("Bb4")} == {WrittenPitch("B", -1, 4)}


@pytest.mark.parametrize("kind", _KINDS)
def test_a_pitch_cannot_be_changed(kind):
    pitch = kind("C", 0, 4)
    with pytest.raises(AttributeError):
        pitch.octave = 5
