"""A study written down as a music21 score: one part, measure by measure, at written pitch."""

from fractions import Fraction

from music21 import stream
from music21.articulations import Fingering
from music21.bar import Barline
from music21.clef import TrebleClef
from music21.common import opFrac
from music21.duration import Duration
from music21.instrument import Instrument as PlayedInstrument
from music21.interval import Interval
from music21.key import KeySignature
from music21.layout import SystemLayout
from music21.metadata import Metadata
from music21.meter import TimeSignature
from music21.note import Note, Rest
from music21.pitch import Accidental
from music21.pitch import Pitch as ScorePitch
from music21.spanner import MultiMeasureRest, Slur
from music21.tempo import MetronomeMark
from music21.tie import Tie

from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.partials import FUNDAMENTAL
from etudegen.notation.marks import LineLabel, PartialNumber, StageHeading
from etudegen.notation.page import page_texts, score_layout
from etudegen.notation.rhythm import add_beams, add_tuplet_ends, pieces
from etudegen.study import Line, Study, Tone
from etudegen.theory.pitch import Pitch

_SIGNS = {-2: "double-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def score_pitch(pitch: Pitch) -> ScorePitch:
    """Return a pitch as music21 holds it, keeping the spelling (music21's own text form has ``-`` for a flat)."""
    if pitch.alter == 0:
        return ScorePitch(step=pitch.step, octave=pitch.octave)
    return ScorePitch(step=pitch.step, accidental=Accidental(_SIGNS[pitch.alter]), octave=pitch.octave)


def _played(instrument: Instrument) -> PlayedInstrument:
    played = PlayedInstrument(instrument.name)
    played.partName = instrument.name
    played.instrumentAbbreviation = instrument.abbreviation
    played.instrumentSound = instrument.musicxml_sound
    played.midiProgram = instrument.midi_program
    played.midiChannel = 0
    # Left to itself music21 makes random ids, and equal sheets would differ.
    played.partId, played.instrumentId = "P1", "P1-I1"
    if instrument.half_steps:
        written, sounding = score_pitch(FUNDAMENTAL), score_pitch(instrument.sounding(FUNDAMENTAL))
        played.transposition = Interval(written, sounding)
    return played


class _PartWriter:
    """Writes the lines of one study into a part, one measure after the other."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._signature = f"{int(study.bar)}/4"
        self._part = stream.Part(id="P1")
        self._signs: list[Note | Rest] = []
        self._marks: list[tuple[Fraction, PartialNumber]] = []
        self._filled = Fraction(0)
        self._slur_start: Note | None = None
        self._line_measures: list[stream.Measure] = []
        self._measures: list[stream.Measure] = []

    def written(self) -> stream.Part:
        for line in self._study.lines:
            self._write_line(line)
        played = _played(self._study.instrument)
        self._part.partName, self._part.partAbbreviation = played.partName, played.instrumentAbbreviation
        first = self._measures[0]
        for mark in (
            TrebleClef(),
            KeySignature(0),
            TimeSignature(self._signature),
            MetronomeMark(number=self._study.tempo, referent=Duration("quarter")),
        ):
            first.insert(0, mark)
        self._measures[-1].rightBarline = Barline("final")
        self._part.insert(0, played)
        for number, measure in enumerate(self._measures):
            self._part.coreInsert(opFrac(number * self._study.bar), measure)
        self._part.coreElementsChanged()
        self._part.atSoundingPitch = False
        return self._part

    def _write_line(self, line: Line) -> None:
        self._line_measures = []
        for event in line.events:
            if isinstance(event, Tone):
                self._write_tone(event)
            elif self._filled == 0 and event.duration % self._study.bar == 0:
                self._write_bars_of_rest(int(event.duration / self._study.bar))
            else:
                for piece in pieces(self._filled, event.duration, self._study.bar):
                    self._add(Rest(duration=Duration(opFrac(piece))))
        first = self._line_measures[0]
        label = LineLabel(line.label)
        label.style.fontWeight = "bold"
        marks = [label]
        if line.heading:
            heading = StageHeading(line.heading)
            heading.style.fontWeight = "bold"
            marks.insert(0, heading)
        for mark in marks:
            mark.placement = "above"
            first.insert(0, mark)
        if self._measures:
            first.insert(0, SystemLayout(isNew=True))
        self._line_measures[-1].rightBarline = Barline("double")
        self._measures += self._line_measures

    def _write_tone(self, tone: Tone) -> None:
        cut = list(pieces(self._filled, tone.duration, self._study.bar))
        for place, piece in enumerate(cut):
            note = Note(pitch=score_pitch(tone.pitch), duration=Duration(opFrac(piece)))
            if len(cut) > 1:
                note.tie = Tie("start" if place == 0 else "stop" if place + 1 == len(cut) else "continue")
            if place == 0:
                self._mark_first(tone, note)
            if place + 1 == len(cut) and not tone.slurred and self._slur_start is not None:
                self._part.insert(0, Slur(self._slur_start, note))
                self._slur_start = None
            self._add(note)

    def _mark_first(self, tone: Tone, note: Note) -> None:
        if tone.slurred and self._slur_start is None:
            self._slur_start = note
        if tone.fingering:
            fingering = Fingering(tone.fingering)
            fingering.placement = "below"
            note.articulations.append(fingering)
        if tone.partial_number:
            number = PartialNumber(tone.partial_number)
            number.placement = "above"
            number.style.fontStyle = "italic"
            number.style.fontSize = 7
            self._marks.append((self._filled, number))

    def _add(self, sign: Note | Rest) -> None:
        self._signs.append(sign)
        self._filled += Fraction(sign.quarterLength)
        if self._filled == self._study.bar:
            self._close_measure()

    def _close_measure(self) -> None:
        add_beams(self._signature, self._signs)
        add_tuplet_ends(self._signs)
        _show_accidentals(self._signs)
        measure = stream.Measure(number=len(self._measures) + len(self._line_measures) + 1)
        offset = Fraction(0)
        for sign in self._signs:
            measure.coreInsert(opFrac(offset), sign)
            offset += Fraction(sign.quarterLength)
        for at, mark in self._marks:
            measure.coreInsert(opFrac(at), mark)
        measure.coreElementsChanged()
        self._line_measures.append(measure)
        self._signs, self._marks, self._filled = [], [], Fraction(0)

    def _write_bars_of_rest(self, bars: int) -> None:
        rests = []
        for _ in range(bars):
            rest = Rest(duration=Duration(opFrac(self._study.bar)))
            rest.fullMeasure = True
            rests.append(rest)
            self._add(rest)
        if bars > 1:
            self._part.insert(0, MultiMeasureRest(*rests))


def _show_accidentals(signs: list[Note | Rest]) -> None:
    """Say of each note in a bar whether its accidental is printed: once a bar for each place on the staff."""
    standing: dict[tuple[str, int], float] = {}
    for sign in signs:
        if sign.isRest:
            continue
        place = (sign.pitch.step, sign.pitch.octave)
        alter = sign.pitch.alter
        tied_over = sign.tie is not None and sign.tie.type != "start"
        shown = not tied_over and standing.get(place, 0.0) != alter
        if shown and sign.pitch.accidental is None:
            sign.pitch.accidental = Accidental("natural")
        if sign.pitch.accidental is not None:
            sign.pitch.accidental.displayStatus = shown
        if not tied_over:
            standing[place] = alter


def write_score(study: Study) -> stream.Score:
    """Write a study down: everything that its page shows is in the score, at written pitch."""
    score = stream.Score(id="score")
    score.metadata = Metadata()
    score.metadata.title = study.title
    score.insert(0, score_layout(study.paper))
    for text in page_texts(study):
        score.insert(0, text)
    score.insert(0, _PartWriter(study).written())
    score.atSoundingPitch = False
    return score
