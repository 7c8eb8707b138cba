"""A player's profile: a TOML file that a teacher can read, edit and keep beside those of the others."""

import codecs
import datetime
import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any

from etudegen.errors import InputError, MachineError, check_type, shown
from etudegen.exercises.common import HIGHEST_WRITTEN, LOWEST_WRITTEN, checked_reach
from etudegen.exercises.kinds import all_kinds
from etudegen.exercises.settings import is_pitch, one_of
from etudegen.files.locking import only_writer
from etudegen.files.reading import kind_of_file
from etudegen.files.tables import Table, parse_toml, read_toml
from etudegen.files.writing import prepare_folder, write_in_place
from etudegen.instrument.catalogue import Instrument, instrument
from etudegen.practice.levels import Level, level, level_for
from etudegen.practice.rules import LONGEST_SESSION, OWN_MATERIAL, SHORTEST_SESSION
from etudegen.study import Paper
from etudegen.theory.keys import parse_keys
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.progressions import parse_progression
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import FASTEST, SLOWEST

MOST_WEIGHT = 10
_SMALLEST_RANGE = 4
_USUAL_LOW, _USUAL_HIGH = WrittenPitch("F", 1, 3), WrittenPitch("G", 0, 5)


class Aim(StrEnum):
    """What practice is meant to improve."""

    ENDURANCE = "endurance"
    FLEXIBILITY = "flexibility"
    RANGE = "range"
    TECHNIQUE = "technique"
    SOUND = "sound"
    JAZZ = "jazz"
    ORCHESTRAL = "orchestral"


class Pedals(StrEnum):
    """How well a player knows the pedal register."""

    NONE = "none"
    SOME = "some"
    REGULAR = "regular"


_LIMITS = {
    "minutes_per_day": (SHORTEST_SESSION, LONGEST_SESSION),
    "days_per_week": (1, 7),
    "days_since_played": (0, 10_000),
}
# What the values of a profile are, and what those in its lists.
_TYPES: tuple[tuple[tuple[str, ...], type | tuple[type, ...], str], ...] = (
    (("label", "level", "routine", "notes", "private_notes"), str, "a text"),
    (("minutes_per_day", "days_per_week", "days_since_played"), int, "a whole number"),
    (("low", "high"), WrittenPitch, "a written note"),
    (("reach",), (WrittenPitch, type(None)), "a written note, or None"),
    (("keys", "rhythms", "kinds", "tunes", "progressions"), tuple, "a tuple"),
    (("tempo", "aims"), Mapping, "a mapping"),
    (("instrument",), Instrument, "an instrument of the catalogue"),
    (("pedals",), (Pedals, type(None)), "a Pedals, or None"),
    (("last_played",), (datetime.date, type(None)), "a datetime.date, or None"),
    (("paper",), Paper, "a Paper"),
)
_TYPES_WITHIN: tuple[tuple[str, type, str], ...] = (
    ("keys", WrittenPitch, "written tonics"),
    ("rhythms", Rhythm, "rhythms"),
    ("kinds", str, "names of kinds"),
    ("tunes", Path, "paths of files"),
    ("progressions", str, "chords between barlines, as texts"),
)
_BEATS = 4
_LONGEST_NOTES = 2000
_MOST_TOLD = 12
_MOST_OF_A_LIST = 100
# Common practice, no source: a modest player's clean tempi, in quarter notes a minute, for what a player does not know
# yet and yet asks for.
_USUAL_TEMPI = {
    Rhythm.HALVES: 120, Rhythm.QUARTERS: 96, Rhythm.EIGHTHS: 84, Rhythm.TRIPLETS: 76, Rhythm.SIXTEENTHS: 66,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Profile:
    """One player. Checked when made: raises :class:`InputError` with key, value and what is allowed.

    Pitches are written; ``level`` is one of :func:`~etudegen.practice.levels.level_names`, empty where it is to follow
    from the range; ``keys`` (written tonics), ``rhythms`` and ``kinds`` stand in the place of what the level knows,
    where they are given. ``tempo`` is the fastest clean tempo for each rhythm in quarter notes a minute; where nothing
    is said, that of the level, as much slower or quicker as the others are. A rhythm that has none there either is not
    used. ``routine`` is what the sessions usually follow. ``aims``
    are weights from 0 to 10; ``last_played`` is the day on which they played last, where the journal does not know
    better, and ``days_since_played`` how many days ago it was, where neither does. ``notes`` are printed,
    ``private_notes`` never; ``paper`` is what books are laid out for. ``tunes`` are MusicXML files and
    ``progressions`` chord changes of four quarter notes a bar, as they are typed, for the blocks of own material.
    """

    label: str
    instrument: Instrument = field(default_factory=lambda: instrument("trumpet-bflat"))
    low: WrittenPitch = _USUAL_LOW
    high: WrittenPitch = _USUAL_HIGH
    reach: WrittenPitch | None = None
    level: str = ""
    keys: tuple[WrittenPitch, ...] = ()
    rhythms: tuple[Rhythm, ...] = ()
    kinds: tuple[str, ...] = ()
    routine: str = ""
    tempo: Mapping[Rhythm, int] = field(default_factory=dict)
    pedals: Pedals | None = None
    aims: Mapping[Aim, int] = field(default_factory=lambda: {Aim.FLEXIBILITY: 1, Aim.SOUND: 1, Aim.TECHNIQUE: 1})
    minutes_per_day: int = 45
    days_per_week: int = 5
    days_since_played: int = 1
    last_played: datetime.date | None = None
    notes: str = ""
    private_notes: str = ""
    paper: Paper = Paper.A4
    tunes: tuple[Path, ...] = ()
    progressions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._check_types()
        if not self.label.strip() or len(self.label) > 60:
            raise InputError(f"label {self.label!r} is not allowed: give 1 to 60 characters, such as a chair")
        for key, note in (("low", self.low), ("high", self.high)):
            if not LOWEST_WRITTEN.number <= note.number <= HIGHEST_WRITTEN.number:
                raise InputError(f"{key} {note} is not allowed: written {LOWEST_WRITTEN} to {HIGHEST_WRITTEN}")
        if self.high.number < self.low.number:
            raise InputError(f"high {self.high} is below low {self.low}: they may be swapped")
        if self.high.number - self.low.number < _SMALLEST_RANGE:
            raise InputError(
                f"high {self.high} is not allowed: at least {_SMALLEST_RANGE} half steps above low {self.low}"
            )
        checked_reach(self.reach, self.high)
        if self.level:
            level(self.level)
        for rhythm, tempo in self.tempo.items():
            if not SLOWEST <= tempo <= FASTEST:
                raise InputError(f"tempo.{rhythm} is {tempo}: allowed are {SLOWEST} to {FASTEST}")
        for aim, weight in self.aims.items():
            if not 0 <= weight <= MOST_WEIGHT:
                raise InputError(f"aims.{aim} is {weight}: allowed are weights from 0 to {MOST_WEIGHT}")
        if self.aims and not any(self.aims.values()):
            raise InputError(
                f"aims {', '.join(self.aims)} all weigh nothing: give at least one a weight from 1 to {MOST_WEIGHT}"
            )
        for key, (low, high) in _LIMITS.items():
            if not low <= getattr(self, key) <= high:
                raise InputError(f"{key} is {shown(getattr(self, key))}: allowed are {low} to {high}")
        for bars in self.progressions:
            try:
                parse_progression(bars, _BEATS)
            except InputError as error:
                raise InputError(f"progressions: {error}") from error
        for key, told in (("notes", self.notes), ("private_notes", self.private_notes)):
            if len(told) > _LONGEST_NOTES:
                raise InputError(f"{key} of {len(told)} characters are too long: allowed are {_LONGEST_NOTES}")
        unknown = [kind for kind in self.kinds if kind not in known_kinds()]
        if unknown:
            raise InputError(f"kinds has {unknown[0]!r}: choose among {', '.join(known_kinds())}")

    def _check_types(self) -> None:
        for names, kind, give in _TYPES:
            for name in names:
                check_type(name, getattr(self, name), kind, give)
        for name, each, give in _TYPES_WITHIN:
            for value in getattr(self, name):
                check_type(name, value, each, give)
        for name in ("tempo", "aims"):
            for key, value in getattr(self, name).items():
                check_type(name, key, Rhythm if name == "tempo" else Aim, f"{name} by name")
                check_type(f"{name}.{key}", value, int, "a whole number")
        for name in ("low", "high", "reach"):
            note = getattr(self, name)
            if note is not None and not is_pitch(note):
                raise InputError(f"{name} {shown(note)} is not allowed: give a written note")
        if isinstance(self.last_played, datetime.datetime):
            raise InputError(f"last_played {shown(self.last_played)} is not allowed: give a date without a time")

    @property
    def chief_aim(self) -> Aim:
        """The aim with the most weight; of equals the first in the order of :class:`Aim`."""
        return max(Aim, key=lambda aim: self.aims.get(aim, 0))

    @property
    def knows(self) -> Level:
        """What the player knows and can do: what the level says, but where the profile says otherwise."""
        known = level(self.level) if self.level else level_for(self.high)
        shared = [rhythm for rhythm in self.tempo if rhythm in known.tempo]
        # Who is slower or quicker than the level in what they say is so in what they do not say.
        pace = Fraction(sum(self.tempo[each] for each in shared), sum(known.tempo[each] for each in shared) or 1)
        usual = {
            rhythm: min(FASTEST, max(SLOWEST, round(tempo * pace))) if shared else tempo
            for rhythm, tempo in known.tempo.items()
        }
        tempo = {**usual, **self.tempo}
        return replace(
            known,
            tempo={rhythm: tempo[rhythm] for rhythm in self.rhythms or Rhythm if rhythm in tempo},
            kinds=self.kinds or known.kinds,
        )

    def clean_tempo(self, rhythm: Rhythm) -> int:
        """Return the fastest clean tempo for a rhythm, in quarter notes a minute."""
        return self.knows.tempo.get(rhythm, _USUAL_TEMPI[rhythm])


def known_kinds() -> tuple[str, ...]:
    """Return the kinds of exercise and of work on own material that a player may know."""
    return (*(kind.name for kind in all_kinds()), *OWN_MATERIAL)


def profile_of(table: Table) -> Profile:
    """Make a player of the table of a profile; raise :class:`InputError` with file, key, value and what is allowed."""
    table.only(*(each.name for each in fields(Profile)))
    if "label" not in table:
        raise table.wrong("label", "say who this is, such as 'first chair'")
    tempo, aims = table.table("tempo"), table.table("aims")
    tempo.only(*Rhythm)
    aims.only(*Aim)
    values: dict[str, Any] = {
        "label": table.text("label"),
        "notes": table.text("notes", "", lines=True),
        "private_notes": table.text("private_notes", "", lines=True),
        # Tunes lie beside the profile that names them.
        "tunes": tuple(table.path.parent / tune for tune in table.texts("tunes", _MOST_OF_A_LIST)),
        "progressions": table.texts("progressions", _MOST_OF_A_LIST, lines=True),
        "kinds": table.texts("kinds", _MOST_OF_A_LIST),
        "rhythms": table.read_texts("rhythms", _MOST_OF_A_LIST, one_of(Rhythm, "rhythm")),
        "routine": table.text("routine", ""),
    }
    readers: dict[str, Callable[[str], Any]] = {
        "instrument": instrument, "low": WrittenPitch.parse, "high": WrittenPitch.parse, "reach": WrittenPitch.parse,
        "level": lambda name: level(name).name, "keys": parse_keys,
    }  # fmt: skip
    values |= {key: table.read(key, reader) for key, reader in readers.items() if key in table}
    values |= {key: table.whole_number(key, low, high) for key, (low, high) in _LIMITS.items() if key in table}
    if "last_played" in table:
        values["last_played"] = table.day("last_played")
    if "paper" in table:
        values["paper"] = table.choice("paper", Paper)
    if "pedals" in table:
        values["pedals"] = table.choice("pedals", Pedals)
    if "tempo" in table:
        values["tempo"] = {Rhythm(rhythm): tempo.whole_number(rhythm, SLOWEST, FASTEST) for rhythm in tempo}
    if "aims" in table:
        values["aims"] = {Aim(aim): aims.whole_number(aim, 0, MOST_WEIGHT) for aim in aims}
    try:
        return Profile(**values)
    except InputError as error:
        raise InputError(f"{table.path}: {error}") from error


def profile_named(named: Path) -> Path:
    """Return the profile that is meant by a path, which may leave out the suffix; as it is where there is none."""
    with_suffix = named.with_name(f"{named.name}.toml") if named.name else named
    return with_suffix if not os.path.exists(named) and os.path.exists(with_suffix) else named


def _others(folder: Path) -> str:
    """Return in words which profiles there are in a folder."""
    found = []
    with suppress(OSError):
        for file in sorted(folder.glob("*.toml"))[:_MOST_TOLD]:
            # A folder of that name, or a link that leads nowhere, is none.
            with suppress(InputError, MachineError):
                profile_of(read_toml(file))
                found.append(file.stem)
    return f", or take one of {', '.join(found)}" if found else ""


def read_profile(path: Path) -> Profile:
    """Read a profile.

    Raises :class:`InputError` with file, key, value and what is allowed, :class:`MachineError` where it may not be
    read.
    """
    kind = kind_of_file(path)
    if kind == "folder":
        raise InputError(f"{str(path)!r} is a folder: name the profile of one player, such as '{path / 'first.toml'}'")
    if not kind:
        raise InputError(f"there is no profile {str(path)!r}: make it with `etudegen profile`{_others(path.parent)}")
    return profile_of(read_toml(path))


@dataclass(frozen=True, slots=True)
class ListChanges:
    """What is added to the lists of a profile and removed from them, by key, and which keys are removed altogether.

    A key may reach into a table, such as ``aims.range``.
    """

    add: Mapping[str, Sequence[str]] = field(default_factory=dict)
    remove: Mapping[str, Sequence[str]] = field(default_factory=dict)
    unset: Sequence[str] = ()


def change_profile(path: Path, changes: Mapping[str, Any], label: str, lists: ListChanges = ListChanges()) -> None:
    """Set keys of a profile (``tempo.eighths`` reaches into a table), or make one, with this label if none is given.

    Comments and line ends are kept; of two changes at once none is lost. Raises :class:`InputError` where there is no
    profile or the result would be none, and then leaves the file alone.
    """
    folder = Path(os.path.realpath(path)).parent
    prepare_folder(folder, "name a file in another folder")
    with only_writer(folder):
        if os.path.exists(path):
            read_profile(path)
            write_in_place(path, _changed(path, path.read_bytes(), changes, lists))
        else:
            write_in_place(path, _changed(path, b"", {"label": label} | dict(changes), lists))


def check_changes(path: Path, changes: Mapping[str, Any], label: str) -> None:
    """Raise :class:`InputError` where :func:`change_profile` would; write nothing."""
    if os.path.exists(path):
        read_profile(path)
        _changed(path, path.read_bytes(), changes, ListChanges())
    else:
        _changed(path, b"", {"label": label} | dict(changes), ListChanges())


def _changed(path: Path, content: bytes, changes: Mapping[str, Any], lists: ListChanges) -> bytes:
    # Only who changes a profile needs it.
    import tomlkit  # noqa: PLC0415
    import tomlkit.exceptions  # noqa: PLC0415

    mark = codecs.BOM_UTF8 if content.startswith(codecs.BOM_UTF8) else b""
    line_end = "\r\n" if b"\r\n" in content else "\n"
    try:
        document = tomlkit.parse(content.removeprefix(mark).decode())
        for dotted in lists.unset:
            _unset(document, dotted)
        for dotted, value in changes.items():
            table, _, key = dotted.rpartition(".")
            target: Any = document
            if table:
                if table not in document:
                    document[table] = tomlkit.table()
                target = document[table]
            target[key] = value
        for key, texts in lists.remove.items():
            document[key] = _without(key, list(document.get(key, ())), texts)
        for key, texts in lists.add.items():
            document[key] = [*dict.fromkeys([*document.get(key, ()), *texts])]
        text = tomlkit.dumps(document)
    except (tomlkit.exceptions.TOMLKitError, ValueError) as error:
        raise InputError(f"{path}: cannot change it: {error}") from error
    changed = mark + text.replace("\r\n", "\n").replace("\n", line_end).encode("utf-8", "surrogatepass")
    profile_of(parse_toml(path, changed))
    return changed


def _unset(document: Any, dotted: str) -> None:
    """Take a key out of a profile, and with the last of a table the table."""
    table, _, key = dotted.rpartition(".")
    held = document.get(table, {}) if table else document
    if key not in held:
        there = ", ".join([f"{table}.{each}" for each in held] if table else list(held)) or "nothing"
        raise InputError(f"{dotted!r} is not in the profile, so it cannot be removed: it has {there}")
    del held[key]
    if table and not held:
        del document[table]


def _without(key: str, values: list[str], removed: Sequence[str]) -> list[str]:
    """Return a list of a profile without some of it, which may be told by name where it is of files."""
    for text in removed:
        found = [value for value in values if text in (value, Path(value).name, Path(value).stem)]
        if not found:
            raise InputError(
                f"{key} has no {text!r}, so it cannot be removed: there is {', '.join(map(repr, values)) or 'nothing'}"
            )
        values = [value for value in values if value not in found]
    return values


def profiles_in(folder: Path) -> list[Path]:
    """Return the profiles in a folder, by name.

    Raises :class:`InputError` if there are none, :class:`MachineError` where the folder may not be read.
    """
    if not os.path.isdir(folder):
        raise InputError(f"{str(folder)!r} is not a folder: name one with a profile for each player")
    try:
        found = sorted(folder / name for name in os.listdir(folder) if name.endswith(".toml"))
    except OSError as error:
        raise MachineError(f"cannot read the folder {str(folder)!r}: {error.strerror or error}") from error
    if not found:
        raise InputError(f"no profile (*.toml) in {str(folder)!r}: make one with `etudegen profile`")
    return found
