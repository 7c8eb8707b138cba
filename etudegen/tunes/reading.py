"""From a checked MusicXML document to a :class:`Melody`, through music21's importer."""

import warnings
from collections.abc import Iterable, Iterator
from fractions import Fraction
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
from music21.spanner import RepeatBracket, Slur
from music21.tempo import MetronomeMark

from etudegen.errors import InputError
from etudegen.instrument.catalogue import Instrument
from etudegen.notation.chords import NO_CHORD
from etudegen.plain_text import printable
from etudegen.theory.chords import Quality, qualities, quality_of_kind
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.completing import tidy_bars, tidy_wedges
from etudegen.tunes.tune import Bar, Chord, Event, Lyric, Melody, Place, Text, Wedge

T = TypeVar("T")
_MARKS = {
    "Staccato": "staccato", "Staccatissimo": "staccatissimo", "Spiccato": "staccatissimo", "Tenuto": "tenuto",
    "Accent": "accent", "StrongAccent": "strong-accent", "BreathMark": "breath-mark",
}  # fmt: skip
_LONGEST_TEXT = 80
_MOST_ALTERED = 2


def _of(elements: Iterable[Any], kind: type[T]) -> list[T]:
    return [element for element in elements if isinstance(element, kind)]


def _pitch(given: Any, where: str) -> WrittenPitch:
    alter = given.accidental.alter if given.accidental is not None else 0
    if alter != int(alter) or abs(alter) > _MOST_ALTERED:
        raise InputError(f"{where} holds {given.unicodeNameWithOctave}: quarter tones and triple accidentals cannot be")
    return WrittenPitch(given.step, int(alter), given.implicitOctave)


def _place(note: GeneralNote, where: str) -> Place | None:
    tuplets = note.duration.tuplets
    if not tuplets:
        return None
    if len(tuplets) > 1:
        raise InputError(f"{where} holds a tuplet inside a tuplet: only simple tuplets can be moved")
    tuplet = tuplets[0]
    starts, stops = tuplet.type in ("start", "startStop"), tuplet.type in ("stop", "startStop")
    return Place(tuplet.numberNotesActual, tuplet.numberNotesNormal, starts, stops, bool(tuplet.bracket))


def _quality(kind: str, degrees: tuple[tuple[int, int, str], ...]) -> Quality | None:
    """Return what is known of a kind of chord with its degrees changed so, or else of the kind alone."""
    return quality_of_kind(kind, degrees) or next((each for each in qualities() if each.kind == kind), None)


class _Reader:
    """Reads one part, knowing which notes its slurs begin and end on and which bars its endings hold."""

    def __init__(self, part: stream.Part, file: str) -> None:
        self._part, self._file = part, file
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

    def bars(self) -> Iterator[Bar]:
        for measure in self._measures:
            number = f"{measure.number}{measure.numberSuffix or ''}"
            where = f"bar {number} of {self._file!r}"
            elements = [element for element in measure.recurse() if not isinstance(element, stream.Stream)]
            events = tuple(self._event(note, measure, where) for note in elements if isinstance(note, (Note, Rest)))
            held = max((event.at + event.duration for event in events), default=Fraction(0))
            metre = next(((time.numerator, time.denominator) for time in _of(elements, TimeSignature)), None)
            ending, starts, stops = self._endings.get(id(measure), ("", False, False))
            left, right = measure.leftBarline, measure.rightBarline
            tempos = [(self._at(mark, measure), mark.getQuarterBPM()) for mark in _of(elements, MetronomeMark)]
            tempo = next((quarters for at, quarters in tempos if at == 0), None)
            self.lost += [f"a change of tempo within bar {number}" for at, _ in tempos if at > 0]
            yield Bar(
                number=number,
                length=held or Fraction(measure.barDuration.quarterLength),
                events=events,
                metre=metre,
                sharps=next((key.sharps for key in _of(elements, KeySignature)), None),
                tempo=round(tempo) if tempo else None,
                chords=tuple(self._chord(each, measure, where) for each in _of(elements, ChordSymbol)),
                texts=tuple(self._texts(elements, measure)),
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

    def _event(self, note: Note | Rest, measure: stream.Measure, where: str) -> Event:
        grace = note.duration.isGrace
        marks = [_MARKS[type(mark).__name__] for mark in note.articulations if type(mark).__name__ in _MARKS]
        marks += ["fermata" for expression in note.expressions if isinstance(expression, Fermata)]
        return Event(
            at=self._at(note, measure),
            pitch=_pitch(note.pitch, where) if isinstance(note, Note) else None,
            duration=Fraction(0) if grace else Fraction(note.quarterLength),
            value=note.duration.type,
            dots=note.duration.dots,
            place=None if grace else _place(note, where),
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
            whole_bar=isinstance(note, Rest) and note.fullMeasure is True,
            slash=isinstance(note, Note) and note.notehead == "slash",
        )

    def _chord(self, symbol: ChordSymbol, measure: stream.Measure, where: str) -> Chord:
        if isinstance(symbol, NoChord):
            return Chord(self._at(symbol, measure), None, NO_CHORD, None, "none")
        root, bass = symbol.root(), symbol.bass()
        named = _pitch(root, where) if root is not None else None
        lowest = _pitch(bass, where) if bass is not None else None
        # music21 has names of its own for some kinds.
        kind = next(
            (name for name, own in CHORD_ALIASES.items() if own == symbol.chordKind), symbol.chordKind or "none"
        )
        degrees = tuple(
            (change.degree, int(change.interval.chromatic.directed), str(change.modType))
            for change in symbol.chordStepModifications
        )
        quality = _quality(kind, degrees)
        return Chord(
            at=self._at(symbol, measure),
            root=named,
            suffix=printable(symbol.chordKindStr or (quality.symbol if quality else ""))[:_LONGEST_TEXT],
            bass=lowest if lowest and named and lowest.name != named.name else None,
            kind=kind,
            degrees=degrees,
            half_steps=tuple(degree.half_steps for degree in quality.degrees) if quality else (0,),
        )

    def _texts(self, elements: Iterable[Any], measure: stream.Measure) -> Iterator[Text]:
        for element in elements:
            if not isinstance(element, (Dynamic, RehearsalMark, TextExpression)):
                continue
            at = self._at(element, measure)
            if isinstance(element, Dynamic):
                yield Text(at, str(element.value), "dynamic", above=False)
            elif isinstance(element, RehearsalMark):
                yield Text(at, printable(str(element.content))[:_LONGEST_TEXT], "rehearsal")
            elif str(element.content).strip():
                below = element.placement == "below"
                yield Text(at, printable(" ".join(str(element.content).split()))[:_LONGEST_TEXT], "words", not below)

    def wedges(self) -> Iterator[Wedge]:
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
                yield Wedge(start, end, not isinstance(wedge, Diminuendo))


def _key(part: stream.Part, bars: tuple[Bar, ...]) -> tuple[WrittenPitch, bool]:
    """Return the tonic and whether it is minor: as the file says, or else by the last note of the tune.

    Without a word of the mode a tune is in minor if it ends on the minor tonic of its signature, and else in major.
    """
    signature = next(iter(part.recurse().getElementsByClass(KeySignature)), None)
    if isinstance(signature, Key):
        return _pitch(signature.tonic, "the key signature"), signature.mode in (
            "minor",
            "aeolian",
            "dorian",
            "phrygian",
        )
    sharps = signature.sharps if signature is not None else 0
    major = WrittenPitch("C", 0, 4).above(*_steps_of_fifths(sharps))
    minor = major.above(-2, -3)
    last = [event.pitch for bar in bars for event in bar.notes if event.pitch][-1]
    return (minor, True) if last.number % 12 == minor.number % 12 else (major, False)


def _steps_of_fifths(fifths: int) -> tuple[int, int]:
    return (4 * fifths) % 7, (7 * fifths) % 12


def read_melody(root: Element, title: str, file: str, instrument: Instrument, lost: tuple[str, ...] = ()) -> Melody:
    """Return the one part of a checked document as an instrument reads it.

    ``file`` names it in complaints. A part for a transposing instrument, or at concert pitch, is written anew, so that
    it sounds the same. Raises :class:`InputError` for what cannot be read.
    """
    try:
        with warnings.catch_warnings():
            # It warns of bars that hold too much; here they are kept as they are.
            warnings.simplefilter("ignore")
            part = MusicXMLImporter().xmlRootToScore(root).parts[0]
        reader = _Reader(part, file)
        bars = tidy_bars(reader.bars(), file)
        wedges = tidy_wedges(reader.wedges(), bars)
        tonic, minor = _key(part, bars)
    except InputError:
        raise
    except Exception as error:
        # What the importer trips over is told in its words: it is the file that is at fault.
        raise InputError(f"{file!r} is no MusicXML that can be read: {' '.join(str(error).split())[:200]}") from error
    transposition = next((each.transposition for each in part.recurse().getElementsByClass("Instrument")), None)
    melody = Melody(title, tonic, minor, bars, wedges, (*lost, *dict.fromkeys(reader.lost)))
    steps, half_steps = 0, 0
    if transposition is not None:
        half_steps = int(transposition.semitones)
        steps = int(transposition.generic.staffDistance)
    return melody.moved(steps - instrument.staff_steps, half_steps - instrument.half_steps)
