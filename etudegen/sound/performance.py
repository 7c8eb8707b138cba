"""What a listener hears: a score played through, as sounding notes in even time, with the feel they are played in."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from music21 import stream
from music21.articulations import Accent, Staccato, Tenuto
from music21.bar import Repeat
from music21.base import Music21Object
from music21.expressions import Fermata
from music21.instrument import Instrument
from music21.layout import SystemLayout
from music21.meter import TimeSignature
from music21.note import GeneralNote, Note
from music21.spanner import RepeatBracket, Slur
from music21.tempo import MetronomeMark

from etudegen.errors import InputError
from etudegen.notation.chords import LeadSheetChord, NoLeadSheetChord
from etudegen.notation.marks import BrassBend, PhraseLayout, SwingMark
from etudegen.theory.repeats import RepeatSigns, playing_order
from etudegen.theory.rhythm import bar_length
from etudegen.theory.swing import EVEN, Feel, off_beats_of, swings

# A tongued note lets go this much before the next one, in quarter notes, but never by more than a share of itself.
_TONGUE_GAP = Fraction(1, 16)
_MOST_OF_A_NOTE = Fraction(1, 8)
_SHORT = Fraction(1, 2)
_VELOCITY, _ACCENTED = 80, 104
# A grace note is played so long before the beat, in quarter notes.
_GRACE = Fraction(1, 8)
# How long the lips take to bring a note down or back up, in quarter notes; never more than half of the bent note.
_GLIDE = Fraction(1, 2)
_CENTS_PER_HALF_STEP = 100
_PITCH_CLASSES = range(12)
# What a MIDI file without a tempo is played at (Standard MIDI Files 1.0).
_TEMPO_UNSAID = Fraction(120)


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """A note as heard: start and duration in quarter notes, key number at concert pitch, velocity 1 to 127.

    ``glide`` are moments after its start, in quarter notes, with the cents that it is then off its key; between two
    of them the pitch moves steadily. ``id`` is that of the written note where it begins, None if that has none.
    """

    start: Fraction
    duration: Fraction
    key: int
    velocity: int
    glide: tuple[tuple[Fraction, int], ...] = ()
    id: str | None = None


@dataclass(frozen=True, slots=True)
class SoundingChord:
    """A chord that lasts: start and duration in quarter notes; pitch classes 0 (C) to 11 (B) at concert pitch.

    ``tones`` are all its tones, the root with them; ``bass`` is what the bass plays where the chord begins.
    """

    start: Fraction
    duration: Fraction
    root: int
    tones: tuple[int, ...]
    bass: int

    def __post_init__(self) -> None:
        if self.start < 0 or self.duration <= 0:
            raise InputError(
                f"chord at {self.start} lasts {self.duration} quarter notes: "
                "it must begin at 0 or later and last longer than 0"
            )
        for pitch_class in (self.root, self.bass, *self.tones):
            if pitch_class not in _PITCH_CLASSES:
                raise InputError(f"pitch class {pitch_class} in a chord: allowed are 0 (C) to 11 (B)")
        if not self.tones:
            raise InputError(f"chord at {self.start} has no tones: it needs at least one")


@dataclass(frozen=True, slots=True)
class Performance:
    """A part played through, all in even time; ``tempos`` are (quarter notes from the start, quarter notes a minute).

    ``feel`` is how its eighths are meant to be played, ``off_beats`` are the middles of the beats that swing where
    they are swung. ``lines`` are where each line of music starts and how long it lasts, rests at its end included,
    ``phrases`` the same of shorter stretches within, ``fermatas`` of what is held longer than it is written;
    ``pick_up`` is the length of a first bar that is not a whole one.
    """

    title: str
    part_name: str
    program: int
    metre: tuple[int, int]
    tempos: tuple[tuple[Fraction, Fraction], ...]
    notes: tuple[SoundingNote, ...]
    duration: Fraction
    lines: tuple[tuple[Fraction, Fraction], ...] = ()
    phrases: tuple[tuple[Fraction, Fraction], ...] = ()
    chords: tuple[SoundingChord, ...] = ()
    pick_up: Fraction = Fraction(0)
    feel: Feel = EVEN
    off_beats: tuple[Fraction, ...] = ()
    fermatas: tuple[tuple[Fraction, Fraction], ...] = ()

    @property
    def tempo(self) -> Fraction:
        """The tempo that it begins in, in quarter notes a minute."""
        return self.tempos[0][1] if self.tempos else _TEMPO_UNSAID

    def tempo_at(self, moment: Fraction) -> Fraction:
        """Return the tempo at a moment in quarter notes, in quarter notes a minute."""
        return tempo_at(self.tempos, moment) if self.tempos else self.tempo


def tempo_at(tempos: Sequence[tuple[Fraction, Fraction]], moment: Fraction) -> Fraction:
    """Return the tempo at a moment among (quarter notes from the start, tempo), the first one before any of them."""
    place = bisect_right(tempos, moment, key=lambda change: change[0])
    return tempos[max(0, place - 1)][1]


@dataclass(frozen=True, slots=True)
class _Played:
    """A note with its ties joined, and what is asked of it."""

    start: Fraction
    duration: Fraction
    written: Note
    slurred: bool


def _joined(timed: list[tuple[Fraction, Note]], slurred: set[int]) -> Iterator[_Played]:
    """Join tied notes; the marks of the first count, and the slur of the last."""
    first: tuple[Fraction, Note] | None = None
    for start, note in timed:
        begin, written = first or (start, note)
        if note.tie is not None and note.tie.type in ("start", "continue"):
            first = (begin, written)
            continue
        first = None
        yield _Played(begin, start + Fraction(note.quarterLength) - begin, written, id(note) in slurred)


def _slurred_on(part: stream.Part, notes: list[Note]) -> set[int]:
    """Return the ids of the notes that run into the next one without a new tonguing."""
    place = {id(note): index for index, note in enumerate(notes)}
    connected: set[int] = set()
    for slur in part.getElementsByClass(Slur):
        connected.update(id(note) for note in notes[place[id(slur.getFirst())] : place[id(slur.getLast())]])
    return connected


def _half_steps_bent(note: Note) -> int:
    return next((mark.half_steps for mark in note.articulations if isinstance(mark, BrassBend)), 0)


def _held(played: _Played) -> Fraction:
    """Return how long a note sounds: slurred and tenuto notes to their end, staccato half, others nearly."""
    if played.slurred or any(isinstance(mark, Tenuto) for mark in played.written.articulations):
        return played.duration
    if any(isinstance(mark, Staccato) for mark in played.written.articulations):
        return played.duration * _SHORT
    return played.duration - min(_TONGUE_GAP, played.duration * _MOST_OF_A_NOTE)


def _sounding(played: _Played, shift: int) -> SoundingNote:
    accented = any(isinstance(mark, Accent) for mark in played.written.articulations)
    return SoundingNote(
        played.start,
        _held(played),
        played.written.pitch.midi + shift,
        _ACCENTED if accented else _VELOCITY,
        id=_id_of(played.written),
    )


def _id_of(note: Note) -> str | None:
    """Return the id that a note was given; one that was given none has its address in memory."""
    return note.id if isinstance(note.id, str) else None


def _notes(joined: list[_Played], shift: int) -> Iterator[SoundingNote]:
    """Yield what sounds; a note that is bent, and the note it comes back to, are one note that glides."""
    places = iter(range(len(joined)))
    for place in places:
        sounding = _sounding(joined[place], shift)
        glide: list[tuple[Fraction, int]] = []
        while place + 1 < len(joined) and joined[place].slurred and _half_steps_bent(joined[place + 1].written):
            bent, below = joined[place + 1], -_CENTS_PER_HALF_STEP * _half_steps_bent(joined[place + 1].written)
            down, up = bent.start - sounding.start, bent.start + bent.duration - sounding.start
            moving = min(_GLIDE, bent.duration / 2)
            glide += [(down, 0), (down + moving, below), (up - moving / 2, below), (up, 0)]
            last = joined[place + 2] if bent.slurred and place + 2 < len(joined) else bent
            for _ in range(2 if last is not bent else 1):
                place = next(places)
            sounding = replace(sounding, duration=last.start + _held(last) - sounding.start)
        yield replace(sounding, glide=tuple(glide))


def _order(part: stream.Part, measures: Sequence[stream.Measure]) -> list[int]:
    """Return the places of measures in the order in which they are played."""
    endings: dict[int, tuple[int, ...]] = {}
    for bracket in part.getElementsByClass(RepeatBracket):
        for measure in bracket.getSpannedElements():
            endings[id(measure)] = tuple(bracket.numberRange)
    signs = []
    for measure in measures:
        left, right = measure.leftBarline, measure.rightBarline
        ends = isinstance(right, Repeat)
        signs.append(
            RepeatSigns(
                isinstance(left, Repeat),
                ends,
                int(right.times or 2) if ends else 2,
                endings.get(id(measure), ()),
                section=_begins_line(measure),
            )
        )
    return playing_order(signs)


def _begins_line(measure: stream.Measure) -> bool:
    return any(isinstance(each, SystemLayout) and not isinstance(each, PhraseLayout) for each in measure.elements)


def _metres(measures: Sequence[stream.Measure]) -> Iterator[tuple[int, int]]:
    """Yield the metre of each measure, 4/4 until one is written."""
    metre = (4, 4)
    for measure in measures:
        for sign in measure.getElementsByClass(TimeSignature):
            metre = (sign.numerator, sign.denominator)
        yield metre


def _is_held(element: Music21Object) -> bool:
    return isinstance(element, GeneralNote) and any(isinstance(each, Fermata) for each in element.expressions)


def _pick_up(part: stream.Part, measures: Sequence[stream.Measure], metre: tuple[int, int]) -> Fraction:
    first = Fraction((measures[1].offset if len(measures) > 1 else part.highestTime) - measures[0].offset)
    return first if first < bar_length(metre) else Fraction(0)


def _ends_line(measure: stream.Measure) -> bool:
    return measure.rightBarline is not None and measure.rightBarline.type in ("double", "light-light")


def _spans(starts: list[Fraction], end: Fraction) -> tuple[tuple[Fraction, Fraction], ...]:
    return tuple((start, after - start) for start, after in zip(starts, [*starts[1:], end], strict=True))


def _with_graces(notes: list[SoundingNote], graces: list[tuple[Fraction, Note]], shift: int) -> list[SoundingNote]:
    """Return notes with grace notes played just before the beat that they lead to."""
    if not graces:
        return notes
    moments = Counter(start for start, _ in graces)
    before = Counter[Fraction]()
    small = []
    for start, written in graces:
        place = moments[start] - before[start]
        before[start] += 1
        at = max(Fraction(0), start - place * _GRACE)
        small.append(SoundingNote(at, _GRACE, written.pitch.midi + shift, _VELOCITY, id=_id_of(written)))
    cuts = sorted(note.start for note in small)
    kept = []
    for note in notes:
        cut = next((at for at in cuts if note.start < at < note.start + note.duration), None)
        kept.append(note if cut is None else replace(note, duration=cut - note.start))
    return sorted([*kept, *small], key=lambda note: note.start)


def _sounding_chords(
    timed: list[tuple[Fraction, LeadSheetChord | NoLeadSheetChord]], end: Fraction, shift: int
) -> Iterator[SoundingChord]:
    ends = [start for start, _ in timed[1:]] + [end]
    for (start, chord), following in zip(timed, ends, strict=False):
        if isinstance(chord, LeadSheetChord) and following > start:
            root = (chord.root_pitch.number + shift) % 12
            bass = (chord.bass_pitch.number + shift) % 12 if chord.bass_pitch else root
            tones = tuple((root + above) % 12 for above in chord.half_steps)
            yield SoundingChord(start, following - start, root, tones, bass)


def perform(score: stream.Score) -> Performance:
    """Play a score of one part at written pitch: repeats followed, ties held, slurs connected, all at concert pitch."""
    part = score.parts[0]
    instrument = part.getElementsByClass(Instrument)[0]
    shift = int(instrument.transposition.semitones) if instrument.transposition else 0
    measures = list(part.getElementsByClass(stream.Measure))
    timed: list[tuple[Fraction, Note]] = []
    graces: list[tuple[Fraction, Note]] = []
    chords: list[tuple[Fraction, LeadSheetChord | NoLeadSheetChord]] = []
    tempos: list[tuple[Fraction, Fraction]] = []
    lines: list[Fraction] = []
    metres = list(_metres(measures))
    pick_up = _pick_up(part, measures, metres[0])
    feel, begins, beat = EVEN, Fraction(0), pick_up
    bars: list[tuple[Fraction, Fraction, Fraction]] = []
    phrases: list[Fraction] = []
    fermatas: list[tuple[Fraction, Fraction]] = []
    for place in _order(part, measures):
        measure = measures[place]
        new_line = begins == 0 or _begins_line(measure) or _ends_line(measures[place - 1])
        lines += [begins] if new_line else []
        phrases += [begins] if new_line or any(isinstance(each, PhraseLayout) for each in measure.elements) else []
        for element in measure.elements:
            at = begins + Fraction(element.offset)
            if _is_held(element):
                fermatas.append((at, Fraction(element.quarterLength)))
            if isinstance(element, Note) and element.duration.isGrace:
                graces.append((at, element))
            elif isinstance(element, Note):
                # What is to be improvised is not played for the player.
                timed += [(at, element)] if element.notehead != "slash" else []
            elif isinstance(element, (LeadSheetChord, NoLeadSheetChord)):
                chords.append((at, element))
            elif isinstance(element, MetronomeMark):
                tempos.append((begins, Fraction(element.getQuarterBPM())))
            elif isinstance(element, SwingMark):
                feel = Feel(swung=True, ratio=element.ratio)
        following = measures[place + 1].offset if place + 1 < len(measures) else part.highestTime
        length = Fraction(following) - Fraction(measure.offset)
        # A whole bar begins on a beat and a pick-up ends on one; in other parts of a bar the beats go on as before.
        if length == bar_length(metres[place]):
            beat = begins
        elif measure.paddingLeft:
            beat = begins + length
        bars += [(begins, length, beat)] if swings(metres[place]) else []
        begins += length
    slurred = _slurred_on(part, [note for measure in measures for note in measure.getElementsByClass(Note)])
    joined = list(_joined(timed, slurred))
    # Nobody takes over from another in the middle of a note that is tied on.
    phrases = [at for at in phrases if not any(each.start < at < each.start + each.duration for each in joined)]
    boundaries = [moment for each in joined for moment in (each.start, each.start + each.duration)]
    return Performance(
        title=score.metadata.title or "",
        part_name=instrument.partName or "",
        program=instrument.midiProgram,
        metre=metres[0],
        tempos=tuple(tempos),
        notes=tuple(_with_graces(list(_notes(joined, shift)), graces, shift)),
        duration=begins,
        lines=_spans(lines, begins),
        phrases=_spans(phrases, begins),
        chords=tuple(_sounding_chords(chords, begins, shift)),
        pick_up=pick_up,
        feel=feel,
        off_beats=tuple(sorted(off_beats_of(bars, boundaries))),
        fermatas=tuple(fermatas),
    )
