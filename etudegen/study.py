"""The domain's own value: a study as titled lines of tones and rests, before any notation program sees it.

Durations are exact, in quarter notes. Everything that a page says is in here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.valves import Valves
from etudegen.theory.articulation import Mark
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.symbols import ChordSymbol
from etudegen.theory.tempo import seconds


class Paper(StrEnum):
    """The paper a sheet is laid out for."""

    A4 = "A4"
    LETTER = "Letter"


@dataclass(frozen=True, slots=True)
class Tone:
    """One sounded note.

    ``duration`` in quarter notes; ``partial`` is None where no partial of the tube carries the note; ``slurred`` when
    the next tone follows without a new tonguing; ``fingering``, ``partial_number``, ``syllable`` (what the tongue
    says), ``dynamic`` and ``remark`` are texts to print at it, if any; ``swell`` is a crescendo to its middle and a
    diminuendo to its end; ``bent`` tells by how many half steps the lips bring it down from the resonance that its
    valves and partial have; a ``slash`` holds the place of a beat whose note is the player's to find.
    """

    pitch: WrittenPitch
    duration: Fraction
    valves: Valves
    partial: int | None
    slurred: bool = False
    fingering: str | None = None
    partial_number: str | None = None
    marks: tuple[Mark, ...] = ()
    syllable: str = ""
    dynamic: str = ""
    swell: bool = False
    bent: int = 0
    octave_bracket: bool = False
    remark: str = ""
    breath: bool = False
    slash: bool = False


@dataclass(frozen=True, slots=True)
class Rest:
    """Silence, in quarter notes; several whole bars of it are printed as one counted rest."""

    duration: Fraction


@dataclass(frozen=True, slots=True)
class Line:
    """One musical thought, whole bars long, that ends where a player can breathe.

    ``label`` hangs left of the staff; ``heading`` opens a new stage above it; ``sharps`` is its key signature,
    negative for flats. ``chords`` are the symbols above it (None for no chord) and ``repeats`` the repeat signs in it
    (``start``, ``end``), both with their distance from its beginning in quarter notes.
    """

    label: str
    events: tuple[Tone | Rest, ...]
    heading: str | None = None
    sharps: int = 0
    chords: tuple[tuple[Fraction, ChordSymbol | None], ...] = ()
    repeats: tuple[tuple[Fraction, str], ...] = ()

    @property
    def tones(self) -> Iterator[Tone]:
        """The tones without the rests."""
        return (event for event in self.events if isinstance(event, Tone))

    @property
    def duration(self) -> Fraction:
        """Length in quarter notes, rests included, as it is written."""
        return sum((event.duration for event in self.events), Fraction(0))

    @property
    def _repeated(self) -> list[tuple[Fraction, Fraction]]:
        """What is played twice: from where to where. Without a sign before it a repeat goes back to the beginning."""
        spans, start = [], Fraction(0)
        for at, sign in self.repeats:
            if sign == "end":
                spans.append((start, at))
            start = at
        return spans

    @property
    def played(self) -> Fraction:
        """How long its tones last, in quarter notes, repeats included."""
        spans = self._repeated
        at, total = Fraction(0), Fraction(0)
        for event in self.events:
            if isinstance(event, Tone):
                total += event.duration * (1 + sum(start <= at < end for start, end in spans))
            at += event.duration
        return total

    @property
    def played_through(self) -> Fraction:
        """How long it lasts, in quarter notes, rests and repeats included."""
        return self.duration + sum((end - start for start, end in self._repeated), Fraction(0))


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something that was asked for and left out, and why."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Study:
    """One study: what is played, at which tempo, and what the sheet says about it.

    ``bar`` is the length of a bar in quarter notes; ``name`` the plain ASCII stem of its files; ``swing`` asks for
    swung eighth notes; ``contact_seconds`` is how long the mouthpiece stays on the lips, where that is told.
    """

    name: str
    title: str
    subtitle: str
    instruction: str
    caution: str
    instrument: Instrument
    tempo: int
    paper: Paper
    lines: tuple[Line, ...]
    skipped: tuple[Skipped, ...] = ()
    bar: Fraction = Fraction(4)
    swing: bool = False
    contact_seconds: Fraction | None = None

    @property
    def bars(self) -> int:
        """How many bars there are, counting every bar of a counted rest."""
        return int(sum((line.duration for line in self.lines), Fraction(0)) / self.bar)

    @property
    def playing_seconds(self) -> Fraction:
        """How long the tones last at the tempo, repeats included."""
        return seconds(sum((line.played for line in self.lines), Fraction(0)), self.tempo)

    @property
    def resting_seconds(self) -> Fraction:
        """How long the rests last at the tempo."""
        return self.whole_seconds - self.playing_seconds

    @property
    def whole_seconds(self) -> Fraction:
        """How long it lasts at the tempo, rests and repeats included."""
        return seconds(sum((line.played_through for line in self.lines), Fraction(0)), self.tempo)
