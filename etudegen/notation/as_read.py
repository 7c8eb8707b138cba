"""Notes and measures as a file has them, on their way to a line of a study: nothing is completed or joined yet."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from etudegen.notation.own_marks import NoteMarks
from etudegen.study import Lyric, Measure, Text, Tuplet
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.symbols import ChordSymbol


@dataclass(frozen=True, slots=True)
class ReadNote:
    """A note, or a rest where ``pitch`` is None; a grace note lasts no time.

    ``at`` is its distance from the start of its measure; ``value`` and ``dots`` what is written (``value`` is
    MusicXML's name of the note type); ``tie`` is empty, start, continue or stop; ``whole`` is a rest for a measure.
    """

    at: Fraction
    pitch: WrittenPitch | None
    duration: Fraction
    value: str
    dots: int = 0
    tuplet: Tuplet | None = None
    tie: str = ""
    slur_starts: bool = False
    slur_stops: bool = False
    beams: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    lyrics: tuple[Lyric, ...] = ()
    grace: bool = False
    slashed: bool = False
    whole: bool = False
    slash: bool = False
    own: NoteMarks = field(default_factory=NoteMarks)


@dataclass(frozen=True, slots=True)
class ReadMeasure:
    """A measure with its notes; moments of chord symbols and texts are counted from its start."""

    plan: Measure
    notes: tuple[ReadNote, ...]
    chords: tuple[tuple[Fraction, ChordSymbol | None], ...] = ()
    texts: tuple[Text, ...] = ()

    @property
    def sounding(self) -> Iterator[ReadNote]:
        """The notes without the rests."""
        return (note for note in self.notes if note.pitch is not None)


@dataclass(frozen=True, slots=True)
class ReadHairpin:
    """A hairpin from one place to another, each the number of a measure, from 0, and a distance into it."""

    start: tuple[int, Fraction]
    end: tuple[int, Fraction]
    grows: bool
