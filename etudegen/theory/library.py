"""Libraries of musical data: TOML files with one table an entry, which a musician can add to.

An entry of a file of the player's own stands beside the packaged ones, and before one of the same name.
"""

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Protocol, TypeVar

from etudegen.errors import InputError
from etudegen.files.templates import templates
from etudegen.plain_text import printable

T = TypeVar("T")
_LARGEST = 1_000_000
_LONGEST_NAME = 60
_EASIEST, _HARDEST = 1, 9


class Practised(Protocol):
    """What may be for daily practice; see :meth:`Entry.difficulty`."""

    @property
    def difficulty(self) -> int | None:
        """How hard it is, None for what is not for daily practice."""


class Entry:
    """One table of a library file, read key by key; what is wrong is told with file, entry, key and value."""

    def __init__(self, path: Path, name: str, table: Mapping[str, Any]) -> None:
        self.path = path
        self.name = name
        self._table = table

    def wrong(self, key: str, why: str) -> InputError:
        """Return the complaint about a key."""
        return InputError(f"{self.path}: [{self.name}] {key} is {self._table.get(key)!r}: {why}")

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; without a default it must be there."""
        value = self._table.get(key, default)
        if not isinstance(value, str):
            raise self.wrong(key, "it must be a text")
        return value

    def flag(self, key: str) -> bool:
        """Return true or false; false where it is left out."""
        value = self._table.get(key, False)
        if not isinstance(value, bool):
            raise self.wrong(key, "it must be true or false")
        return value

    def number(self, key: str, low: int, high: int) -> int | None:
        """Return a whole number from low to high, None where it is left out."""
        value = self._table.get(key)
        if value is not None and (not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high):
            raise self.wrong(key, f"it must be a whole number from {low} to {high}")
        return value

    def difficulty(self) -> int | None:
        """Return how hard it is, 1 to 9, for what is for daily practice, None for what is not."""
        return self.number("difficulty", _EASIEST, _HARDEST)

    def only(self, *known: str) -> None:
        """Raise :class:`InputError` for a key that means nothing."""
        for key in self._table:
            if key not in known:
                raise InputError(
                    f"{self.path}: [{self.name}] has the unknown key {key!r}: known are {', '.join(known)}"
                )


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file; raise :class:`InputError` with its name for one that is missing, too large or no TOML."""
    try:
        missing = "" if path.is_file() else "it is a folder" if path.is_dir() else "there is no such file"
    except (OSError, ValueError) as error:
        missing = getattr(error, "strerror", None) or str(error)
    if missing:
        raise InputError(f"cannot read {str(path)!r}: {missing}")
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST + 1)
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {str(path)!r}: {getattr(error, 'strerror', None) or error}") from error
    if len(content) > _LARGEST:
        raise InputError(f"{path} is larger than {_LARGEST} bytes: such a file is small")
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        # ValueError covers what is no TOML and no UTF-8, and numbers of thousands of digits.
        raise InputError(f"{path}: not a readable TOML file: {str(error) or 'it is nested too deeply'}") from error


def _read(path: Path, build: Callable[[Entry], T]) -> dict[str, T]:
    entries = {}
    for name, table in read_toml(path).items():
        if not name.strip() or len(name) > _LONGEST_NAME or printable(name) != name:
            raise InputError(
                f"{path}: the name {name!r} is not allowed: give 1 to {_LONGEST_NAME} printable characters"
            )
        if not isinstance(table, dict):
            raise InputError(f"{path}: {name} is {table!r}: each entry must be a table, like [{name}]")
        entries[name] = build(Entry(path, name, table))
    return entries


def library(kind: str, build: Callable[[Entry], T], own: Path | None = None) -> Mapping[str, T]:
    """Return the packaged entries of a kind (``scales``, ``chords`` ...) by name, with those of an own file.

    Raises :class:`InputError` with file, key and reason for a file that cannot be used.
    """
    packaged: Mapping[str, T] = _packaged(kind, build)
    return packaged if own is None else {**packaged, **_read(own, build)}


@cache
def _packaged(kind: str, build: Callable[[Entry], Any]) -> Mapping[str, Any]:
    return _read(templates() / "theory" / f"{kind}.toml", build)


def find(kind: str, name: str, entries: Mapping[str, T]) -> T:
    """Return an entry by name, or raise :class:`InputError` with the names there are."""
    if name not in entries:
        raise InputError(f"unknown {kind} {name!r}: choose one of {', '.join(entries)}")
    return entries[name]


def practised(entries: Mapping[str, Practised]) -> tuple[str, ...]:
    """Return the names of the entries that are for daily practice, easy ones first."""
    difficulties = {name: each.difficulty for name, each in entries.items() if each.difficulty is not None}
    return tuple(sorted(difficulties, key=difficulties.__getitem__))
