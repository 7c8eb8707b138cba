"""The one written form of music: a study as titled lines of tones and rests, before any notation program sees it.

A generated exercise and a player's own tune are both a :class:`Study`. Durations and distances are exact, in quarter
notes. Everything that a page says is in here.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.valves import Valves
from etudegen.theory.articulation import Mark
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.repeats import RepeatSigns, playing_order
from etudegen.theory.rhythm import Metre, bar_length
from etudegen.theory.swing import EVEN, Feel
from etudegen.theory.symbols import ChordSymbol
from etudegen.theory.tempo import FERMATA, seconds


class Paper(StrEnum):
    """The paper a sheet is laid out for."""

    A4 = "A4"
    LETTER = "Letter"


@dataclass(frozen=True, slots=True)
class Tuplet:
    """A note's place in a tuplet of ``actual`` in the time of ``normal``; ``bracket`` shows one over it."""

    actual: int
    normal: int
    starts: bool
    stops: bool
    bracket: bool


@dataclass(frozen=True, slots=True)
class NoteValue:
    """How one sign is written where a file says so: MusicXML's name of the note type, dots, tuplet, beams.

    ``beams`` are those of the note from the outermost in, such as ``start`` or ``partial-right``.
    """

    name: str
    dots: int = 0
    tuplet: Tuplet | None = None
    beams: tuple[str, ...] = ()


class Grace(StrEnum):
    """A grace note, which lasts no time: as it is printed."""

    PLAIN = "plain"
    SLASHED = "slashed"


def total(durations: Iterable[Fraction]) -> Fraction:
    """Return the sum of durations; over few denominators it is quicker to add numerators than fractions."""
    numerators: dict[int, int] = {}
    for duration in durations:
        numerator, denominator = duration.as_integer_ratio()
        numerators[denominator] = numerators.get(denominator, 0) + numerator
    return sum((Fraction(numerator, denominator) for denominator, numerator in numerators.items()), Fraction(0))


@dataclass(frozen=True, slots=True)
class Lyric:
    """A sung syllable under a note: ``syllabic`` is single, begin, middle or end, as in MusicXML."""

    text: str
    syllabic: str
    verse: int


@dataclass(frozen=True, slots=True)
class Tone:
    """One sounded note.

    ``duration`` in quarter notes; ``valves`` is None where no fingering is known, ``partial`` where no partial of the
    tube carries the note; ``slurred`` when the next tone follows without a new tonguing, ``slur_begins`` when a slur of
    its own begins here though another one ends; ``tied`` when the next tone only goes on with this one.
    ``fingering``, ``partial_number``, ``syllable`` (what the tongue says), ``dynamic`` and ``remark`` are texts to
    print at it, if any; ``swell`` is a crescendo to its middle and a diminuendo to its end; ``bent`` tells by how many
    half steps the lips bring it down from the resonance that its valves and partial have; a ``slash`` holds the place
    of a beat whose note is the player's to find. ``written`` says how it is written where that does not follow from
    its duration.
    """

    pitch: WrittenPitch
    duration: Fraction
    valves: Valves | None = None
    partial: int | None = None
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
    tied: bool = False
    slur_begins: bool = False
    fermata: bool = False
    grace: Grace | None = None
    lyrics: tuple[Lyric, ...] = ()
    written: NoteValue | None = None


@dataclass(frozen=True, slots=True)
class Rest:
    """Silence, in quarter notes; several whole bars of it are printed as one counted rest."""

    duration: Fraction
    fermata: bool = False
    written: NoteValue | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """Words (``words``), a rehearsal mark (``rehearsal``) or a dynamic (``dynamic``) at a moment of a line."""

    at: Fraction
    text: str
    role: str
    above: bool = True


@dataclass(frozen=True, slots=True)
class Hairpin:
    """A crescendo where it ``grows``, else a diminuendo, from one moment of a line to another."""

    at: Fraction
    until: Fraction
    grows: bool


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure of a line with what changes at its bar lines.

    ``length`` is what it really holds, in quarter notes; ``number`` is what the file calls it that it was read from.
    ``metre``, ``sharps`` and ``tempo`` (quarter notes a minute) are there where they change; ``ending`` is the number
    over its bracket, where ``ending_starts`` and ``ending_stops`` say.
    """

    length: Fraction
    number: str = ""
    metre: Metre | None = None
    sharps: int | None = None
    tempo: int | None = None
    repeat_starts: bool = False
    repeat_ends: bool = False
    repeat_times: int = 2
    ending: str = ""
    ending_starts: bool = False
    ending_stops: bool = False
    double_bar: bool = False

    @property
    def endings(self) -> tuple[int, ...]:
        """The times that it is played in, empty for every time."""
        numbers = (number for number in self.ending.replace(",", " ").split() if number.isascii() and number.isdigit())
        return tuple(map(int, numbers))[:9]


@dataclass(frozen=True, slots=True)
class Line:
    """One musical thought, whole measures long, that ends where a player can breathe.

    ``label`` hangs left of the staff; ``heading`` opens a new stage above it; ``sharps`` is its key signature,
    negative for flats, and ``mode`` is ``major``, ``minor`` or not said. ``chords`` are the symbols above it (None for
    no chord), each with its distance from the beginning. ``measures`` say what is not plain about its first measures:
    where they are fewer than the line has, whole measures of the study's metre follow. It is played ``times`` times
    between repeat signs, its rests too.
    """

    label: str
    events: tuple[Tone | Rest, ...]
    heading: str | None = None
    sharps: int = 0
    chords: tuple[tuple[Fraction, ChordSymbol | None], ...] = ()
    measures: tuple[Measure, ...] = ()
    mode: str = ""
    texts: tuple[Text, ...] = ()
    hairpins: tuple[Hairpin, ...] = ()
    times: int = 1

    @property
    def tones(self) -> Iterator[Tone]:
        """The tones without the rests."""
        return (event for event in self.events if isinstance(event, Tone))

    @property
    def duration(self) -> Fraction:
        """Length in quarter notes, rests included, as it is written: once."""
        return total(event.duration for event in self.events)

    @property
    def opening_tempo(self) -> int | None:
        """The tempo that its first measure says, None where that is the study's or the one before."""
        return self.measures[0].tempo if self.measures else None

    @property
    def is_played_as_it_stands(self) -> bool:
        """Whether nothing within it is repeated, jumped over, held, or at another tempo than the study's."""
        signs = (each.tempo or each.repeat_starts or each.repeat_ends or each.ending for each in self.measures)
        return not (any(signs) or any(event.fermata for event in self.events))

    def timed(self) -> Iterator[tuple[Fraction, Tone | Rest]]:
        """Yield the events, each with its distance from the beginning."""
        at = Fraction(0)
        for event in self.events:
            yield at, event
            at += event.duration

    def all_measures(self, metre: Metre) -> tuple[Measure, ...]:
        """Return its measures, those that need no saying too, up to the end of the line."""
        bar, left = bar_length(metre), self.duration - sum((each.length for each in self.measures), Fraction(0))
        measures = (*self.measures, *(Measure(bar) for _ in range(-(-left // bar))))
        if self.times == 1:
            return measures
        closed = (*measures[:-1], replace(measures[-1], repeat_ends=True, repeat_times=self.times))
        return (replace(closed[0], repeat_starts=True), *closed[1:])

    def spans(self, metre: Metre, tempo: int) -> Iterator[tuple[Fraction, Fraction, Fraction]]:
        """Yield for each measure, in the order in which they are played, its start, its end and its tempo."""
        measures = self.all_measures(metre)
        found, at, now = [], Fraction(0), Fraction(tempo)
        for measure in measures:
            now = Fraction(measure.tempo or now)
            found.append((at, at + measure.length, now))
            at += measure.length
        return (found[place] for place in playing_order([_repeat_signs(measure) for measure in measures]))


def _repeat_signs(measure: Measure) -> RepeatSigns:
    return RepeatSigns(measure.repeat_starts, measure.repeat_ends, measure.repeat_times, measure.endings)


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something that was asked for and left out, and why."""

    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Study:
    """One study: what is played, at which tempo, and what the sheet says about it.

    ``name`` is the plain ASCII stem of its files; ``metre`` that of measures that say no other; ``feel`` tells
    whether eighths are swung; ``contact_seconds`` is how long the mouthpiece stays on the lips, where that is told.
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
    metre: Metre = (4, 4)
    feel: Feel = EVEN
    contact_seconds: Fraction | None = None

    @property
    def bar(self) -> Fraction:
        """The length of a whole measure in quarter notes."""
        return bar_length(self.metre)

    @property
    def bars(self) -> int:
        """How many measures there are, counting every one of a counted rest."""
        return sum(len(line.all_measures(self.metre)) for line in self.lines)

    @property
    def playing_seconds(self) -> Fraction:
        """How long the tones last at the tempo, repeats included."""
        return sum((self._seconds(line, playing=True) for line in self.lines), Fraction(0))

    @property
    def resting_seconds(self) -> Fraction:
        """How long the rests last at the tempo."""
        return self.whole_seconds - self.playing_seconds

    @property
    def whole_seconds(self) -> Fraction:
        """How long it lasts at the tempo, rests and repeats included."""
        return sum((self._seconds(line, playing=False) for line in self.lines), Fraction(0))

    def _seconds(self, line: Line, *, playing: bool) -> Fraction:
        if not line.measures or line.is_played_as_it_stands:
            once = total(tone.duration for tone in line.tones) if playing else line.duration
            return seconds(line.times * once, self.tempo)
        counted = [
            (at, at + event.duration, FERMATA if event.fermata else 1)
            for at, event in line.timed()
            if isinstance(event, Tone) or not playing
        ]
        lasts = Fraction(0)
        for start, end, tempo in line.spans(self.metre, self.tempo):
            inside = (each for each in counted if each[0] < end and each[1] > start)
            lasts += sum(
                (seconds((min(end, until) - max(start, at)) * times, tempo) for at, until, times in inside), Fraction(0)
            )
        return lasts


def fingered(events: tuple[Tone | Rest, ...], where: str) -> tuple[Tone | Rest, ...]:
    """Return events with the fingerings that are printed: at ``every`` tone, where the valves ``change``, or ``none``.

    A fingering that stands already is kept. What only goes on with the tone before it, grace notes and beats to
    improvise on have none.
    """
    if where == "none":
        return events
    before: Valves | None = None
    goes_on = False
    shown: list[Tone | Rest] = []
    for event in events:
        if isinstance(event, Tone) and event.valves is not None and not (goes_on or event.grace or event.slash):
            wanted = where == "every" or event.valves != before
            shown.append(replace(event, fingering=str(event.valves)) if wanted else event)
            before = event.valves
        else:
            shown.append(event)
        if not isinstance(event, Tone) or not event.grace:
            goes_on = isinstance(event, Tone) and event.tied
    return tuple(shown)
