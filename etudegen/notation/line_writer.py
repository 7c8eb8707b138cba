"""One line of a study written into measures: notes, ties, beams, accidentals, and what stands over them."""

from collections.abc import Sequence
from fractions import Fraction

from music21 import stream
from music21.articulations import Accent, BreathMark, Fingering, Staccatissimo, Staccato, StrongAccent, Tenuto
from music21.bar import Barline, Repeat
from music21.base import Music21Object
from music21.common import opFrac
from music21.duration import Duration
from music21.dynamics import Crescendo, Diminuendo, Dynamic
from music21.meter import TimeSignature
from music21.note import Note
from music21.note import Rest as ScoreRest
from music21.spanner import MultiMeasureRest, Ottava, RepeatBracket, Slur, SpannerAnchor
from music21.stream.enums import ShowNumber
from music21.tie import Tie

from etudegen.notation import ids
from etudegen.notation.chords import lead_sheet_chord
from etudegen.notation.marks import (
    BrassBend,
    PartialNumber,
    PhraseLayout,
    Remark,
    RepeatTimes,
    SungLyric,
    TongueSyllable,
)
from etudegen.notation.pitch import score_pitch, show_accidentals
from etudegen.notation.rhythm import add_beams, add_tuplet_ends, duration_of, pieces
from etudegen.notation.signs import fermata_sign, key_signature, placed, tempo_mark, text_mark, written_duration
from etudegen.study import Grace, Hairpin, Line, Measure, Rest, Tone
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
# What a repeat sign means where nothing is said.
_TWICE = 2


class SheetMeasure(stream.Measure):  # type: ignore[misc]
    """A measure that puts its elements in music21's order with less ado: nothing is stored at its end."""

    def sort(self, force: bool = False) -> None:
        """Sort by offset, priority and class; what was put in first stands first."""
        if force or not self.isSorted:  # type: ignore[has-type]
            self._elements.sort(key=self._place_of)
            self.coreElementsChanged(updateIsFlat=False, clearIsSorted=False)
            self.isSorted = True

    def _place_of(self, element: Music21Object) -> tuple[float | Fraction, int, float, bool]:
        return self.elementOffset(element), element.priority, element.classSortOrder, not element.duration.isGrace


class LineWriter:
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
            self._insert(text.at, text_mark(text))
        for hairpin in self._hairpins:
            self._write_hairpin(hairpin)
        self._write_endings()
        self._write_phrases()
        self._write_times()

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
            duration = written_duration(tone.written) if tone.written else duration_of(length)
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
                note.expressions.append(fermata_sign())
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
            note.articulations.append(placed(Fingering(tone.fingering), "below"))
        note.articulations += [_MARKS[mark]() for mark in tone.marks]
        if tone.bent:
            note.articulations.append(placed(BrassBend(tone.bent), "above"))
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
                mark = placed(kind(text), "above")
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
            self._add_rest(written_duration(rest.written), rest.duration, name, fermata=rest.fermata)
            return
        left, whole, written = rest.duration, list[ScoreRest](), 0
        while left:
            length = self._measure.length
            piece = min(left, length - self._filled)
            for value in [piece] if piece == length else pieces(self._filled, piece, length):
                written += 1
                name_of_sign = ids.continued(name, written)
                sign = self._add_rest(duration_of(value), value, name_of_sign, whole=piece == length)
                whole += [sign] if piece == length else []
            left -= piece
        if rest.fermata and whole:
            whole[-1].expressions.append(fermata_sign())
        if len(whole) > 1:
            self._part.insert(0, MultiMeasureRest(*whole))

    def _add_rest(
        self, duration: Duration, lasts: Fraction, name: str, *, whole: bool = False, fermata: bool = False
    ) -> ScoreRest:
        rest = ScoreRest(duration=duration)
        rest.id = name
        rest.fullMeasure = whole
        rest.expressions += [fermata_sign()] if fermata else []
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
        measure = SheetMeasure(number=self._written_before + len(self.measures) + 1)
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
                measure.coreInsert(0, key_signature(plan.sharps, self._line.mode))
            if plan.tempo is not None:
                measure.coreInsert(0, tempo_mark(plan.tempo))
        if plan.repeat_starts:
            measure.leftBarline = Repeat("start")
        if plan.repeat_ends:
            measure.rightBarline = Repeat("end", times=plan.repeat_times if plan.repeat_times > _TWICE else None)
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

    def _write_times(self) -> None:
        """Say how often a repeated line is played, and anything else that is played more than twice."""
        for plan, measure in zip(self.plan, self.measures, strict=True):
            if plan.repeat_ends and (plan.repeat_times > _TWICE or self._line.times > 1):
                # Below: above stand chords and the number of a rest.
                mark = placed(RepeatTimes(f"{plan.repeat_times} times"), "below")
                if self._line.times > 1:
                    mark.id = ids.mark(ids.line(self._number), ids.TIMES)
                mark.style.fontStyle = "italic"
                measure.insert(opFrac(plan.length), mark)

    def _write_phrases(self) -> None:
        """Begin a new system before each phrase of a melody or a progression."""
        line = self._line
        if not (line.chords or len(line.texts) > 1 or len(line.measures) > 1):
            # What is said of the first measure alone is the tempo of an exercise, or how loud all of it is.
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
