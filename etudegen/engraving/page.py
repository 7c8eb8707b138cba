"""What the engraver is told: one page's texts and signs as plain values, with no notation library in sight.

It stands between the score, which only music21 can read, and the engraver's text, which only abjad writes; so
the two libraries can be loaded by two processes at the same time.
"""

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Tuplet:
    """A note's place in a tuplet of ``actual`` in the time of ``normal``; ``bracket`` shows one above it."""

    actual: int
    normal: int
    starts: bool
    stops: bool
    bracket: bool


@dataclass(frozen=True, slots=True)
class Syllable:
    """A syllable of a tune's words, and whether a hyphen leads on from it."""

    text: str
    hyphen: bool


@dataclass(frozen=True, slots=True)
class Sign:
    """A note, or a rest where ``pitch`` is None; a ``grace`` note (``plain`` or ``slashed``) takes no time.

    ``pitch`` is step, alteration in half steps and octave (C4 is middle C); ``value`` the written value in whole
    notes, dots included, tuplets not. ``beam`` is ``[`` or ``]`` where one starts or stops; a bracket is an 8vb.
    ``dynamics`` are ``p``, ``<``, ``>`` or ``!`` (the end of a hairpin) with their distance from the sign's start in
    whole notes. ``words`` are texts at it and whether they stand above; ``sung`` are its syllables by verse.
    """

    pitch: tuple[str, int, int] | None
    value: Fraction
    tuplet: Tuplet | None = None
    tied: bool = False
    slur_starts: bool = False
    slur_stops: bool = False
    beam: str = ""
    fingering: str = ""
    partial_number: str = ""
    marks: tuple[str, ...] = ()
    syllable: str = ""
    remark: str = ""
    bent: bool = False
    bracket_starts: bool = False
    bracket_stops: bool = False
    shows_accidental: bool = False
    breath: bool = False
    slash: bool = False
    grace: str = ""
    words: tuple[tuple[str, bool], ...] = ()
    sung: tuple[tuple[int, Syllable], ...] = ()
    dynamics: tuple[tuple[Fraction, str], ...] = ()

    @property
    def length(self) -> Fraction:
        """How long it lasts, in whole notes."""
        if self.grace:
            return Fraction(0)
        return self.value * Fraction(self.tuplet.normal, self.tuplet.actual) if self.tuplet else self.value


@dataclass(frozen=True, slots=True)
class ChordName:
    """A chord symbol over the staff, ``at`` so many whole notes into its bar; ``bass`` may be empty."""

    at: Fraction
    root: str
    suffix: str
    bass: str = ""


@dataclass(frozen=True, slots=True)
class Measure:
    """A bar of signs, or ``rest_bars`` bars of counted rest; with what changes at its start.

    ``new_system`` begins a line of music, ``new_phrase`` a system within one; ``ending`` is the number over a bracket
    that begins here; ``times`` is said at its end.
    """

    signs: tuple[Sign, ...]
    rest_bars: int = 0
    new_system: bool = False
    new_phrase: bool = False
    label: str = ""
    heading: str = ""
    barline: str = ""
    clef: str = ""
    sharps: int | None = None
    metre: tuple[int, int] | None = None
    tempo: int | None = None
    swing: bool = False
    chords: tuple[ChordName, ...] = ()
    repeat_starts: bool = False
    repeat_ends: bool = False
    ending: str = ""
    ending_stops: bool = False
    rehearsal: str = ""
    times: str = ""

    def length(self, metre: tuple[int, int]) -> Fraction:
        """Return how long it is, in whole notes, in a metre."""
        if self.rest_bars:
            return self.rest_bars * Fraction(*metre)
        return sum((sign.length for sign in self.signs), Fraction(0))


@dataclass(frozen=True, slots=True)
class Page:
    """Everything that is printed. ``paper`` is LilyPond's name for its size."""

    title: str
    texts: dict[str, str]
    paper: str
    measures: tuple[Measure, ...]
