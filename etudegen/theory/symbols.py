"""Chord symbols in common lead-sheet spelling: a root, a quality, perhaps another bass note."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.caching import read_once
from etudegen.theory.chords import Quality, qualities
from etudegen.theory.degrees import Degree
from etudegen.theory.keys import names_of, tonic
from etudegen.theory.library import packaged_file
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import respelled

_SYMBOL = re.compile(r"([A-G][#b]?)(.*?)(?:/([A-G][#b]?))?")
_ASCII = str.maketrans({"♭": "b", "♯": "#", "△": "Δ", "º": "°", "−": "-", "–": "-", "Ø": "ø"})
_BRACKETS = str.maketrans("", "", "()")
_LONGEST = 40
# Nobody writes a chord on these without need.
_RARE_ROOTS = ("B#", "E#", "Cb", "Fb")


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord: root, quality, and bass, None where it is the root. The octaves of root and bass do not matter."""

    root: WrittenPitch
    quality: Quality
    bass: WrittenPitch | None = None

    @property
    def text(self) -> str:
        """The symbol in ASCII, such as ``Bbm7b5/Eb``."""
        return self.root.name + self.quality.symbol + (f"/{self.bass.name}" if self.bass else "")

    @property
    def pretty(self) -> str:
        """The symbol as print shows it, such as ``B♭m7♭5/E♭``."""
        return self.root.pretty_name + self.quality.pretty_symbol + (f"/{self.bass.pretty_name}" if self.bass else "")

    @property
    def tones(self) -> tuple[WrittenPitch, ...]:
        """Its notes from the root up, without double accidentals."""
        return tuple(map(self.degree_pitch, self.quality.degrees))

    @property
    def guide_tones(self) -> tuple[WrittenPitch, WrittenPitch]:
        """Its third and seventh, or what stands for them, above the root."""
        third, seventh = map(self.degree_pitch, self.quality.guide)
        return third, seventh

    def sounds_like(self, other: "ChordSymbol | None") -> bool:
        """Tell whether another chord has the same notes, whatever their names."""
        return other is not None and self._sound == other._sound

    @property
    def _sound(self) -> tuple[int, Quality, int]:
        return self.root.number % 12, self.quality, (self.bass or self.root).number % 12

    def degree_pitch(self, degree: Degree) -> WrittenPitch:
        """Return a degree over the root, without a double accidental."""
        return readable(degree.above(self.root))

    def moved(self, staff_steps: int, half_steps: int) -> "ChordSymbol":
        """Return the chord moved by an interval.

        A root that would need a double accidental takes its simpler name, and so does B♯, E♯, C♭ or F♭ where the
        chord has more double accidentals on it than on the other name.
        """
        if staff_steps == half_steps == 0:
            return self
        root = self._best_root(self.root.above(staff_steps, half_steps))
        bass = self.bass
        if bass is not None:
            away = bass.above(staff_steps, half_steps)
            # The bass keeps its interval to the root where that can be read.
            steps = (ord(bass.step) - ord(self.root.step)) % 7
            above = root.above(steps, (bass.number - self.root.number) % 12)
            bass = _bass(root, _in_place(above if abs(above.alter) <= 1 else readable(away)))
        return ChordSymbol(_in_place(root), self.quality, bass)

    def _best_root(self, root: WrittenPitch) -> WrittenPitch:
        if abs(root.alter) <= 1 and root.name not in _RARE_ROOTS:
            return root
        others = [name for name in names_of(root.number) if name.name not in _RARE_ROOTS]
        own = [root] if abs(root.alter) <= 1 else []
        return min((*own, *others), key=self._doubles)

    def _doubles(self, root: WrittenPitch) -> int:
        return sum(abs(degree.above(root).alter) > 1 for degree in self.quality.degrees)


def readable(pitch: WrittenPitch) -> WrittenPitch:
    """Return a pitch without a double accidental, such as A for B𝄫."""
    return pitch if abs(pitch.alter) <= 1 else respelled(pitch, pitch.alter)


def _bass(root: WrittenPitch, below: WrittenPitch) -> WrittenPitch | None:
    """Return the bass, None where it is the root under whatever name."""
    return below if (below.number - root.number) % 12 else None


def _in_place(pitch: WrittenPitch) -> WrittenPitch:
    """Return a root or bass in the octave that all of them have, so that equal chords are equal values."""
    return tonic(pitch.name)


def _by_suffix(own: Path | None) -> Mapping[str, Quality]:
    return _packaged(packaged_file("chords")) if own is None else _table(qualities(own))


@read_once
def _packaged(_: Path) -> Mapping[str, Quality]:
    return _table(qualities())


def _table(known: tuple[Quality, ...]) -> Mapping[str, Quality]:
    """Return the qualities by symbol and alias: a player's own go first, and a symbol before any alias."""
    table: dict[str, Quality] = {}
    for quality in reversed(known):
        table.setdefault(quality.symbol, quality)
    named = [quality for quality in reversed(known) if table[quality.symbol] is quality]
    for quality in named:
        for alias in quality.aliases:
            table.setdefault(alias, quality)
    for suffix, quality in list(table.items()):
        table.setdefault(suffix.translate(_BRACKETS), quality)
    return table


def parse_quality(suffix: str, own: Path | None = None) -> Quality:
    """Read what follows a root's name, such as ``m7b5``; raise :class:`InputError` for anything else."""
    return _quality(suffix, _by_suffix(own))


def symbol_reader(own: Path | None = None) -> Callable[[str], ChordSymbol]:
    """Return what reads chord symbols as :func:`parse_symbol` does; ``own`` is read only once."""
    table = _by_suffix(own)
    return lambda text: _symbol(text, table)


def parse_symbol(text: str, own: Path | None = None) -> ChordSymbol:
    """Read a chord symbol such as ``Bbm7b5/Eb``; ``own`` is a file of the player's own qualities.

    Raises :class:`InputError` with the symbol and what is allowed.
    """
    return _symbol(text, _by_suffix(own))


def _symbol(text: str, table: Mapping[str, Quality]) -> ChordSymbol:
    match = _SYMBOL.fullmatch(text.translate(_ASCII))
    if match is None:
        why = "write a root from A to G with # or b if needed, then its quality, like Bbm7 or F#7b9/E"
        raise InputError(f"cannot read the chord {text[:_LONGEST]!r}: {why}")
    name, suffix, below = match.groups()
    try:
        quality = _quality(suffix, table)
    except InputError as error:
        raise InputError(f"cannot read the chord {text[:_LONGEST]!r}: {error}") from error
    return ChordSymbol(tonic(name), quality, _bass(tonic(name), tonic(below or name)))


def _quality(suffix: str, table: Mapping[str, Quality]) -> Quality:
    plain = suffix.translate(_ASCII).replace("Maj", "maj")
    found = table.get(suffix) or table.get(plain) or table.get(plain.translate(_BRACKETS))
    if found is None:
        known = dict.fromkeys(quality.symbol for quality in table.values() if quality.symbol)
        allowed = ", ".join(reversed(known))
        raise InputError(f"unknown quality {suffix[:_LONGEST]!r}: choose nothing (major) or one of {allowed}")
    return found
