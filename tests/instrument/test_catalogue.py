"""Instruments as data: those that come with the program, how they transpose, what a wrong file is told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import instrument as music21_instrument
from music21 import pitch as music21_pitch

from etudegen.errors import InputError
from etudegen.files.templates import templates
from etudegen.instrument.catalogue import instrument, instrument_keys, read_instrument
from etudegen.instrument.tube import Loops, equal_tempered_hertz, tempered_loops
from etudegen.theory.pitch import SoundingPitch, WrittenPitch
from tests.reference.tables import value

_GOOD = (templates() / "instruments" / "trumpet-bflat.toml").read_text(encoding="utf-8")
_WRITTEN = st.builds(WrittenPitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(2, 7))


def test_four_instruments_come_with_the_program():
    assert instrument_keys() == ("cornet", "flugelhorn", "trumpet-bflat", "trumpet-c")


@pytest.mark.parametrize("key", instrument_keys())
def test_every_instrument_loads_under_its_own_name_with_the_ordinary_range(key):
    """Written F#3 to C6: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/ .

    For the other instruments common practice, no source.
    """
    loaded = instrument(key)
    assert loaded.key == key
    assert loaded.name
    assert loaded.abbreviation
    assert (str(loaded.low), str(loaded.high)) == ("F#3", "C6")
    assert loaded.loops == tempered_loops()


@pytest.mark.parametrize(
    ("key", "sound"),
    [
        ("cornet", "brass.cornet"),
        ("flugelhorn", "brass.flugelhorn"),
        ("trumpet-bflat", "brass.trumpet.bflat"),
        ("trumpet-c", "brass.trumpet.c"),
    ],
)
def test_every_instrument_has_its_standard_sound(key, sound):
    """MusicXML 4.0, w3.org/2021/06/musicxml40/listings/sounds.xml."""
    assert instrument(key).musicxml_sound == sound


@pytest.mark.parametrize("key", instrument_keys())
def test_every_instrument_plays_with_the_trumpet_of_general_midi(key):
    """General MIDI level 1 has neither a cornet nor a flugelhorn; the number as in pretty_midi 0.2.11."""
    published = value("notation", "General MIDI trumpet programme (zero-based)")
    assert instrument(key).midi_program == int(published)


@pytest.mark.parametrize("key", ["cornet", "flugelhorn", "trumpet-bflat"])
def test_b_flat_instruments_transpose_as_musicxml_has_it(key):
    """MusicXML 4.0, element transpose: written to sounding."""
    steps = f"{instrument(key).staff_steps} / {instrument(key).half_steps}"
    assert steps == value("notation", "B-flat trumpet transpose diatonic / chromatic")


def test_written_c5_on_the_b_flat_trumpet_sounds_b_flat_4():
    """Key number 70, as C4 is 60: MIDI 1.0 specification."""
    sounding = instrument("trumpet-bflat").sounding(WrittenPitch.parse("C5"))
    assert (str(sounding), sounding.number) == ("Bb4", 70)
    assert type(sounding) is SoundingPitch


@given(_WRITTEN)
def test_the_b_flat_trumpet_sounds_what_music21_says(note):
    theirs = music21_pitch.Pitch(str(note).replace("b", "-"))
    theirs.transpose(music21_instrument.Trumpet().transposition, inPlace=True)
    ours = instrument("trumpet-bflat").sounding(note)
    assert (ours.step, ours.alter, ours.octave) == (theirs.step, theirs.alter, theirs.octave)


@given(_WRITTEN)
def test_the_c_trumpet_sounds_what_is_written(note):
    sounding = instrument("trumpet-c").sounding(note)
    assert (sounding.step, sounding.alter, sounding.octave) == (note.step, note.alter, note.octave)


@given(st.sampled_from(instrument_keys()), _WRITTEN)
def test_writing_down_what_a_note_sounds_like_gives_the_note_back(key, note):
    back = instrument(key).written(instrument(key).sounding(note))
    assert back == note
    assert type(back) is WrittenPitch


@given(st.sampled_from(instrument_keys()), st.floats(380, 500))
def test_the_open_tube_is_built_for_the_sound_of_written_c(key, a4):
    tube = instrument(key).tube(a4)
    for partial, written in ((2, "C4"), (4, "C5"), (8, "C6")):
        sounding = instrument(key).sounding(WrittenPitch.parse(written))
        assert partial * tube.fundamental == pytest.approx(equal_tempered_hertz(sounding, a4))


def test_other_loops_may_stand_in_for_the_instruments_own():
    loops = Loops(0.1, 0.05, 0.2)
    assert instrument("trumpet-bflat").tube(loops=loops).loops == loops


def test_an_unknown_instrument_is_refused_with_those_there_are():
    with pytest.raises(InputError, match=r"'tuba'.*cornet, flugelhorn, trumpet-bflat, trumpet-c"):
        instrument("tuba")


def test_a_file_may_set_its_valve_loops_in_per_cent(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("valve_loops_percent = [12.5, 6, 20.0]\n" + _GOOD, encoding="utf-8")
    loaded = read_instrument(path)
    assert loaded.key == "mine"
    assert (loaded.loops.first, loaded.loops.second, loaded.loops.third) == pytest.approx((0.125, 0.06, 0.2))


@pytest.mark.parametrize(
    ("line", "dotted"),
    [
        ('name = "B♭ trumpet"', "name"),
        ('abbreviation = "Tpt."', "abbreviation"),
        ("staff_steps = -1", "sounding.staff_steps"),
        ("half_steps = -2", "sounding.half_steps"),
        ('low = "F#3"', "range.low"),
        ('high = "C6"', "range.high"),
        ("midi_program = 56", "sound.midi_program"),
        ('musicxml = "brass.trumpet.bflat"', "sound.musicxml"),
        ("[sounding]", "elsewhere"),
        ("[range]", "elsewhere"),
        ("[sound]\n", "elsewhere"),
    ],
)
def test_a_file_without_one_of_its_entries_is_refused_with_file_and_key_named(tmp_path, line, dotted):
    assert _GOOD.count(line) == 1
    _refused(tmp_path, _GOOD.replace(line, "[elsewhere]\n" if line.startswith("[") else ""), dotted)


@pytest.mark.parametrize(
    ("line", "wrong", "dotted", "wanted"),
    [
        ('name = "B♭ trumpet"', "name = 3", "name", "a text"),
        ('name = "B♭ trumpet"', 'name = ""', "name", "a text"),
        ('low = "F#3"', 'low = "H3"', "range.low", "H3"),
        ('low = "F#3"', 'low = "C7"', "range.low", "above range.high"),
        ("half_steps = -2", "half_steps = -9", "sounding.half_steps", "no interval"),
        ('abbreviation = "Tpt."', "abbreviation = []", "abbreviation", "a text"),
        ("staff_steps = -1", "staff_steps = -1.0", "sounding.staff_steps", "a whole number"),
        ("half_steps = -2", 'half_steps = "-2"', "sounding.half_steps", "a whole number"),
        ('low = "F#3"', "low = 54", "range.low", "a text"),
        ('high = "C6"', "high = true", "range.high", "a text"),
        ("midi_program = 56", "midi_program = true", "sound.midi_program", "a whole number"),
        ("midi_program = 56", "midi_program = 200", "sound.midi_program", "0 to 127"),
        ("midi_program = 56", "midi_program = 128", "sound.midi_program", "0 to 127"),
        ("midi_program = 56", "midi_program = -1", "sound.midi_program", "0 to 127"),
        ('musicxml = "brass.trumpet.bflat"', "musicxml = 1", "sound.musicxml", "a text"),
    ],
)
def test_a_wrong_entry_is_refused_with_file_key_and_what_is_allowed(tmp_path, line, wrong, dotted, wanted):
    assert _GOOD.count(line) == 1
    _refused(tmp_path, _GOOD.replace(line, wrong), dotted, wanted)


@pytest.mark.parametrize(
    ("loops", "wanted"),
    [
        ("[12.2, 5.95]", "three numbers"),
        ("[12.2, 5.95, 20.0, 1.0]", "three numbers"),
        ("[]", "three numbers"),
        ('[12.2, 5.95, "20"]', "three numbers"),
        ("[true, 5, 5]", "three numbers"),
        ("[0, 5, 5]", "above 0"),
        ("12.2", "three numbers"),
        ('"12.2 5.95 20"', "three numbers"),
    ],
)
def test_valve_loops_that_are_not_three_numbers_are_refused_with_file_and_key_named(tmp_path, loops, wanted):
    _refused(tmp_path, f"valve_loops_percent = {loops}\n" + _GOOD, "valve_loops_percent", wanted)


@pytest.mark.parametrize(
    "content",
    [
        b"name = ",
        b"[sounding\n",
        b"name = 'a'\nname = 'b'\n",
        _GOOD.encode("utf-16"),
        _GOOD.encode("cp1252", "replace") + b"\xe9",
    ],
    ids=["no value", "open bracket", "twice", "utf-16", "cp1252"],
)
def test_a_file_that_is_not_toml_in_utf_8_is_refused_with_the_file_named(tmp_path, content):
    _refused(tmp_path, content, "not a readable TOML file")


def test_an_empty_file_is_refused(tmp_path):
    _refused(tmp_path, "", "it must be")


def _refused(folder, content, *words):
    path = folder / "wrong.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as caught:
        read_instrument(path)
    message = str(caught.value)
    assert str(path) in message
    for word in words:
        assert word in message.replace(str(path), "")


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path):
    with pytest.raises(InputError, match=r"gone\.toml"):
        read_instrument(tmp_path / "gone.toml")
    with pytest.raises(InputError, match="cannot read"):
        read_instrument(tmp_path)
