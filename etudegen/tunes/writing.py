"""Tunes in several keys written down as one music21 score: one part, a section for each key."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from music21 import stream
from music21.articulations import (
    Accent,
    BreathMark,
    Fingering,
    Staccatissimo,
    Staccato,
    StrongAccent,
    Tenuto,
)
from music21.bar import Barline, Repeat
from music21.base import Music21Object
from music21.clef import TrebleClef
from music21.common import opFrac
from music21.duration import Duration, Tuplet
from music21.dynamics import Crescendo, Diminuendo, Dynamic
from music21.expressions import Fermata, RehearsalMark, TextExpression
from music21.key import Key
from music21.layout import SystemLayout
from music21.metadata import Metadata
from music21.meter import TimeSignature
from music21.note import Note, Rest
from music21.spanner import RepeatBracket, Slur, SpannerAnchor
from music21.stream.enums import ShowNumber
from music21.tempo import MetronomeMark
from music21.tie import Tie

from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.fingerings import ordinary
from etudegen.notation.chords import LeadSheetChord, NoLeadSheetChord
from etudegen.notation.instrument import played_on
from etudegen.notation.marks import LineLabel, PageRole, PhraseLayout, SungLyric
from etudegen.notation.page import page_texts, score_layout
from etudegen.notation.pitch import score_pitch, show_accidentals
from etudegen.notation.rhythm import add_beams
from etudegen.study import Paper
from etudegen.theory.rhythm import bar_length
from etudegen.tunes.placing import Placed
from etudegen.tunes.tune import Bar, Chord, Event, Melody, Text

_MARKS = {
    "staccato": Staccato, "staccatissimo": Staccatissimo, "tenuto": Tenuto, "accent": Accent,
    "strong-accent": StrongAccent, "breath-mark": BreathMark,
}  # fmt: skip
# Common practice, no source: tunes are read four bars to a system.
_BARS_IN_A_PHRASE = 4
_RELATIVE_MINOR = 3


@dataclass(frozen=True, slots=True)
class TuneSheet:
    """What a sheet of tunes is made of: the tunes, who plays them, and what the page says.

    ``fingerings`` is every, changes or none.
    """

    tunes: tuple[Placed, ...]
    instrument: Instrument
    paper: Paper
    fingerings: str
    texts: Mapping[PageRole, str]


class _PartWriter:
    """Writes tunes into one part, one after the other."""

    def __init__(self, sheet: TuneSheet) -> None:
        self._sheet = sheet
        self._part = stream.Part(id="P1")
        self._measures: list[stream.Measure] = []
        self._offset = Fraction(0)
        self._metre: tuple[int, int] | None = None
        self._tempo: int | None = None
        self._valves = ""

    def written(self) -> stream.Part:
        for tune in self._sheet.tunes:
            self._write_tune(tune)
        first = self._measures[0]
        first.insert(0, TrebleClef())
        self._measures[-1].rightBarline = self._measures[-1].rightBarline or Barline("final")
        if not isinstance(self._measures[-1].rightBarline, Repeat):
            self._measures[-1].rightBarline = Barline("final")
        played = played_on(self._sheet.instrument)
        self._part.partName, self._part.partAbbreviation = played.partName, played.instrumentAbbreviation
        self._part.insert(0, played)
        self._part.atSoundingPitch = False
        return self._part

    def _write_tune(self, tune: Placed) -> None:
        melody = tune.melody
        started = len(self._measures)
        sharps, standing, self._valves = 0, dict[tuple[str, int], int](), ""
        slurs: list[Note] = []
        phrase = 0
        pick_up = melody.bars[0].length < bar_length(melody.bars[0].metre or (4, 4))
        for place, bar in enumerate(melody.bars):
            sharps = bar.sharps if bar.sharps is not None else sharps
            if place == 0:
                # Every key says its signature, and the metre where the last key ended in another one.
                opening = bar.metre or (4, 4)
                bar = replace(bar, sharps=sharps, metre=None if opening == self._metre else opening)
            signs = [self._sign(event) for event in bar.events]
            for event, sign in zip(bar.events, signs, strict=True):
                if event.slur_stops and slurs:
                    self._part.insert(0, Slur(slurs.pop(), sign))
                if event.slur_starts and isinstance(sign, Note):
                    slurs.append(sign)
            metre = bar.metre or self._metre or (4, 4)
            self._beam(bar, signs, metre)
            standing = show_accidentals(signs, sharps, standing)
            measure = self._measure(bar, signs, melody, metre)
            if place == 0:
                label = LineLabel(tune.key)
                label.placement, label.style.fontWeight = "above", "bold"
                measure.insert(0, label)
                if self._measures:
                    measure.insert(0, SystemLayout(isNew=True))
            elif phrase == _BARS_IN_A_PHRASE or melody.bars[place - 1].double_bar:
                measure.insert(0, PhraseLayout(isNew=True))
                phrase = 0
            phrase += not (place == 0 and pick_up)
            if (place == 0 and pick_up) or bar.length != bar_length(metre):
                measure.showNumber = ShowNumber.NEVER
            if bar.metre is not None:
                self._metre = bar.metre
            self._add(measure, bar.length)
        self._write_spans(melody, self._measures[started:])
        last = self._measures[-1]
        if not isinstance(last.rightBarline, Repeat):
            last.rightBarline = Barline("double")

    def _add(self, measure: stream.Measure, length: Fraction) -> None:
        self._part.coreInsert(opFrac(self._offset), measure)
        self._part.coreElementsChanged()
        self._offset += length
        self._measures.append(measure)

    def _sign(self, event: Event) -> Note | Rest:
        duration = Duration(opFrac(event.duration)) if event.whole_bar else Duration(type=event.value, dots=event.dots)
        if event.place is not None:
            tuplet = Tuplet(event.place.actual, event.place.normal, event.value)
            tuplet.type = {(True, True): "startStop", (True, False): "start", (False, True): "stop"}.get(
                (event.place.starts, event.place.stops)
            )
            tuplet.bracket = event.place.bracket
            duration.appendTuplet(tuplet)
        if event.pitch is None:
            rest = Rest(duration=duration)
            rest.fullMeasure = event.whole_bar
            rest.expressions += [Fermata()] if "fermata" in event.marks else []
            return rest
        note = Note(pitch=score_pitch(event.pitch), duration=duration)
        if event.slash:
            note.notehead, note.stemDirection = "slash", "noStem"
        if event.grace:
            note = note.getGrace()
            note.duration.slash = event.slashed
        if event.tie:
            note.tie = Tie(event.tie)
        for kind in event.beams:
            note.beams.append(*kind.split("-"))
        note.articulations += [_MARKS[mark]() for mark in event.marks if mark in _MARKS]
        note.expressions += [Fermata()] if "fermata" in event.marks else []
        note.lyrics += [SungLyric(each.text, each.verse, syllabic=each.syllabic) for each in event.lyrics]
        self._finger(event, note)
        return note

    def _finger(self, event: Event, note: Note) -> None:
        if self._sheet.fingerings == "none" or event.tie in ("stop", "continue") or event.pitch is None:
            return
        if event.grace or event.slash:
            return
        resonance = ordinary(event.pitch)
        valves = str(resonance.valves) if resonance else ""
        if valves and (self._sheet.fingerings == "every" or valves != self._valves):
            fingering = Fingering(valves)
            fingering.placement = "below"
            note.articulations.append(fingering)
        self._valves = valves or self._valves

    def _beam(self, bar: Bar, signs: Sequence[Note | Rest], metre: tuple[int, int]) -> None:
        """Beam a bar whose file says nothing of beams."""
        timed = [sign for event, sign in zip(bar.events, signs, strict=True) if not event.grace]
        if not any(event.beams for event in bar.events) and bar.length == bar_length(metre):
            add_beams("{}/{}".format(*metre), timed)

    def _measure(
        self, bar: Bar, signs: Sequence[Note | Rest], melody: Melody, metre: tuple[int, int]
    ) -> stream.Measure:
        measure = stream.Measure(number=len(self._measures) + 1)
        missing = bar_length(metre) - bar.length
        if missing > 0 and not self._measures:
            # Said outright, or readers would count a pick-up as a whole bar.
            measure.number, measure.paddingLeft = 0, opFrac(missing)
        if bar.metre is not None:
            measure.coreInsert(0, TimeSignature("{}/{}".format(*bar.metre)))
        if bar.sharps is not None:
            measure.coreInsert(0, _signature(bar.sharps, melody))
        if bar.tempo is not None and bar.tempo != self._tempo:
            self._tempo = bar.tempo
            measure.coreInsert(0, MetronomeMark(number=bar.tempo, referent=Duration("quarter")))
        for chord in bar.chords:
            measure.coreInsert(opFrac(chord.at), _symbol(chord))
        for text in bar.texts:
            measure.coreInsert(opFrac(text.at), _text(text))
        for event, sign in zip(bar.events, signs, strict=True):
            measure.coreInsert(opFrac(event.at), sign)
        measure.coreElementsChanged()
        if bar.repeat_starts:
            measure.leftBarline = Repeat("start")
        if bar.repeat_ends:
            measure.rightBarline = Repeat("end", times=bar.repeat_times if bar.repeat_times > 2 else None)
        elif bar.double_bar:
            measure.rightBarline = Barline("double")
        return measure

    def _write_spans(self, melody: Melody, measures: Sequence[stream.Measure]) -> None:
        """Write endings and hairpins, which reach over bars."""
        bracket: list[stream.Measure] = []
        for bar, measure in zip(melody.bars, measures, strict=True):
            if bar.ending_starts:
                bracket = []
            if bar.ending:
                bracket.append(measure)
            if bar.ending_stops and bracket:
                self._part.insert(0, RepeatBracket(bracket, number=bar.ending))
        for wedge in melody.wedges:
            anchors = []
            for place, at in (wedge.start, wedge.end):
                anchor = SpannerAnchor()
                measures[place].insert(opFrac(at), anchor)
                anchors.append(anchor)
            self._part.insert(0, (Crescendo if wedge.grows else Diminuendo)(*anchors))


def _signature(sharps: int, melody: Melody) -> Key:
    fifths = sharps + (_RELATIVE_MINOR if melody.minor else 0)
    names = "FCGDAEB"
    place = fifths + 1
    tonic = names[place % 7] + ("#" * (place // 7) if place >= 0 else "-" * -(place // 7))
    return Key(tonic, "minor" if melody.minor else "major")


def _symbol(chord: Chord) -> LeadSheetChord | NoLeadSheetChord:
    if chord.root is None:
        return NoLeadSheetChord()
    return LeadSheetChord(chord.root, chord.suffix, chord.bass, chord.kind, chord.degrees, chord.half_steps)


def _text(text: Text) -> Music21Object:
    if text.role == "dynamic":
        return Dynamic(text.text)
    if text.role == "rehearsal":
        return RehearsalMark(text.text)
    words = TextExpression(text.text)
    words.placement = "above" if text.above else "below"
    return words


def with_tempo(melody: Melody, tempo: int) -> Melody:
    """Return a tune at a tempo: where it changes it, in the same proportion."""
    own = melody.bars[0].tempo
    ratio = Fraction(tempo, own) if own else Fraction(1)
    bars = [replace(bar, tempo=round(bar.tempo * ratio) if bar.tempo else None) for bar in melody.bars]
    return replace(melody, bars=(replace(bars[0], tempo=tempo), *bars[1:]))


def write_tunes(sheet: TuneSheet) -> stream.Score:
    """Write tunes down: everything that their pages show is in the score, at written pitch."""
    score = stream.Score(id="score")
    score.metadata = Metadata()
    score.metadata.title = sheet.texts[PageRole.TITLE]
    score.insert(0, score_layout(sheet.paper))
    for text in page_texts(sheet.texts, sheet.paper):
        score.insert(0, text)
    score.insert(0, _PartWriter(sheet).written())
    score.atSoundingPitch = False
    return score
