"""Reads a score for the engraver: nothing is decided here, only looked up."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Any

from music21 import stream
from music21.articulations import Accent, BreathMark, Fingering, Staccatissimo, Staccato, StrongAccent, Tenuto
from music21.bar import Repeat
from music21.clef import Clef
from music21.duration import typeToDuration
from music21.dynamics import Diminuendo, Dynamic, DynamicWedge
from music21.expressions import Fermata, RehearsalMark, TextExpression
from music21.key import KeySignature
from music21.layout import ScoreLayout, SystemLayout
from music21.meter import TimeSignature
from music21.note import GeneralNote, Note, Rest
from music21.spanner import MultiMeasureRest, Ottava, RepeatBracket, Slur
from music21.tempo import MetronomeMark

from etudegen.engraving.page import ChordName, Measure, Page, Sign, Syllable, Tuplet
from etudegen.notation.chords import NO_CHORD, LeadSheetChord, NoLeadSheetChord
from etudegen.notation.marks import (
    BrassBend,
    LineLabel,
    PageText,
    PartialNumber,
    PhraseLayout,
    Remark,
    RepeatTimes,
    StageHeading,
    SungLyric,
    SwingMark,
)
from etudegen.notation.page import paper_of
from etudegen.study import Paper

_QUARTERS_IN_WHOLE = 4
_MARKS = {
    Staccato: "staccato", Tenuto: "tenuto", Accent: "accent", Staccatissimo: "staccatissimo", StrongAccent: "marcato",
}  # fmt: skip
_PAPERS = {Paper.A4: "a4", Paper.LETTER: "letter"}


def _tuplet(sign: GeneralNote) -> Tuplet | None:
    if not sign.duration.tuplets:
        return None
    tuplet = sign.duration.tuplets[0]
    return Tuplet(
        actual=tuplet.numberNotesActual,
        normal=tuplet.numberNotesNormal,
        starts=tuplet.type in ("start", "startStop"),
        stops=tuplet.type in ("stop", "startStop"),
        bracket=bool(tuplet.bracket),
    )


def _written_value(sign: GeneralNote) -> Fraction:
    # Grace notes last no time: their written value is that of their type.
    quarters = Fraction(typeToDuration[sign.duration.type] if sign.duration.isGrace else sign.quarterLength)
    for tuplet in sign.duration.tuplets:
        quarters *= Fraction(tuplet.numberNotesActual, tuplet.numberNotesNormal)
    return quarters / _QUARTERS_IN_WHOLE


def _of_class(elements: Iterable[Any], kind: type) -> list[Any]:
    return [element for element in elements if isinstance(element, kind)]


def _at(sign: GeneralNote, dynamics: Iterable[tuple[Fraction, str]], words: Iterable[Any]) -> dict[str, Any]:
    """Return the dynamics and words that fall within a sign."""
    begins, ends = Fraction(sign.offset), Fraction(sign.offset) + Fraction(sign.quarterLength)
    return {
        "dynamics": tuple(
            ((at - begins) / _QUARTERS_IN_WHOLE, command)
            for at, command in dynamics
            # A hairpin ends with the note it leads to the end of, anything else begins with one.
            if (begins < at <= ends if command == "!" else begins <= at < ends)
        ),
        "words": tuple(
            (str(text.content), text.placement != "below") for text in words if begins <= text.offset < ends
        ),
    }


def _sung(note: Note) -> Iterator[tuple[int, Syllable]]:
    for lyric in note.lyrics:
        if isinstance(lyric, SungLyric):
            yield int(lyric.number), Syllable(str(lyric.text), lyric.syllabic in ("begin", "middle"))


def _grace(note: Note) -> str:
    if not note.duration.isGrace:
        return ""
    return "slashed" if note.duration.slash else "plain"


def _chord_name(chord: LeadSheetChord | NoLeadSheetChord) -> ChordName:
    at = Fraction(chord.offset) / _QUARTERS_IN_WHOLE
    if isinstance(chord, NoLeadSheetChord):
        return ChordName(at, NO_CHORD, "")
    bass = "" if chord.bass_pitch is None else chord.bass_pitch.pretty_name
    return ChordName(at, chord.root_pitch.pretty_name, chord.suffix, bass)


class _Reader:
    """Reads one part, knowing which notes its slurs, brackets, hairpins and counted rests begin and end on."""

    def __init__(self, part: stream.Part) -> None:
        self._part = part
        slurs = list(part.getElementsByClass(Slur))
        self._slur_starts = {id(slur.getFirst()) for slur in slurs}
        self._slur_stops = {id(slur.getLast()) for slur in slurs}
        brackets = list(part.getElementsByClass(Ottava))
        self._bracket_starts = {id(bracket.getFirst()) for bracket in brackets}
        self._bracket_stops = {id(bracket.getLast()) for bracket in brackets}
        self._counted = {id(rest): counted for counted in part.getElementsByClass(MultiMeasureRest) for rest in counted}
        brackets = list(part.getElementsByClass(RepeatBracket))
        self._ending_starts = {id(bracket.getFirst()): f"{bracket.number}." for bracket in brackets}
        self._ending_stops = {id(bracket.getLast()) for bracket in brackets}
        self._hairpins: dict[int, list[str]] = {}
        wedges = list(part.getElementsByClass(DynamicWedge))
        starts = {wedge.getFirst().getOffsetInHierarchy(part) for wedge in wedges}
        for wedge in wedges:
            self._hairpins.setdefault(id(wedge.getFirst()), []).append(">" if isinstance(wedge, Diminuendo) else "<")
            # One that another follows at once ends by that, and both lie on one line.
            if wedge.getLast().getOffsetInHierarchy(part) not in starts:
                self._hairpins.setdefault(id(wedge.getLast()), []).insert(0, "!")

    def measures(self) -> tuple[Measure, ...]:
        return tuple(read for measure in self._part.getElementsByClass(stream.Measure) for read in self._read(measure))

    def _read(self, measure: stream.Measure) -> list[Measure]:
        # Looked through once: a stream's own search costs more than all the rest of the reading.
        elements = measure.elements
        signs = [element for element in elements if isinstance(element, (Note, Rest))]
        rest_bars = 0
        barline = measure.rightBarline
        last = measure
        if len(signs) == 1 and signs[0].isRest and signs[0].fullMeasure:
            counted = self._counted.get(id(signs[0]))
            if counted is not None and not counted.isFirst(signs[0]):
                return []
            rest_bars = len(counted) if counted is not None else 1
            if counted is not None:
                last = counted.getLast().getContextByClass(stream.Measure)
                barline = last.rightBarline
        texts = {type(text): str(text.content) for text in _of_class(elements, TextExpression)}
        tempo = next(iter(_of_class(elements, MetronomeMark)), None)
        return [
            Measure(
                signs=() if rest_bars else self._signs(elements, signs),
                rest_bars=rest_bars,
                new_system=any(type(layout) is SystemLayout for layout in elements),
                new_phrase=any(isinstance(layout, PhraseLayout) for layout in elements),
                label=texts.get(LineLabel, ""),
                heading=texts.get(StageHeading, ""),
                times=next((str(text.content) for text in last.getElementsByClass(RepeatTimes)), ""),
                barline="" if barline is None or isinstance(barline, Repeat) else str(barline.type),
                clef=next((clef.name for clef in _of_class(elements, Clef)), ""),
                sharps=next((key.sharps for key in _of_class(elements, KeySignature)), None),
                metre=next(((time.numerator, time.denominator) for time in _of_class(elements, TimeSignature)), None),
                tempo=None if tempo is None else round(tempo.getQuarterBPM()),
                swing=SwingMark in texts,
                repeat_starts=isinstance(measure.leftBarline, Repeat),
                repeat_ends=isinstance(barline, Repeat),
                ending=self._ending_starts.get(id(measure), ""),
                ending_stops=id(measure) in self._ending_stops,
                rehearsal=next((str(mark.content) for mark in _of_class(elements, RehearsalMark)), ""),
                chords=tuple(
                    _chord_name(each) for each in elements if isinstance(each, (LeadSheetChord, NoLeadSheetChord))
                ),
            )
        ]

    def _signs(self, elements: Sequence[Any], signs: Sequence[Any]) -> tuple[Sign, ...]:
        numbers = {number.offset: str(number.content) for number in _of_class(elements, PartialNumber)}
        remarks = {remark.offset: str(remark.content) for remark in _of_class(elements, Remark)}
        words = [text for text in elements if type(text) is TextExpression]
        dynamics = self._dynamics(elements)
        read = []
        for sign in signs:
            texts: dict[str, Any] = {}
            if numbers or remarks:
                texts |= {"partial_number": numbers.get(sign.offset, ""), "remark": remarks.get(sign.offset, "")}
            if dynamics or words:
                texts |= _at(sign, dynamics, words)
            if isinstance(sign, Note):
                read.append(self._note(sign, **texts))
            else:
                marks = ("fermata",) if sign.expressions else ()
                read.append(Sign(None, _written_value(sign), _tuplet(sign), marks=marks, **texts))
        return tuple(read)

    def _dynamics(self, elements: Sequence[Any]) -> list[tuple[Fraction, str]]:
        """Return the dynamics of a bar with their offsets in quarter notes; a hairpin ends before one begins."""
        found = [(Fraction(mark.offset), str(mark.value)) for mark in _of_class(elements, Dynamic)]
        for element in elements:
            if id(element) in self._hairpins:
                found += [(Fraction(element.offset), command) for command in self._hairpins[id(element)]]
        return sorted(found, key=lambda each: each[0])

    def _note(self, note: Note, **texts: Any) -> Sign:
        beam = note.beams.getTypes()[0] if note.beams else ""
        fingerings = (mark.fingerNumber for mark in note.articulations if isinstance(mark, Fingering))
        return Sign(
            pitch=(note.pitch.step, int(note.pitch.alter), note.pitch.implicitOctave),
            value=_written_value(note),
            tuplet=_tuplet(note),
            tied=note.tie is not None and note.tie.type in ("start", "continue"),
            slur_starts=id(note) in self._slur_starts,
            slur_stops=id(note) in self._slur_stops,
            beam={"start": "[", "stop": "]"}.get(beam, ""),
            fingering=str(next(fingerings, "")),
            marks=(
                *(_MARKS[type(mark)] for mark in note.articulations if type(mark) in _MARKS),
                *("fermata" for expression in note.expressions if isinstance(expression, Fermata)),
            ),
            syllable=next((str(lyric.text) for lyric in note.lyrics if not isinstance(lyric, SungLyric)), ""),
            sung=tuple(_sung(note)) if note.lyrics else (),
            grace=_grace(note),
            shows_accidental=bool(note.pitch.accidental and note.pitch.accidental.displayStatus),
            bent=any(isinstance(mark, BrassBend) for mark in note.articulations),
            breath=any(isinstance(mark, BreathMark) for mark in note.articulations),
            slash=note.notehead == "slash",
            bracket_starts=id(note) in self._bracket_starts,
            bracket_stops=id(note) in self._bracket_stops,
            **texts,
        )


def read_page(score: stream.Score) -> Page:
    """Return what a one-part score prints."""
    return Page(
        title=score.metadata.title or "",
        texts={str(text.role): text.content for text in score.getElementsByClass(PageText)},
        paper=_PAPERS[paper_of(score.getElementsByClass(ScoreLayout)[0])],
        measures=_Reader(score.parts[0]).measures(),
    )
