"""MIDI files, read back by mido, against the study they came from."""

import io
from fractions import Fraction

import mido
import pytest
from hypothesis import example, given, settings

from etudegen.errors import InputError
from etudegen.exercises.common import Rests
from etudegen.exercises.contours import parse_contour
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.export.midi import midi
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.study import Line, Paper, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.reference.tables import value
from tests.strategies import small_studies

holds_for_every_file = settings(max_examples=15)
any_study = small_studies().map(lambda made: made[1])


def file_of(made: Study) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi(perform(write_score(made)))), charset="utf-8")


def timed(file: mido.MidiFile) -> list[tuple[int, mido.Message]]:
    """Every message of every track with the tick at which it comes, in the order of the file."""
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            found.append((tick, message))
    return found


def notes_of(file: mido.MidiFile) -> list[tuple[int, int, int]]:
    """Start tick, end tick and key of each note, in time; no two may sound together."""
    notes, sounding = [], None
    for tick, message in timed(file):
        if message.type == "note_on" and message.velocity:
            assert sounding is None, "a note begins before the last one ended"
            sounding = tick, message.note
        elif message.type in ("note_on", "note_off"):
            assert sounding is not None
            assert sounding[1] == message.note
            notes.append((sounding[0], tick, message.note))
            sounding = None
    assert sounding is None
    return notes


def one_note(name: str, key: str) -> Study:
    """A study of a single whole note."""
    tone = Tone(WrittenPitch.parse(name), Fraction(4), OPEN, 4)
    return Study(
        name="n", title="One note", subtitle="", instruction="", caution="", instrument=instrument(key),
        tempo=60, paper=Paper.A4, lines=(Line("0", (tone,)),),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("key", "number"), [("trumpet-bflat", 70), ("cornet", 70), ("flugelhorn", 70), ("trumpet-c", 72)]
)
def test_written_c5_sounds_a_whole_step_lower_on_b_flat_instruments(key: str, number: int) -> None:
    # Middle C, C4, is 60 in the MIDI 1.0 specification, so C5 is 72 and the B-flat below it 70.
    assert [note for _, _, note in notes_of(file_of(one_note("C5", key)))] == [number]


@pytest.mark.parametrize("key", instrument_keys())
def test_every_instrument_plays_on_the_general_midi_trumpet(key: str) -> None:
    messages = [message for _, message in timed(file_of(one_note("G4", key)))]
    programmes = [message.program for message in messages if message.type == "program_change"]
    assert programmes == [int(value("notation", "General MIDI trumpet programme (zero-based)"))]
    order = [message.type for message in messages if not message.is_meta]
    assert order == ["program_change", "note_on", "note_off"]
    assert len({message.channel for message in messages if not message.is_meta}) == 1


@pytest.mark.parametrize("tempo", [63, 92])
def test_the_tempo_is_kept_in_microseconds_a_quarter(tempo: int) -> None:
    file = file_of(study(SlurParameters(tempo=tempo)))
    found = [(tick, message.tempo) for tick, message in timed(file) if message.type == "set_tempo"]
    assert found == [(0, int(value("notation", f"tempo {tempo} in microseconds")))]


@holds_for_every_file
@given(any_study)
def test_the_notes_are_those_of_the_study_at_concert_pitch(made: Study) -> None:
    file = file_of(made)
    half_steps = 0 if made.instrument.key == "trumpet-c" else -2
    expected, at = [], Fraction(0)
    for line in made.lines:
        for event in line.events:
            if isinstance(event, Tone):
                expected.append((round(at * file.ticks_per_beat), event.pitch.number + half_steps))
            at += event.duration
    assert [(start, key) for start, _, key in notes_of(file)] == expected


@holds_for_every_file
@given(any_study)
def test_slurred_notes_are_connected_and_tongued_ones_apart(made: Study) -> None:
    file = file_of(made)
    notes = notes_of(file)
    tones = [tone for line in made.lines for tone in line.tones]
    for place, ((start, end, _), tone) in enumerate(zip(notes, tones, strict=True)):
        full = tone.duration * file.ticks_per_beat
        if tone.slurred:
            assert end == notes[place + 1][0]
        else:
            assert start + full * Fraction(3, 4) <= end < start + full


@holds_for_every_file
@given(any_study)
@example(study(SlurParameters(tempo=20, ramp=True)))
@example(study(SlurParameters(tempo=300, rests=Rests.NONE)))
def test_the_file_lasts_as_long_as_playing_and_resting_together(made: Study) -> None:
    file = file_of(made)
    assert abs(file.length - float(made.playing_seconds + made.resting_seconds)) < 0.001
    quarters = sum(line.duration for line in made.lines)
    assert {sum(message.time for message in track) for track in file.tracks} == {quarters * file.ticks_per_beat}


@holds_for_every_file
@given(any_study)
def test_tracks_carry_the_title_and_the_instrument_as_names(made: Study) -> None:
    # Players that know ASCII only get the plain form of the trade's signs.
    plain = str.maketrans({"♭": "b", "♯": "#"})
    file = file_of(made)
    names = [made.title.translate(plain), made.instrument.name.translate(plain)]
    assert [track.name.translate(plain) for track in file.tracks] == names


def test_the_file_says_four_quarters_and_is_of_type_one() -> None:
    file = file_of(study(SlurParameters()))
    assert file.type == 1
    metres = [
        (message.numerator, message.denominator) for _, message in timed(file) if message.type == "time_signature"
    ]
    assert metres == [(4, 4)]


def test_triplets_fall_on_even_ticks() -> None:
    made = study(SlurParameters(rhythm=Rhythm.TRIPLETS, contour=parse_contour("2 3 4 3 2"), positions=(OPEN,)))
    file = file_of(made)
    third = file.ticks_per_beat // 3
    assert third * 3 == file.ticks_per_beat
    assert [start for start, _, _ in notes_of(file)] == [0, third, 2 * third, 3 * third, 6 * third]


# Python puts bytes of a command line that are no UTF-8 into texts as unpaired surrogates, the last one here.
@pytest.mark.parametrize("title", ["", "Größe 😀", "nul\x00", "two\nlines", "Gr\udcfc\udcdfe"], ids=ascii)
def test_any_title_gives_a_file_or_is_refused(title: str) -> None:
    try:
        asked = SlurParameters(title=title)
    except InputError:
        return
    assert notes_of(file_of(study(asked)))


def test_making_the_file_twice_gives_the_same_bytes() -> None:
    made = study(SlurParameters(ramp=True, partial_numbers=True))
    assert midi(perform(write_score(made))) == midi(perform(write_score(made)))
