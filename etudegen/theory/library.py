"""Libraries of musical data: TOML files with one table an entry, which a musician can add to.

An entry of a file of the player's own stands beside the packaged ones, and before one of the same name.
"""

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from etudegen.errors import InputError
from etudegen.resources import templates

T = TypeVar("T")
_LARGEST = 1_000_000


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

    def only(self, *known: str) -> None:
        """Raise :class:`InputError` for a key that means nothing."""
        for key in self._table:
            if key not in known:
                raise InputError(
                    f"{self.path}: [{self.name}] has the unknown key {key!r}: known are {', '.join(known)}"
                )


def _read(path: Path, build: Callable[[Entry], T]) -> dict[str, T]:
    try:
        if path.stat().st_size > _LARGEST:
            raise InputError(f"{path} is larger than {_LARGEST} bytes: a library of musical data is a small file")
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"cannot read {str(path)!r}: {error.strerror or error}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not a readable TOML file: {error}") from error
    entries = {}
    for name, table in tables.items():
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
