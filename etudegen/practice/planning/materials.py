"""What sessions are made of, as data: a kind of exercise or of work on own music, with settings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.practice.rules import LONGEST_SESSION, OWN_MATERIAL, Manner, studies

# Lengths of session up to which fewer minutes are worth it.
_QUARTER, _HALF, _LONG = 15, 30, 75


class Effort(IntEnum):
    """What a material asks of the lips."""

    EASY = 0
    ORDINARY = 1
    STRENUOUS = 2


@dataclass(frozen=True, slots=True)
class Material:
    """A material: ``worth`` to ``most`` minutes are what a block of it is worth.

    ``brief`` where few minutes are enough in sessions of any length, ``music`` where it is music, ``lips`` where they
    play; it is there in sessions from ``first`` minutes on. What the keys of the file mean is told in it.
    """

    name: str
    kind: str
    worth: int
    most: int
    effort: Effort
    why: str
    brief: bool = False
    music: bool = False
    lips: bool = True
    first: int = 0
    settings: Mapping[str, Any] = field(default_factory=dict)

    def least(self, minutes: int) -> int:
        """Return the fewest minutes that are worth it in a session of so many; common practice, no source."""
        if minutes <= _QUARTER:
            return 3
        if minutes <= _HALF:
            return self.worth
        if self.brief:
            return max(4, self.worth)
        return max(self.worth, 5 if minutes <= _LONG else 6)


def checked_settings(table: Table, key: str, kind: str) -> dict[str, Any]:
    """Return the settings of a kind of exercise, or of work on own music, as values; all of them are known to it."""
    settings = table.table(key)
    texts = {each: settings.setting(each) for each in settings}
    try:
        if kind in OWN_MATERIAL:
            return own_settings(kind, texts)
        return kind_named(kind).parameters.checked_values(texts) if texts else {}
    except InputError as error:
        raise table.wrong(key, str(error)) from error


def own_settings(kind: str, texts: Mapping[str, str | bool]) -> dict[str, Any]:
    """Return the settings of work on own music as values: music has a manner."""
    unknown = [each for each in texts if (kind, each) != ("repertoire", "manner")]
    if unknown:
        raise InputError(f"{kind} has no {unknown[0]!r}" + (": it has manner" if kind == "repertoire" else ""))
    values: dict[str, Any] = {}
    for name, text in texts.items():
        if not isinstance(text, str) or text not in [*Manner]:
            raise InputError(f"{name} {text!r} is not allowed: choose one of {', '.join(Manner)}")
        values[name] = Manner(text)
    return values


def _material(name: str, table: Table) -> Material:
    table.only("kind", "worth", "most", "strain", "brief", "music", "lips", "from", "settings", "why")
    kind = table.text("kind")
    if kind not in OWN_MATERIAL and practice_of(kind) is None:
        raise table.wrong("kind", f"choose one of {', '.join((*studies(), *OWN_MATERIAL))}")
    return Material(
        name=name,
        kind=kind,
        worth=table.whole_number("worth", 1, LONGEST_SESSION),
        most=table.whole_number("most", 1, LONGEST_SESSION),
        effort=Effort[table.choice("strain", [each.name.lower() for each in Effort]).upper()],
        why=table.text("why"),
        brief="brief" in table and table.flag("brief"),
        music="music" in table and table.flag("music"),
        lips="lips" not in table or table.flag("lips"),
        first=table.whole_number("from", 0, LONGEST_SESSION, 0),
        settings=checked_settings(table, "settings", kind),
    )


@read_once
def read_materials(path: Path) -> Mapping[str, Material]:
    """Read materials by name; raise :class:`InputError` with file, key, value and what is allowed."""
    return {name: _material(name, table) for name, table in read_toml(path).entries()}


def materials() -> Mapping[str, Material]:
    """Return all materials by name."""
    return read_materials(templates() / "materials.toml")
