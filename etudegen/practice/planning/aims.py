"""What the aims are made of, as data: materials in playing order, and their shares by the length of session."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.practice.planning.materials import Material, materials
from etudegen.practice.profile import Aim
from etudegen.practice.rules import Part

# Minutes of session at which shares are told; between them they change evenly, beyond them they stay.
ANCHORS = (15, 30, 60, 120, 180)
_MOST_OWN = 20
_PLAYED = tuple(part for part in Part if part is not Part.REST)


@dataclass(frozen=True, slots=True)
class AimRow:
    """A material in the order of a session, and its share at each of the :data:`ANCHORS`, in per cent."""

    part: Part
    material: Material
    shares: tuple[int, ...]

    def share(self, minutes: int) -> float:
        """Return its share of a session of so many minutes, in per cent of what is not rest."""
        told = list(zip(ANCHORS, self.shares, strict=True))
        if minutes <= ANCHORS[0]:
            return self.shares[0]
        for (before, low), (after, high) in pairwise(told):
            if minutes <= after:
                return low + (high - low) * (minutes - before) / (after - before)
        return self.shares[-1]


@dataclass(frozen=True, slots=True, eq=False)
class AimTable:
    """What an aim is made of; ``own`` are the names of the materials that are just this aim's.

    Two are the same where they were read of the same state of a file.
    """

    about: str
    own: frozenset[str]
    rows: tuple[AimRow, ...]


def _row(table: Table) -> AimRow:
    table.only("part", "material", "shares")
    name = table.text("material")
    if name not in materials():
        raise table.wrong("material", f"choose one of {', '.join(materials())}")
    allowed = f"give {len(ANCHORS)} whole numbers from 0 to 100, for {', '.join(map(str, ANCHORS))} minutes"
    shares = table.whole_numbers("shares", len(ANCHORS), allowed)
    if not all(0 <= share <= 100 for share in shares):
        raise table.wrong("shares", allowed)
    return AimRow(table.choice("part", _PLAYED), materials()[name], tuple(shares))


@read_once
def read_aim(path: Path) -> AimTable:
    """Read what an aim is made of; raise :class:`InputError` with file, key, value and what is allowed."""
    file = read_toml(path)
    file.only("about", "own", "row")
    rows = tuple(map(_row, file.tables("row")))
    own = file.texts("own", _MOST_OWN)
    missing = [name for name in own if all(name != row.material.name for row in rows)]
    if missing or not own:
        raise file.wrong("own", f"name materials of its rows: {', '.join(row.material.name for row in rows)}")
    if rows[0].part is not Part.WARM_UP or not all(rows[0].shares):
        raise InputError(f"{path}: the first row must be a warm-up that is always there")
    return AimTable(file.text("about"), frozenset(own), rows)


def aim_table(aim: Aim) -> AimTable:
    """Return what an aim is made of."""
    return read_aim(templates() / "aims" / f"{aim}.toml")
