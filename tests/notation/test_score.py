"""What is written down is what is played: scores against the studies they were made of."""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

import pytest
from hypothesis import given, settings
from music21 import stream
from music21.articulations import Fingering
from music21.bar import Barline
from music21.instrument import Instrument as PlayedInstrument
from music21.layout import SystemLayout
from music21.meter import TimeSignature
from music21.note import GeneralNote, Note
from music21.spanner import MultiMeasureRest, Slur
from music21.tempo import MetronomeMark

from etudegen.engraving.lilypond_text import lilypond_text
from etudegen.engraving.reading import read_page
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import parse_contour
from etudegen.exercises.kinds import kind_named
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.valves import OPEN, POSITIONS, Valves
from etudegen.notation.marks import LineLabel, PageText, PartialNumber, PhraseLayout, StageHeading
from etudegen.notation.page import paper_of
from etudegen.notation.pitch import score_pitch
from etudegen.notation.score import write_score
from etudegen.study import Line, Paper, Rest, Study, Tone
from etudegen.theory.pitch import STEPS, Pitch, WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.strategies import small_studies

holds_for_every_score = settings(max_examples=14)
any_study = small_studies().map(lambda made: made[1])


def measures(score: stream.Score) -> list[stream.Measure]:
    return list(score.parts[0].getElementsByClass(stream.Measure))


def signs(measure: stream.Measure) -> list[GeneralNote]:
    return list(measure.getElementsByClass(GeneralNote))


def length(sign: GeneralNote) -> Fraction:
    return Fraction(sign.quarterLength).limit_denominator(48)


def starts(measure: stream.Measure) -> Iterator[tuple[Fraction, GeneralNote]]:
    """Each sign with where it begins in its bar, counted from the durations before it."""
    at = Fraction(0)
    for sign in signs(measure):
        yield at, sign
        at += length(sign)


def spelled(sign: Note) -> tuple[str, int, int]:
    return sign.pitch.step, int(sign.pitch.alter), sign.pitch.octave


def read_back(score: stream.Score) -> list[tuple[tuple[str, int, int] | None, Fraction]]:
    """Pitch and duration of everything in the score, ties joined, rests in a row added up."""
    heard: list[tuple[tuple[str, int, int] | None, Fraction]] = []
    tied = False
    for measure in measures(score):
        for sign in signs(measure):
            pitch = spelled(sign) if isinstance(sign, Note) else None
            joined = tied or (pitch is None and heard and heard[-1][0] is None)
            if joined:
                assert heard[-1][0] == pitch, "a tie joins two different pitches"
                heard[-1] = (pitch, heard[-1][1] + length(sign))
            else:
                heard.append((pitch, length(sign)))
            tied = pitch is not None and sign.tie is not None and sign.tie.type in ("start", "continue")
    assert not tied, "a tie leads nowhere"
    return heard


def wanted(made: Study) -> list[tuple[tuple[str, int, int] | None, Fraction]]:
    events = [event for line in made.lines for event in line.events]
    return [
        (
            (event.pitch.step, event.pitch.alter, event.pitch.octave) if isinstance(event, Tone) else None,
            event.duration,
        )
        for event in events
    ]


def tone(name: str, quarters: Fraction | int, *, slurred: bool = False) -> Tone:
    return Tone(WrittenPitch.parse(name), Fraction(quarters), OPEN, 2, slurred)


def study_of(*lines: list[Tone | Rest]) -> Study:
    """A study of any tones and rests, for cases that no exercise makes."""
    return Study(
        name="s", title="t", subtitle="", instruction="", caution="", instrument=instrument("trumpet-c"),
        tempo=60, paper=Paper.A4, lines=tuple(Line("x", tuple(events)) for events in lines),
    )  # fmt: skip


@holds_for_every_score
@given(any_study)
def test_pitches_and_durations_read_back_from_the_score_are_those_of_the_study(made: Study) -> None:
    assert read_back(write_score(made)) == wanted(made)


@holds_for_every_score
@given(any_study)
def test_every_measure_is_full_and_its_signs_follow_without_a_gap(made: Study) -> None:
    written = measures(write_score(made))
    assert len(written) == made.bars
    assert [measure.number for measure in written] == list(range(1, made.bars + 1))
    for place, measure in enumerate(written):
        assert Fraction(measure.offset) == 4 * place
        assert sum(length(sign) for sign in signs(measure)) == 4
        assert all(Fraction(sign.offset).limit_denominator(48) == at for at, sign in starts(measure))


@holds_for_every_score
@given(any_study)
def test_every_sign_is_written_with_one_head_and_at_most_one_dot(made: Study) -> None:
    for measure in measures(write_score(made)):
        for sign in signs(measure):
            assert sign.duration.type in {"whole", "half", "quarter", "eighth", "16th"}
            assert sign.duration.dots <= 1


@holds_for_every_score
@given(any_study)
def test_ties_join_only_at_a_barline_or_on_a_beat(made: Study) -> None:
    for measure in measures(write_score(made)):
        for at, sign in starts(measure):
            if isinstance(sign, Note) and sign.tie is not None and sign.tie.type in ("stop", "continue"):
                assert at.denominator == 1


@holds_for_every_score
@given(any_study)
def test_short_notes_are_beamed_within_their_beat_and_never_across(made: Study) -> None:
    for measure in measures(write_score(made)):
        beats = groupby(starts(measure), key=lambda placed: placed[0] // 1)
        for _, placed in beats:
            runs = groupby(
                placed, key=lambda one: isinstance(one[1], Note) and one[1].duration.type in ("eighth", "16th")
            )
            for beamable, run in runs:
                notes = [sign for _, sign in run]
                outermost = [sign.beams.getTypes()[:1] for sign in notes if isinstance(sign, Note)]
                if beamable and len(notes) > 1:
                    assert outermost == [["start"], *[["continue"]] * (len(notes) - 2), ["stop"]]
                else:
                    assert not any(outermost)


@holds_for_every_score
@given(any_study)
def test_a_beam_has_as_many_strokes_as_its_note_value(made: Study) -> None:
    for measure in measures(write_score(made)):
        for sign in signs(measure):
            if isinstance(sign, Note) and sign.beams:
                assert len(sign.beams) == {"eighth": 1, "16th": 2}[sign.duration.type]


@holds_for_every_score
@given(any_study)
def test_triplets_start_and_stop_within_their_beat(made: Study) -> None:
    for measure in measures(write_score(made)):
        for _, placed in groupby(starts(measure), key=lambda one: one[0] // 1):
            marks = [sign.duration.tuplets[0].type for _, sign in placed if sign.duration.tuplets]
            if marks:
                assert marks == ["start", *[None] * (len(marks) - 2), "stop"]


@holds_for_every_score
@given(any_study)
def test_slurs_in_the_score_are_those_of_the_study(made: Study) -> None:
    score = write_score(made)
    notes = [sign for measure in measures(score) for sign in signs(measure) if isinstance(sign, Note)]
    place = {id(note): index for index, note in enumerate(notes)}
    # Which tone each note belongs to: a note that a tie leads to is no new one.
    owner = [-1]
    for note in notes:
        tied_to = note.tie is not None and note.tie.type in ("stop", "continue")
        owner.append(owner[-1] + (not tied_to))
    owner = owner[1:]
    drawn = set()
    for slur in score.parts[0].getElementsByClass(Slur):
        first, last = place[id(slur.getFirst())], place[id(slur.getLast())]
        assert owner[first - 1] != owner[first] or first == 0, "a slur begins on the first head of its tone"
        assert last + 1 == len(notes) or owner[last + 1] != owner[last], "a slur ends on the last head"
        drawn.add((owner[first], owner[last]))
    tones = [tone for line in made.lines for tone in line.tones]
    expected, begun = set(), None
    for index, each in enumerate(tones):
        if each.slurred and begun is None:
            begun = index
        if not each.slurred and begun is not None:
            expected.add((begun, index))
            begun = None
    assert drawn == expected


@holds_for_every_score
@given(any_study)
def test_a_reader_of_the_printed_accidentals_plays_the_right_notes_and_sees_none_twice(made: Study) -> None:
    tied: int | None = None
    for measure in measures(write_score(made)):
        standing: dict[tuple[str, int], int] = {}
        for sign in signs(measure):
            if not isinstance(sign, Note):
                continue
            step, alter, octave = spelled(sign)
            accidental = sign.pitch.accidental
            shown = accidental is not None and bool(accidental.displayStatus)
            read = standing.get((step, octave), 0)
            if shown:
                assert tied is None, "an accidental stands at a note that is tied to"
                # The first on its place in a bar may be a reminder of what the last bar did not have.
                again = (step, octave) in standing and read == accidental.alter
                assert not again, "an accidental is printed twice in a bar"
                read = standing[step, octave] = int(accidental.alter)
            elif tied is not None:
                read = tied
            assert read == alter
            goes_on = sign.tie is not None and sign.tie.type in ("start", "continue")
            tied = alter if goes_on else None


@holds_for_every_score
@given(any_study)
def test_fingerings_and_partial_numbers_stand_at_the_tones_that_have_them(made: Study) -> None:
    printed, numbers = [], []
    for measure in measures(write_score(made)):
        numbered = {
            Fraction(mark.offset).limit_denominator(48): mark for mark in measure.getElementsByClass(PartialNumber)
        }
        assert len(numbered) == len(measure.getElementsByClass(PartialNumber))
        for at, sign in starts(measure):
            if isinstance(sign, Note) and (sign.tie is None or sign.tie.type == "start"):
                marks = [mark for mark in sign.articulations if isinstance(mark, Fingering)]
                assert all(mark.placement == "below" for mark in marks)
                printed.append([str(mark.fingerNumber) for mark in marks])
                number = numbered.pop(at, None)
                numbers.append(None if number is None else number.content)
            else:
                assert not sign.articulations
        assert not numbered, "a partial number stands where no tone begins"
    tones = [tone for line in made.lines for tone in line.tones]
    assert printed == [[tone.fingering] if tone.fingering else [] for tone in tones]
    assert numbers == [tone.partial_number for tone in tones]


@holds_for_every_score
@given(any_study)
def test_each_line_begins_a_system_with_its_label_and_ends_with_a_double_bar(made: Study) -> None:
    written = measures(write_score(made))
    begins = []
    for line in made.lines:
        begins.append(sum(int(before.duration / 4) for before in made.lines[: len(begins)]))
        assert line.duration % 4 == 0
    labels = {
        index: [label.content for label in measure.getElementsByClass(LineLabel)]
        for index, measure in enumerate(written)
    }
    assert {index: texts for index, texts in labels.items() if texts} == {
        at: [line.label] for at, line in zip(begins, made.lines, strict=True)
    }
    breaks = [
        index
        for index, measure in enumerate(written)
        if any(layout.isNew for layout in measure.getElementsByClass(SystemLayout))
    ]
    assert breaks == begins[1:]
    barlines = {index: measure.rightBarline.type for index, measure in enumerate(written) if measure.rightBarline}
    assert barlines == {at - 1: "double" for at in begins[1:]} | {len(written) - 1: "final"}


def test_a_heading_stands_above_the_first_line_of_each_stage_of_a_ramp() -> None:
    made = study(SlurParameters(ramp=True))
    found = [
        heading.content
        for measure in measures(write_score(made))
        for heading in measure.getElementsByClass(StageHeading)
    ]
    assert found == [line.heading for line in made.lines if line.heading]
    assert len(found) == 5


def test_clef_key_time_and_tempo_stand_once_at_the_start() -> None:
    score = write_score(study(SlurParameters(tempo=63)))
    first, *others = measures(score)
    assert first.clef.name == "treble"
    assert first.keySignature.sharps == 0
    assert first.timeSignature.ratioString == "4/4"
    assert [mark.number for mark in first.getElementsByClass(MetronomeMark)] == [63]
    for kind in (TimeSignature, MetronomeMark):
        assert not any(measure.getElementsByClass(kind) for measure in others)


@pytest.mark.parametrize("rests", Rests)
def test_rests_of_several_bars_are_counted_together(rests: Rests) -> None:
    made = study(SlurParameters(rests=rests))
    score = write_score(made)
    counted = [len(each) for each in score.parts[0].getElementsByClass(MultiMeasureRest)]
    bars = [int(event.duration / 4) for line in made.lines for event in line.events if isinstance(event, Rest)]
    assert counted == [number for number in bars if number > 1]
    assert bool(counted) is (rests is not Rests.NONE)


@pytest.mark.parametrize("key", instrument_keys())
def test_the_score_is_at_written_pitch_and_knows_its_instruments_transposition(key: str) -> None:
    score = write_score(study(SlurParameters(instrument=instrument(key))))
    assert score.atSoundingPitch is False
    assert score.parts[0].atSoundingPitch is False
    (played,) = score.parts[0].getElementsByClass(PlayedInstrument)
    # A B-flat instrument sounds a whole step lower than written; a C instrument as written. (MusicXML 4.0)
    if key == "trumpet-c":
        assert played.transposition is None
    else:
        assert played.transposition.semitones == -2
        assert played.transposition.generic.directed == -2


@pytest.mark.parametrize("paper", Paper)
def test_the_page_has_the_size_of_its_paper_in_millimetres(paper: Paper) -> None:
    (layout,) = write_score(study(SlurParameters(paper=paper))).getElementsByClass("ScoreLayout")
    scale = layout.scalingMillimeters / layout.scalingTenths
    # ISO 216 for A4; 8.5 by 11 inches of 25.4 mm for Letter.
    width, height = {Paper.A4: (210, 297), Paper.LETTER: (8.5 * 25.4, 11 * 25.4)}[paper]
    assert abs(layout.pageLayout.pageWidth * scale - width) < 0.2
    assert abs(layout.pageLayout.pageHeight * scale - height) < 0.2
    assert paper_of(layout) is paper
    # A staff of 7 to 8 mm reads well from a metre away: common practice, no source.
    assert 7 <= layout.scalingMillimeters <= 8


@holds_for_every_score
@given(any_study)
def test_the_texts_of_the_study_stand_on_the_page(made: Study) -> None:
    score = write_score(made)
    texts = {str(text.role): text.content for text in score.getElementsByClass(PageText)}
    assert texts["title"] == made.title == score.metadata.title
    assert (texts["subtitle"], texts["instruction"], texts["caution"]) == (
        made.subtitle,
        made.instruction,
        made.caution,
    )


def test_the_foot_of_the_page_tells_playing_and_resting_time_in_minutes_and_seconds() -> None:
    # 38 quarters at 60 a minute are 38 s played; 100 are 1 min 40 s rested.
    made = study_of([tone("C4", 38), Rest(Fraction(2)), Rest(Fraction(96))], [Rest(Fraction(4))])
    (timing,) = [text.content for text in write_score(made).getElementsByClass(PageText) if text.role == "timing"]
    assert timing == "Playing 38 s · resting 1 min 42 s in all"


def test_a_tone_longer_than_a_bar_is_tied_over_the_barlines() -> None:
    score = write_score(study_of([tone("G4", 1), tone("C5", 9), Rest(Fraction(2))]))
    written = [
        (length(sign), sign.tie.type if sign.tie else None)
        for measure in measures(score)
        for sign in signs(measure)
        if isinstance(sign, Note)
    ]
    assert written == [(1, None), (3, "start"), (4, "continue"), (2, "stop")]


def test_a_tone_that_begins_off_the_beat_is_cut_at_the_next_beat() -> None:
    half = Fraction(1, 2)
    score = write_score(study_of([tone("G4", half), tone("C5", Fraction(3, 2)), tone("G4", 2)]))
    assert [length(sign) for sign in signs(measures(score)[0])] == [half, half, 1, 2]


def test_an_accidental_is_taken_back_in_the_same_bar_and_holds_over_a_tie() -> None:
    score = write_score(
        study_of([tone("F#4", 1), tone("F4", 1), tone("F#5", 1), tone("F#4", 3), tone("F#4", 1), tone("F#4", 1)])
    )
    shown = [
        (sign.nameWithOctave, sign.pitch.accidental is not None and bool(sign.pitch.accidental.displayStatus))
        for measure in measures(score)
        for sign in signs(measure)
    ]
    assert shown == [
        ("F#4", True), ("F4", True), ("F#5", True), ("F#4", True),
        ("F#4", False), ("F#4", True), ("F#4", False),
    ]  # fmt: skip


def test_a_rest_within_a_bar_is_written_with_single_rests() -> None:
    score = write_score(study_of([tone("C4", Fraction(1, 4)), Rest(Fraction(15, 4))]))
    assert sum(length(sign) for sign in signs(measures(score)[0])) == 4
    assert all(sign.duration.type != "complex" for sign in signs(measures(score)[0]))


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("alter", [-2, -1, 0, 1, 2])
def test_pitches_keep_spelling_and_key_number_in_the_notation_library(step: str, alter: int) -> None:
    for octave in range(1, 8):
        pitch = Pitch(step, alter, octave)
        written = score_pitch(pitch)
        assert (written.step, int(written.alter), written.octave) == (step, alter, octave)
        # written.ps counts from middle C = 60 without folding what lies outside the MIDI range.
        assert int(written.ps) == pitch.number


def test_fingerings_of_the_usual_sheet_stand_at_the_first_note_of_each_line_only() -> None:
    score = write_score(study(SlurParameters(fingerings=Fingerings.CHANGES)))
    marks = [mark.fingerNumber for note in score.recurse().notes for mark in note.articulations]
    assert [str(mark) for mark in marks] == [str(valves) for valves in POSITIONS]


def test_writing_the_same_study_twice_makes_scores_that_share_nothing() -> None:
    made = study(SlurParameters(positions=(Valves("0"),), rhythm=Rhythm.TRIPLETS, contour=parse_contour("2 3 4")))
    first, second = write_score(made), write_score(made)
    ours = {id(element) for element in first.recurse()}
    assert not ours & {id(element) for element in second.recurse()}
    assert read_back(first) == read_back(second)
    assert isinstance(measures(first)[-1].rightBarline, Barline)


@pytest.mark.parametrize(("bars", "begin"), [(4, []), (5, [5]), (8, [5]), (12, [5, 9])])
def test_a_progression_has_four_measures_to_a_system(bars: int, begin: list[int]) -> None:
    """Common practice, no source."""
    kind = kind_named("changes")
    typed = "| " + " | ".join(["Dm7", "G7", "Cmaj7", "Am7"][number % 4] for number in range(bars)) + " |"
    made = kind.study(kind.parameters.of(progression=typed, keys="home", parts="guide-tones", rests="none"))
    score = write_score(replace(made, lines=made.lines[:1]))
    found = [
        measure.number
        for measure in score.recurse().getElementsByClass("Measure")
        if measure.getElementsByClass(PhraseLayout)
    ]
    assert found == begin
    text = lilypond_text(read_page(score))
    assert text[text.index(r"\score") :].count(r"\phrase-break") == len(begin)
