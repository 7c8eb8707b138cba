"""From a checked MusicXML document to the lines of a study, through music21's importer."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest
from typing import Any, TypeVar
from xml.etree.ElementTree import Element

from music21 import stream
from music21.bar import Repeat
from music21.dynamics import Diminuendo, Dynamic, DynamicWedge
from music21.expressions import Fermata, RehearsalMark, TextExpression
from music21.harmony import CHORD_ALIASES, ChordSymbol, NoChord
from music21.key import Key, KeySignature
from music21.meter import TimeSignature
from music21.musicxml.xmlToM21 import MusicXMLImporter
from music21.note import GeneralNote, Note, Rest
from music21.repeat import RepeatExpression
from music21.spanner import RepeatBracket, Slur
from music21.tempo import MetronomeMark

from etudegen.errors import InputError
from etudegen.notation.as_read import ReadHairpin, ReadMeasure, ReadNote
from etudegen.notation.completing import completed_hairpins, completed_measures
from etudegen.notation.lines import lines_of
from etudegen.notation.own_marks import NoteMarks, OwnMarks, take_own_marks
from etudegen.plain_text import printable
from etudegen.study import Line, Lyric, Measure, Text, Tuplet
from etudegen.theory import symbols as theory
from etudegen.theory.chords import Quality, qualities, quality_of_kind
from etudegen.theory.degrees import Degree
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Metre
from etudegen.theory.swing import EVEN, FINEST_RATIO, MOST, SWUNG, Feel
from etudegen.theory.tempo import USUAL_TEMPO

T = TypeVar("T")
_MARKS = {
    "Staccato": "staccato", "Staccatissimo": "staccatissimo", "Spiccato": "staccatissimo", "Tenuto": "tenuto",
    "Accent": "accent", "StrongAccent": "strong-accent", "BreathMark": "breath-mark",
}  # fmt: skip
_LONGEST_TEXT = 80
_MOST_ALTERED = 2
_ROOT = Degree(1, 0)


def _of(elements: Iterable[Any], kind: type[T]) -> list[T]:
    return [element for element in elements if isinstance(element, kind)]


def _pitch(given: Any, where: str) -> WrittenPitch:
    alter = given.accidental.alter if given.accidental is not None else 0
    if alter != int(alter) or abs(alter) > _MOST_ALTERED:
        raise InputError(f"{where} holds {given.unicodeNameWithOctave}: quarter tones and triple accidentals cannot be")
    return WrittenPitch(given.step, int(alter), given.implicitOctave)


def _tuplet(note: GeneralNote, where: str) -> Tuplet | None:
    tuplets = note.duration.tuplets
    if not tuplets:
        return None
    if len(tuplets) > 1:
        raise InputError(f"{where} holds a tuplet inside a tuplet: only simple tuplets can be moved")
    tuplet = tuplets[0]
    starts, stops = tuplet.type in ("start", "startStop"), tuplet.type in ("stop", "startStop")
    return Tuplet(tuplet.numberNotesActual, tuplet.numberNotesNormal, starts, stops, bool(tuplet.bracket))


def _quality(kind: str, degrees: tuple[tuple[int, int, str], ...], suffix: str) -> Quality:
    """Return what is known of a kind of chord with its degrees changed so, else of the kind alone, else a bare root.

    It is printed as the file has it.
    """
    known = quality_of_kind(kind, degrees) or next((each for each in qualities() if each.kind == kind), None)
    if known is None:
        return Quality(kind, (_ROOT,), suffix, None, (), kind, degrees, "chromatic", (_ROOT, _ROOT))
    return replace(known, symbol=suffix or known.symbol, kind=kind, altered=degrees)


class _Reader:
    """Reads one part, knowing which notes its slurs begin and end on and which bars its endings hold."""

    def __init__(self, part: stream.Part, file: str, own: OwnMarks) -> None:
        self._part, self._file, self._own = part, file, own
        self.lost: list[str] = []
        self._slur_starts, self._slur_stops = self._slurs()
        self._measures = list(part.getElementsByClass(stream.Measure))
        self._endings: dict[int, tuple[str, bool, bool]] = {}
        for bracket in part.recurse().getElementsByClass(RepeatBracket):
            bars = [id(measure) for measure in bracket.getSpannedElements()]
            for place, bar in enumerate(bars):
                self._endings[bar] = (str(bracket.number), place == 0, place + 1 == len(bars))

    def _slurs(self) -> tuple[set[int], set[int]]:
        """Return the ids of the notes where slurs start and stop: one at a time, from note to note."""
        signs = [sign for sign in self._part.recurse() if isinstance(sign, (Note, Rest))]
        places = {id(sign): place for place, sign in enumerate(signs)}
        pairs = []
        for slur in self._part.recurse().getElementsByClass(Slur):
            first, last = places.get(id(slur.getFirst())), places.get(id(slur.getLast()))
            if first is None or last is None:
                continue
            while last > first and isinstance(signs[last], Rest):
                last -= 1
            if first < last and isinstance(signs[first], Note):
                pairs.append((first, -last))
        starts, stops, end = set(), set(), 0
        for first, last in ((first, -last) for first, last in sorted(pairs)):
            if first < end:
                measure = signs[first].getContextByClass(stream.Measure)
                self.lost.append(f"a slur over or within a slur in bar {measure.number if measure else '?'}")
                continue
            starts.add(id(signs[first]))
            stops.add(id(signs[last]))
            end = last
        return starts, stops

    def measures(self) -> Iterator[ReadMeasure]:
        for measure, own in zip_longest(self._measures, self._own.measures):
            number = f"{measure.number}{measure.numberSuffix or ''}"
            where = f"bar {number} of {self._file!r}"
            elements = [element for element in measure.recurse() if not isinstance(element, stream.Stream)]
            signs = [element for element in elements if isinstance(element, (Note, Rest))]
            marks = own.notes if own is not None and len(own.notes) == len(signs) else [NoteMarks() for _ in signs]
            notes = tuple(self._note(*each, measure, where) for each in zip(signs, marks, strict=True))
            yield ReadMeasure(
                self._plan(measure, elements, number, notes),
                notes,
                tuple((self._at(each, measure), self._chord(each, where)) for each in _of(elements, ChordSymbol)),
                tuple(self._texts(elements, measure)),
            )

    def _plan(
        self, measure: stream.Measure, elements: Iterable[Any], number: str, notes: Iterable[ReadNote]
    ) -> Measure:
        held = max((note.at + note.duration for note in notes), default=Fraction(0))
        ending, starts, stops = self._endings.get(id(measure), ("", False, False))
        left, right = measure.leftBarline, measure.rightBarline
        tempos = [(self._at(mark, measure), mark.getQuarterBPM()) for mark in _of(elements, MetronomeMark)]
        tempo = next((quarters for at, quarters in tempos if at == 0), None)
        self.lost += [f"a change of tempo within bar {number}" for at, _ in tempos if at > 0]
        return Measure(
            number=number,
            length=held or Fraction(measure.barDuration.quarterLength),
            metre=next(((time.numerator, time.denominator) for time in _of(elements, TimeSignature)), None),
            sharps=next((key.sharps for key in _of(elements, KeySignature)), None),
            tempo=round(tempo) if tempo else None,
            repeat_starts=isinstance(left, Repeat),
            repeat_ends=isinstance(right, Repeat),
            repeat_times=int(right.times or 2) if isinstance(right, Repeat) else 2,
            ending=ending,
            ending_starts=starts,
            ending_stops=stops,
            double_bar=right is not None and right.type == "double",
        )

    def _at(self, element: Any, measure: stream.Measure) -> Fraction:
        return Fraction(element.getOffsetInHierarchy(measure))

    def _note(self, note: Note | Rest, own: NoteMarks, measure: stream.Measure, where: str) -> ReadNote:
        grace = note.duration.isGrace
        marks = [_MARKS[type(mark).__name__] for mark in note.articulations if type(mark).__name__ in _MARKS]
        marks += ["fermata" for expression in note.expressions if isinstance(expression, Fermata)]
        return ReadNote(
            at=self._at(note, measure),
            pitch=_pitch(note.pitch, where) if isinstance(note, Note) else None,
            duration=Fraction(0) if grace else Fraction(note.quarterLength),
            value=note.duration.type,
            dots=note.duration.dots,
            tuplet=None if grace else _tuplet(note, where),
            tie="" if note.tie is None or grace else str(note.tie.type),
            slur_starts=id(note) in self._slur_starts,
            slur_stops=id(note) in self._slur_stops,
            beams=tuple(
                f"{beam.type}-{beam.direction}" if beam.direction else str(beam.type)
                for beam in (note.beams if isinstance(note, Note) else ())
            ),
            marks=tuple(dict.fromkeys(marks)),
            lyrics=tuple(
                Lyric(printable(lyric.text)[:_LONGEST_TEXT], str(lyric.syllabic or "single"), int(lyric.number))
                for lyric in note.lyrics
                if lyric.text
            ),
            grace=grace,
            slashed=grace and bool(note.duration.slash),
            whole=isinstance(note, Rest) and note.fullMeasure is True,
            slash=isinstance(note, Note) and note.notehead == "slash",
            own=own,
        )

    def _chord(self, symbol: ChordSymbol, where: str) -> theory.ChordSymbol | None:
        root, bass = symbol.root(), symbol.bass()
        if isinstance(symbol, NoChord) or root is None:
            return None
        named = _pitch(root, where)
        lowest = _pitch(bass, where) if bass is not None else named
        # music21 has names of its own for some kinds.
        kind = next(
            (name for name, own in CHORD_ALIASES.items() if own == symbol.chordKind), symbol.chordKind or "none"
        )
        degrees = tuple(
            (change.degree, int(change.interval.chromatic.directed), str(change.modType))
            for change in symbol.chordStepModifications
        )
        suffix = printable(symbol.chordKindStr or "")[:_LONGEST_TEXT]
        return theory.ChordSymbol(named, _quality(kind, degrees, suffix), lowest if lowest.name != named.name else None)

    def _texts(self, elements: Iterable[Any], measure: stream.Measure) -> Iterator[Text]:
        for element in elements:
            if not isinstance(element, (Dynamic, RehearsalMark, RepeatExpression, TextExpression)):
                continue
            at = self._at(element, measure)
            if isinstance(element, RepeatExpression):
                # Printed as the words that they are; nobody jumps.
                words = printable(str(element.getText() or element.name))[:_LONGEST_TEXT]
                self.lost.append(f"the jump of {words!r} in bar {measure.number}: it is printed, and not followed")
                yield Text(at, words, "words")
                continue
            if isinstance(element, Dynamic):
                yield Text(at, str(element.value), "dynamic", above=False)
            elif isinstance(element, RehearsalMark):
                yield Text(at, printable(str(element.content))[:_LONGEST_TEXT], "rehearsal")
            elif str(element.content).strip():
                below = element.placement == "below"
                yield Text(at, printable(" ".join(str(element.content).split()))[:_LONGEST_TEXT], "words", not below)

    def hairpins(self) -> Iterator[ReadHairpin]:
        places = {id(measure): place for place, measure in enumerate(self._measures)}

        def place(element: Any, *, end: bool) -> tuple[int, Fraction] | None:
            measure = element.getContextByClass(stream.Measure)
            if measure is None or id(measure) not in places:
                return None
            after = Fraction(element.quarterLength) if end and isinstance(element, GeneralNote) else 0
            return places[id(measure)], self._at(element, measure) + after

        for wedge in self._part.recurse().getElementsByClass(DynamicWedge):
            start, end = place(wedge.getFirst(), end=False), place(wedge.getLast(), end=True)
            if start is not None and end is not None and start < end:
                yield ReadHairpin(start, end, not isinstance(wedge, Diminuendo))


@dataclass(frozen=True, slots=True)
class ReadMusic:
    """A part as it was read, at the written pitch of the file.

    ``tonic`` (its octave does not matter) and ``minor`` tell its key, ``tempo`` what it begins at, if that is said;
    ``steps`` and ``half_steps`` lead from its written to its sounding pitch; ``lost`` is what could not be
    kept; ``is_ours`` for a sheet of ours.
    """

    lines: tuple[Line, ...]
    metre: Metre
    tempo: int | None
    feel: Feel
    tonic: WrittenPitch
    minor: bool
    steps: int
    half_steps: int
    lost: tuple[str, ...]
    is_ours: bool


def _key(part: stream.Part, lines: tuple[Line, ...]) -> tuple[WrittenPitch, bool, str]:
    """Return the tonic, whether it is minor, and the mode that is said: by the file, or else by the last note.

    Without a word of the mode a tune is in minor if it ends on the minor tonic of its signature, and else in major.
    """
    signature = next(iter(part.recurse().getElementsByClass(KeySignature)), None)
    if isinstance(signature, Key):
        minor = signature.mode in ("minor", "aeolian", "dorian", "phrygian")
        return _pitch(signature.tonic, "the key signature"), minor, "minor" if minor else "major"
    sharps = signature.sharps if signature is not None else 0
    # So many fifths above C, or below it; each is four steps on the staff and seven half steps.
    major = WrittenPitch("C", 0, 4).above(4 * sharps, 7 * sharps)
    minor_tonic = major.above(-2, -3)
    last = [tone.pitch for line in lines for tone in line.tones][-1]
    minor = last.number % 12 == minor_tonic.number % 12
    return (minor_tonic if minor else major), minor, ""


def _feel(ratio: Fraction | None, tempo: int | None) -> Feel:
    """Return the feel that a ratio means; the tempo decides where it gives that one, or nobody could play it."""
    if ratio is None:
        return EVEN
    usual = SWUNG.soloist_ratio(Fraction(tempo or USUAL_TEMPO)).limit_denominator(FINEST_RATIO)
    return SWUNG if ratio == usual or not 1 <= ratio <= MOST else Feel(swung=True, ratio=ratio)


def read_music(root: Element, file: str) -> ReadMusic:
    """Return the one part of a checked document; ``file`` names it in complaints.

    Raises :class:`InputError` for what cannot be read.
    """
    own = take_own_marks(root)
    try:
        part = MusicXMLImporter().xmlRootToScore(root).parts[0]
        reader = _Reader(part, file, own)
        measures = completed_measures(reader.measures(), file)
        lines = lines_of(measures, completed_hairpins(reader.hairpins(), measures), own)
        tonic, minor, mode = _key(part, lines)
    except InputError:
        raise
    except Exception as error:
        # What the importer trips over is told in its words: it is the file that is at fault.
        raise InputError(f"{file!r} is no MusicXML that can be read: {' '.join(str(error).split())[:200]}") from error
    transposition = next((each.transposition for each in part.recurse().getElementsByClass("Instrument")), None)
    first = measures[0].plan
    return ReadMusic(
        lines=tuple(replace(line, mode=mode) for line in lines),
        metre=first.metre or (4, 4),
        tempo=first.tempo,
        feel=_feel(own.swing, first.tempo),
        tonic=tonic,
        minor=minor,
        steps=int(transposition.generic.staffDistance) if transposition is not None else 0,
        half_steps=int(transposition.semitones) if transposition is not None else 0,
        lost=tuple(dict.fromkeys(reader.lost)),
        is_ours=own.is_ours,
    )
