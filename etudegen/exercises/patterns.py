"""Patterns: a small cell of scale degrees carried through a scale, up the range and down again."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import CAUTION, NAMES, Keyed, daily_keys, own_file_setting, told_in_keys
from etudegen.exercises.settings import one_of, setting
from etudegen.exercises.traversal import Extent, within_an_octave
from etudegen.study import Line, Study
from etudegen.theory.degrees import Degree
from etudegen.theory.patterns import pattern, pattern_difficulty, pattern_names, practised_patterns
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.scales import ConcreteScale, respelled, scale, scale_names

INSTRUCTION = "Hear the cell before you play it, and keep every repetition as easy as the first."
_OCTAVE = 12


@dataclass(frozen=True, kw_only=True)
class PatternParameters(Keyed):
    """What a pattern sheet can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "patterns"

    pattern: str = setting(
        "one-two-three-five", f"one of {', '.join(pattern_names())}, or degrees like '1 2 3 5'", NAMES, "CELL"
    )
    patterns: Path | None = own_file_setting("patterns")
    scale: str = setting("major", f"one of {', '.join(scale_names())}, or your own", NAMES, "NAME")
    scales: Path | None = own_file_setting("scales")
    extent: Extent = setting(
        Extent.FULL,
        "how far the cell is carried: one or two octaves, or full for the whole range",
        one_of(Extent, "extent"),
        "EXTENT",
    )
    rhythm: Rhythm | None = setting(  # type: ignore[assignment]
        None,
        f"rhythm of the moving notes: {', '.join(Rhythm)}, one that fits the cell",
        one_of(Rhythm, "rhythm"),
        "RHYTHM",
        "triplets for a cell of three, else eighths or quarters",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        scale(self.scale, self.scales)
        if self.running not in self._fitting:
            raise InputError(
                f"rhythm {self.rhythm} does not fit a cell of {len(self.cell)} notes: choose {', '.join(self._fitting)}"
            )

    @property
    def cell(self) -> tuple[Degree, ...]:
        """The cell that is carried through the scale."""
        return pattern(self.pattern, self.patterns)

    @property
    def _fitting(self) -> list[Rhythm]:
        return [rhythm for rhythm in Rhythm if _fits(len(self.cell), rhythm)]

    @property
    def running(self) -> Rhythm:
        """The rhythm asked for, or the one that such a cell usually has."""
        if self.rhythm is not None:
            return self.rhythm
        usual = Rhythm.TRIPLETS if len(self.cell) % Rhythm.TRIPLETS.per_beat == 0 else Rhythm.EIGHTHS
        return usual if usual in self._fitting else Rhythm.QUARTERS

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the range, the keys, and how it is played."""
        yield self.span
        yield self.keys_text(lines)
        yield f"{self.running}, {self.spoken.name}"


def _fits(notes: int, rhythm: Rhythm) -> bool:
    return notes % rhythm.per_beat == 0 or rhythm.per_beat % notes == 0


class _Ladder:
    """A key's notes as rungs, on which a cell can be set at any height."""

    def __init__(self, key: ConcreteScale, cell: Sequence[Degree], low: WrittenPitch, high: WrittenPitch) -> None:
        self._rungs = key.members(low, high, rising=True)
        self._cell = cell
        self._low, self._high = low, high

    def at(self, start: int) -> list[WrittenPitch]:
        """Return the cell from a rung, or nothing where it leaves the range."""
        notes = []
        for degree in self._cell:
            place = start + degree.staff_steps
            if not 0 <= place < len(self._rungs):
                return []
            note = self._rungs[place].above(0, degree.alter)
            notes.append(note if abs(note.alter) <= 1 else respelled(note, note.alter))
        inside = all(self._low.number <= note.number <= self._high.number for note in notes)
        return notes if inside else []

    def starts(self) -> list[int]:
        """Return the rungs that the whole cell can be played from."""
        return [start for start in range(len(self._rungs)) if self.at(start)]

    def __getitem__(self, place: int) -> WrittenPitch:
        return self._rungs[place]


def _travel(key: ConcreteScale, ladder: _Ladder, extent: Extent) -> list[int]:
    """Return the rungs that the cell starts from: up from the lowest tonic, down, and back to it."""
    starts = ladder.starts()
    first = next((start for start in starts if key.is_tonic(ladder[start])), None)
    if first is None:
        return []
    if extent.half_steps is None:
        top, bottom = starts[-1], starts[0]
    else:
        bottom = first
        heights = {ladder[start].number: start for start in starts}
        if ladder[first].number + extent.half_steps not in heights:
            return []
        top = heights[ladder[first].number + extent.half_steps]
    way = [*range(first, top + 1), *range(top - 1, bottom - 1, -1), *range(bottom + 1, first + 1)]
    return way if set(way) <= set(starts) else []


def _notes(key: ConcreteScale, ladder: _Ladder, extent: Extent) -> list[WrittenPitch]:
    way = _travel(key, ladder, extent)
    if len(way) < 2:
        return []
    notes: list[WrittenPitch] = []
    turns = {
        place for place in range(1, len(way) - 1) if (way[place] - way[place - 1]) != (way[place + 1] - way[place])
    }
    for place, start in enumerate(way):
        cell = ladder.at(start)
        # Right after a turn the cell may begin on the note that the last one ended on: it goes one rung further.
        if place - 1 in turns and notes[-1].number == cell[0].number:
            continue
        notes += cell
    home = ladder[way[-1]]
    return notes if notes[-1].number == home.number else [*notes, home]


def study(parameters: PatternParameters) -> Study:
    """Make a study of a cell carried through a scale: one line a key, ending on a held tonic."""
    of = scale(parameters.scale, parameters.scales)
    lines, skipped = parameters.in_keys(
        of,
        lambda key: _notes(key, _Ladder(key, parameters.cell, parameters.low, parameters.high), parameters.extent),
        f"the cell does not fit {parameters.span} over extent {parameters.extent}",
    )
    kind = of.name.replace("-", " ")
    cell = " ".join(f"{'♭' * -degree.alter}{'♯' * degree.alter}{degree.number}" for degree in parameters.cell)
    return parameters.study(
        title=f"Pattern {cell}, {kind}",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the cells that are for daily practice."""
    keys = daily_keys(scale(occasion.asked.get("scale", "major"), occasion.asked.get("scales")), occasion)
    own = occasion.asked.get("patterns")
    for name in occasion.choices_of("pattern", practised_patterns(own), lambda each: pattern_difficulty(each, own)):
        settings = {"pattern": name, **occasion.extent}
        yield Choice(settings, " ".join(map(str, pattern(name, own))), "keys", keys, in_rhythms=True)


EXERCISE = Exercise(
    parameters=PatternParameters,
    study=study,
    page_name="patterns",
    practice=Practice(choices=_choices, told=told_in_keys, easier=within_an_octave),
    over_drone=True,
)
