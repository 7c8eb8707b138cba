"""Scales: what they consist of, how they are spelled in every key, and that nothing of them is lost over a range."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import key as music21_key
from music21 import scale as music21_scale

from etudegen.errors import InputError
from etudegen.theory.keys import all_tonics, tonic
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.scales import ConcreteScale, respelled, scale, scale_names, well_spelled
from tests.reference.tables import rows
from tests.strategies import ranges

# Each letter with at most one accidental: every name that a player can give to a key.
NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]
SEVEN_NOTES = [name for name in scale_names() if len(scale(name).up) == 7]
# They go through the octave in equal steps or groups of steps: common practice, no source.
SYMMETRIC = ["whole-tone", "half-whole-diminished", "whole-half-diminished", "augmented", "chromatic"]
PUBLISHED = {
    row["scale"].removesuffix(" (ascending)"): tuple(map(int, row["half_steps"].split())) for row in rows("scales")
}
# What music21 has under another name, and the mode of its key signature.
MUSIC21 = {
    "major": (music21_scale.MajorScale, "major"),
    "natural-minor": (music21_scale.MinorScale, "minor"),
    "aeolian": (music21_scale.MinorScale, "aeolian"),
    "harmonic-minor": (music21_scale.HarmonicMinorScale, "minor"),
    "melodic-minor": (music21_scale.MelodicMinorScale, "minor"),
    "dorian": (music21_scale.DorianScale, "dorian"),
    "phrygian": (music21_scale.PhrygianScale, "phrygian"),
    "lydian": (music21_scale.LydianScale, "lydian"),
    "mixolydian": (music21_scale.MixolydianScale, "mixolydian"),
    "locrian": (music21_scale.LocrianScale, "locrian"),
}
_WRITTEN_IN_MUSIC21 = {"b": "-", "#": "#", "": ""}


_SAME = {"aeolian": "natural-minor", "melodic-minor-both-ways": "melodic-minor"}
# A scale that somebody adds is in no table here.
DEFINED = [name for name in scale_names() if name == "chromatic" or _SAME.get(name, name) in PUBLISHED]


def definition(name: str, *, rising: bool) -> set[int]:
    """The half steps above the tonic that a scale has, by this file's own account."""
    if name == "melodic-minor" and not rising:
        return set(PUBLISHED["natural-minor"])
    return set(range(12)) if name == "chromatic" else set(PUBLISHED[_SAME.get(name, name)])


def every_key(name: str, *, keep: bool = True) -> list[ConcreteScale]:
    """The scale on every name of a key, under whichever name it is then printed."""
    return [well_spelled(tonic(each), scale(name), keep=keep) for each in NAMES]


def names(key: ConcreteScale, *, rising: bool = True) -> list[str]:
    """The names of the notes of one octave from the tonic up."""
    low = WrittenPitch(key.tonic.step, key.tonic.alter, 4)
    return [note.name for note in key.members(low, low.above(6, 11), rising=rising)]


def in_music21(name: str) -> str:
    return name[0] + _WRITTEN_IN_MUSIC21[name[1:]]


def music21_names(scale_name: str, key_name: str, *, rising: bool = True) -> list[str]:
    """What music21 calls the notes of one octave from the tonic up."""
    theirs = MUSIC21[scale_name][0](in_music21(key_name))
    direction = music21_scale.Direction.ASCENDING if rising else music21_scale.Direction.DESCENDING
    bottom = in_music21(key_name)
    octave = theirs.getPitches(f"{bottom}4", f"{bottom}5", direction=direction)
    found = [pitch.name.replace("-", "b") for pitch in octave]
    return found[:-1] if rising else found[:0:-1]


@pytest.mark.parametrize("row", rows("scales"), ids=lambda row: row["scale"])
def test_a_scale_has_the_half_steps_that_are_published(row):
    """Sources: the packages and pages named at the head of scales.csv."""
    name = row["scale"].removesuffix(" (ascending)")
    assert " ".join(map(str, scale(name).half_steps)) == row["half_steps"]


def test_the_chromatic_scale_has_every_half_step():
    assert scale("chromatic").half_steps == tuple(range(12))


def test_there_are_all_the_scales_that_the_exercises_call_for():
    """The section on scales in the description of the exercises, in its order; a musician may have added others."""
    called_for = (
        "major",
        "natural-minor",
        "harmonic-minor",
        "melodic-minor",
        "melodic-minor-both-ways",
        "dorian",
        "phrygian",
        "lydian",
        "mixolydian",
        "aeolian",
        "locrian",
        "lydian-dominant",
        "altered",
        "whole-tone",
        "half-whole-diminished",
        "whole-half-diminished",
        "augmented",
        "chromatic",
        "major-pentatonic",
        "minor-pentatonic",
        "blues",
        "bebop-dominant",
        "bebop-major",
        "bebop-dorian",
        "bebop-melodic-minor",
    )
    assert tuple(name for name in scale_names() if name in called_for) == called_for


def test_the_melodic_minor_descends_as_the_natural_minor():
    """Common practice, no source; music21 agrees in the test of spellings."""
    assert scale("melodic-minor").down == scale("natural-minor").up
    assert scale("melodic-minor").up != scale("melodic-minor").down


def test_every_other_scale_is_the_same_both_ways():
    others = [scale(name) for name in DEFINED if name != "melodic-minor"]
    assert all(each.up == each.down for each in others)
    assert scale("melodic-minor-both-ways").up == scale("melodic-minor").up


@pytest.mark.parametrize("name", MUSIC21)
def test_a_scale_is_spelled_as_music21_spells_it_up_and_down_in_every_key(name):
    for key in every_key(name):
        for rising in (True, False):
            assert names(key, rising=rising) == music21_names(name, key.tonic.name, rising=rising)


@pytest.mark.parametrize("name", MUSIC21)
def test_the_players_name_of_a_key_is_kept_unless_music21_needs_double_accidentals_there(name):
    def single(key_name):
        both_ways = [*music21_names(name, key_name), *music21_names(name, key_name, rising=False)]
        return max(map(len, both_ways)) <= 2

    kept = [each for each in NAMES if well_spelled(tonic(each), scale(name), keep=True).tonic.name == each]
    assert kept == [each for each in NAMES if single(each)]


@pytest.mark.parametrize(
    ("scale_name", "asked", "taken"),
    [
        ("major", "G#", "Ab"),
        ("major", "D#", "Eb"),
        ("major", "A#", "Bb"),
        ("major", "Fb", "E"),
        ("major", "B#", "C"),
        ("major", "E#", "F"),
        ("major", "C#", "C#"),
        ("major", "Cb", "Cb"),
        ("major", "F#", "F#"),
        ("major", "Gb", "Gb"),
        ("natural-minor", "Db", "C#"),
        ("natural-minor", "Gb", "F#"),
        ("natural-minor", "A#", "A#"),
        ("natural-minor", "Ab", "Ab"),
        ("harmonic-minor", "A#", "Bb"),
        ("harmonic-minor", "G#", "Ab"),
        ("melodic-minor", "D#", "Eb"),
        ("locrian", "Eb", "D#"),
        ("altered", "A#", "Bb"),
        ("altered", "Bb", "Bb"),
        ("altered", "Eb", "Eb"),
        ("altered", "F", "F"),
        ("blues", "Eb", "Eb"),
        ("blues", "D#", "Eb"),
    ],
)
def test_a_key_that_needs_double_accidentals_gives_way_to_its_other_name(scale_name, asked, taken):
    """Spelled by hand: common practice, no source."""
    assert well_spelled(tonic(asked), scale(scale_name), keep=True).tonic.name == taken


@pytest.mark.parametrize("mode", ["major", "minor"])
@pytest.mark.parametrize("each", all_tonics(), ids=str)
def test_a_key_that_nobody_named_has_the_signature_with_the_fewest_accidentals_of_those_in_music21(mode, each):
    key = well_spelled(each, scale("major" if mode == "major" else "natural-minor"), keep=False)
    theirs = {name: music21_key.Key(in_music21(name), mode).sharps for name in NAMES if _same_key(name, each)}
    fewest = min(map(abs, theirs.values()))
    assert key.sharps == theirs[key.tonic.name]
    assert abs(key.sharps) == fewest
    # Six flats rather than six sharps: this program's choice.
    if -fewest in theirs.values():
        assert key.sharps == -fewest


def _same_key(name: str, other: WrittenPitch) -> bool:
    return (tonic(name).number - other.number) % 12 == 0


@pytest.mark.parametrize("name", SEVEN_NOTES)
def test_a_scale_of_seven_notes_uses_each_letter_once_in_every_key(name):
    for key in [*every_key(name), *every_key(name, keep=False)]:
        if key.scale.usual_names:
            continue
        for rising in (True, False):
            assert sorted(note[0] for note in names(key, rising=rising)) == sorted(STEPS)


@pytest.mark.parametrize("name", scale_names())
def test_no_scale_has_a_double_accidental_in_any_key(name):
    for key in [*every_key(name), *every_key(name, keep=False)]:
        assert {note[1:] for rising in (True, False) for note in names(key, rising=rising)} <= {"", "b", "#"}


@pytest.mark.parametrize("name", scale_names())
def test_another_name_of_a_key_is_the_same_key(name):
    for keep in (True, False):
        taken = [key.tonic.number % 12 for key in every_key(name, keep=keep)]
        assert taken == [tonic(each).number % 12 for each in NAMES]


def test_lydian_dominant_has_the_notes_of_the_melodic_minor_on_its_fifth():
    """Common practice, no source; the minor scale is music21's."""
    for each in all_tonics():
        key = well_spelled(each, scale("lydian-dominant"), keep=False)
        minor = music21_names("melodic-minor", key.tonic.above(4, 7).name)
        assert names(key) == [*minor[3:], *minor[:3]]


def test_altered_has_the_notes_of_the_melodic_minor_a_half_step_above():
    """Common practice, no source; the minor scale is music21's."""
    for each in all_tonics():
        key = well_spelled(each, scale("altered"), keep=False)
        minor = music21_names("melodic-minor", WrittenPitch.from_number(key.tonic.number + 1).name)
        heights = [tonic(name).number % 12 for name in minor]
        assert [tonic(name).number % 12 for name in names(key)] == [heights[-1], *heights[:-1]]
        # By the name of the tonic in use: no E sharp, A sharp, D sharp or G sharp.
        assert key.tonic.name not in ("E#", "B#", "A#", "D#", "G#", "Cb", "Fb")


@pytest.mark.parametrize("name", MUSIC21)
def test_a_key_has_as_many_sharps_in_its_signature_as_in_music21(name):
    for key in every_key(name):
        assert key.sharps == music21_key.Key(in_music21(key.tonic.name), MUSIC21[name][1]).sharps


@pytest.mark.parametrize(
    ("name", "parent_step", "parent_half_steps", "mode"),
    [
        *((name, 0, 0, mode) for name, (_, mode) in MUSIC21.items()),
        ("melodic-minor-both-ways", 0, 0, "minor"),
        ("lydian-dominant", 4, 7, "minor"),
        ("major-pentatonic", 0, 0, "major"),
        ("minor-pentatonic", 0, 0, "minor"),
        ("blues", 0, 0, "minor"),
        ("bebop-dominant", 0, 0, "mixolydian"),
        ("bebop-major", 0, 0, "major"),
        ("bebop-dorian", 0, 0, "dorian"),
        ("bebop-melodic-minor", 0, 0, "minor"),
    ],
)
def test_in_all_twelve_keys_the_signature_of_the_parent_scale_is_printed(name, parent_step, parent_half_steps, mode):
    """Lydian dominant is the fourth mode of the melodic minor on its fifth: common practice, no source."""
    printed, expected = {}, {}
    for each in all_tonics():
        key = well_spelled(each, scale(name), keep=False)
        parent = key.tonic.above(parent_step, parent_half_steps)
        printed[key.name] = key.sharps
        expected[key.name] = music21_key.Key(in_music21(parent.name), mode).sharps
    assert printed == expected


def test_a_signature_that_does_not_exist_gives_way_to_that_of_the_other_name():
    """D flat minor would have eight flats, C sharp minor has four sharps."""
    key = well_spelled(tonic("Db"), scale("melodic-minor-both-ways"), keep=True)
    assert (key.tonic.name, key.sharps) == ("C#", 4)


@pytest.mark.parametrize("name", [*SYMMETRIC, "altered"])
def test_symmetric_scales_and_the_altered_scale_carry_accidentals(name):
    assert {key.sharps for key in every_key(name)} == {0}


@pytest.mark.parametrize("name", SYMMETRIC)
def test_a_symmetric_scale_on_a_natural_note_has_sharps_on_the_way_up_and_flats_on_the_way_down(name):
    for key_name in STEPS:
        key = well_spelled(tonic(key_name), scale(name), keep=True)
        up, down = names(key), names(key, rising=False)
        assert (up[0], down[0]) == (key_name, key_name)
        assert {note[1:] for note in up} == {"", "#"}
        assert {note[1:] for note in down} == {"", "b"}


@pytest.mark.parametrize("name", SYMMETRIC)
def test_a_symmetric_scale_on_a_flat_or_a_sharp_has_the_same_accidentals_both_ways(name):
    for key_name in NAMES:
        if len(key_name) == 2:
            key = well_spelled(tonic(key_name), scale(name), keep=True)
            up = names(key)
            assert (up[0], names(key, rising=False)) == (key_name, up)
            assert {note[1:] for note in up} <= {"", key_name[1:]}


@pytest.mark.parametrize(
    ("name", "key_name", "up", "down"),
    [
        ("whole-tone", "C", "C D E F# G# A#", "C D E Gb Ab Bb"),
        ("whole-tone", "Db", "Db Eb F G A B", "Db Eb F G A B"),
        ("half-whole-diminished", "C", "C C# D# E F# G A A#", "C Db Eb E Gb G A Bb"),
        ("whole-half-diminished", "D", "D E F G G# A# B C#", "D E F G Ab Bb B Db"),
        ("augmented", "C", "C D# E G G# B", "C Eb E G Ab B"),
        ("chromatic", "C", "C C# D D# E F F# G G# A A# B", "C Db D Eb E F Gb G Ab A Bb B"),
        ("altered", "C", "C Db Eb Fb Gb Ab Bb", "C Db Eb Fb Gb Ab Bb"),
        ("melodic-minor", "C", "C D Eb F G A B", "C D Eb F G Ab Bb"),
        ("blues", "C", "C Eb F Gb G Bb", "C Eb F Gb G Bb"),
        ("bebop-dominant", "C", "C D E F G A Bb B", "C D E F G A Bb B"),
    ],
)
def test_a_scale_is_spelled_as_worked_out_by_hand(name, key_name, up, down):
    """Common practice, no source: symmetric scales follow the direction."""
    key = well_spelled(tonic(key_name), scale(name), keep=True)
    assert (" ".join(names(key)), " ".join(names(key, rising=False))) == (up, down)


@settings(max_examples=120)
@given(st.sampled_from(DEFINED), st.sampled_from(NAMES), ranges(), st.booleans(), st.booleans())
def test_the_members_of_a_key_are_the_scale_in_every_octave_of_the_range_and_nothing_else(
    name, key_name, low_high, rising, keep
):
    low, high = low_high
    key = well_spelled(tonic(key_name), scale(name), keep=keep)
    found = [note.number for note in key.members(low, high, rising=rising)]
    wanted = definition(name, rising=rising)
    expected = [n for n in range(low.number, high.number + 1) if (n - tonic(key_name).number) % 12 in wanted]
    assert found == expected


@pytest.mark.parametrize("key_name", NAMES)
def test_no_member_is_lost_at_an_end_of_the_range_however_that_is_spelled(key_name):
    """Cbb4 sounds like Bb3 and B##3 like C#4: their letters belong to other octaves than their sounds."""
    major = ConcreteScale(tonic(key_name), scale("major"))
    ends = [WrittenPitch(step, alter, 4) for step in STEPS for alter in range(-2, 3)]
    found = [end for end in ends if [note.number for note in major.members(end, end, rising=True)] == [end.number]]
    assert found == [
        end for end in ends if (end.number - tonic(key_name).number) % 12 in definition("major", rising=True)
    ]


@given(st.sampled_from(scale_names()), st.sampled_from(NAMES), ranges(), st.booleans())
def test_a_note_of_a_key_has_the_same_name_in_every_octave(name, key_name, low_high, rising):
    key = well_spelled(tonic(key_name), scale(name), keep=True)
    members = key.members(*low_high, rising=rising)
    assert len({note.name for note in members}) == len({note.number % 12 for note in members})
    assert all(below.number < above.number for below, above in pairwise(members))


def test_the_tonic_is_found_in_every_octave_under_its_own_name():
    for key_name in NAMES:
        key = ConcreteScale(tonic(key_name), scale("major"))
        numbers = range(tonic(key_name).number - 36, tonic(key_name).number + 37, 12)
        assert [key.tonic_at(number).number for number in numbers] == list(numbers)
        assert {key.tonic_at(number).name for number in numbers} == {key_name}


def test_a_note_is_the_tonic_in_any_octave_and_spelling_and_no_other_note_is():
    notes = [WrittenPitch(step, alter, octave) for step in STEPS for alter in (-1, 0, 1) for octave in (2, 4, 7)]
    for key_name in NAMES:
        key = ConcreteScale(tonic(key_name), scale("major"))
        tonics = [note for note in notes if _same_key(note.name, key.tonic)]
        assert [note for note in notes if key.is_tonic(note)] == tonics


def test_a_key_is_named_in_print_without_its_octave():
    assert [ConcreteScale(tonic(name), scale("major")).name for name in ("Bb", "F#", "C")] == ["B♭", "F♯", "C"]


@pytest.mark.parametrize("name", [letter + sign for letter in STEPS for sign in ("bb", "b", "", "#", "##")])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_respelled_note_sounds_the_same_and_is_natural_where_it_can_be(name, sign):
    note = WrittenPitch.parse(f"{name}4")
    other = respelled(note, sign)
    assert other.number == note.number
    # The white keys, by half steps above C.
    assert other.alter == (0 if note.number % 12 in (0, 2, 4, 5, 7, 9, 11) else sign)


def test_an_unknown_scale_is_refused_with_the_scales_there_are():
    with pytest.raises(InputError, match=r"unknown scale 'ionic': choose one of major, .*bebop-melodic-minor"):
        scale("ionic")


def test_a_scale_of_ones_own_keeps_its_way_down_its_signature_and_its_spelling(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        '[hungarian-minor]\ndegrees = "1 2 b3 #4 5 b6 7"\nsignature = "b3"\n'
        '[up-and-down]\ndegrees = "1, 2, 3, 5, 6"\ndescending = "1 b3 4 5 b7"\nspelling = "direction"\n',
        encoding="utf-8",
    )
    hungarian = well_spelled(tonic("A"), scale("hungarian-minor", own), keep=True)
    assert (names(hungarian), hungarian.sharps) == (["A", "B", "C", "D#", "E", "F", "G#"], 0)
    both = well_spelled(tonic("D"), scale("up-and-down", own), keep=True)
    assert (names(both), names(both, rising=False)) == (["D", "E", "F#", "A", "B"], ["D", "F", "G", "A", "C"])
