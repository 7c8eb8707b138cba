"""Characters of melody, and how hard it is, as a musician describes them in a file."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.theory.articulation import articulation_names
from etudegen.theory.rhythm import Metre, Rhythm

_MOST_PER_CENT, _WIDEST = 500, 36
_DYNAMICS = ("pp", "p", "mp", "mf", "f", "ff")
_MOST_METRES = 10


class Slurs(StrEnum):
    """Where slurs are, if not as an articulation has them."""

    PHRASES = "phrases"
    BEATS = "beats"
    NONE = "none"


class Staccato(StrEnum):
    """Which notes are short."""

    SHORT = "short"
    AFTER = "after"
    NONE = "none"


METRES: Mapping[str, Metre] = {
    "2/4": (2, 4), "3/4": (3, 4), "4/4": (4, 4), "6/8": (6, 8), "5/4": (5, 4), "7/8": (7, 8), "12/8": (12, 8),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Style:
    """A character of melody; see ``templates/etudes/styles.toml``. Per cents are fractions of one here.

    ``slurs`` is one of :class:`Slurs` or the name of an articulation; ``dynamics`` are those of the beginning, the
    height and the end.
    """

    name: str
    title: str
    about: str
    metres: tuple[Metre, ...]
    density: float
    steps: float
    thirds: float
    wide: float
    slurs: str
    accents: bool
    staccato: Staccato
    dynamics: tuple[str, str, str]
    swing: bool


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard a melody is: its range and widest interval in half steps, its shortest value, notes a beat, metres."""

    range: int
    widest: int
    rhythm: Rhythm
    density: float
    metres: tuple[Metre, ...]

    @property
    def shortest(self) -> Fraction:
        """Its shortest value in quarter notes."""
        return self.rhythm.note


@read_once
def _read(path: Path) -> tuple[Mapping[str, Style], tuple[Difficulty, ...]]:
    file = read_toml(path)
    styles = {name: _style(name, file.table(name)) for name in file if name != "difficulty"}
    return styles, tuple(map(_difficulty, file.tables("difficulty")))


def styles() -> Mapping[str, Style]:
    """Return the packaged styles by name."""
    return _read(templates() / "etudes" / "styles.toml")[0]


def difficulties() -> tuple[Difficulty, ...]:
    """Return how hard melodies are, the easiest first."""
    return _read(templates() / "etudes" / "styles.toml")[1]


def _style(name: str, table: Table) -> Style:
    table.only(
        "title", "about", "metres", "density", "steps", "thirds", "wide", "slurs", "accents", "staccato",
        "dynamics", "swing",
    )  # fmt: skip
    dynamics = table.texts("dynamics", 3)
    if len(dynamics) != 3 or not set(dynamics) <= set(_DYNAMICS):
        raise table.wrong("dynamics", f"give three of {', '.join(_DYNAMICS)}")
    return Style(
        name=name,
        title=table.text("title"),
        about=table.text("about"),
        metres=_metres(table),
        density=_part(table, "density"),
        steps=_part(table, "steps"),
        thirds=_part(table, "thirds"),
        wide=_part(table, "wide"),
        slurs=table.choice("slurs", (*Slurs, *articulation_names())),
        accents=table.choice("accents", ("downbeats", "none")) == "downbeats",
        staccato=table.choice("staccato", Staccato),
        dynamics=(dynamics[0], dynamics[1], dynamics[2]),
        swing=table.flag("swing"),
    )


def _difficulty(table: Table) -> Difficulty:
    table.only("range", "widest", "rhythm", "density", "metres")
    return Difficulty(
        table.whole_number("range", 5, _WIDEST),
        table.whole_number("widest", 2, _WIDEST),
        table.choice("rhythm", Rhythm),
        _part(table, "density"),
        _metres(table),
    )


def _part(table: Table, key: str) -> float:
    return table.whole_number(key, 1, _MOST_PER_CENT) / 100


def _metres(table: Table) -> tuple[Metre, ...]:
    named = table.texts("metres", _MOST_METRES)
    if not named or not set(named) <= METRES.keys():
        raise table.wrong("metres", f"choose among {', '.join(METRES)}")
    return tuple(METRES[each] for each in named)
