"""Session routines: shares, order and purpose of blocks, as files in ``templates/routines`` that a teacher can edit."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.practice.profile import Aim
from etudegen.practice.rules import LONGEST_SESSION, OWN_MATERIAL, SHORTEST_SESSION, Part, studies

ANY, RETURN, TRAVEL = "any", "return", "travel"
_MOST_AIMS = 20
_PLAYED = tuple(part for part in Part if part is not Part.REST)
_OF_OWN = (Part.MUSIC, Part.CHANGES)


@dataclass(frozen=True, slots=True)
class RoutineBlock:
    """A block that a session may have; ``shortest`` is the length of session from which on it is there."""

    part: Part
    kind: str
    share: int
    why: str
    shortest: int = 0
    settings: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Use:
    """What a routine is made for: sessions of so many minutes, from and to, and aims."""

    shortest: int
    longest: int
    aims: tuple[str, ...]

    def serves(self, minutes: int, aim: str) -> bool:
        """Tell whether it is made for a session of so many minutes with this aim."""
        return self.shortest <= minutes <= self.longest and (aim in self.aims or ANY in self.aims)


@dataclass(frozen=True, slots=True)
class Routine:
    """A routine: its name, a sentence about it, what it is made for, and its blocks in order."""

    name: str
    about: str
    use: Use
    blocks: tuple[RoutineBlock, ...]


def _settings(block: Table, kind: str) -> dict[str, Any]:
    """Return the settings of a block as values, checked by the kind."""
    table = block.table("settings")
    settings = {key: table.setting(key) for key in table}
    if not settings:
        return {}
    if kind in OWN_MATERIAL:
        raise block.wrong("settings", "a card has none")
    try:
        return kind_named(kind).parameters.checked_values(settings)
    except InputError as error:
        raise block.wrong("settings", str(error)) from error


def _block(block: Table) -> RoutineBlock:
    block.only("part", "kind", "share", "from", "why", "settings")
    part, kind = block.choice("part", _PLAYED), block.text("kind")
    if not (kind in OWN_MATERIAL if part in _OF_OWN else practice_of(kind)):
        allowed = OWN_MATERIAL if part in _OF_OWN else studies()
        raise block.wrong("kind", f"for {part} choose one of {', '.join(allowed)}")
    return RoutineBlock(
        part=part,
        kind=kind,
        share=block.whole_number("share", 1, 100),
        why=block.text("why"),
        shortest=block.whole_number("from", 0, LONGEST_SESSION, 0),
        settings=_settings(block, kind),
    )


def _use(file: Table) -> Use:
    length = f"give two whole numbers from {SHORTEST_SESSION} to {LONGEST_SESSION}, from and to"
    shortest, longest = file.whole_numbers("minutes", 2, length)
    if not SHORTEST_SESSION <= shortest <= longest <= LONGEST_SESSION:
        raise file.wrong("minutes", length)
    aims, known = file.texts("aims", _MOST_AIMS), (*Aim, ANY, RETURN, TRAVEL)
    if not aims or not set(aims) <= set(known):
        raise file.wrong("aims", f"give one or more of {', '.join(known)}")
    return Use(shortest, longest, aims)


@read_once
def _use_of(path: Path) -> Use:
    """Return what a routine is made for, without a look at its blocks: these load the kinds of exercise."""
    return _use(read_toml(path))


@read_once
def read_routine(path: Path) -> Routine:
    """Read a routine; raise :class:`InputError` with file, key, value and what is allowed."""
    if not os.path.isfile(path):
        raise InputError(f"there is no routine {str(path)!r}: name a .toml file with blocks")
    file = read_toml(path)
    file.only("about", "minutes", "aims", "block")
    use, blocks = _use(file), tuple(map(_block, file.tables("block")))
    if blocks[0].part is not Part.WARM_UP or blocks[0].shortest:
        raise InputError(f"{path}: the first block must be a warm-up that is always there")
    if any(block.part in (Part.WARM_UP, Part.WARM_DOWN) for block in blocks[1:-1]) or blocks[-1].part is Part.RANGE:
        raise InputError(f"{path}: a warm-up comes first, a warm-down last, and range work is never the last block")
    return Routine(path.stem, file.text("about"), use, blocks)


@read_once
def _names_in(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def routine_names() -> tuple[str, ...]:
    """Return the names of the packaged routines."""
    return _names_in(templates() / "routines")


def _packaged(name: str) -> Path:
    return templates() / "routines" / f"{name}.toml"


def routine(name: str) -> Routine:
    """Return a routine by name, or from a file of the player's own (anything that ends in ``.toml``)."""
    if name.endswith(".toml"):
        return read_routine(Path(name))
    if name not in routine_names():
        raise InputError(f"unknown routine {name!r}: choose one of {', '.join(routine_names())}, or name a .toml file")
    return read_routine(_packaged(name))


def routine_for(minutes: int, aim: Aim, *, returning: bool) -> Routine:
    """Return the packaged routine for a session, one made for just this aim before one for any."""
    wanted = RETURN if returning else str(aim)
    uses = {name: _use_of(_packaged(name)) for name in routine_names()}
    fitting = {name: use for name, use in uses.items() if use.serves(minutes, wanted)}
    return routine(min(fitting, key=lambda name: (wanted not in fitting[name].aims, len(fitting[name].aims), name)))
