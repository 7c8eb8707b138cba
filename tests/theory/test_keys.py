"""Keys: their names and signatures, and the orders in which all twelve are gone through."""

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import key as music21_key

from etudegen.errors import InputError
from etudegen.theory.keys import (
    KeyOrder,
    all_tonics,
    altered_steps,
    has_signature,
    in_order,
    major_sharps,
    names_of,
    parse_keys,
    tonic,
)
from etudegen.theory.pitch import STEPS, WrittenPitch

_NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]
# Open Music Theory, "Key signatures" (github.com/Josquin1/openmusictheory.github.io keySignatures.md): write the notes
# as a line of fifths; a major key has the seven that begin one to the left of its tonic.
_LINE_OF_FIFTHS = [letter + sign for sign in ("bb", "b", "", "#", "##") for letter in "FCGDAEB"]
_ORDERS = st.sampled_from(KeyOrder)
_SEEDS = st.integers(0, 2**31 - 1)


def _names(tonics):
    return [each.name for each in tonics]


def _distinct():
    """Tonics with names of any kind, each key once."""
    keys = st.sampled_from(_NAMES).map(tonic)
    return st.lists(keys, min_size=1, max_size=12, unique_by=lambda each: each.number % 12)


@pytest.mark.parametrize("name", _NAMES)
def test_a_key_is_named_by_a_letter_and_at_most_one_accidental_in_any_writing(name):
    printed = name.replace("b", "♭").replace("#", "♯")
    small = name[0].lower() + name[1:]
    assert [tonic(text).name for text in (name, printed, small)] == [name] * 3


@pytest.mark.parametrize(
    "text", ["", " ", "H", "Cm", "C major", "C4", "C##", "Cbb", "Cx", "C♮", "#", "#b", "Do", "c b", "C\n", "С"]
)
def test_what_is_not_a_key_is_refused_with_the_text_and_an_example(text):
    with pytest.raises(InputError, match="like Bb or F#") as caught:
        tonic(text)
    assert repr(text) in str(caught.value)


def test_keys_are_read_in_the_order_in_which_they_are_listed():
    assert _names(parse_keys(" Eb, F#  C\tb\nA♭ ")) == ["Eb", "F#", "C", "B", "Ab"]


@pytest.mark.parametrize("text", ["all", " all\n"])
def test_all_keys_are_read_as_no_keys_in_particular(text):
    assert parse_keys(text) == ()


@pytest.mark.parametrize("text", ["", " ", ",", "C,,G,", "C all", "ALL", "C; G", "C/G", "C 4", "none"])
def test_a_list_with_something_else_than_keys_is_refused(text):
    with pytest.raises(InputError, match="cannot read the key"):
        parse_keys(text)


@pytest.mark.parametrize(("text", "second"), [("C C", "C"), ("F# A Gb", "Gb"), ("Cb, b", "B"), ("E# F", "F")])
def test_a_key_that_is_named_twice_is_refused_under_either_name(text, second):
    with pytest.raises(InputError, match=f"{second} is named twice") as caught:
        parse_keys(text)
    assert repr(text) in str(caught.value)


@settings(max_examples=80)
@given(st.text(st.characters(), max_size=12) | st.text("ABCDEFGabcdefg#b♯♭, all4", max_size=12))
def test_any_text_is_read_as_keys_or_refused_and_nothing_else_happens(text):
    words = re.split(r"[\s,]+", text.strip())
    readable = text.strip() == "all" or all(re.fullmatch("[A-Ga-g][#b♯♭]?", word) for word in words)
    try:
        keys = parse_keys(text)
    except InputError:
        named_twice = readable and len({tonic(word).number % 12 for word in words}) < len(words)
        assert named_twice or not readable
    else:
        assert readable
        assert len(keys) == (0 if text.strip() == "all" else len(words))


@pytest.mark.parametrize("name", _NAMES)
def test_a_major_key_has_the_sharps_of_seven_notes_in_a_row_on_the_line_of_fifths(name):
    """Source: Open Music Theory, as above; the second opinion is music21's."""
    begin = _LINE_OF_FIFTHS.index(name) - 1
    signs = "".join(note[1:] for note in _LINE_OF_FIFTHS[begin : begin + 7])
    assert major_sharps(tonic(name)) == signs.count("#") - signs.count("b")
    assert major_sharps(tonic(name)) == music21_key.Key(name.replace("b", "-")).sharps


def test_there_are_fifteen_signatures_up_to_seven_sharps_or_flats():
    """Open Music Theory, as above: any key with up to seven flats or sharps."""
    assert [sharps for sharps in range(-20, 21) if has_signature(sharps)] == list(range(-7, 8))


@pytest.mark.parametrize("sharps", range(-7, 8))
def test_a_signature_bends_the_steps_that_music21_bends_in_the_same_order(sharps):
    """Order of sharps F C G D A E B, of flats the reverse: "Circle of Fifths", Music 171, Earlham College."""
    theirs = {pitch.step: int(pitch.alter) for pitch in music21_key.KeySignature(sharps).alteredPitches}
    assert list(altered_steps(sharps).items()) == list(theirs.items())
    order = "FCGDAEB" if sharps > 0 else "BEADGCF"
    assert "".join(altered_steps(sharps)) == order[: abs(sharps)]


def test_the_twelve_keys_rise_from_c_by_half_steps_with_flat_names():
    assert " ".join(_names(all_tonics())) == "C Db D Eb E F Gb G Ab A Bb B"


@pytest.mark.parametrize("pitch_class", range(-12, 24))
def test_the_names_of_a_key_are_all_letters_with_at_most_one_accidental_that_sound_like_it(pitch_class):
    expected = [name for name in _NAMES if (WrittenPitch.parse(f"{name}4").number - pitch_class) % 12 == 0]
    assert sorted(_names(names_of(pitch_class))) == sorted(expected)


def test_a_natural_name_comes_before_a_flat_one_and_a_flat_one_before_a_sharp_one():
    assert [_names(names_of(number)) for number in (0, 4, 6, 8)] == [
        ["C", "B#"],
        ["E", "Fb"],
        ["Gb", "F#"],
        ["Ab", "G#"],
    ]


def test_by_fourths_the_keys_go_round_against_the_clock_from_c():
    """Source: "Key Signatures and the Circle of Fifths", Math, Music and Memory, 2014, docslib.org/doc/1862217.

    Downwards by fifths from C: F, Bb, Eb, Ab, Db, Gb; then on round the circle: B, E, A, D, G.
    """
    assert " ".join(_names(in_order(all_tonics(), KeyOrder.FOURTHS, 1))) == "C F Bb Eb Ab Db Gb B E A D G"


def test_by_fifths_the_keys_go_round_with_the_clock_from_c():
    """Source: as above. Upwards by fifths from C: G, D, A, E, B, F# (here Gb); then on: Db, Ab, Eb, Bb, F."""
    assert " ".join(_names(in_order(all_tonics(), KeyOrder.FIFTHS, 1))) == "C G D A E B Gb Db Ab Eb Bb F"


def test_chromatically_the_keys_rise_from_c():
    assert in_order(tuple(reversed(all_tonics())), KeyOrder.CHROMATIC, 1) == all_tonics()


@pytest.mark.parametrize(("order", "interval"), [(KeyOrder.FOURTHS, 5), (KeyOrder.FIFTHS, 7), (KeyOrder.CHROMATIC, 1)])
def test_each_key_lies_the_same_interval_above_the_one_before(order, interval):
    ordered = in_order(all_tonics(), order, 1)
    assert {(after.number - before.number) % 12 for before, after in itertools.pairwise(ordered)} == {interval}


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        (KeyOrder.FOURTHS, ["F", "Eb", "F#", "B", "A", "G"]),
        (KeyOrder.FIFTHS, ["G", "A", "B", "F#", "Eb", "F"]),
        (KeyOrder.CHROMATIC, ["Eb", "F", "F#", "G", "A", "B"]),
    ],
)
def test_a_few_keys_follow_one_another_as_they_do_among_all_twelve_and_keep_their_names(order, expected):
    assert _names(in_order(parse_keys("A B Eb F# G F"), order, 1)) == expected


@given(_distinct(), _ORDERS, _SEEDS)
def test_every_order_goes_through_each_key_once(keys, order, seed):
    ordered = in_order(keys, order, seed)
    assert sorted(ordered, key=str) == sorted(keys, key=str)


@given(st.data(), _distinct(), _ORDERS, _SEEDS)
def test_an_order_does_not_depend_on_how_the_keys_were_listed(data, keys, order, seed):
    assert in_order(data.draw(st.permutations(keys)), order, seed) == in_order(keys, order, seed)


@given(_distinct(), _SEEDS, _SEEDS)
def test_only_the_shuffled_order_depends_on_the_seed(keys, seed, other):
    for order in set(KeyOrder) - {KeyOrder.SHUFFLED}:
        assert in_order(keys, order, seed) == in_order(keys, order, other)


def test_seeds_shuffle_the_keys_differently():
    """Twenty shuffles of twelve keys are all different but once in two million times; here the seeds are fixed."""
    shuffles = {in_order(all_tonics(), KeyOrder.SHUFFLED, seed) for seed in range(20)}
    assert len(shuffles) == 20
    assert all_tonics() not in shuffles


def test_the_shuffled_order_of_a_seed_stays_what_it_has_been():
    """From this program, to be seen when a sheet with the same seed would change."""
    assert " ".join(_names(in_order(all_tonics(), KeyOrder.SHUFFLED, 1))) == "G B C Ab F Gb Eb Bb E Db A D"
