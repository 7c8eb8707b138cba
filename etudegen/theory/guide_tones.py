"""Guide tones: two lines through the thirds and sevenths of chords, each moving by the smallest step.

As taught in "Voice leading with guide tones", musictheorymanual.com: over Dm7 G7 Cmaj7 one line goes F F E, the other
C B B.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.symbols import ChordSymbol

_OCTAVE = 12


@dataclass(frozen=True, slots=True)
class GuideLines:
    """One note a chord in each of two lines: the first starts on the third of the first chord, the other on its
    seventh (or on what stands for it in that chord).
    """

    from_third: tuple[WrittenPitch, ...]
    from_seventh: tuple[WrittenPitch, ...]


def _step(one: WrittenPitch, other: WrittenPitch) -> int:
    """Return how many half steps lie between two notes in their nearest octaves."""
    away = (other.number - one.number) % _OCTAVE
    return min(away, _OCTAVE - away)


def _two_ways(chords: Sequence[ChordSymbol]) -> tuple[list[WrittenPitch], list[WrittenPitch]]:
    """Return both lines without regard to octaves: together they move as little as they can."""
    first, second = chords[0].guide_tones
    lines = ([first], [second])
    for chord in chords[1:]:
        third, seventh = chord.guide_tones
        one, other = lines[0][-1], lines[1][-1]
        kept = (_step(one, third) + _step(other, seventh), _step(one, third))
        crossed = (_step(one, seventh) + _step(other, third), _step(one, seventh))
        pair = (seventh, third) if crossed < kept else (third, seventh)
        for line, note in zip(lines, pair, strict=True):
            line.append(note)
    return lines


def in_octaves(note: WrittenPitch, low: int, high: int) -> list[WrittenPitch]:
    """Return a note in each octave in which its key number lies from low to high, from the bottom up."""
    first, last = -((note.number - low) // _OCTAVE), (high - note.number) // _OCTAVE
    return [note.above(7 * octaves, _OCTAVE * octaves) for octaves in range(first, last + 1)]


def _within(line: Sequence[WrittenPitch], low: int, high: int) -> tuple[WrittenPitch, ...]:
    """Return a line in the octaves in which it leaps least and starts nearest to the middle, () where none fits."""
    ways = []
    for start in in_octaves(line[0], low, high):
        way = [start]
        for note in line[1:]:
            places = in_octaves(note, low, high)
            if not places:
                return ()
            way.append(min(places, key=lambda place: (abs(place.number - way[-1].number), place.number)))
        leaps = sum(abs(after.number - before.number) for before, after in pairwise(way))
        ways.append((leaps, abs(2 * start.number - low - high), start.number, way))
    return tuple(min(ways, key=lambda each: each[:3])[3]) if ways else ()


def guide_lines(chords: Sequence[ChordSymbol], low: int, high: int) -> GuideLines | None:
    """Return two lines of guide tones between two key numbers, or None where one of them does not fit into it.

    Each moves to the nearest guide tone of the next chord, never both to the same one, and folds by an octave only
    where the range ends.
    """
    if not chords:
        return GuideLines((), ())
    lines = [_within(line, low, high) for line in _two_ways(chords)]
    return GuideLines(*lines) if all(lines) else None
