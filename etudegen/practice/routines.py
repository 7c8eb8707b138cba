"""Session routines: shares, order and purpose of blocks, as files in ``templates/routines`` that a teacher can edit."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.files.templates import templates
from etudegen.practice.profile import Aim
from etudegen.practice.rules import CARDS, LONGEST_SESSION, SHORTEST_SESSION, Part, studies
from etudegen.theory.library import read_toml

ANY, RETURN, TRAVEL = "any", "return", "travel"
_BLOCK_KEYS = ("part", "kind", "share", "from", "why", "settings")
_PLAYED = tuple(part for part in Part if part is not Part.REST)
_OWN_MATERIAL = (Part.MUSIC, Part.CHANGES)


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
class Routine:
    """An routine: the sessions it is made for (minutes from and to, aims) and its blocks in order."""

    name: str
    about: str
    shortest: int
    longest: int
    aims: tuple[str, ...]
    blocks: tuple[RoutineBlock, ...]

    def serves(self, minutes: int, aim: str) -> bool:
        """Tell whether it is made for a session of so many minutes with this aim."""
        return self.shortest <= minutes <= self.longest and (aim in self.aims or ANY in self.aims)


def _checked(path: Path, where: str, key: str, value: Any, kind: type, allowed: str) -> Any:
    if not isinstance(value, kind) or isinstance(value, bool):
        raise InputError(f"{path}: {where}{key} is {value!r}: {allowed}")
    return value


def _settings(path: Path, where: str, kind: str, table: Any) -> dict[str, Any]:
    """Return the settings of a block as values, checked by the kind."""
    _checked(path, where, "settings", table, dict, "it must be a table")
    if not table:
        return {}
    if kind in CARDS:
        raise InputError(f"{path}: {where}settings is {table!r}: a card has none")
    try:
        return kind_named(kind).parameters.checked_values(table)
    except InputError as error:
        raise InputError(f"{path}: {where}settings: {error}") from error


def _block(path: Path, place: int, table: Any) -> RoutineBlock:
    where = f"block {place}: "
    _checked(path, where, "it", table, dict, "each block must be a table [[block]]")
    for key in table:
        if key not in _BLOCK_KEYS:
            raise InputError(f"{path}: {where}unknown key {key!r}: known are {', '.join(_BLOCK_KEYS)}")
    part, kind = table.get("part"), table.get("kind")
    if part not in list(_PLAYED):
        raise InputError(f"{path}: {where}part is {part!r}: choose one of {', '.join(_PLAYED)}")
    if not (kind in CARDS if part in _OWN_MATERIAL else practice_of(kind)):
        allowed = CARDS if part in _OWN_MATERIAL else studies()
        raise InputError(f"{path}: {where}kind is {kind!r}: for {part} choose one of {', '.join(allowed)}")
    share = _checked(path, where, "share", table.get("share"), int, "it must be a whole number")
    if not 1 <= share <= 100:
        raise InputError(f"{path}: {where}share is {share}: allowed are 1 to 100")
    return RoutineBlock(
        part=Part(part),
        kind=kind,
        share=share,
        why=_checked(path, where, "why", table.get("why"), str, "it must be a sentence"),
        shortest=_checked(path, where, "from", table.get("from", 0), int, "it must be a whole number of minutes"),
        settings=_settings(path, where, kind, table.get("settings", {})),
    )


def read_routine(path: Path) -> Routine:
    """Read an routine; raise :class:`InputError` with file, key, value and what is allowed."""
    if not path.is_file():
        raise InputError(f"there is no routine {str(path)!r}: name a .toml file with blocks")
    table = read_toml(path)
    minutes = table.get("minutes")
    if (
        not isinstance(minutes, list)
        or [type(each) for each in minutes] != [int, int]
        or not SHORTEST_SESSION <= minutes[0] <= minutes[1] <= LONGEST_SESSION
    ):
        raise InputError(
            f"{path}: minutes is {minutes!r}: give two whole numbers from {SHORTEST_SESSION} to {LONGEST_SESSION}"
        )
    aims = _checked(path, "", "aims", table.get("aims"), list, "it must be a list")
    known = (*Aim, ANY, RETURN, TRAVEL)
    for aim in aims:
        if aim not in known:
            raise InputError(f"{path}: aims has {aim!r}: choose among {', '.join(known)}")
    blocks = _checked(path, "", "block", table.get("block"), list, "give at least one [[block]]")
    read = tuple(_block(path, place, block) for place, block in enumerate(blocks, start=1))
    parts = [block.part for block in read if not block.shortest]
    if not parts or parts[0] is not Part.WARM_UP:
        raise InputError(f"{path}: the first block must be a warm-up that is always there")
    if any(block.part in (Part.WARM_UP, Part.WARM_DOWN) for block in read[1:-1]) or read[-1].part is Part.RANGE:
        raise InputError(f"{path}: a warm-up comes first, a warm-down last, and range work is never the last block")
    return Routine(
        name=path.stem,
        about=_checked(path, "", "about", table.get("about"), str, "it must be a sentence"),
        shortest=minutes[0],
        longest=minutes[1],
        aims=tuple(aims),
        blocks=read,
    )


def routine_names() -> tuple[str, ...]:
    """Return the names of the packaged routines."""
    return tuple(sorted(path.stem for path in (templates() / "routines").glob("*.toml")))


def routine(name: str) -> Routine:
    """Return an routine by name, or from a file of the player's own (anything that ends in ``.toml``)."""
    if name.endswith(".toml"):
        return read_routine(Path(name))
    if name not in routine_names():
        raise InputError(f"unknown routine {name!r}: choose one of {', '.join(routine_names())}, or name a .toml file")
    return read_routine(templates() / "routines" / f"{name}.toml")


def routine_for(minutes: int, aim: Aim, *, returning: bool) -> Routine:
    """Return the packaged routine for a session, one made for just this aim before one for any."""
    wanted = RETURN if returning else str(aim)
    fitting = [each for each in map(routine, routine_names()) if each.serves(minutes, wanted)]
    return min(fitting, key=lambda each: (wanted not in each.aims, len(each.aims), each.name))
