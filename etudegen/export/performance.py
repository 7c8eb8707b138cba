"""What a listener hears: a score played through, as sounding notes in time."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from music21 import stream
from music21.articulations import Accent, Staccato, Tenuto
from music21.instrument import Instrument
from music21.meter import TimeSignature
from music21.note import Note
from music21.spanner import Slur
from music21.tempo import MetronomeMark

from etudegen.notation.marks import BrassBend, SwingMark
from etudegen.theory.swing import swing_ratio, swung

# A tongued note lets go this much before the next one, in quarter notes, but never by more than a share of itself.
_TONGUE_GAP = Fraction(1, 16)
_MOST_OF_A_NOTE = Fraction(1, 8)
_SHORT = Fraction(1, 2)
_VELOCITY, _ACCENTED = 80, 104
# How long the lips take to bring a note down or back up, in quarter notes; never more than half of the bent note.
_GLIDE = Fraction(1, 2)
_CENTS_PER_HALF_STEP = 100


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """A note as heard: start and duration in quarter notes, key number at concert pitch, velocity 1 to 127.

    ``bends`` are moments after its start, in quarter notes, with the cents that it is then off its key; between two
    of them it glides.
    """

    start: Fraction
    duration: Fraction
    key: int
    velocity: int
    bends: tuple[tuple[Fraction, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Performance:
    """A part played through; ``tempos`` are (quarter notes from the start, quarter notes a minute)."""

    title: str
    part_name: str
    program: int
    metre: tuple[int, int]
    tempos: tuple[tuple[Fraction, Fraction], ...]
    notes: tuple[SoundingNote, ...]
    duration: Fraction


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
        played.start, _held(played), played.written.pitch.midi + shift, _ACCENTED if accented else _VELOCITY
    )


def _notes(joined: list[_Played], shift: int) -> Iterator[SoundingNote]:
    """Yield what sounds; a note that is bent, and the note it comes back to, are one note that glides."""
    places = iter(range(len(joined)))
    for place in places:
        sounding = _sounding(joined[place], shift)
        bends: list[tuple[Fraction, int]] = []
        while place + 1 < len(joined) and joined[place].slurred and _half_steps_bent(joined[place + 1].written):
            bent, below = joined[place + 1], -_CENTS_PER_HALF_STEP * _half_steps_bent(joined[place + 1].written)
            down, up = bent.start - sounding.start, bent.start + bent.duration - sounding.start
            glide = min(_GLIDE, bent.duration / 2)
            bends += [(down, 0), (down + glide, below), (up - glide / 2, below), (up, 0)]
            last = joined[place + 2] if bent.slurred and place + 2 < len(joined) else bent
            for _ in range(2 if last is not bent else 1):
                place = next(places)
            sounding = replace(sounding, duration=last.start + _held(last) - sounding.start)
        yield replace(sounding, bends=tuple(bends))


def _swung_note(note: SoundingNote, ratio: Fraction) -> SoundingNote:
    start = swung(note.start, ratio)
    return replace(note, start=start, duration=swung(note.start + note.duration, ratio) - start)


def perform(score: stream.Score) -> Performance:
    """Play a score of one part at written pitch: ties held, slurs connected, everything at concert pitch."""
    part = score.parts[0]
    instrument = part.getElementsByClass(Instrument)[0]
    shift = int(instrument.transposition.semitones) if instrument.transposition else 0
    timed: list[tuple[Fraction, Note]] = []
    tempos: list[tuple[Fraction, Fraction]] = []
    metre = (4, 4)
    swings = False
    for measure in part.getElementsByClass(stream.Measure):
        begins = Fraction(measure.offset)
        for element in measure:
            if isinstance(element, Note):
                timed.append((begins + Fraction(element.offset), element))
            elif isinstance(element, MetronomeMark):
                tempos.append((begins, Fraction(element.getQuarterBPM())))
            elif isinstance(element, TimeSignature):
                metre = (element.numerator, element.denominator)
            elif isinstance(element, SwingMark):
                swings = True
    slurred = _slurred_on(part, [note for _, note in timed])
    heard = list(_notes(list(_joined(timed, slurred)), shift))
    if swings and tempos:
        ratio = swing_ratio(tempos[0][1])
        heard = [_swung_note(note, ratio) for note in heard]
    return Performance(
        title=score.metadata.title or "",
        part_name=instrument.partName or "",
        program=instrument.midiProgram,
        metre=metre,
        tempos=tuple(tempos),
        notes=tuple(heard),
        duration=Fraction(part.highestTime),
    )
