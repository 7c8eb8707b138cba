"""A study written down as a music21 score: one part, measure by measure, at written pitch."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from music21 import stream
from music21.articulations import Accent, BreathMark, Fingering, Staccatissimo, Staccato, StrongAccent, Tenuto
from music21.bar import Barline, Repeat
from music21.base import Music21Object
from music21.clef import TrebleClef
from music21.common import opFrac
from music21.duration import Duration
from music21.duration import Tuplet as ScoreTuplet
from music21.dynamics import Crescendo, Diminuendo, Dynamic
from music21.expressions import Fermata, RehearsalMark, TextExpression
from music21.key import KeySignature
from music21.layout import SystemLayout
from music21.metadata import Metadata
from music21.meter import TimeSignature
from music21.note import Note
from music21.note import Rest as ScoreRest
from music21.spanner import MultiMeasureRest, Ottava, RepeatBracket, Slur, SpannerAnchor
from music21.stream.enums import ShowNumber
from music21.tempo import MetronomeMark
from music21.tie import Tie

from etudegen.notation import ids
from etudegen.notation.chords import lead_sheet_chord
from etudegen.notation.instrument import played_on
from etudegen.notation.marks import (
    BrassBend,
    LineLabel,
    PartialNumber,
    PhraseLayout,
    Remark,
    StageHeading,
    SungLyric,
    SwingMark,
    TongueSyllable,
)
from etudegen.notation.page import page_texts, score_layout, study_texts
from etudegen.notation.pitch import score_pitch, show_accidentals
from etudegen.notation.rhythm import add_beams, add_tuplet_ends, pieces
from etudegen.study import Grace, Hairpin, Line, Measure, NoteValue, Rest, Study, Text, Tone
from etudegen.theory.articulation import Mark
from etudegen.theory.rhythm import Metre, bar_length

_MARKS = {
    Mark.STACCATO: Staccato,
    Mark.TENUTO: Tenuto,
    Mark.ACCENT: Accent,
    Mark.STACCATISSIMO: Staccatissimo,
    Mark.STRONG_ACCENT: StrongAccent,
}
_SMALL_POINTS = 7
# Common practice, no source: tunes and changes are read four measures to a system.
_MEASURES_IN_A_PHRASE = 4


class _LineWriter:
    """Writes one line into measures; what reaches over several of them goes straight into the part."""

    def __init__(self, line: Line, number: int, metre: Metre, part: stream.Part, written: int) -> None:
        self._line, self._number, self._part = line, number, part
        self.plan = line.all_measures(metre)
        self._written_before = written
        self.measures: list[stream.Measure] = []
        self._signs: list[Note | ScoreRest] = []
        self._marks: list[tuple[Fraction, Music21Object]] = []
        self._beamed_by_file = False
        # How much of the measure is filled, and where in the line it begins.
        self._filled, self._begins = Fraction(0), Fraction(0)
        self.metre, self._sharps = metre, line.sharps
        self._standing: dict[tuple[str, int], int] = {}
        self._tied = False
        self._slur_start: Note | None = None
        self._under_bracket: list[Note] = []
        self._hairpins = list(line.hairpins)

    def write(self) -> None:
        """Write all events, then what stands over them."""
        for place, event in enumerate(self._line.events, start=1):
            name = ids.event(self._number, place)
            if isinstance(event, Tone):
                self._write_tone(event, name)
            else:
                self._write_rest(event, name)
        self._close_bracket()
        for at, symbol in self._line.chords:
            self._insert(at, lead_sheet_chord(symbol))
        for text in self._line.texts:
            self._insert(text.at, _text(text))
        for hairpin in self._hairpins:
            self._write_hairpin(hairpin)
        self._write_endings()
        self._write_phrases()

    @property
    def _measure(self) -> Measure:
        return self.plan[len(self.measures)]

    def _write_tone(self, tone: Tone, name: str) -> None:
        if tone.swell:
            at = self._begins + self._filled
            middle, end = at + tone.duration / 2, at + tone.duration
            self._hairpins += [Hairpin(at, middle, grows=True), Hairpin(middle, end, grows=False)]
        lengths = (tone.duration,) if tone.written else self._cut(tone)
        for place, length in enumerate(lengths):
            duration = _duration(tone.written) if tone.written else Duration(opFrac(length))
            note = Note(pitch=score_pitch(tone.pitch), duration=duration)
            first, last = place == 0, place + 1 == len(lengths)
            note.id = name if first else ids.continued(name, place + 1)
            if tone.slash:
                note.notehead, note.stemDirection = "slash", "noStem"
            if tone.grace:
                note = note.getGrace()
                note.id, note.duration.slash = name, tone.grace is Grace.SLASHED
            if not tone.grace:
                goes_on = tone.tied or not last
                if goes_on or self._tied:
                    note.tie = Tie("stop" if not goes_on else "continue" if self._tied else "start")
                self._tied = goes_on
            if first:
                self._mark(tone, note)
            if last and tone.breath:
                note.articulations.append(BreathMark())
            if last and tone.fermata:
                note.expressions.append(_fermata())
            if last:
                self._slur(tone, note)
            self._bracket(note, wanted=tone.octave_bracket)
            if tone.written:
                for kind in tone.written.beams:
                    note.beams.append(*kind.split("-"))
                self._beamed_by_file = self._beamed_by_file or bool(tone.written.beams)
            self._add(note, Fraction(0) if tone.grace else length)

    def _cut(self, event: Tone | Rest) -> Sequence[Fraction]:
        """Return the values that a duration is written with, from here on, tied over bar lines."""
        cut: list[Fraction] = []
        filled, place, left = self._filled, len(self.measures), event.duration
        while left:
            length = self.plan[place].length
            piece = min(left, length - filled)
            cut += pieces(filled, piece, length)
            left -= piece
            filled, place = Fraction(0), place + 1
        return cut

    def _mark(self, tone: Tone, note: Note) -> None:
        """Put on the first written note of a tone what is printed at it."""
        name = str(note.id)
        if tone.fingering:
            note.articulations.append(_placed(Fingering(tone.fingering), "below"))
        note.articulations += [_MARKS[mark]() for mark in tone.marks]
        if tone.bent:
            note.articulations.append(_placed(BrassBend(tone.bent), "above"))
        if tone.syllable:
            note.lyrics.append(TongueSyllable(tone.syllable))
        note.lyrics += [SungLyric(each.text, each.verse, syllabic=each.syllabic) for each in tone.lyrics]
        if tone.dynamic:
            self._marks.append((self._filled, Dynamic(tone.dynamic)))
        for text, kind, role in (
            (tone.partial_number, PartialNumber, ids.PARTIAL),
            (tone.remark, Remark, ids.REMARK),
        ):
            if text:
                mark = _placed(kind(text), "above")
                mark.id = ids.mark(name, role)
                mark.style.fontStyle, mark.style.fontSize = "italic", _SMALL_POINTS
                self._marks.append((self._filled, mark))
        if self._slur_start is not None and tone.slur_begins:
            self._part.insert(0, Slur(self._slur_start, note))
            self._slur_start = None
        if tone.slurred and self._slur_start is None:
            self._slur_start = note

    def _slur(self, tone: Tone, note: Note) -> None:
        if not tone.slurred and self._slur_start is not None:
            self._part.insert(0, Slur(self._slur_start, note))
            self._slur_start = None

    def _bracket(self, note: Note, *, wanted: bool) -> None:
        if wanted:
            self._under_bracket.append(note)
        else:
            self._close_bracket()

    def _close_bracket(self) -> None:
        if self._under_bracket:
            # Every note is put under the bracket: music21 reads one of the first and the last as moving only those.
            self._part.insert(0, Ottava(*self._under_bracket, type="8vb", transposing=False))
            self._under_bracket = []

    def _write_rest(self, rest: Rest, name: str) -> None:
        self._close_bracket()
        if rest.written:
            self._add_rest(_duration(rest.written), rest.duration, name, fermata=rest.fermata)
            return
        left, whole, written = rest.duration, list[ScoreRest](), 0
        while left:
            length = self._measure.length
            piece = min(left, length - self._filled)
            for value in [piece] if piece == length else pieces(self._filled, piece, length):
                written += 1
                name_of_sign = ids.continued(name, written)
                sign = self._add_rest(Duration(opFrac(value)), value, name_of_sign, whole=piece == length)
                whole += [sign] if piece == length else []
            left -= piece
        if rest.fermata and whole:
            whole[-1].expressions.append(_fermata())
        if len(whole) > 1:
            self._part.insert(0, MultiMeasureRest(*whole))

    def _add_rest(
        self, duration: Duration, lasts: Fraction, name: str, *, whole: bool = False, fermata: bool = False
    ) -> ScoreRest:
        rest = ScoreRest(duration=duration)
        rest.id = name
        rest.fullMeasure = whole
        rest.expressions += [_fermata()] if fermata else []
        self._add(rest, lasts)
        return rest

    def _add(self, sign: Note | ScoreRest, lasts: Fraction) -> None:
        self._signs.append(sign)
        self._filled += lasts
        if self._filled == self._measure.length and lasts:
            self._close_measure()

    def _close_measure(self) -> None:
        plan = self._measure
        self.metre = plan.metre or self.metre
        self._sharps = self._sharps if plan.sharps is None else plan.sharps
        timed = [sign for sign in self._signs if not sign.duration.isGrace]
        units = plan.length * self.metre[1] / 4
        if not self._beamed_by_file and units.denominator == 1:
            # A measure that is not a whole one is beamed as one of its own length.
            add_beams(f"{units}/{self.metre[1]}", timed)
        if not any(sign.duration.tuplets and sign.duration.tuplets[0].type for sign in timed):
            add_tuplet_ends(timed)
        self._standing = show_accidentals(self._signs, self._sharps, self._standing)
        measure = stream.Measure(number=self._written_before + len(self.measures) + 1)
        self._open_measure(measure, plan)
        offset: float | Fraction = 0.0
        for sign in self._signs:
            measure.coreInsert(offset, sign)
            if not sign.duration.isGrace:
                offset = opFrac(offset + sign.quarterLength)
        for at, mark in self._marks:
            measure.coreInsert(opFrac(at), mark)
        measure.coreElementsChanged()
        self.measures.append(measure)
        self._begins += plan.length
        self._signs, self._marks, self._filled, self._beamed_by_file = [], [], Fraction(0), False

    def _open_measure(self, measure: stream.Measure, plan: Measure) -> None:
        """Say what changes at the bar lines of a measure."""
        missing = bar_length(self.metre) - plan.length
        if missing:
            measure.showNumber = ShowNumber.NEVER
            if missing > 0 and not self._written_before and not self.measures:
                # Said outright, or readers would count a pick-up as a whole measure.
                measure.number, measure.paddingLeft = 0, opFrac(missing)
        if self.measures:
            if plan.metre is not None:
                measure.coreInsert(0, TimeSignature("{}/{}".format(*plan.metre)))
            if plan.sharps is not None:
                measure.coreInsert(0, _signature(plan.sharps, self._line.mode))
            if plan.tempo is not None:
                measure.coreInsert(0, _tempo(plan.tempo))
        if plan.repeat_starts:
            measure.leftBarline = Repeat("start")
        if plan.repeat_ends:
            measure.rightBarline = Repeat("end", times=plan.repeat_times if plan.repeat_times > 2 else None)
        elif plan.double_bar:
            measure.rightBarline = Barline("double")

    def _insert(self, at: Fraction, mark: Music21Object, *, ends: bool = False) -> None:
        """Put a mark at a moment of the line; one that ``ends`` something on a bar line stands before that."""
        begins = Fraction(0)
        last = len(self.measures) - 1
        for place, (measure, plan) in enumerate(zip(self.measures, self.plan, strict=True)):
            end = begins + plan.length
            if at < end or (at == end and (ends or place == last)):
                measure.insert(opFrac(at - begins), mark)
                return
            begins = end

    def _write_hairpin(self, hairpin: Hairpin) -> None:
        start, end = SpannerAnchor(), SpannerAnchor()
        self._insert(hairpin.at, start)
        self._insert(hairpin.until, end, ends=True)
        self._part.insert(0, (Crescendo if hairpin.grows else Diminuendo)(start, end))

    def _write_endings(self) -> None:
        bracket: list[stream.Measure] = []
        for plan, measure in zip(self.plan, self.measures, strict=True):
            bracket = [] if plan.ending_starts else bracket
            bracket += [measure] if plan.ending else []
            if plan.ending_stops and bracket:
                self._part.insert(0, RepeatBracket(bracket, number=plan.ending))

    def _write_phrases(self) -> None:
        """Begin a new system before each phrase of a tune or a progression."""
        if not (self._line.chords or self._line.measures):
            return
        before: Measure | None = None
        measures, metre = 0, self.metre
        for plan, measure in zip(self.plan, self.measures, strict=True):
            metre = plan.metre or metre
            phrase_ends = measures >= _MEASURES_IN_A_PHRASE or (before is not None and before.double_bar)
            if phrase_ends and any(isinstance(sign, Note) for sign in measure.elements):
                measure.insert(0, PhraseLayout(isNew=True))
                measures = 0
            pick_up = before is None and plan.length < bar_length(metre)
            measures += not pick_up
            before = plan


class _PartWriter:
    """Writes the lines of one study into a part, one after the other."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._part = stream.Part(id="P1")
        self._measures: list[stream.Measure] = []
        self._offset = Fraction(0)
        self._metre: Metre | None = None
        self._sharps: tuple[int, str] | None = None
        self._tempo: int | None = None

    def written(self) -> stream.Part:
        """Return the part, with everything that opens and closes it."""
        for number, line in enumerate(self._study.lines, start=1):
            self._write_line(number, line)
        self._part.coreElementsChanged()
        played = played_on(self._study.instrument)
        self._part.partName, self._part.partAbbreviation = played.partName, played.instrumentAbbreviation
        first = self._measures[0]
        first.insert(0, TrebleClef())
        if self._study.feel.swung:
            swing = _placed(SwingMark(ratio=self._study.feel.ratio), "above")
            swing.id = ids.SWING
            first.insert(0, swing)
        if not isinstance(self._measures[-1].rightBarline, Repeat):
            self._measures[-1].rightBarline = Barline("final")
        self._part.insert(0, played)
        self._part.atSoundingPitch = False
        return self._part

    def _write_line(self, number: int, line: Line) -> None:
        opening = line.measures[0] if line.measures else Measure(Fraction(0))
        metre = opening.metre or self._study.metre
        tempo = opening.tempo or self._study.tempo
        writer = _LineWriter(line, number, metre, self._part, len(self._measures))
        writer.write()
        first = writer.measures[0]
        first.id = ids.line(number)
        for text, kind, role in ((line.heading, StageHeading, ids.HEADING), (line.label, LineLabel, ids.LABEL)):
            if text:
                mark = _placed(kind(text), "above")
                mark.id = ids.mark(ids.line(number), role)
                mark.style.fontWeight = "bold"
                first.insert(0, mark)
        if self._sharps != (line.sharps, line.mode):
            first.insert(0, _signature(line.sharps, line.mode))
        if metre != self._metre:
            first.insert(0, TimeSignature("{}/{}".format(*metre)))
        if tempo != self._tempo:
            first.insert(0, _tempo(tempo))
        if self._measures:
            first.insert(0, SystemLayout(isNew=True))
        if not isinstance(writer.measures[-1].rightBarline, Repeat):
            writer.measures[-1].rightBarline = Barline("double")
        self._metre = writer.metre
        changes = [measure for measure in line.measures if measure.sharps is not None]
        self._sharps = (changes[-1].sharps or 0, line.mode) if changes else (line.sharps, line.mode)
        self._tempo = next((measure.tempo for measure in reversed(line.measures) if measure.tempo), tempo)
        for measure, plan in zip(writer.measures, writer.plan, strict=True):
            self._part.coreInsert(opFrac(self._offset), measure)
            self._offset += plan.length
        self._measures += writer.measures


def _placed(mark: Any, placement: str) -> Any:
    mark.placement = placement
    return mark


def _fermata() -> Fermata:
    fermata = Fermata()
    fermata.type = "upright"
    return fermata


def _tempo(tempo: int) -> MetronomeMark:
    return MetronomeMark(number=tempo, referent=Duration("quarter"))


def _duration(value: NoteValue) -> Duration:
    duration = Duration(type=value.name, dots=value.dots)
    if value.tuplet is not None:
        tuplet = ScoreTuplet(value.tuplet.actual, value.tuplet.normal, value.name)
        tuplet.type = {(True, True): "startStop", (True, False): "start", (False, True): "stop"}.get(
            (value.tuplet.starts, value.tuplet.stops)
        )
        tuplet.bracket = value.tuplet.bracket
        duration.appendTuplet(tuplet)
    return duration


def _signature(sharps: int, mode: str) -> KeySignature:
    return KeySignature(sharps).asKey(mode) if mode else KeySignature(sharps)


def _text(text: Text) -> Music21Object:
    if text.role == "dynamic":
        return Dynamic(text.text)
    if text.role == "rehearsal":
        return RehearsalMark(text.text)
    return _placed(TextExpression(text.text), "above" if text.above else "below")


def write_score(study: Study) -> stream.Score:
    """Write a study down: everything that its page shows is in the score, at written pitch.

    Notes, rests, the first measure of each line and the words about them have the ids of :mod:`etudegen.notation.ids`.
    """
    score = stream.Score(id="score")
    score.metadata = Metadata()
    score.metadata.title = study.title
    score.insert(0, score_layout(study.paper))
    for text in page_texts(study_texts(study), study.paper):
        score.insert(0, text)
    score.insert(0, _PartWriter(study).written())
    score.atSoundingPitch = False
    return score
