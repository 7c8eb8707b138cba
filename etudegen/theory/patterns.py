"""Patterns: small cells of scale degrees, named in a data file or typed by the player."""

from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.tables import Table
from etudegen.theory.degrees import Degree, parse_degrees
from etudegen.theory.library import difficulty_of, library, practised

_LONGEST = 16


@dataclass(frozen=True, slots=True)
class Pattern:
    """A named cell; ``difficulty`` tells how hard it is, 1 to 9, None for what is not for daily practice."""

    cell: tuple[Degree, ...]
    difficulty: int | None


def _checked(text: str) -> tuple[Degree, ...]:
    cell = parse_degrees(text)
    if not 2 <= len(cell) <= _LONGEST:
        raise InputError(f"a cell of {len(cell)} degrees is not a pattern: allowed are 2 to {_LONGEST}")
    return cell


def _pattern(_: str, entry: Table) -> Pattern:
    entry.only("cell", "difficulty")
    return Pattern(entry.read("cell", _checked), difficulty_of(entry))


def pattern_names(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of all patterns, those of an own file included."""
    return tuple(library("patterns", _pattern, own))


def practised_patterns(own: Path | None = None) -> tuple[str, ...]:
    """Return the names of the patterns for daily practice, those of an own file included, easy ones first."""
    return practised(library("patterns", _pattern, own))


def pattern_difficulty(name: str, own: Path | None = None) -> int | None:
    """Return how hard a named pattern is, 1 to 9, None for one that is not for daily practice."""
    return library("patterns", _pattern, own)[name].difficulty


def pattern(text: str, own: Path | None = None) -> tuple[Degree, ...]:
    """Return a cell by the name of its pattern, or from degrees such as ``1 2 3 5``.

    Raises :class:`InputError` for what is neither, or for an own file that cannot be used.
    """
    patterns = library("patterns", _pattern, own)
    if text in patterns:
        return patterns[text].cell
    try:
        return _checked(text)
    except InputError as error:
        names = ", ".join(patterns)
        raise InputError(f"unknown pattern {text!r}: choose one of {names}, or give degrees like '1 2 3 5'") from error
