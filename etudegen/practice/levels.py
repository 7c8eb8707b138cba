"""Levels: what a player knows and can do, as files in ``templates/levels`` that a teacher can edit."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.traversal import Extent
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.theory.articulation import articulation_names
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import FASTEST, SLOWEST

MOST_ACCIDENTALS = 7
_MOST_KINDS = 50
_LONGEST_RUN, _LONGEST_SESSION = 60, 240
_MOST_PAGES = 60
_LONGEST_TONE = 32
_HARDEST = 9
_LARGEST_LEAP = 48
_LONGEST_BREATH = 30


@dataclass(frozen=True, kw_only=True, slots=True)
class Level:
    """What a player knows and can do.

    ``run`` and ``strenuous_run`` are the most minutes of playing without a rest, ``longest`` the most minutes of a
    session that are for playing, ``music`` the least share of music in per cent, ``pages`` the most pages of half
    an hour, ``signature`` the most sharps or flats of a key, ``counts`` the longest tone in beats, ``difficulty``
    the hardest scale or cell (1 to 9). ``kinds`` are the exercises and the work on own material that are known;
    ``articulations`` those of scales and what is made of them, which turn from day to day; ``tempo`` the fastest
    clean tempo of each rhythm that is known, in quarter notes a minute; ``leap`` the largest leap of a slur in half
    steps; ``breath`` the longest slur on one breath, in seconds; ``instead`` the material that takes the place of one
    that is not known. Who has no higher note than ``top`` is taken for one of this level where nothing else is told.
    """

    name: str
    about: str
    place: int
    top: WrittenPitch
    run: int
    strenuous_run: int
    longest: int
    music: int
    pages: int
    signature: int
    counts: int
    difficulty: int
    extent: Extent
    kinds: tuple[str, ...]
    articulations: tuple[str, ...]
    tempo: Mapping[Rhythm, int]
    leap: Mapping[Rhythm, int]
    breath: int
    instead: Mapping[str, str]

    @property
    def rhythms(self) -> tuple[Rhythm, ...]:
        """The rhythms that are known, slow ones first."""
        return tuple(rhythm for rhythm in Rhythm if rhythm in self.tempo)


def _by_rhythm(table: Table, low: int, high: int) -> dict[Rhythm, int]:
    table.only(*Rhythm)
    return {Rhythm(rhythm): table.whole_number(rhythm, low, high) for rhythm in table}


def _articulations(file: Table) -> tuple[str, ...]:
    names = file.texts("articulations", _MOST_KINDS)
    for name in names:
        if name not in articulation_names():
            raise file.wrong("articulations", f"{name!r} is none: choose among {', '.join(articulation_names())}")
    return names


@read_once
def read_level(path: Path) -> Level:
    """Read a level; raise :class:`InputError` with file, key, value and what is allowed."""
    file = read_toml(path)
    file.only(*(key for key in Level.__slots__ if key != "name"))
    instead = file.table("instead")
    return Level(
        name=path.stem,
        about=file.text("about"),
        place=file.whole_number("place", 1, 99),
        top=file.read("top", WrittenPitch.parse),
        run=file.whole_number("run", 5, _LONGEST_RUN),
        strenuous_run=file.whole_number("strenuous_run", 5, _LONGEST_RUN),
        longest=file.whole_number("longest", 10, _LONGEST_SESSION),
        music=file.whole_number("music", 0, 100),
        pages=file.whole_number("pages", 1, _MOST_PAGES),
        signature=file.whole_number("signature", 0, MOST_ACCIDENTALS),
        counts=file.whole_number("counts", 2, _LONGEST_TONE),
        difficulty=file.whole_number("difficulty", 1, _HARDEST),
        extent=file.choice("extent", Extent),
        kinds=file.texts("kinds", _MOST_KINDS),
        articulations=_articulations(file),
        tempo=_by_rhythm(file.table("tempo"), SLOWEST, FASTEST),
        leap=_by_rhythm(file.table("leap"), 1, _LARGEST_LEAP),
        breath=file.whole_number("breath", 4, _LONGEST_BREATH),
        instead={material: instead.text(material) for material in instead},
    )


@read_once
def _files_in(folder: Path) -> tuple[Path, ...]:
    return tuple(folder.glob("*.toml"))


def levels() -> tuple[Level, ...]:
    """Return all levels, the first months first."""
    return tuple(sorted(map(read_level, _files_in(templates() / "levels")), key=lambda each: each.place))


def level_names() -> tuple[str, ...]:
    """Return the names of the levels, the first months first."""
    return tuple(each.name for each in levels())


def level(name: str) -> Level:
    """Return a level by name, or raise :class:`InputError` with the names there are."""
    for each in levels():
        if each.name == name:
            return each
    raise InputError(f"unknown level {name!r}: choose one of {', '.join(level_names())}")


def level_for(high: WrittenPitch) -> Level:
    """Return the level that a highest comfortable note, written, goes with; common practice, no source."""
    return next((each for each in levels() if high.number <= each.top.number), levels()[-1])
