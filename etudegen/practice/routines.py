"""Session routines: shares, order and purpose of blocks, as files in ``templates/routines`` that a teacher can edit."""

import os
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.files.caching import read_once
from etudegen.files.reading import kind_of_file
from etudegen.files.tables import Table, read_toml
from etudegen.files.templates import templates
from etudegen.practice.profile import Aim
from etudegen.practice.rules import LONGEST_SESSION, OWN_MATERIAL, SHORTEST_SESSION, Part, studies

ANY, RETURN, TRAVEL = "any", "return", "travel"
_MOST_AIMS = 20
MOST_BLOCKS = 60
_TUNES = (".musicxml", ".mxl", ".xml")
_PLAYED = tuple(part for part in Part if part is not Part.REST)
_OF_OWN = (Part.MUSIC, Part.CHANGES)


@dataclass(frozen=True, slots=True)
class RoutineBlock:
    """A block that a session may have; ``shortest`` is the length of session from which on it is there.

    It has a ``share`` of the time, or ``minutes`` that are kept; ``own`` is the file of the tune that it names.
    """

    part: Part
    kind: str
    share: int
    why: str
    shortest: int = 0
    settings: Mapping[str, Any] = field(default_factory=dict)
    minutes: int = 0
    own: str = ""


@dataclass(frozen=True, slots=True)
class Use:
    """What a routine is made for: sessions of so many minutes, from and to, and aims."""

    shortest: int
    longest: int
    aims: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Routine:
    """A routine: its name, a sentence about it, what it is made for, and its blocks in order."""

    name: str
    about: str
    use: Use | None
    blocks: tuple[RoutineBlock, ...]

    @property
    def literal(self) -> bool:
        """Whether its blocks are kept to the minute, as they were asked for."""
        return self.use is None

    @property
    def minutes(self) -> int:
        """How long it is where its minutes are kept."""
        return sum(block.minutes for block in self.blocks)


def _settings(block: Table, kind: str) -> dict[str, Any]:
    """Return the settings of a block as values, checked by the kind."""
    table = block.table("settings")
    settings = {key: table.setting(key) for key in table}
    if not settings:
        return {}
    if kind in OWN_MATERIAL:
        raise block.wrong("settings", "work on own material has none here")
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
def read_routine(path: Path) -> Routine:
    """Read a routine; raise :class:`InputError` with file, key, value and what is allowed."""
    if kind_of_file(path) != "file":
        raise InputError(f"there is no routine {str(path)!r}: name a .toml file with blocks")
    file = read_toml(path)
    if "lines" in file:
        return _literal(path, file)
    file.only("about", "minutes", "aims", "block")
    use, blocks = _use(file), tuple(map(_block, file.tables("block")))
    if blocks[0].part is not Part.WARM_UP or blocks[0].shortest:
        raise InputError(f"{path}: the first block must be a warm-up that is always there")
    if any(block.part in (Part.WARM_UP, Part.WARM_DOWN) for block in blocks[1:-1]) or blocks[-1].part is Part.RANGE:
        raise InputError(f"{path}: a warm-up comes first, a warm-down last, and range work is never the last block")
    return Routine(path.stem, file.text("about"), use, blocks)


def _literal(path: Path, file: Table) -> Routine:
    """Return a routine of blocks said in lines, each kept to the minute."""
    # It reads what this module describes.
    from etudegen.practice.routine_lines import read_lines  # noqa: PLC0415

    file.only("about", "lines")
    about, lines = file.text("about", ""), list(file.texts("lines", MOST_BLOCKS))
    try:
        blocks = read_lines(lines, partial(find_tune, folders=(path.parent,)))
        return checked_routine(Routine(path.stem, about, None, blocks))
    except InputError as error:
        raise InputError(f"{path}: {error}") from error


def checked_routine(made: Routine) -> Routine:
    """Return a routine that is kept to the minute, or raise :class:`InputError` where it is no session."""
    if not SHORTEST_SESSION <= made.minutes <= LONGEST_SESSION:
        raise InputError(
            f"its blocks add up to {made.minutes} minutes: a session has {SHORTEST_SESSION} to {LONGEST_SESSION}"
        )
    return made


def find_tune(name: str, folders: tuple[Path, ...] = ()) -> Path:
    """Return the file of a tune by its path or its name: from some folders, the one one is in, or the demo's."""
    places = [Path(), *(each for folder in folders for each in (folder, folder.parent, folder.parent / "tunes"))]
    places += [Path("tunes"), Path("demo", "harbour-band")]
    endings = ("",) if Path(name).suffix.lower() in _TUNES else _TUNES
    for place in places:
        for ending in endings:
            with suppress(OSError, ValueError):
                if (place / f"{name}{ending}").is_file():
                    return (place / f"{name}{ending}").absolute()
    raise InputError(f"there is no tune {name!r}: name a file ({', '.join(_TUNES)}), or put it beside the profile")


@read_once
def _names_in(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def routine_names() -> tuple[str, ...]:
    """Return the names of the packaged routines."""
    return _names_in(templates() / "routines")


def _own_folders(profile: Path | None) -> tuple[Path, ...]:
    return (*([profile.parent / "routines"] if profile else []), Path("routines"))


def folder_for_own(profile: Path | None) -> Path:
    """Return where a player's own routines are put: beside the profile, without one in the folder one is in."""
    return _own_folders(profile)[0]


def own_routine_names(profile: Path | None) -> tuple[str, ...]:
    """Return the names of a player's own routines: beside the profile, and in the folder one is in."""
    return tuple(sorted({name for folder in _own_folders(profile) if folder.is_dir() for name in _names_in(folder)}))


def routine_file(name: str, profile: Path | None = None) -> Path:
    """Return the file of a routine by its path (anything that ends in ``.toml``) or name.

    A player's own come before the packaged. Raises :class:`InputError` with the names there are.
    """
    if name.endswith(".toml"):
        return Path(name)
    if plain_name(name):
        for folder in (*_own_folders(profile), templates() / "routines"):
            if os.path.isfile(folder / f"{name}.toml"):
                return folder / f"{name}.toml"
    known = ", ".join(dict.fromkeys((*own_routine_names(profile), *routine_names())))
    raise InputError(f"unknown routine {name!r}: choose one of {known}, or name a .toml file")


def routine(name: str, profile: Path | None = None) -> Routine:
    """Return a routine by its path or name; see :func:`routine_file`."""
    return read_routine(routine_file(name, profile))


def asked_for(
    named: str | None, minutes: int | None, usual: tuple[str, int], profile: Path | None
) -> tuple[Routine | None, int]:
    """Return the routine that a session follows, if any, and how long the session is.

    ``named`` and ``minutes`` are what was asked for, ``usual`` what the player has where nothing was. A routine that is
    kept to the minute says how long it is. Raises :class:`InputError` where other minutes are asked for.
    """
    name = named if named is not None else usual[0]
    chosen = routine(name, profile) if name or named is not None else None
    if chosen is None or not chosen.literal:
        return chosen, usual[1] if minutes is None else minutes
    if minutes not in (None, chosen.minutes):
        raise InputError(f"the routine {chosen.name!r} is {chosen.minutes} minutes long: leave out --minutes")
    return chosen, chosen.minutes


def plain_name(name: str) -> bool:
    """Tell whether a name of a routine is one: of letters, digits and hyphens, and no way to another folder."""
    return re.fullmatch(r"\w[\w-]{0,59}", name) is not None
