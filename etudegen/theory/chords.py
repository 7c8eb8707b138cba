"""Chord qualities: defined by degrees in a data file."""

from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.theory.degrees import Degree, parse_degree, parse_degrees
from etudegen.theory.library import Entry, find, library
from etudegen.theory.scales import Scale


@dataclass(frozen=True, slots=True)
class Quality:
    """A kind of chord: its notes from the root up as degrees, and the symbol that follows the root's name.

    ``signature`` is the degree that carries the major scale of the key signature it is printed with, if any.
    """

    name: str
    degrees: tuple[Degree, ...]
    symbol: str
    signature: Degree | None

    def as_scale(self) -> Scale:
        """Return its notes within one octave as a scale, which can be spelled on a root and laid out over a range."""
        by_height: dict[int, Degree] = {}
        for each in self.degrees:
            low = Degree((each.number - 1) % 7 + 1, each.bend)
            by_height.setdefault(low.half_steps % 12, low)
        within = sorted(by_height.values(), key=lambda each: each.half_steps)
        return Scale(self.name, tuple(within), tuple(within), self.signature, by_direction=False)


def _quality(entry: Entry) -> Quality:
    entry.only("degrees", "symbol", "signature")
    text, signature = entry.text("degrees"), entry.text("signature", "")
    try:
        degrees = parse_degrees(text)
    except InputError as error:
        raise entry.wrong("degrees", str(error)) from error
    try:
        on = parse_degree(signature) if signature else None
    except InputError as error:
        raise entry.wrong("signature", str(error)) from error
    heights = [degree.half_steps for degree in degrees]
    if degrees[0] != Degree(1, 0) or heights != sorted(set(heights)) or not 2 <= len(heights) <= 7:
        raise entry.wrong("degrees", "the degrees must start with 1 and rise, two to seven of them")
    return Quality(entry.name, degrees, entry.text("symbol"), on)


def chord_names(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of all chord qualities, those of an own file included."""
    return tuple(library("chords", _quality, own))


def chord(name: str, own: Path | None = None) -> Quality:
    """Return a chord quality by name; raise :class:`InputError` for an unknown one or a bad file."""
    return find("chord", name, library("chords", _quality, own))
