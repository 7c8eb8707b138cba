"""Libraries of musical data: TOML files with one table an entry, which a musician can add to.

An entry of a file of the player's own stands beside the packaged ones, and before one of the same name.
"""

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol, TypeVar

from etudegen.errors import InputError
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates

T = TypeVar("T")
Build = Callable[[str, Table], T]
_EASIEST, _HARDEST = 1, 9


class Practised(Protocol):
    """What may be for daily practice; see :func:`difficulty_of`."""

    @property
    def difficulty(self) -> int | None:
        """How hard it is, None for what is not for daily practice."""


def difficulty_of(entry: Table) -> int | None:
    """Return how hard an entry is, 1 to 9, for what is for daily practice, None for what is not."""
    return entry.whole_number("difficulty", _EASIEST, _HARDEST) if "difficulty" in entry else None


@read_once
def _read(path: Path, build: Build[Any]) -> Mapping[str, Any]:
    return MappingProxyType({name: build(name, entry) for name, entry in read_toml(path).entries()})


@cache
def packaged_file(kind: str) -> Path:
    """Return the file of the packaged entries of a kind."""
    return templates() / "theory" / f"{kind}.toml"


def library(kind: str, build: Build[T], own: Path | None = None) -> Mapping[str, T]:
    """Return the packaged entries of a kind (``scales``, ``chords`` ...) by name, with those of an own file.

    ``build`` makes an entry of its name and table. Raises :class:`InputError` with file, key and reason for a file that
    cannot be used.
    """
    packaged: Mapping[str, T] = _read(packaged_file(kind), build)
    return packaged if own is None else {**packaged, **_read(own, build)}


def find(kind: str, name: str, entries: Mapping[str, T]) -> T:
    """Return an entry by name, or raise :class:`InputError` with the names there are."""
    if name not in entries:
        raise InputError(f"unknown {kind} {name!r}: choose one of {', '.join(entries)}")
    return entries[name]


def practised(entries: Mapping[str, Practised]) -> tuple[str, ...]:
    """Return the names of the entries that are for daily practice, easy ones first."""
    difficulties = {name: each.difficulty for name, each in entries.items() if each.difficulty is not None}
    return tuple(sorted(difficulties, key=difficulties.__getitem__))
