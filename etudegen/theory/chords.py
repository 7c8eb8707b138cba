"""Chord qualities: defined by degrees in a data file."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.tables import Table
from etudegen.theory.degrees import Degree, parse_degree, parse_degrees
from etudegen.theory.library import difficulty_of, find, library, practised
from etudegen.theory.scales import Scale, scale

# Kind-values of the MusicXML 4.0 reference that stand for a chord with a root of its own.
_KINDS = (
    "major", "minor", "augmented", "diminished", "dominant", "major-seventh", "minor-seventh", "diminished-seventh",
    "augmented-seventh", "half-diminished", "major-minor", "major-sixth", "minor-sixth", "dominant-ninth",
    "major-ninth", "minor-ninth", "dominant-11th", "major-11th", "minor-11th", "dominant-13th", "major-13th",
    "minor-13th", "suspended-second", "suspended-fourth", "power", "other",
)  # fmt: skip
_CHANGES = ("add", "alter", "subtract")
_SEVENTH = 7
_MOST_BENT = 2
# Common practice, no source: tried in this order for a chord that names no scale; the last one has every note.
_USUAL_SCALES = (
    "major", "mixolydian", "dorian", "melodic-minor-both-ways", "lydian", "lydian-dominant", "locrian", "whole-tone",
    "half-whole-diminished", "whole-half-diminished", "altered", "chromatic",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quality:
    """A kind of chord: its notes from the root up as degrees, and the symbol that follows the root's name.

    ``signature`` is the degree that carries the major scale of the key signature it is printed with, if any;
    ``aliases`` are other spellings of the symbol; ``kind`` is its kind-value in MusicXML, and ``altered`` what that
    leaves out: degree, half steps and ``add``, ``alter`` or ``subtract``; ``scale`` names the scale to improvise with;
    ``guide`` are its two guide tones; ``difficulty`` tells how hard it is, 1 to 9, None for what is not for daily
    practice.
    """

    name: str
    degrees: tuple[Degree, ...]
    symbol: str
    signature: Degree | None
    aliases: tuple[str, ...]
    kind: str
    altered: tuple[tuple[int, int, str], ...]
    scale: str
    guide: tuple[Degree, Degree]
    difficulty: int | None = None

    @property
    def pretty_symbol(self) -> str:
        """The symbol as print shows it, such as ``m7♭5``."""
        return re.sub(r"b(?=\d)", "♭", re.sub(r"#(?=\d)", "♯", self.symbol))

    def as_scale(self) -> Scale:
        """Return its notes within one octave as a scale, which can be spelled on a root and laid out over a range."""
        by_height: dict[int, Degree] = {}
        for each in self.degrees:
            low = Degree((each.number - 1) % 7 + 1, each.alter)
            by_height.setdefault(low.half_steps % 12, low)
        within = sorted(by_height.values(), key=lambda each: each.half_steps)
        return Scale(self.name, tuple(within), tuple(within), self.signature, by_direction=False)


def _altered(text: str) -> tuple[tuple[int, int, str], ...]:
    changes = []
    for part in text.split(","):
        words = part.split()
        if not words:
            continue
        if len(words) != len(("add", "b9")) or words[0] not in _CHANGES:
            raise InputError("write add, alter or subtract and a degree, several parted by commas")
        degree = parse_degree(words[1])
        # MusicXML reckons an added seventh from the minor one: "relative to a dominant chord" (reference, degree-type).
        bend = degree.alter + (words[0] == "add" and degree.number == _SEVENTH)
        if degree.number < 1 or bend > _MOST_BENT:
            raise InputError("the degrees must be 1 or higher and bent by no more than two half steps")
        changes.append((degree.number, bend, words[0]))
    return tuple(changes)


def _guide(entry: Table, degrees: Sequence[Degree]) -> tuple[Degree, Degree]:
    if "guide" in entry:
        asked = entry.read("guide", parse_degrees)
        if len(asked) != len(("third", "seventh")) or not set(asked) <= set(degrees):
            raise entry.wrong("guide", "give two of the degrees of the chord")
        return asked[0], asked[1]
    by_number = {degree.number: degree for degree in reversed(degrees)}
    third = next((by_number[number] for number in (3, 4, 2) if number in by_number), degrees[1])
    seconds = (*(by_number[number] for number in (7, 6, 5) if number in by_number), *degrees)
    other = next((each for each in seconds if (each.half_steps - third.half_steps) % 12), degrees[0])
    return third, other


def _usual_scale(degrees: Sequence[Degree]) -> str:
    heights = {degree.half_steps % 12 for degree in degrees}
    return next(name for name in _USUAL_SCALES if heights <= set(scale(name).half_steps))


def _quality(name: str, entry: Table) -> Quality:
    entry.only("degrees", "symbol", "signature", "aliases", "kind", "altered", "scale", "guide", "difficulty")
    degrees = entry.read("degrees", parse_degrees)
    heights = [degree.half_steps for degree in degrees]
    if degrees[0] != Degree(1, 0) or heights != sorted(set(heights)) or not 2 <= len(heights) <= 7:
        raise entry.wrong("degrees", "the degrees must start with 1 and rise, two to seven of them")
    kind = entry.text("kind", "other")
    if kind not in _KINDS:
        raise entry.wrong("kind", f"choose one of {', '.join(_KINDS)}")
    return Quality(
        name=name,
        degrees=degrees,
        symbol=entry.text("symbol"),
        signature=entry.read("signature", parse_degree) if "signature" in entry else None,
        aliases=tuple(entry.text("aliases", "").split()),
        kind=kind,
        altered=entry.read("altered", _altered) if "altered" in entry else (),
        scale=entry.text("scale", "") or _usual_scale(degrees),
        guide=_guide(entry, degrees),
        difficulty=difficulty_of(entry),
    )


def chord_names(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of all chord qualities, those of an own file included."""
    return tuple(library("chords", _quality, own))


def practised_chords(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of the chords for daily practice, those of an own file included, easy ones first."""
    return practised(library("chords", _quality, own))


def chord(name: str, own: Path | None = None) -> Quality:
    """Return a chord quality by name; raise :class:`InputError` for an unknown one or a bad file."""
    return find("chord", name, library("chords", _quality, own))


def quality_of_kind(kind: str, altered: Sequence[tuple[int, int, str]]) -> Quality | None:
    """Return the packaged quality that MusicXML says as a kind with changed degrees, None where there is none."""
    return next((each for each in qualities() if each.kind == kind and set(each.altered) == set(altered)), None)


def qualities(own: Path | None = None) -> tuple[Quality, ...]:
    """Return all chord qualities, those of an own file last."""
    return tuple(library("chords", _quality, own).values())
