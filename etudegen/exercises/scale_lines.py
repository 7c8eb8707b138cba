"""Lines of scales over chords that lead from one into the next, as a player would improvise them.

Common practice, no source: each chord is entered by step from the last note before it, on a note of the chord where one
lies there; lines go up and down in turn, stay within an octave and a half, and end on a guide tone that is held.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from etudegen.exercises.traversal import to_and_fro
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.symbols import ChordSymbol

_OCTAVE_AND_A_HALF = 18
_STEP, _WIDE_STEP = 2, 3
# A last chord of so many beats ends on a note of so many, the longest first.
_HOLDS = ((Fraction(8), Fraction(4)), (Fraction(4), Fraction(2)), (Fraction(2), Fraction(1)))


@dataclass(frozen=True, slots=True)
class Over:
    """What is played over one chord: notes of equal length, the last of them held for ``hold`` beats, if any."""

    notes: Sequence[WrittenPitch]
    hold: Fraction = Fraction(0)

    def durations(self, beats: Fraction) -> list[Fraction]:
        """Return how long each note is where the chord lasts so many beats."""
        if not self.hold:
            return [beats / len(self.notes)] * len(self.notes)
        running = len(self.notes) - 1
        return [*([(beats - self.hold) / running] * running), self.hold]


@dataclass(frozen=True, slots=True)
class ChordInReach:
    """A chord with the notes of its scale in reach, from the bottom up, the beats it lasts, and the value that runs."""

    chord: ChordSymbol
    rungs: Sequence[WrittenPitch]
    beats: Fraction
    note: Fraction


def window(middle: WrittenPitch, low: int, high: int) -> tuple[int, int]:
    """Return the key numbers that a line about a note stays within: an octave and a half, or all there is."""
    bottom = max(low, min(middle.number - _OCTAVE_AND_A_HALF // 2, high - _OCTAVE_AND_A_HALF))
    return bottom, min(high, bottom + _OCTAVE_AND_A_HALF)


def line_over(stretches: Sequence[ChordInReach], near: WrittenPitch) -> list[Over]:
    """Return what is played over each chord, nothing where a chord has fewer than two notes in reach.

    The line begins on the root of the first chord that is nearest to a note.
    """
    line: list[Over] = []
    last: WrittenPitch | None = None
    up = True
    for place, stretch in enumerate(stretches):
        if len(stretch.rungs) < 2:
            return []
        start = _first(stretch, near) if last is None else _entered(stretch, last, up=up)
        ends = place + 1 == len(stretches)
        over = _to_a_guide_tone(stretch, start, up=up) if ends else None
        over = over or _unlike(line[-1].notes if line else (), stretch, start, up=up)
        line.append(over)
        last = over.notes[-1]
        up = not up
    return line


def _first(stretch: ChordInReach, near: WrittenPitch) -> int:
    """Return where the line begins: on the nearest root, else on the nearest note."""
    of_root = [place for place, note in enumerate(stretch.rungs) if (note.number - stretch.chord.root.number) % 12 == 0]
    return min(of_root or range(len(stretch.rungs)), key=lambda place: abs(stretch.rungs[place].number - near.number))


def _entered(stretch: ChordInReach, last: WrittenPitch, *, up: bool) -> int:
    """Return where a chord is entered: a step from the last note, on a note of the chord and ahead if there is one."""
    members = {stretch.chord.degree_pitch(degree).number % 12 for degree in stretch.chord.quality.degrees}

    def away(place: int) -> int:
        return abs(stretch.rungs[place].number - last.number)

    places = range(len(stretch.rungs))
    for widest in (_STEP, _WIDE_STEP):
        near = [place for place in places if 0 < away(place) <= widest]
        if near:
            return min(
                near,
                key=lambda place: (
                    stretch.rungs[place].number % 12 not in members,
                    (stretch.rungs[place].number > last.number) != up,
                    away(place),
                ),
            )
    return min(places, key=lambda place: (away(place) or len(stretch.rungs), place))


def _unlike(before: Sequence[WrittenPitch], stretch: ChordInReach, start: int, *, up: bool) -> Over:
    """Return a run from a place that is not the same as what was played before it, if there is one."""
    near = (
        place
        for place, note in enumerate(stretch.rungs)
        if before and 0 < abs(note.number - before[-1].number) <= _WIDE_STEP
    )
    places = [start, *(place for place in near if place != start)]
    count = int(stretch.beats / stretch.note)
    runs = [to_and_fro(stretch.rungs, place, step, count) for place in places for step in ((1, -1) if up else (-1, 1))]
    heard = [note.number for note in before]
    return Over(next((run for run in runs if [note.number for note in run] != heard), runs[0]))


def _to_a_guide_tone(stretch: ChordInReach, start: int, *, up: bool) -> Over | None:
    """Return a run with one turn at most that ends by step, or else by a third, on a guide tone, which is held.

    None where there is none.
    """
    hold = next((hold for beats, hold in _HOLDS if stretch.beats >= beats), Fraction(0))
    moves = (stretch.beats - hold) / stretch.note
    if not hold or moves.denominator != 1:
        return None
    guide_tones = {note.number % 12 for note in stretch.chord.guide_tones}
    guides = [place for place, note in enumerate(stretch.rungs) if note.number % 12 in guide_tones]
    for direction in (1, -1) if up else (-1, 1):
        for goal in sorted(guides, key=lambda place: (place - start) * -direction):
            for by, steps in ((0, int(moves)), (2, int(moves) - 1), (-2, int(moves) - 1)):
                places = _turning_once(start, goal - by, steps, direction, len(stretch.rungs))
                if places:
                    places += [goal] if by else []
                    return Over([stretch.rungs[place] for place in places], hold)
    return None


def _turning_once(start: int, goal: int, steps: int, direction: int, count: int) -> list[int]:
    """Return places from one to another in so many steps, first in a direction, then back; none where it cannot be."""
    there, odd = divmod(steps + direction * (goal - start), 2)
    turn = start + direction * there
    if odd or not (0 <= there <= steps and 0 <= turn < count and 0 <= goal < count):
        return []
    return [*range(start, turn, direction), *range(turn, goal, -direction), goal]
