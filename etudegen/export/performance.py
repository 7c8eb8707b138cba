"""What a listener hears: a score played through, as sounding notes in time."""

from dataclasses import dataclass
from fractions import Fraction

from music21 import stream
from music21.instrument import Instrument
from music21.meter import TimeSignature
from music21.note import Note
from music21.spanner import Slur
from music21.tempo import MetronomeMark

# A tongued note lets go this much before the next one, in quarter notes, but never by more than a share of itself.
_TONGUE_GAP = Fraction(1, 16)
_MOST_OF_A_NOTE = Fraction(1, 8)
_VELOCITY = 80


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """A note as heard: start and duration in quarter notes, key number at concert pitch, velocity 1 to 127."""

    start: Fraction
    duration: Fraction
    key: int
    velocity: int


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


def _slurred_on(part: stream.Part, notes: list[Note]) -> set[int]:
    """Return the places of the notes that run into the next one without a new tonguing."""
    place = {id(note): index for index, note in enumerate(notes)}
    connected: set[int] = set()
    for slur in part.getElementsByClass(Slur):
        connected.update(range(place[id(slur.getFirst())], place[id(slur.getLast())]))
    return connected


def _held(duration: Fraction, *, connected: bool) -> Fraction:
    return duration if connected else duration - min(_TONGUE_GAP, duration * _MOST_OF_A_NOTE)


def perform(score: stream.Score) -> Performance:
    """Play a score of one part at written pitch: ties held, slurs connected, everything at concert pitch."""
    part = score.parts[0]
    instrument = part.getElementsByClass(Instrument)[0]
    shift = int(instrument.transposition.semitones) if instrument.transposition else 0
    timed: list[tuple[Fraction, Note]] = []
    tempos: list[tuple[Fraction, Fraction]] = []
    metre = (4, 4)
    for measure in part.getElementsByClass(stream.Measure):
        begins = Fraction(measure.offset)
        for element in measure:
            if isinstance(element, Note):
                timed.append((begins + Fraction(element.offset), element))
            elif isinstance(element, MetronomeMark):
                tempos.append((begins, Fraction(element.getQuarterBPM())))
            elif isinstance(element, TimeSignature):
                metre = (element.numerator, element.denominator)
    connected = _slurred_on(part, [note for _, note in timed])
    heard: list[SoundingNote] = []
    open_tie: tuple[Fraction, Fraction] | None = None
    for index, (start, note) in enumerate(timed):
        begin, length = open_tie or (start, Fraction(0))
        length += Fraction(note.quarterLength)
        if note.tie is not None and note.tie.type in ("start", "continue"):
            open_tie = (begin, length)
            continue
        open_tie = None
        held = _held(length, connected=index in connected)
        heard.append(SoundingNote(begin, held, note.pitch.midi + shift, _VELOCITY))
    return Performance(
        title=score.metadata.title or "",
        part_name=instrument.partName or "",
        program=instrument.midiProgram,
        metre=metre,
        tempos=tuple(tempos),
        notes=tuple(heard),
        duration=Fraction(part.highestTime),
    )
