"""A score played through: even time, the feel, ids, accents, fermatas, repeats."""

import io
from dataclasses import replace
from fractions import Fraction

import mido
import pytest
from music21 import stream
from music21.articulations import Accent, StrongAccent
from music21.bar import Repeat
from music21.expressions import Fermata
from music21.instrument import Trumpet
from music21.metadata import Metadata
from music21.meter import TimeSignature
from music21.note import Note, Rest
from music21.spanner import RepeatBracket, Slur
from music21.tempo import MetronomeMark
from music21.tie import Tie

from etudegen.export.midi import midi
from etudegen.notation.marks import BrassBend, SwingMark
from etudegen.notation.score import write_score
from etudegen.public import exercise
from etudegen.sheets.play_along import joined
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.performance import Performance, SoundingNote, perform
from etudegen.sound.swinging import notes_played
from etudegen.study import Line, Measure, NoteValue, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.swing import EVEN, SWUNG, Feel, soloist_ratio, swung
from tests.sound.music import performance

EIGHTH, TRIPLET, SIXTEENTH, DOTTED = Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(3, 4)


def measure(*durations: Fraction | int, tie_over: bool = False) -> stream.Measure:
    made = stream.Measure()
    for duration in durations:
        made.append(Note("C5", quarterLength=duration))
    if tie_over:
        made.notes[-1].tie = Tie("start")
    return made


def score(
    *measures: stream.Measure, tempo: int = 120, metre: str = "4/4", mark: SwingMark | None = None
) -> stream.Score:
    part = stream.Part()
    measures[0].insert(0, TimeSignature(metre))
    measures[0].insert(0, MetronomeMark(number=tempo))
    if mark is not None:
        measures[0].insert(0, mark)
    part.append([Trumpet(), *measures])
    made = stream.Score([part])
    made.metadata = Metadata(title="Harbour étude")
    return made


def onsets(content: bytes, track: int = 1) -> list[Fraction]:
    """The quarter notes where notes of a MIDI file begin."""
    file, tick, found = mido.MidiFile(file=io.BytesIO(content)), 0, []
    for message in file.tracks[track]:
        tick += message.time
        if message.type == "note_on" and message.velocity:
            found.append(Fraction(tick, file.ticks_per_beat))
    return found


def test_what_is_performed_is_even_and_tells_its_feel() -> None:
    for mark, feel in (
        (None, EVEN),
        (SwingMark(), SWUNG),
        (SwingMark("Swing", ratio=Fraction(2)), Feel(swung=True, ratio=Fraction(2))),
    ):
        performed = perform(score(measure(*[EIGHTH] * 8), mark=mark))
        assert performed.feel == feel
        assert [note.start for note in performed.notes] == [Fraction(eighth, 2) for eighth in range(8)]
        assert performed.off_beats == tuple(beat + EIGHTH for beat in range(4))


@pytest.mark.parametrize("tempo", [60, 90, 120, 200, 280])
def test_eighths_are_swung_where_a_performance_becomes_midi(tempo: int) -> None:
    late = swung(EIGHTH, soloist_ratio(tempo))
    for durations, expected in (
        ([EIGHTH] * 4, [0, late, 1, 1 + late]),
        ([TRIPLET] * 6, [Fraction(third, 3) for third in range(6)]),
        ([SIXTEENTH] * 8, [Fraction(sixteenth, 4) for sixteenth in range(8)]),
        ([DOTTED, SIXTEENTH, EIGHTH, EIGHTH], [0, DOTTED, 1, 1 + late]),
        ([1 + EIGHTH, EIGHTH], [0, 1 + late]),
        ([EIGHTH, 1, EIGHTH], [0, late, 1 + late]),
    ):
        performed = perform(score(measure(*durations, 2), tempo=tempo, mark=SwingMark()))
        found = onsets(midi(performed))
        assert found == pytest.approx([*map(float, expected), 2], abs=1 / 960)


def test_the_two_eighths_around_an_off_beat_stay_together() -> None:
    bar = measure(EIGHTH, EIGHTH, 3)
    slurred = score(bar, mark=SwingMark())
    slurred.parts[0].insert(0, Slur(*bar.notes[:2]))
    file, tick, moments = mido.MidiFile(file=io.BytesIO(midi(perform(slurred)))), 0, []
    for message in file.tracks[1]:
        tick += message.time
        if message.type in ("note_on", "note_off"):
            moments.append(tick)
    # On, off and on at one moment, off a little before the beat, on.
    assert moments[1] == moments[2] == round(960 * swung(EIGHTH, soloist_ratio(120)))
    assert moments[3] < moments[4] == 960


def test_triplets_played_along_at_another_tempo_are_triplets() -> None:
    performed = perform(score(measure(*[TRIPLET] * 12), tempo=200, mark=SwingMark()))
    made = arrange(performed, Backing(count_in=0), 100)
    assert [note.start for note in made.voices[0].notes[:3]] == [0, TRIPLET, 2 * TRIPLET]


def test_an_eighth_before_the_first_bar_is_an_off_beat() -> None:
    """Common practice, no source."""
    pick_up = measure(EIGHTH)
    pick_up.number, pick_up.paddingLeft = 0, 3.5
    performed = perform(score(pick_up, measure(*[EIGHTH] * 8), mark=SwingMark()))
    assert performed.pick_up == EIGHTH
    assert performed.off_beats == (0, *(1 + beat for beat in range(4)))
    late = swung(EIGHTH, soloist_ratio(120)) - EIGHTH
    heard = onsets(midi(performed))
    assert heard[:3] == pytest.approx([float(late), 0.5, float(1 + late)], abs=1 / 960)


def test_a_bar_that_a_repeat_cuts_in_two_has_its_beats_where_they_were() -> None:
    pick_up, whole, cut = measure(EIGHTH), measure(*[EIGHTH] * 8), measure(*[EIGHTH] * 7)
    pick_up.number, pick_up.paddingLeft = 0, 3.5
    cut.rightBarline = Repeat("end")
    performed = perform(score(pick_up, whole, cut, mark=SwingMark()))
    # Every second eighth is one, the first of them the pick-up, both times through.
    assert performed.off_beats == tuple(Fraction(beat) for beat in range(16))


def test_a_whole_bar_begins_on_a_beat_after_a_bar_of_three_eighths() -> None:
    odd, after = measure(*[EIGHTH] * 3), measure(*[EIGHTH] * 8)
    odd.insert(0, TimeSignature("3/8"))
    after.insert(0, TimeSignature("4/4"))
    performed = perform(score(measure(1, 3), odd, after))
    assert performed.off_beats == tuple(Fraction(11, 2) + beat + EIGHTH for beat in range(4))


def test_ties_make_one_note_and_no_division_of_the_beat() -> None:
    performed = perform(score(measure(3, EIGHTH, EIGHTH, tie_over=True), measure(1, 3)))
    assert [(note.start, note.duration > 1) for note in performed.notes][2:] == [(Fraction(7, 2), True), (5, True)]
    assert performed.off_beats == (Fraction(7, 2),)


@pytest.mark.parametrize("metre", ["6/8", "12/8"])
def test_nothing_swings_in_metres_of_eighths(metre: str) -> None:
    eighths = int(metre.split("/")[0])
    performed = perform(score(measure(*[EIGHTH] * eighths), metre=metre, mark=SwingMark()))
    assert performed.off_beats == ()
    assert onsets(midi(performed)) == [Fraction(eighth, 2) for eighth in range(eighths)]


def test_each_note_carries_the_id_of_the_written_one() -> None:
    first, second = measure(1, 1, 2, tie_over=True), measure(4)
    for name, note in zip(("a", "b", "c", "d"), [*first.notes, *second.notes], strict=True):
        note.id = name
    grace = Note("D5").getGrace()
    grace.id = "g"
    first.insert(1, grace)
    performed = perform(score(first, second))
    # Two tied notes are one, and it has the id of the first of them.
    assert [note.id for note in performed.notes] == ["a", "g", "b", "c"]
    assert all(note.id is None for note in perform(score(measure(1, 1, 2))).notes)


def test_a_note_that_is_bent_glides_and_has_the_id_of_the_note_it_begins_with() -> None:
    bar = measure(1, 1, 2)
    for name, note in zip(("open", "bent", "back"), bar.notes, strict=True):
        note.id = name
    bar.notes[1].articulations.append(BrassBend())
    made = score(bar)
    made.parts[0].insert(0, Slur(bar.notes[0], bar.notes[2]))
    (note,) = perform(made).notes
    assert note.id == "open"
    assert [cents for _, cents in note.glide] == [0, -100, -100, 0]
    assert [after for after, _ in note.glide][::3] == [1, 2]


def test_a_glide_goes_with_the_off_beat_where_it_begins() -> None:
    glide = ((EIGHTH, 0), (Fraction(1), -100), (Fraction(2), 0))
    note = SoundingNote(Fraction(0), Fraction(4), 67, 80, glide)
    performed = replace(performance([], 4, off_beats=(EIGHTH,)), notes=(note,))
    (heard,) = notes_played(performed, SWUNG)
    assert heard.glide == ((swung(EIGHTH, soloist_ratio(120)), 0), (1, -100), (2, 0))


def test_what_is_played_one_after_the_other_keeps_its_feel_and_its_fermatas() -> None:
    even = performance([(0, EIGHTH, 60), (EIGHTH, EIGHTH, 62)], 4, lines=((Fraction(0), Fraction(4)),))
    swinging = replace(even, feel=SWUNG, fermatas=((Fraction(3), Fraction(1)),))
    whole = joined([even, swinging, even, swinging])
    assert whole.duration == 16
    late = swung(EIGHTH, soloist_ratio(120))
    heard = [note.start for note in notes_played(whole, whole.feel)]
    assert heard == [0, EIGHTH, 4, 4 + late, 8, 8 + EIGHTH, 12, 12 + late]
    assert whole.fermatas == ((7, 1), (15, 1))
    assert [start for start, _ in whole.lines] == [0, 4, 8, 12]


@pytest.mark.parametrize("mark", [Accent, StrongAccent])
def test_an_accented_note_is_struck_at_104_and_others_at_80(mark: type) -> None:
    """From memory: notation programs play mezzo-forte at 80 of 127, forte at 96, fortissimo at 112."""
    bar = measure(1, 1, 2)
    bar.notes[1].articulations.append(mark())
    assert [note.velocity for note in perform(score(bar)).notes] == [80, 104, 80]


def test_notes_and_rests_under_a_fermata_take_twice_as_long() -> None:
    """Common practice, no source."""
    bar = measure(1, 1)
    bar.append([Rest(quarterLength=1), Note("C5", quarterLength=1)])
    for element in (bar.notes[1], bar.getElementsByClass(Rest)[0]):
        element.expressions.append(Fermata())
    performed = perform(score(bar, tempo=60))
    assert performed.fermatas == ((1, 1), (2, 1))
    assert onsets(midi(performed)) == [0, 1, 3]
    assert mido.MidiFile(file=io.BytesIO(midi(performed))).length == pytest.approx(6)


def played(*bars: stream.Measure, brackets: tuple[tuple[str, int], ...]) -> Performance:
    """Bars of one whole note each, every one of another pitch, some under an ending."""
    made = score(*bars)
    for number, place in brackets:
        made.parts[0].insert(0, RepeatBracket(bars[place], number=number))
    return perform(made)


def test_after_its_endings_a_repeat_is_over_and_the_next_one_goes_back_behind_them() -> None:
    """Common practice, no source: A |1. B :|2. C | D :| is A B A C D D."""
    bars = []
    for name in ("A4", "B4", "C5", "D5"):
        bar = stream.Measure()
        bar.append(Note(name, quarterLength=4))
        bars.append(bar)
    bars[1].rightBarline, bars[3].rightBarline = Repeat("end"), Repeat("end")
    heard = played(*bars, brackets=(("1", 1), ("2", 2)))
    shift = heard.notes[0].key - 69
    assert [note.key - shift for note in heard.notes] == [69, 71, 69, 72, 74, 74]


def test_a_phrase_does_not_begin_in_the_middle_of_a_note_that_is_tied_over() -> None:
    """Call and response: who answers begins where a note begins."""
    whole = NoteValue("whole")
    tones = [Tone(WrittenPitch.parse("G4"), Fraction(4), written=whole, tied=place == 3) for place in range(8)]
    measures = tuple(Measure(Fraction(4), str(place + 1)) for place in range(8))
    made = replace(exercise("scales"), lines=(Line("", tuple(tones), measures=measures),))
    phrases = perform(write_score(made)).phrases
    assert [start for start, _ in phrases] == [0]
    free = replace(made, lines=(replace(made.lines[0], events=tuple(replace(tone, tied=False) for tone in tones)),))
    assert [start for start, _ in perform(write_score(free)).phrases] == [0, 16]
