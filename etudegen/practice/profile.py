"""A player's profile: a TOML file that a teacher can read, edit and keep beside those of the others."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

import tomlkit

from etudegen.errors import InputError
from etudegen.exercises.common import HIGHEST_WRITTEN, LOWEST_WRITTEN
from etudegen.exercises.settings import one_of
from etudegen.instrument.catalogue import Instrument, instrument
from etudegen.theory.library import read_toml
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.progressions import parse_progression
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import checked_tempo

# Common practice, no source: nobody plays a whole step more than an octave above what is comfortable.
_MOST_REACH = 4
_MOST_WEIGHT = 10
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


_BEATS = 4
_MOST_OF_A_LIST = 100
# Common practice, no source: a modest player's clean tempi, in quarter notes a minute.
_USUAL_TEMPI = {Rhythm.QUARTERS: 96, Rhythm.EIGHTHS: 84, Rhythm.TRIPLETS: 76, Rhythm.SIXTEENTHS: 66}


@dataclass(frozen=True, kw_only=True)
class Profile:
    """One player. Checked when made: raises :class:`InputError` with key, value and what is allowed.

    Pitches are written; ``tempo`` is the fastest clean tempo for each rhythm in quarter notes a minute; ``aims`` are
    weights from 0 to 10; ``days_since_played`` counts whole days off before today; ``tunes`` are MusicXML files and
    ``progressions`` chord changes of four quarter notes a bar, as they are typed, for the blocks of own material.
    """

    label: str
    instrument: Instrument = field(default_factory=lambda: instrument("trumpet-bflat"))
    low: WrittenPitch = _USUAL_LOW
    high: WrittenPitch = _USUAL_HIGH
    reach: WrittenPitch | None = None
    tempo: Mapping[Rhythm, int] = field(default_factory=lambda: dict(_USUAL_TEMPI))
    pedals: Pedals = Pedals.NONE
    aims: Mapping[Aim, int] = field(default_factory=lambda: {Aim.FLEXIBILITY: 1, Aim.SOUND: 1, Aim.TECHNIQUE: 1})
    minutes_per_day: int = 45
    days_per_week: int = 5
    days_since_played: int = 1
    notes: str = ""
    tunes: tuple[Path, ...] = ()
    progressions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
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
        if self.reach is not None and not 0 <= self.reach.number - self.high.number <= _MOST_REACH:
            raise InputError(
                f"reach {self.reach} is not allowed: from high {self.high} up to {_MOST_REACH} half steps above it"
            )
        for rhythm, tempo in self.tempo.items():
            try:
                checked_tempo(tempo)
            except InputError as error:
                raise InputError(f"tempo.{rhythm} is {tempo}: {error}") from error
        for aim, weight in self.aims.items():
            if not 0 <= weight <= _MOST_WEIGHT:
                raise InputError(f"aims.{aim} is {weight}: allowed are weights from 0 to {_MOST_WEIGHT}")
        for key, value, low, high in (
            ("minutes_per_day", self.minutes_per_day, 10, 240),
            ("days_per_week", self.days_per_week, 1, 7),
            ("days_since_played", self.days_since_played, 0, 10_000),
        ):
            if not low <= value <= high:
                raise InputError(f"{key} is {value}: allowed are {low} to {high}")
        for bars in self.progressions:
            try:
                parse_progression(bars, _BEATS)
            except InputError as error:
                raise InputError(f"progressions: {error}") from error
        if len(self.notes) > 2000:
            raise InputError(f"notes of {len(self.notes)} characters are too long: allowed are 2000")

    @property
    def chief_aim(self) -> Aim:
        """The aim with the most weight; of equals the first in the order of :class:`Aim`."""
        return max(Aim, key=lambda aim: self.aims.get(aim, 0))

    def clean_tempo(self, rhythm: Rhythm) -> int:
        """Return the fastest clean tempo for a rhythm, in quarter notes a minute."""
        return self.tempo.get(rhythm, _USUAL_TEMPI[rhythm])


def _number(key: str, value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise InputError(f"{key} is {value!r}: it must be a whole number")
    return value


def _text(key: str, value: Any) -> str:
    if not isinstance(value, str):
        raise InputError(f"{key} is {value!r}: it must be a text")
    return value


def _table(key: str, value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError(f"{key} is {value!r}: it must be a table")
    return value


def _list(key: str, value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > _MOST_OF_A_LIST:
        raise InputError(f"{key} is {value!r}: it must be a list of at most {_MOST_OF_A_LIST} texts")
    return value


_READ: dict[str, Any] = {
    "label": _text,
    "instrument": lambda key, value: instrument(_text(key, value)),
    "low": lambda key, value: WrittenPitch.parse(_text(key, value)),
    "high": lambda key, value: WrittenPitch.parse(_text(key, value)),
    "reach": lambda key, value: WrittenPitch.parse(_text(key, value)),
    "tempo": lambda key, value: {
        one_of(Rhythm, "rhythm")(rhythm): _number(f"{key}.{rhythm}", tempo)
        for rhythm, tempo in _table(key, value).items()
    },
    "pedals": lambda key, value: one_of(Pedals, "pedal experience")(_text(key, value)),
    "aims": lambda key, value: {
        one_of(Aim, "aim")(aim): _number(f"{key}.{aim}", weight) for aim, weight in _table(key, value).items()
    },
    "minutes_per_day": _number,
    "days_per_week": _number,
    "days_since_played": _number,
    "notes": _text,
    "tunes": lambda key, value: tuple(Path(_text(key, each)) for each in _list(key, value)),
    "progressions": lambda key, value: tuple(_text(key, each) for each in _list(key, value)),
}
assert set(_READ) == {each.name for each in fields(Profile)}


def profile_of(table: Mapping[str, Any]) -> Profile:
    """Make a player of the table of a profile; raise :class:`InputError` with key, value and what is allowed."""
    values = {}
    for key, value in table.items():
        if key not in _READ:
            raise InputError(f"unknown key {key!r}: known are {', '.join(_READ)}")
        try:
            values[key] = _READ[key](key, value)
        except InputError as error:
            message = str(error)
            told = message.startswith(key) or isinstance(value, dict)
            raise InputError(message if told else f"{key} is {value!r}: {message}") from error
    if "label" not in values:
        raise InputError("label is missing: say who this is, such as 'first chair'")
    return Profile(**values)


def read_profile(path: Path) -> Profile:
    """Read a profile; raise :class:`InputError` with file, key, value and what is allowed."""
    if path.is_dir():
        raise InputError(f"{str(path)!r} is a folder: name the profile of one player, such as '{path / 'first.toml'}'")
    if not path.exists():
        raise InputError(f"there is no profile {str(path)!r}: make it with `etudegen profile`")
    table = read_toml(path)
    try:
        read = profile_of(table)
    except InputError as error:
        raise InputError(f"{path}: {error}") from error
    # Tunes lie beside the profile that names them.
    return replace(read, tunes=tuple(path.parent / tune for tune in read.tunes))


def changed_profile(text: str, changes: Mapping[str, Any]) -> str:
    """Return a profile's text with keys set (``tempo.eighths`` reaches into a table), its comments kept.

    Raises :class:`InputError` where the result would be no profile.
    """
    document = tomlkit.parse(text)
    for dotted, value in changes.items():
        table, _, key = dotted.rpartition(".")
        target: Any = document
        if table:
            if table not in document:
                document[table] = tomlkit.table()
            target = document[table]
        target[key] = value
    profile_of(tomllib.loads(tomlkit.dumps(document)))
    return tomlkit.dumps(document)


def profiles_in(folder: Path) -> list[Path]:
    """Return the profiles in a folder, by name; raise :class:`InputError` if there are none."""
    if not folder.is_dir():
        raise InputError(f"{str(folder)!r} is not a folder: name one with a profile for each player")
    found = sorted(folder.glob("*.toml"))
    if not found:
        raise InputError(f"no player's file (*.toml) in {str(folder)!r}: make one with `etudegen profile`")
    return found
