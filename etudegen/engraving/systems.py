"""Where a line of music that needs more than one system is broken: into systems that are about equally full.

LilyPond breaks lines well, but a line that is a little too long for one system leaves it a last system with a bar
and a rest on it. Widths are guesses in staff spaces, made on the generous side: a break is only asked for where it
is clearly wanted, and LilyPond may always add one.
"""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from etudegen.engraving.page import Measure, Page, Sign

# 180 mm between the margins of A4 less the room for labels, in staff spaces of 1.8 mm, less clef and barlines.
_SYSTEM = 84.0
_PER_SHARP = 1.1
_BARLINE = 1.4
_COUNTED_REST = 9.0
_ACCIDENTAL = 1.0
# In whole notes, shortest first: at most so long a value takes so much room.
_WIDTHS = ((Fraction(1, 12), 2.0), (Fraction(1, 8), 2.3), (Fraction(1, 4), 3.2), (Fraction(1, 2), 4.2))
_WIDEST = 5.5
# A letter of the words under the notes and of chord symbols, and what lies between two of them.
_LETTER, _CHORD_LETTER, _BETWEEN_WORDS = 1.05, 1.25, 0.9
# Chord symbols and words under the notes take height.
_SYSTEMS_ON_A_PAGE = 10
_LOST_TO_CHORDS = 1


def _width(sign: Sign) -> float:
    bare = next((width for longest, width in _WIDTHS if sign.length <= longest), _WIDEST)
    sung = max((_LETTER * len(syllable.text) + _BETWEEN_WORDS for _, syllable in sign.sung), default=0.0)
    return max(bare + (_ACCIDENTAL if sign.shows_accidental else 0.0), sung)


def _measure_width(measure: Measure) -> float:
    signs = _COUNTED_REST if measure.rest_bars else sum(map(_width, measure.signs))
    chords = sum(
        _CHORD_LETTER * len(f"{each.root}{each.suffix}{each.bass}") + _BETWEEN_WORDS for each in measure.chords
    )
    return _BARLINE + max(signs, chords)


def _split(widths: Sequence[float], room: float) -> list[int]:
    """Return the starts of groups, as few as fit into the room, such that the widest is as narrow as can be."""
    best: dict[tuple[int, int], tuple[float, list[int]]] = {(0, 0): (0.0, [])}
    count = len(widths)
    for groups in range(1, count + 1):
        for end in range(1, count + 1):
            choices = (
                (max(best[groups - 1, start][0], sum(widths[start:end])), [*best[groups - 1, start][1], start])
                for start in range(groups - 1, end)
                if (groups - 1, start) in best
            )
            chosen = min(choices, key=lambda choice: choice[0], default=None)
            if chosen is not None:
                best[groups, end] = chosen
        if best[groups, count][0] <= room:
            return best[groups, count][1]
    return []


def lines_of(measures: Iterable[Measure]) -> Iterator[list[Measure]]:
    """Yield the measures of each line or phrase that begins on a system of its own."""
    line: list[Measure] = []
    for measure in measures:
        if (measure.new_system or measure.new_phrase) and line:
            yield line
            line = []
        line.append(measure)
    yield line


def most_systems(page: Page) -> int:
    """Return how many systems of a page's music fit between its title and its foot."""
    chords = any(measure.chords for measure in page.measures)
    verses = len({verse for measure in page.measures for sign in measure.signs for verse, _ in sign.sung})
    return _SYSTEMS_ON_A_PAGE - (_LOST_TO_CHORDS if chords else 0) - verses


def broken_lines(page: Page) -> Iterator[tuple[list[Measure], set[int]]]:
    """Yield the measures of each line or phrase with the places before which a further system of it begins."""
    sharps = 0
    for line in lines_of(page.measures):
        sharps = sharps if line[0].sharps is None else line[0].sharps
        yield line, breaks(line, sharps)


def systems_of(page: Page) -> int:
    """Return on how many systems the music of a page is to be set."""
    return sum(1 + len(wanted) for _, wanted in broken_lines(page))


def breaks(line: Sequence[Measure], sharps: int) -> set[int]:
    """Return the places of the measures of a line before which a new system is to begin."""
    room = _SYSTEM - _PER_SHARP * abs(sharps)
    widths = [_measure_width(measure) for measure in line]
    if sum(widths) <= room:
        return set()
    return set(_split(widths, room)) - {0}
