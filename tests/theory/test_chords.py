"""Chords: their notes, how these are spelled, what follows the name of the root, and the signature they are in."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from music21 import harmony as music21_harmony
from music21 import key as music21_key

from etudegen.errors import InputError
from etudegen.theory.chords import chord, chord_names
from etudegen.theory.degrees import parse_degrees
from etudegen.theory.keys import all_tonics, major_sharps, names_of, tonic
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.scales import Key, well_spelled
from tests.reference.tables import rows

NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]
PUBLISHED = {row["symbol"]: row["tones"] for row in rows("chords")}
OF_SYMBOL = {chord(name).symbol: name for name in chord_names()}
# Chord symbols as MusicXML 4.0 and music21 name their kinds.
KINDS = {"minor-major-seventh": "major-minor"}
NINTHS = ["major-ninth", "dominant-ninth", "minor-ninth"]


def spelled(name: str, root: str) -> list[str]:
    """The notes of a chord from the root up, each with the letter of its degree."""
    return [degree.above(tonic(root)).name for degree in chord(name).degrees]


def printed(key: Key) -> list[str]:
    """The notes of one octave from the root up, as an arpeggio prints them."""
    low = WrittenPitch(key.tonic.step, key.tonic.alter, 4)
    return [note.name for note in key.members(low, low.above(6, 11), rising=True)]


def in_music21(name: str) -> str:
    return name[0] + name[1:].replace("b", "-")


def music21_chord(name: str, root: str):
    return music21_harmony.ChordSymbol(root=in_music21(root), kind=KINDS.get(name, name)).pitches


def test_there_are_all_the_chords_that_the_exercises_call_for():
    """The section on arpeggios in the description of the exercises: triads, sevenths, ninths."""
    triads = ("major", "minor", "diminished", "augmented")
    sevenths = (
        "major-seventh",
        "dominant-seventh",
        "minor-seventh",
        "half-diminished-seventh",
        "diminished-seventh",
        "minor-major-seventh",
    )
    assert chord_names() == (*triads, *sevenths, *NINTHS)


@pytest.mark.parametrize("symbol", ["maj7", "m7", "7", "m7b5", "dim7", "9"])
def test_a_chord_on_c_has_the_tones_that_are_published(symbol):
    """Sources: the packages named at the head of chords.csv."""
    assert " ".join(spelled(OF_SYMBOL[symbol], "C")) == PUBLISHED[symbol]


def test_every_published_chord_that_exists_here_is_compared():
    assert set(PUBLISHED) & set(OF_SYMBOL) == {"maj7", "m7", "7", "m7b5", "dim7", "9"}


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [
        ("maj7", "C E G B"),
        ("m7", "C Eb G Bb"),
        ("7", "C E G Bb"),
        ("m7b5", "C Eb Gb Bb"),
        # Published as C Eb Gb Bbb: in print the double flat is written as the natural note it sounds like.
        ("dim7", "C Eb Gb A"),
        # Published with the ninth on top, C E G Bb D: laid out in scale order it lies beside the root.
        ("9", "C D E G Bb"),
    ],
)
def test_a_chord_on_c_is_printed_without_double_accidentals(symbol, tones):
    key = Key(tonic("C"), chord(OF_SYMBOL[symbol]).as_scale())
    assert " ".join(printed(key)) == tones


@pytest.mark.parametrize("name", chord_names())
def test_a_chord_has_the_tones_of_music21_on_every_root(name):
    for root in NAMES:
        tones = [degree.above(tonic(root)) for degree in chord(name).degrees]
        theirs = music21_chord(name, root)
        assert [(tone.step, tone.alter) for tone in tones] == [(pitch.step, pitch.alter) for pitch in theirs]


@pytest.mark.parametrize("name", chord_names())
@pytest.mark.parametrize("keep", [True, False], ids=["named", "not named"])
def test_what_is_printed_sounds_like_the_chord_of_music21_and_has_no_double_accidentals(name, keep):
    for root in NAMES:
        key = well_spelled(tonic(root), chord(name).as_scale(), keep=keep)
        tones = [tonic(note) for note in printed(key)]
        theirs = {pitch.pitchClass for pitch in music21_chord(name, root)}
        assert sorted(tone.number % 12 for tone in tones) == sorted(theirs)
        assert {tone.alter for tone in tones} <= {-1, 0, 1}


@pytest.mark.parametrize("name", [name for name in chord_names() if name not in ("minor-major-seventh", "major-ninth")])
def test_music21_reads_the_symbol_of_a_chord_as_its_tones(name):
    """music21 10.5 does not read m(maj7) and maj9."""
    figure = f"C{chord(name).symbol}"
    theirs = [pitch.name.replace("-", "b") for pitch in music21_harmony.ChordSymbol(figure).pitches]
    assert theirs == spelled(name, "C")


def test_no_two_chords_share_a_symbol():
    assert len(OF_SYMBOL) == len(chord_names())


@pytest.mark.parametrize("name", chord_names())
def test_as_a_scale_a_chord_has_its_tones_within_one_octave_from_the_root_up(name):
    of = chord(name)
    within = of.as_scale()
    heights = list(within.half_steps)
    assert heights == sorted({degree.half_steps % 12 for degree in of.degrees})
    assert heights[0] == 0
    assert within.down == within.up
    assert within.name == name


@pytest.mark.parametrize(
    ("name", "half_steps", "tones"),
    [
        ("major-ninth", (0, 2, 4, 7, 11), "Eb F G Bb D"),
        ("dominant-ninth", (0, 2, 4, 7, 10), "Eb F G Bb Db"),
        ("minor-ninth", (0, 2, 3, 7, 10), "Eb F Gb Bb Db"),
    ],
)
def test_as_a_scale_the_ninth_of_a_chord_is_the_second_in_every_octave(name, half_steps, tones):
    """Worked out by hand: common practice, no source."""
    assert chord(name).degrees[-1].half_steps == 14
    within = chord(name).as_scale()
    assert within.half_steps == half_steps
    key = Key(tonic("Eb"), within)
    assert " ".join(printed(key)) == tones
    two_octaves = key.members(WrittenPitch.parse("Eb4"), WrittenPitch.parse("D6"), rising=True)
    assert [note.name for note in two_octaves] == tones.split() * 2


@pytest.mark.parametrize(
    ("name", "mode", "steps", "half_steps"),
    [
        ("major", "major", 0, 0),
        ("minor", "minor", 0, 0),
        ("major-seventh", "major", 0, 0),
        # The seventh chord on the fifth of a major key, on its second, and on its seventh.
        ("dominant-seventh", "major", 3, 5),
        ("minor-seventh", "major", -1, -2),
        ("half-diminished-seventh", "major", 1, 1),
        ("minor-major-seventh", "minor", 0, 0),
        ("major-ninth", "major", 0, 0),
        ("dominant-ninth", "major", 3, 5),
        ("minor-ninth", "major", -1, -2),
    ],
)
def test_a_chord_is_printed_in_the_signature_of_its_key(name, mode, steps, half_steps):
    """Which degree of a key carries which chord: common practice, no source."""
    for root in NAMES:
        key = well_spelled(tonic(root), chord(name).as_scale(), keep=True)
        home = key.tonic.above(steps, half_steps)
        if abs(home.alter) <= 1:
            theirs = music21_key.Key(in_music21(home.name), mode).sharps
            assert key.sharps == (theirs if abs(theirs) <= 7 else 0)


@pytest.mark.parametrize("name", ["diminished", "augmented", "diminished-seventh"])
def test_a_chord_that_is_in_no_one_key_carries_accidentals(name):
    for root in NAMES:
        assert well_spelled(tonic(root), chord(name).as_scale(), keep=True).sharps == 0


@pytest.mark.parametrize(
    "name",
    [name for name in chord_names() if chord(name).signature is not None],
)
def test_in_all_twelve_keys_a_chord_that_has_a_key_gets_its_signature(name):
    """Each of the twelve pitch classes has a name whose signature has at most seven sharps or flats."""
    wanted, got = {}, {}
    for each in all_tonics():
        key = well_spelled(each, chord(name).as_scale(), keep=False)
        wanted[key.name] = major_sharps(chord(name).signature.above(key.tonic))
        got[key.name] = key.sharps
    assert got == wanted


@pytest.mark.parametrize(
    ("name", "root", "tones"),
    [
        ("minor", "C#", "C# E G#"),
        ("minor", "Eb", "Eb Gb Bb"),
        ("minor", "G#", "G# B D#"),
        ("minor", "F#", "F# A C#"),
        ("diminished", "C#", "C# E G"),
        ("diminished", "F#", "F# A C"),
        ("diminished", "D#", "D# F# A"),
        ("augmented", "Gb", "Gb Bb D"),
        ("dominant-seventh", "F#", "F# A# C# E"),
        ("minor-seventh", "F#", "F# A C# E"),
        ("half-diminished-seventh", "F#", "F# A C E"),
        ("half-diminished-seventh", "D#", "D# F# A C#"),
        ("diminished-seventh", "C#", "C# E G Bb"),
        ("diminished-seventh", "F#", "F# A C Eb"),
        ("diminished-seventh", "D#", "D# F# A C"),
        ("minor-major-seventh", "F#", "F# A C# E#"),
    ],
)
def test_a_root_that_nobody_named_gets_the_name_on_which_the_chord_stands_in_thirds(name, root, tones):
    """Spelled by hand: common practice, no source."""
    (asked,) = [each for each in all_tonics() if (each.number - tonic(root).number) % 12 == 0]
    key = well_spelled(asked, chord(name).as_scale(), keep=False)
    assert " ".join(printed(key)) == tones


@pytest.mark.parametrize("name", ["major", "dominant-seventh", "minor-seventh", *NINTHS])
def test_in_all_twelve_keys_each_tone_of_a_plain_chord_keeps_the_letter_of_its_degree(name):
    for each in all_tonics():
        key = well_spelled(each, chord(name).as_scale(), keep=False)
        assert set(printed(key)) == set(spelled(name, key.tonic.name))


@pytest.mark.parametrize(
    ("name", "root", "tones"),
    [("diminished-seventh", "Gb", "Gb A C Eb"), ("augmented", "E#", "E# A C#"), ("augmented", "B", "B D# G")],
)
def test_on_a_root_that_was_named_a_double_accidental_gives_way_to_a_natural_or_a_single_one_of_its_kind(
    name, root, tones
):
    """Fbb becomes Eb, B## becomes C#, F## becomes G. Worked out by hand."""
    key = well_spelled(tonic(root), chord(name).as_scale(), keep=True)
    assert " ".join(printed(key)) == tones


def test_a_root_that_was_named_is_kept():
    for root in ("Gb", "F#", "Cb", "B", "C#", "Db"):
        assert well_spelled(tonic(root), chord("major").as_scale(), keep=True).tonic.name == root


def test_a_root_that_nobody_named_is_one_of_the_names_of_its_key():
    for name in chord_names():
        for each in all_tonics():
            assert well_spelled(each, chord(name).as_scale(), keep=False).tonic in names_of(each.number)


def test_an_unknown_chord_is_refused_with_the_chords_there_are():
    with pytest.raises(InputError, match=r"unknown chord 'maj7': choose one of major, .*minor-ninth"):
        chord("maj7")


def test_a_chord_of_ones_own_keeps_its_symbol_and_its_signature(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[sharp-eleventh]\ndegrees = "1 3 5 b7 9 #11"\nsymbol = "9#11"\nsignature = "4"\n', encoding="utf-8")
    of = chord("sharp-eleventh", own)
    assert of.symbol == "9#11"
    key = Key(tonic("F"), of.as_scale())
    assert (printed(key), key.sharps) == (["F", "G", "A", "B", "C", "Eb"], -2)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(2, 15), st.sampled_from(["bb", "b", "", "#", "##"])), min_size=1, max_size=6).map(
        lambda above: [f"{sign}{number}" for number, sign in above]
    )
)
def test_as_a_scale_a_chord_of_ones_own_has_the_same_sounds_from_the_bottom_up(tmp_path_factory, words):
    rising = sorted(parse_degrees(" ".join(["1", *words])), key=lambda degree: degree.half_steps)
    heights = [degree.half_steps for degree in rising]
    assume(heights[0] == 0 and len(set(heights)) == len(heights))
    signs = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
    degrees = " ".join(f"{signs[degree.bend]}{degree.number}" for degree in rising)
    own = tmp_path_factory.getbasetemp() / "own.toml"
    own.write_text(f'[mine]\ndegrees = "{degrees}"\nsymbol = "x"\n', encoding="utf-8")
    within = list(chord("mine", own).as_scale().half_steps)
    assert within == sorted(within)
    assert {height % 12 for height in within} == {height % 12 for height in heights}


@pytest.mark.parametrize("degrees", ["1 3 5 8", "1 3 #5 b13", "1 b3 5 #9"])
def test_as_a_scale_a_chord_of_ones_own_has_each_note_once(tmp_path, degrees):
    own = tmp_path / "own.toml"
    own.write_text(f'[mine]\ndegrees = "{degrees}"\nsymbol = "x"\n', encoding="utf-8")
    heights = [height % 12 for height in chord("mine", own).as_scale().half_steps]
    assert len(heights) == len(set(heights))
