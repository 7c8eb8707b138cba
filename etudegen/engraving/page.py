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
class Sign:
    """A note, or a rest where ``pitch`` is None.

    ``pitch`` is step, alteration in half steps and octave (C4 is middle C); ``value`` the written value in whole
    notes, dots included, tuplets not. ``beam`` is ``[`` or ``]`` where one starts or stops; a bracket is an 8vb.
    ``dynamics`` are ``p``, ``<``, ``>`` or ``!`` (the end of a hairpin) with their distance from the sign's start in
    whole notes.
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
    dynamics: tuple[tuple[Fraction, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Measure:
    """A bar of signs, or ``rest_bars`` bars of counted rest; with what changes at its start."""

    signs: tuple[Sign, ...]
    rest_bars: int = 0
    new_system: bool = False
    label: str = ""
    heading: str = ""
    barline: str = ""
    clef: str = ""
    sharps: int | None = None
    metre: tuple[int, int] | None = None
    tempo: int | None = None
    swing: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """Everything that is printed. ``paper`` is LilyPond's name for its size."""

    title: str
    texts: dict[str, str]
    paper: str
    measures: tuple[Measure, ...]

    @property
    def lines(self) -> int:
        """How many lines of music begin on a system of their own."""
        return 1 + sum(measure.new_system for measure in self.measures)
