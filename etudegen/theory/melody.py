"""What tunes are like, counted: how far they move, on which steps they stand, in which rhythms their bars are."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.theory.rhythm import Metre

# The farthest that a tune is counted to move, in steps of its scale.
FARTHEST = 7
_UNITS_OF_A_QUARTER = 48
_MOST_BARS = 200
_DEGREES = 7
# By the move before, as the file calls it.
MOVES = (
    "same", "step-up", "step-down", "third-up", "third-down", "fourth-or-more-up", "fourth-or-more-down", "new-phrase",
)  # fmt: skip
_SHAPES = {"2/4": (2, 4), "3/4": (3, 4), "4/4": (4, 4), "6/8": (6, 8)}


@dataclass(frozen=True, slots=True)
class BarRhythm:
    """The values of a bar's notes in quarter notes, and how often there is such a bar."""

    values: tuple[Fraction, ...]
    weight: int


@dataclass(frozen=True)
class MelodyTables:
    """Counts of tunes as weights.

    ``steps`` has for each of :data:`MOVES` how often a move of -7 to 7 steps follows; ``degrees`` for each mode and
    place in the bar (``downbeat``, ``beat``, ``offbeat``) how often the steps of the scale stand there, from the tonic
    up; ``bars`` the rhythms of whole bars by metre.
    """

    steps: Mapping[str, tuple[float, ...]]
    degrees: Mapping[tuple[str, str], tuple[float, ...]]
    bars: Mapping[Metre, tuple[BarRhythm, ...]]


def move_of(steps: int) -> int:
    """Return the place in :data:`MOVES` of a move of so many steps."""
    if abs(steps) <= 1:
        return (2, 0, 1)[steps + 1]
    return (3 if steps > 0 else 4) if abs(steps) == 2 else (5 if steps > 0 else 6)


def melody_tables() -> MelodyTables:
    """Return the counts of the packaged file."""
    return _read(templates() / "etudes" / "melody.toml")


@read_once
def _read(path: Path) -> MelodyTables:
    file = read_toml(path)
    file.only("steps", "degrees", "rhythms")
    steps, degrees = file.table("steps"), file.table("degrees")
    return MelodyTables(
        {move: tuple(steps.numbers(move, 2 * FARTHEST + 1, "give a weight for each move")) for move in MOVES},
        {
            (mode, place): tuple(degrees.table(mode).numbers(place, _DEGREES, "give a weight for each step"))
            for mode in ("major", "minor")
            for place in ("downbeat", "beat", "offbeat")
        },
        {_SHAPES[each.choice("metre", _SHAPES)]: _bars(each) for each in file.tables("rhythms")},
    )


def _bars(table: Table) -> tuple[BarRhythm, ...]:
    bars = []
    for text in table.texts("bars", _MOST_BARS):
        values, _, weight = text.partition(":")
        try:
            bars.append(
                BarRhythm(tuple(Fraction(int(each), _UNITS_OF_A_QUARTER) for each in values.split()), int(weight))
            )
        except ValueError:
            raise table.wrong("bars", "write note values in 48ths of a quarter note, a colon and a weight") from None
    return tuple(bars)
