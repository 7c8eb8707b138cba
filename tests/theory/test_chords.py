"""Chords: their notes, how these are spelled, what follows the name of the root, and the signature they are in."""

import pychord
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from music21 import harmony as music21_harmony
from music21 import key as music21_key

from etudegen.errors import InputError
from etudegen.theory.chords import chord, chord_names
from etudegen.theory.degrees import parse_degrees
from etudegen.theory.keys import all_tonics, major_sharps, names_of, tonic
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.scales import ConcreteScale, scale, well_spelled
from tests.reference.tables import rows

NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]
PUBLISHED = {row["symbol"]: row["tones"] for row in rows("chords")}
OF_SYMBOL = {chord(name).symbol: name for name in chord_names()}
NINTHS = ["major-ninth", "dominant-ninth", "minor-ninth"]
# music21 reckons an added seventh from the major one. MusicXML 4.0, degree-alter: "relative to a dominant chord (major
# and perfect intervals except for a minor seventh)".
ADDED_SEVENTHS = ("dominant-seventh-suspended-fourth", "dominant-ninth-suspended-fourth")
# These have an eleventh in pychord, and the first two in music21 if it reads their symbols: tests/reference/chords.csv.
THIRTEENTHS = ("dominant-thirteenth", "major-thirteenth", "dominant-thirteenth-flat-ninth")


READ_BY_MUSIC21 = [
    name
    for name in chord_names()
    if chord(name).symbol not in ("m(maj7)", "maj9", "m(add9)", "6/9", "m6/9", "maj13", "13", "13b9", "9sus4", "7alt")
]


def spelled(name: str, root: str) -> list[str]:
    """The notes of a chord from the root up, each with the letter of its degree."""
    return [degree.above(tonic(root)).name for degree in chord(name).degrees]


def printed(key: ConcreteScale) -> list[str]:
    """The notes of one octave from the root up, as an arpeggio prints them."""
    low = WrittenPitch(key.tonic.step, key.tonic.alter, 4)
    return [note.name for note in key.members(low, low.above(6, 11), rising=True)]


def in_music21(name: str) -> str:
    return name[0] + name[1:].replace("b", "-")


def music21_chord(name: str, root: str):
    """The notes of what MusicXML says of a chord, as music21 works them out of the kind and the altered degrees."""
    of = chord(name)
    theirs = music21_harmony.ChordSymbol(root=in_music21(root), kind=of.kind)
    for number, half_steps, how in of.altered:
        added_seventh = name in ADDED_SEVENTHS and number == 7
        change = music21_harmony.ChordStepModification(how, number, half_steps - added_seventh)
        theirs.addChordStepModification(change, updatePitches=True)
    return theirs.pitches


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
    assert chord_names()[:13] == (*triads, *sevenths, *NINTHS)


def test_there_are_the_chords_of_ordinary_lead_sheets():
    """Common practice, no source."""
    symbols = (
        " m dim aug 6 m6 6/9 m6/9 maj7 m7 7 m7b5 dim7 sus2 sus4 7sus4 9sus4 maj9 9 m9 m(maj7) add9 7b9 7#9 7#11 "
        "maj7#11 7b5 7#5 13 m11 7b13 7alt"
    )
    assert set(symbols.split(" ")) <= set(OF_SYMBOL)


@pytest.mark.parametrize("symbol", PUBLISHED)
def test_a_chord_on_c_has_the_tones_that_are_published(symbol):
    """Sources: the packages named at the head of chords.csv."""
    assert " ".join(spelled(OF_SYMBOL[symbol], "C")) == PUBLISHED[symbol]


@pytest.mark.parametrize("name", [name for name in chord_names() if name != "altered-dominant"])
def test_pychord_has_the_same_tones_on_every_root(name):
    """pychord 1.4 does not know 7alt, and has no brackets in m(maj7) and m(add9)."""
    of = chord(name)
    symbol = of.symbol.replace("(", "").replace(")", "").replace("6/9", "69")
    for root in NAMES:
        theirs = pychord.Chord(root + symbol).components()
        if name in THIRTEENTHS:
            theirs.pop(-2)
        ours = [degree.above(tonic(root)) for degree in of.degrees]
        # It writes roots of many accidentals by other names.
        assert [tone.number % 12 for tone in ours] == [tonic_number(each) for each in theirs]
    on_c = pychord.Chord("C" + symbol).components()
    assert spelled(name, "C") == [each for each in on_c if name not in THIRTEENTHS or each != "F"]


def tonic_number(name: str) -> int:
    return (tonic(name[0]).number + name.count("#") - name.count("b")) % 12


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [("13", "C E G Bb D A"), ("maj13", "C E G B D A"), ("13b9", "C E G Bb Db A"), ("7alt", "C E Bb Db D# Ab")],
)
def test_thirteenths_have_no_eleventh_and_the_altered_dominant_no_plain_fifth(symbol, tones):
    """Decided where sources disagree (tests/reference/chords.csv); common practice, no source."""
    assert " ".join(spelled(OF_SYMBOL[symbol], "C")) == tones


@pytest.mark.parametrize("name", chord_names())
def test_the_scale_of_a_chord_has_all_its_notes(name):
    of = chord(name)
    heights = {degree.half_steps % 12 for degree in of.degrees}
    missing = heights - set(scale(of.scale).half_steps)
    # No packaged scale has both the fifth and the flat thirteenth over a dominant.
    assert missing == ({7} if name == "dominant-seventh-flat-thirteenth" else set())


@pytest.mark.parametrize(
    ("symbol", "guide"),
    [
        # Thirds and sevenths: "Voice leading with guide tones", musictheorymanual.com. The others: common practice, no
        # source.
        ("maj7", "E B"), ("m7", "Eb Bb"), ("7", "E Bb"), ("m7b5", "Eb Bb"), ("dim7", "Eb Bbb"), ("7alt", "E Bb"),
        ("6", "E A"), ("m6", "Eb A"), ("6/9", "E A"), ("7sus4", "F Bb"), ("sus4", "F G"), ("sus2", "D G"), ("", "E G"),
        ("m", "Eb G"), ("dim", "Eb Gb"), ("aug", "E G#"), ("add9", "E G"), ("13", "E Bb"), ("m(maj7)", "Eb B"),
    ],
)  # fmt: skip
def test_guide_tones_are_third_and_seventh_or_what_stands_for_them(symbol, guide):
    assert " ".join(degree.above(tonic("C")).name for degree in chord(OF_SYMBOL[symbol]).guide) == guide


def test_the_kinds_are_those_of_music21_which_takes_them_from_musicxml():
    known = {*music21_harmony.CHORD_TYPES, *music21_harmony.CHORD_ALIASES}
    assert {chord(name).kind for name in chord_names()} <= known


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
    key = ConcreteScale(tonic("C"), chord(OF_SYMBOL[symbol]).as_scale())
    assert " ".join(printed(key)) == tones


@pytest.mark.parametrize("name", chord_names())
def test_a_chord_has_the_tones_of_music21_on_every_root(name):
    for root in NAMES:
        tones = [degree.above(tonic(root)) for degree in chord(name).degrees]
        theirs = music21_chord(name, root)
        # music21 sorts altered chords by height, those in root position from the root up.
        assert {(tone.step, tone.alter) for tone in tones} == {(pitch.step, pitch.alter) for pitch in theirs}
        assert len(tones) == len(theirs)


@pytest.mark.parametrize("name", chord_names())
@pytest.mark.parametrize("keep", [True, False], ids=["named", "not named"])
def test_what_is_printed_sounds_like_the_chord_of_music21_and_has_no_double_accidentals(name, keep):
    for root in NAMES:
        key = well_spelled(tonic(root), chord(name).as_scale(), keep=keep)
        tones = [tonic(note) for note in printed(key)]
        theirs = {pitch.pitchClass for pitch in music21_chord(name, root)}
        assert sorted(tone.number % 12 for tone in tones) == sorted(theirs)
        assert {tone.alter for tone in tones} <= {-1, 0, 1}


@pytest.mark.parametrize("name", READ_BY_MUSIC21)
def test_music21_reads_the_symbol_of_a_chord_as_its_tones(name):
    """music21 10.5 reads the others not at all, or otherwise."""
    figure = f"C{chord(name).symbol}"
    theirs = [pitch.name.replace("-", "b") for pitch in music21_harmony.ChordSymbol(figure).pitches]
    assert sorted(theirs) == sorted(spelled(name, "C"))


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
    key = ConcreteScale(tonic("Eb"), within)
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


@pytest.mark.parametrize("name", [name for name in chord_names() if chord(name).signature is None])
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
    [
        ("diminished-seventh", "Gb", "Gb A C Eb"),
        ("augmented", "E#", "F A C#"),
        ("diminished-seventh", "Cb", "B D F Ab"),
        ("augmented", "B", "B D# G"),
    ],
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
    with pytest.raises(InputError, match=r"unknown chord 'maj7': choose one of major, .*altered-dominant"):
        chord("maj7")


def test_a_chord_of_ones_own_keeps_its_symbol_and_its_signature(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[sharp-eleventh]\ndegrees = "1 3 5 b7 9 #11"\nsymbol = "9#11"\nsignature = "4"\n', encoding="utf-8")
    of = chord("sharp-eleventh", own)
    assert of.symbol == "9#11"
    key = ConcreteScale(tonic("F"), of.as_scale())
    assert (printed(key), key.sharps) == (["F", "G", "A", "B", "C", "Eb"], -2)


def test_a_chord_of_ones_own_says_what_else_is_known_of_it(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        '[mine]\ndegrees = "1 3 5 b7 9"\nsymbol = "x"\naliases = "y z"\nkind = "dominant"\naltered = "add 9, add b7"\n'
        'scale = "lydian-dominant"\nguide = "b7 9"\n',
        encoding="utf-8",
    )
    of = chord("mine", own)
    assert (of.aliases, of.kind, of.scale) == (("y", "z"), "dominant", "lydian-dominant")
    assert of.altered == ((9, 0, "add"), (7, 0, "add"))
    assert [degree.number for degree in of.guide] == [7, 9]


@pytest.mark.parametrize(
    ("degrees", "scale_name"),
    [
        ("1 3 5", "major"), ("1 3 5 b7", "mixolydian"), ("1 b3 5 b7 13", "dorian"), ("1 3 7 #11", "lydian"),
        ("1 b3 5 7", "melodic-minor-both-ways"), ("1 3 b7 #11", "lydian-dominant"), ("1 b3 b5 b7", "locrian"),
        ("1 b2 2 b3 3", "chromatic"),
    ],
)  # fmt: skip
def test_a_chord_of_ones_own_has_the_first_usual_scale_with_all_its_notes(tmp_path, degrees, scale_name):
    """Common practice, no source."""
    own = tmp_path / "own.toml"
    own.write_text(f'[mine]\ndegrees = "{degrees}"\nsymbol = "x"\n', encoding="utf-8")
    of = chord("mine", own)
    assert (of.scale, of.kind, of.altered, of.aliases) == (scale_name, "other", (), ())


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('kind = "jazzy"', "[mine] kind is 'jazzy': choose one of major, "),
        ('altered = "with b9"', "[mine] altered is 'with b9': write add, alter or subtract and a degree"),
        ('altered = "add"', "[mine] altered is 'add': write add"),
        ('altered = "add x"', "[mine] altered is 'add x': cannot read the degree 'x'"),
        ('altered = "add -3"', "[mine] altered is 'add -3': the degrees must be 1 or higher"),
        ('altered = "add ##7"', "[mine] altered is 'add ##7': the degrees must be 1 or higher"),
        ('guide = "3"', "[mine] guide is '3': give two of the degrees of the chord"),
        ('guide = "b3 5"', "[mine] guide is 'b3 5': give two of the degrees of the chord"),
        ('guide = "x y"', "[mine] guide is 'x y': cannot read the degree 'x'"),
        ("aliases = 7", "[mine] aliases is 7: it must be a text"),
        ("scale = []", "[mine] scale is []: it must be a text"),
    ],
)
def test_what_is_wrong_in_a_chord_of_ones_own_is_told(tmp_path, line, told):
    own = tmp_path / "own.toml"
    own.write_text(f'[mine]\ndegrees = "1 3 5"\nsymbol = "x"\n{line}\n', encoding="utf-8")
    with pytest.raises(InputError) as refusal:
        chord("mine", own)
    assert told in str(refusal.value)


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
    degrees = " ".join(f"{signs[degree.alter]}{degree.number}" for degree in rising)
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
