"""A melody as a plain value: everything of a player's own tune that a practice sheet keeps.

It stands between the file it was read from and the scores written for each key, so that moving it costs nothing
and needs no notation library. Durations and distances are in quarter notes.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.theory.keys import has_signature
from etudegen.theory.pitch import WrittenPitch

# What can be put on a note; the names are those of MusicXML 4.0.
MARKS = ("staccato", "staccatissimo", "tenuto", "accent", "strong-accent", "fermata", "breath-mark")
_MOST_SHARPS = 7


@dataclass(frozen=True, slots=True)
class Place:
    """A note's place in a tuplet of ``actual`` in the time of ``normal``."""

    actual: int
    normal: int
    starts: bool
    stops: bool
    bracket: bool


@dataclass(frozen=True, slots=True)
class Lyric:
    """A syllable under a note: ``syllabic`` is single, begin, middle or end, as in MusicXML."""

    text: str
    syllabic: str
    verse: int


@dataclass(frozen=True, slots=True)
class Event:
    """A note, or a rest where ``pitch`` is None; a grace note lasts no time.

    ``at`` is its distance from the start of its bar; ``value`` and ``dots`` what is written (``value`` is MusicXML's
    name of the note type); ``tie`` is empty, start, continue or stop; ``slur_starts`` and ``slur_stops`` tell whether
    one begins or ends here; ``beams`` its beams from the outermost in; a ``slash`` is a beat to improvise on.
    """

    at: Fraction
    pitch: WrittenPitch | None
    duration: Fraction
    value: str
    dots: int = 0
    place: Place | None = None
    tie: str = ""
    slur_starts: bool = False
    slur_stops: bool = False
    beams: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    lyrics: tuple[Lyric, ...] = ()
    grace: bool = False
    slashed: bool = False
    whole_bar: bool = False
    slash: bool = False


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord symbol: its root and bass (their octaves do not matter), and what is printed and stored of its kind.

    ``half_steps`` are its notes above the root.
    """

    at: Fraction
    root: WrittenPitch | None
    suffix: str
    bass: WrittenPitch | None
    kind: str
    degrees: tuple[tuple[int, int, str], ...] = ()
    half_steps: tuple[int, ...] = (0,)


@dataclass(frozen=True, slots=True)
class Text:
    """Words (or a rehearsal mark, or a dynamic) at a distance from the start of a bar."""

    at: Fraction
    text: str
    role: str
    above: bool = True


@dataclass(frozen=True, slots=True)
class Wedge:
    """A hairpin from one place to another, each the number of a bar, counted from 0, and a distance into it."""

    start: tuple[int, Fraction]
    end: tuple[int, Fraction]
    grows: bool


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar; ``number`` as the file has it, ``length`` what it really holds.

    ``metre``, ``sharps`` and ``tempo`` (quarter notes a minute) are there where they change; ``ending`` is the number
    over its bracket, where ``ending_starts`` and ``ending_stops`` say.
    """

    number: str
    length: Fraction
    events: tuple[Event, ...]
    metre: tuple[int, int] | None = None
    sharps: int | None = None
    tempo: int | None = None
    chords: tuple[Chord, ...] = ()
    texts: tuple[Text, ...] = ()
    repeat_starts: bool = False
    repeat_ends: bool = False
    repeat_times: int = 2
    ending: str = ""
    ending_starts: bool = False
    ending_stops: bool = False
    double_bar: bool = False

    @property
    def notes(self) -> Iterator[Event]:
        """The notes without the rests."""
        return (event for event in self.events if event.pitch is not None)


@dataclass(frozen=True, slots=True)
class Melody:
    """A melody at written pitch: ``tonic`` (its octave does not matter) and ``minor`` tell its key."""

    title: str
    tonic: WrittenPitch
    minor: bool
    bars: tuple[Bar, ...]
    wedges: tuple[Wedge, ...] = ()
    lost: tuple[str, ...] = ()

    @property
    def notes(self) -> Iterator[tuple[Bar, Event]]:
        """Every note with its bar."""
        return ((bar, event) for bar in self.bars for event in bar.notes)

    @property
    def has_signatures(self) -> bool:
        """Tell whether every key signature in it exists."""
        return all(has_signature(bar.sharps) for bar in self.bars if bar.sharps is not None)

    @property
    def doubles(self) -> int:
        """How many of its notes and chord symbols need a double accidental."""
        roots = (pitch for bar in self.bars for chord in bar.chords for pitch in (chord.root, chord.bass))
        notes = (event.pitch for _, event in self.notes)
        return sum(pitch is not None and abs(pitch.alter) > 1 for pitches in (roots, notes) for pitch in pitches)

    def moved(self, staff_steps: int, half_steps: int) -> "Melody":
        """Return the melody so much higher (or lower), every name changed by the same interval.

        Names may then need more accidentals than there are, and signatures more than seven; see :meth:`simplified`.
        """
        # So many fifths lead from a key to the one that lies that interval above it.
        fifths = 7 * half_steps - 12 * staff_steps

        def pitch(given: WrittenPitch | None) -> WrittenPitch | None:
            return given and given.above(staff_steps, half_steps)

        return replace(
            self,
            tonic=self.tonic.above(staff_steps, half_steps),
            bars=tuple(
                replace(
                    bar,
                    sharps=None if bar.sharps is None else bar.sharps + fifths,
                    events=tuple(replace(event, pitch=pitch(event.pitch)) for event in bar.events),
                    chords=tuple(replace(each, root=pitch(each.root), bass=pitch(each.bass)) for each in bar.chords),
                )
                for bar in self.bars
            ),
        )

    def simplified(self) -> "Melody":
        """Return the melody with what still needs a double accidental, or a signature that is none, renamed."""
        if not self.doubles and self.has_signatures:
            return self

        def pitch(given: WrittenPitch | None) -> WrittenPitch | None:
            return WrittenPitch.from_number(given.number) if given is not None and abs(given.alter) > 1 else given

        def sharps(given: int | None) -> int | None:
            return given if given is None or has_signature(given) else given - 12 if given > 0 else given + 12

        return replace(
            self,
            bars=tuple(
                replace(
                    bar,
                    sharps=sharps(bar.sharps),
                    events=tuple(replace(event, pitch=pitch(event.pitch)) for event in bar.events),
                    chords=tuple(replace(each, root=pitch(each.root), bass=pitch(each.bass)) for each in bar.chords),
                )
                for bar in self.bars
            ),
        )
