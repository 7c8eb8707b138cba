"""Scales: defined by degrees in a data file, spelled on a tonic, laid out over a range.

Seven-note scales use each letter once. Where that needs a double accidental the enharmonic key is taken instead; a
scale with more or fewer notes may have a single note respelled.
"""

from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

from etudegen.files.tables import Table
from etudegen.theory.degrees import Degree, parse_degree, parse_degrees
from etudegen.theory.keys import has_signature, major_sharps, names_of
from etudegen.theory.library import difficulty_of, find, library, practised
from etudegen.theory.pitch import STEPS, WrittenPitch

_LETTERS = len(STEPS)
_HALF_STEPS = 12
# Nobody builds a chord or a scale of few notes on these where there is another name.
_RARE_ROOTS = ("B#", "E#", "Cb", "Fb")
# Nor a scale that goes by the names in use on these.
_UNUSUAL_ROOTS = ("A#", "D#", "G#")


@dataclass(frozen=True, slots=True)
class Scale:
    """A kind of scale. ``down`` are the degrees of the way down, written upwards like ``up``.

    ``signature`` is the degree that carries the major scale of the same key signature, None for accidentals;
    ``by_direction`` scales have sharps on the way up and flats on the way down; those with ``usual_names`` keep the
    tonics that people use, and respell a note instead;
    ``difficulty`` tells how hard it is, 1 to 9, None for what is not for daily practice.
    """

    name: str
    up: tuple[Degree, ...]
    down: tuple[Degree, ...]
    signature: Degree | None
    by_direction: bool
    difficulty: int | None = None
    usual_names: bool = False

    @property
    def half_steps(self) -> tuple[int, ...]:
        """The notes going up as half steps above the tonic."""
        return tuple(degree.half_steps for degree in self.up)


def _ascending(entry: Table, key: str) -> tuple[Degree, ...]:
    degrees = entry.read(key, parse_degrees)
    heights = [degree.half_steps for degree in degrees]
    if degrees[0] != Degree(1, 0) or sorted(set(heights)) != heights or heights[-1] >= 12:
        raise entry.wrong(key, "the degrees must start with 1 and rise within an octave")
    return degrees


def _scale(name: str, entry: Table) -> Scale:
    entry.only("degrees", "descending", "signature", "spelling", "difficulty")
    up = _ascending(entry, "degrees")
    down = _ascending(entry, "descending") if "descending" in entry else up
    spelling = entry.text("spelling", "")
    if spelling not in ("", "direction", "tonic"):
        raise entry.wrong("spelling", 'choose "direction" or "tonic"')
    signature = entry.read("signature", parse_degree) if "signature" in entry else None
    return Scale(name, up, down, signature, spelling == "direction", difficulty_of(entry), spelling == "tonic")


def scale_names(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of all scales, those of an own file included."""
    return tuple(library("scales", _scale, own))


def practised_scales(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of the scales for daily practice, those of an own file included, easy ones first."""
    return practised(library("scales", _scale, own))


def scale(name: str, own: Path | None = None) -> Scale:
    """Return a scale by name; raise :class:`InputError` for an unknown one or an own file that cannot be used."""
    return find("scale", name, library("scales", _scale, own))


@dataclass(frozen=True)
class ConcreteScale:
    """A scale on a tonic (its octave does not matter)."""

    tonic: WrittenPitch
    scale: Scale

    @cached_property
    def sharps(self) -> int:
        """The sharps of its key signature, negative for flats, 0 for none."""
        if self.scale.signature is None:
            return 0
        sharps = major_sharps(self.scale.signature.above(self.tonic))
        return sharps if has_signature(sharps) else 0

    @property
    def name(self) -> str:
        """The key as a page names it, such as ``B♭``."""
        return self.tonic.pretty_name

    @cached_property
    def doubles(self) -> int:
        """How many of its notes need a double accidental when each degree keeps its letter."""
        if self.scale.by_direction:
            return 0
        notes = (degree.above(self.tonic) for degree in (*self.scale.up, *self.scale.down))
        return sum(abs(note.alter) > 1 for note in notes)

    @cached_property
    def lacks_signature(self) -> bool:
        """Tell whether its key signature would need more than seven sharps or flats."""
        signature = self.scale.signature
        return signature is not None and not has_signature(major_sharps(signature.above(self.tonic)))

    @cached_property
    def accidentals(self) -> int:
        """How many of its notes are bent, a measure of how hard it is to read."""
        return sum(abs(self._spelled(degree, self.tonic, rising=True).alter) for degree in self.scale.up)

    def _spelled(self, degree: Degree, at: WrittenPitch, *, rising: bool) -> WrittenPitch:
        note = degree.above(at)
        if self.scale.by_direction:
            sign = self.tonic.alter or (1 if rising else -1)
            return respelled(note, sign) if degree.half_steps % 12 else at
        return note if abs(note.alter) <= 1 else respelled(note, note.alter)

    def members(self, low: WrittenPitch, high: WrittenPitch, *, rising: bool) -> list[WrittenPitch]:
        """Return its notes from low to high, from the bottom up, as they are spelled on the way up or down."""
        found = {}
        for degree in self.scale.up if rising else self.scale.down:
            # Spelled once: the other octaves are the same.
            note = self._spelled(degree, self.tonic, rising=rising)
            lowest = note.octave - (note.number - low.number) // _HALF_STEPS
            for octave in range(lowest, lowest + (high.number - low.number) // _HALF_STEPS + 1):
                member = WrittenPitch(note.step, note.alter, octave)
                if member.number <= high.number:
                    found[member.number] = member
        return [found[number] for number in sorted(found)]

    def tonic_at(self, number: int) -> WrittenPitch:
        """Return its tonic in the octave where it has a key number."""
        lowest = WrittenPitch(self.tonic.step, self.tonic.alter, 0)
        return WrittenPitch(lowest.step, lowest.alter, (number - lowest.number) // 12)

    def is_tonic(self, note: WrittenPitch) -> bool:
        """Tell whether a note is its tonic in some octave."""
        return (note.number - self.tonic.number) % 12 == 0


@cache
def respelled(note: WrittenPitch, sign: int) -> WrittenPitch:
    """Return a note without a double accidental, natural if it can be, else with a flat (-1) or a sharp (1)."""
    for alter in (0, 1 if sign > 0 else -1):
        for steps in range(-2, 3):
            other = note.above(steps, 0)
            if other.alter == alter:
                return other
    raise AssertionError("every note has a natural name, or both a flat and a sharp one")


def well_spelled(asked: WrittenPitch, of: Scale, *, keep: bool) -> ConcreteScale:
    """Return the scale on a tonic, or on its other name where that reads better.

    With ``keep`` a tonic is kept as it was asked for, unless its key signature does not exist, or a seven-note scale or
    a rare tonic needs double accidentals.
    Otherwise the name is taken that has a key signature that exists, needs the fewest double accidentals and bends the
    fewest notes; flats come before sharps where they are as many. Of a scale that goes by the names in use the tonic is
    one of these, and it is the note that gives way.
    """
    own = ConcreteScale(asked, of)
    by_letters = len(of.up) == _LETTERS and not of.usual_names
    rare = (*_RARE_ROOTS, *_UNUSUAL_ROOTS) if of.usual_names else _RARE_ROOTS
    reads_badly = (own.doubles and by_letters) or (asked.name in rare and (own.doubles or of.usual_names))
    if keep and not own.lacks_signature and not reads_badly:
        return own
    keys = [ConcreteScale(name, of) for name in names_of(asked.number) if by_letters or name.name not in rare]
    return min(keys, key=lambda key: (key.lacks_signature, 0 if of.usual_names else key.doubles, key.accidentals))
