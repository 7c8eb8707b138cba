"""A study written down as a music21 score: one part, measure by measure, at written pitch."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from music21 import stream
from music21.articulations import Accent, BreathMark, Fingering, Staccato, Tenuto
from music21.bar import Barline, Repeat
from music21.base import Music21Object
from music21.clef import TrebleClef
from music21.common import opFrac
from music21.duration import Duration
from music21.dynamics import Crescendo, Diminuendo, Dynamic
from music21.key import KeySignature
from music21.layout import SystemLayout
from music21.metadata import Metadata
from music21.meter import TimeSignature
from music21.note import Note, Rest
from music21.spanner import MultiMeasureRest, Ottava, Slur, SpannerAnchor
from music21.tempo import MetronomeMark
from music21.tie import Tie

from etudegen.notation.chords import lead_sheet_chord
from etudegen.notation.instrument import played_on
from etudegen.notation.marks import (
    BrassBend,
    LineLabel,
    PartialNumber,
    PhraseLayout,
    Remark,
    StageHeading,
    SwingMark,
)
from etudegen.notation.page import page_texts, score_layout, study_texts
from etudegen.notation.pitch import score_pitch, show_accidentals
from etudegen.notation.rhythm import add_beams, add_tuplet_ends, pieces
from etudegen.study import Line, Study, Tone
from etudegen.theory.articulation import Mark

_MARKS = {Mark.STACCATO: Staccato, Mark.TENUTO: Tenuto, Mark.ACCENT: Accent}
_SMALL_POINTS = 7
# Common practice, no source: changes are read four bars to a system.
_BARS_IN_A_PHRASE = 4


class _PartWriter:
    """Writes the lines of one study into a part, one measure after the other."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._signature = f"{int(study.bar)}/4"
        self._part = stream.Part(id="P1")
        self._signs: list[Note | Rest] = []
        self._marks: list[tuple[Fraction, Music21Object]] = []
        self._filled = Fraction(0)
        self._sharps: int | None = None
        self._standing: dict[tuple[str, int], int] = {}
        self._slur_start: Note | None = None
        self._under_bracket: list[Note] = []
        self._line_measures: list[stream.Measure] = []
        self._measures: list[stream.Measure] = []

    def written(self) -> stream.Part:
        for line in self._study.lines:
            self._write_line(line)
        played = played_on(self._study.instrument)
        self._part.partName, self._part.partAbbreviation = played.partName, played.instrumentAbbreviation
        first = self._measures[0]
        for mark in (
            TrebleClef(),
            TimeSignature(self._signature),
            MetronomeMark(number=self._study.tempo, referent=Duration("quarter")),
            *([_placed(SwingMark("Swing"), "above")] if self._study.swing else []),
        ):
            first.insert(0, mark)
        if not isinstance(self._measures[-1].rightBarline, Repeat):
            self._measures[-1].rightBarline = Barline("final")
        self._part.insert(0, played)
        for number, measure in enumerate(self._measures):
            self._part.coreInsert(opFrac(number * self._study.bar), measure)
        self._part.coreElementsChanged()
        self._part.atSoundingPitch = False
        return self._part

    def _write_line(self, line: Line) -> None:
        self._line_measures = []
        changes = self._sharps != line.sharps
        # A new line is a new thought: what was bent in the last one needs no reminder.
        self._standing = {}
        self._sharps = line.sharps
        for event in line.events:
            if isinstance(event, Tone):
                self._write_tone(event)
            else:
                self._write_rest(event.duration)
        if self._under_bracket:
            self._close_bracket()
        first = self._line_measures[0]
        for text, kind in ((line.heading, StageHeading), (line.label, LineLabel)):
            if text:
                mark = _placed(kind(text), "above")
                mark.style.fontWeight = "bold"
                first.insert(0, mark)
        if changes:
            first.insert(0, KeySignature(line.sharps))
        if self._measures:
            first.insert(0, SystemLayout(isNew=True))
        self._line_measures[-1].rightBarline = Barline("double")
        if line.chords:
            self._write_changes(line)
        self._measures += self._line_measures

    def _write_changes(self, line: Line) -> None:
        """Put chord symbols and repeats into the bars of a line, and a new system before each phrase."""
        for at, symbol in line.chords:
            bar, within = divmod(at, self._study.bar)
            self._line_measures[int(bar)].insert(opFrac(within), lead_sheet_chord(symbol))
        for at, sign in line.repeats:
            bar = int(at / self._study.bar)
            if sign == "start":
                self._line_measures[bar].leftBarline = Repeat("start")
            else:
                self._line_measures[bar - 1].rightBarline = Repeat("end")
        for measure in self._line_measures[_BARS_IN_A_PHRASE::_BARS_IN_A_PHRASE]:
            if any(isinstance(sign, Note) for sign in measure.elements):
                measure.insert(0, PhraseLayout(isNew=True))

    def _write_tone(self, tone: Tone) -> None:
        cut = pieces(self._filled, tone.duration, self._study.bar)
        swell = _Swell(tone.duration) if tone.swell else None
        for place, piece in enumerate(cut):
            note = Note(pitch=score_pitch(tone.pitch), duration=Duration(opFrac(piece)))
            if tone.slash:
                note.notehead, note.stemDirection = "slash", "noStem"
            last = place + 1 == len(cut)
            if len(cut) > 1:
                note.tie = Tie("start" if place == 0 else "stop" if last else "continue")
            if place == 0:
                self._mark(tone, note)
            if last and tone.breath:
                note.articulations.append(BreathMark())
            if swell:
                self._marks += swell.anchors(note, self._filled, piece)
            if last and not tone.slurred and self._slur_start is not None:
                self._part.insert(0, Slur(self._slur_start, note))
                self._slur_start = None
            self._bracket(note, wanted=tone.octave_bracket)
            self._add(note)
        if swell:
            for wedge in swell.wedges():
                self._part.insert(0, wedge)

    def _mark(self, tone: Tone, note: Note) -> None:
        """Put on the first written note of a tone what is printed at it."""
        if tone.slurred and self._slur_start is None:
            self._slur_start = note
        if tone.fingering:
            note.articulations.append(_placed(Fingering(tone.fingering), "below"))
        note.articulations += [_MARKS[mark]() for mark in tone.marks]
        if tone.bent:
            note.articulations.append(_placed(BrassBend(tone.bent), "above"))
        if tone.syllable:
            note.addLyric(tone.syllable)
        if tone.dynamic:
            self._marks.append((self._filled, Dynamic(tone.dynamic)))
        for text, kind in ((tone.partial_number, PartialNumber), (tone.remark, Remark)):
            if text:
                mark = _placed(kind(text), "above")
                mark.style.fontStyle, mark.style.fontSize = "italic", _SMALL_POINTS
                self._marks.append((self._filled, mark))

    def _bracket(self, note: Note, *, wanted: bool) -> None:
        if wanted:
            self._under_bracket.append(note)
        elif self._under_bracket:
            self._close_bracket()

    def _close_bracket(self) -> None:
        # Every note is put under the bracket: music21 reads one of the first and the last as moving only those.
        self._part.insert(0, Ottava(*self._under_bracket, type="8vb", transposing=False))
        self._under_bracket = []

    def _write_rest(self, duration: Fraction) -> None:
        if self._under_bracket:
            self._close_bracket()
        # First to the barline, then the whole bars as one counted rest, then what is left.
        opening = min(duration, -self._filled % self._study.bar)
        self._write_beats_of_rest(opening)
        bars, closing = divmod(duration - opening, self._study.bar)
        if bars:
            self._write_bars_of_rest(int(bars))
        self._write_beats_of_rest(closing)

    def _write_beats_of_rest(self, duration: Fraction) -> None:
        for piece in pieces(self._filled, duration, self._study.bar):
            self._add(Rest(duration=Duration(opFrac(piece))))

    def _write_bars_of_rest(self, bars: int) -> None:
        rests = []
        for _ in range(bars):
            rest = Rest(duration=Duration(opFrac(self._study.bar)))
            rest.fullMeasure = True
            rests.append(rest)
            self._add(rest)
        if bars > 1:
            self._part.insert(0, MultiMeasureRest(*rests))

    def _add(self, sign: Note | Rest) -> None:
        self._signs.append(sign)
        self._filled += Fraction(sign.quarterLength)
        if self._filled == self._study.bar:
            self._close_measure()

    def _close_measure(self) -> None:
        add_beams(self._signature, self._signs)
        add_tuplet_ends(self._signs)
        self._standing = show_accidentals(self._signs, self._sharps or 0, self._standing)
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


class _Swell:
    """The two hairpins of a tone that may be written as several tied notes: up to its middle, down to its end."""

    def __init__(self, duration: Fraction) -> None:
        self._middle, self._end = duration / 2, duration
        self._done = Fraction(0)
        self._first: Note | None = None
        self._peak, self._last = SpannerAnchor(), SpannerAnchor()

    def anchors(self, note: Note, offset: Fraction, piece: Fraction) -> Iterator[tuple[Fraction, Music21Object]]:
        """Yield the anchors that fall into one written note, with their offsets in its bar."""
        if self._first is None:
            self._first = note
        start, self._done = self._done, self._done + piece
        if start < self._middle <= self._done:
            yield offset + self._middle - start, self._peak
        if self._done == self._end:
            yield offset + piece, self._last

    def wedges(self) -> tuple[Crescendo, Diminuendo]:
        """Return the hairpins, once all notes are written."""
        return Crescendo(self._first, self._peak), Diminuendo(self._peak, self._last)


def _placed(mark: Any, placement: str) -> Any:
    mark.placement = placement
    return mark


def write_score(study: Study) -> stream.Score:
    """Write a study down: everything that its page shows is in the score, at written pitch."""
    score = stream.Score(id="score")
    score.metadata = Metadata()
    score.metadata.title = study.title
    score.insert(0, score_layout(study.paper))
    for text in page_texts(study_texts(study), study.paper):
        score.insert(0, text)
    score.insert(0, _PartWriter(study).written())
    score.atSoundingPitch = False
    return score
