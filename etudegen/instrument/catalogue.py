"""Instruments as data: one TOML file each in ``templates/instruments``, checked when it is read."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.instrument.partials import FUNDAMENTAL
from etudegen.instrument.tube import (
    STANDARD_A4,
    Loops,
    Tube,
    checked_loops,
    equal_tempered_hertz,
    tempered_loops,
)
from etudegen.resources import templates
from etudegen.theory.pitch import SoundingPitch, WrittenPitch


@dataclass(frozen=True, slots=True)
class Instrument:
    """A valved brass instrument.

    ``staff_steps`` and ``half_steps`` lead from written to sounding pitch (B-flat trumpet: -1, -2); ``low`` and
    ``high`` bound its ordinary written range; ``midi_program`` is zero-based General MIDI; ``musicxml_sound`` an
    identifier of the MusicXML standard sounds.
    """

    key: str
    name: str
    abbreviation: str
    staff_steps: int
    half_steps: int
    low: WrittenPitch
    high: WrittenPitch
    midi_program: int
    musicxml_sound: str
    loops: Loops

    def sounding(self, written: WrittenPitch) -> SoundingPitch:
        """Return what a written note sounds like."""
        moved = written.above(self.staff_steps, self.half_steps)
        return SoundingPitch(moved.step, moved.alter, moved.octave)

    def written(self, sounding: SoundingPitch) -> WrittenPitch:
        """Return how a sounding note is written for this instrument."""
        moved = sounding.above(-self.staff_steps, -self.half_steps)
        return WrittenPitch(moved.step, moved.alter, moved.octave)

    def tube(self, a4: float = STANDARD_A4, loops: Loops | None = None) -> Tube:
        """Return the tube built for a reference pitch A4 in hertz, with its own or other valve loops."""
        return Tube(equal_tempered_hertz(self.sounding(FUNDAMENTAL), a4), loops or self.loops)


def _entry(table: dict[str, Any], path: Path, dotted: str, kind: type) -> Any:
    value: Any = table
    for key in dotted.split("."):
        value = value.get(key) if isinstance(value, dict) else None
    if not isinstance(value, kind) or isinstance(value, bool):
        wanted = {"str": "a text", "int": "a whole number", "list": "a list"}[kind.__name__]
        raise InputError(f"{path}: {dotted} is {value!r}: it must be {wanted}")
    return value


def read_instrument(path: Path) -> Instrument:
    """Read an instrument file; raise :class:`InputError` naming file and key for anything wrong in it."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: not a readable TOML file: {error}") from error
    program = _entry(table, path, "sound.midi_program", int)
    if not 0 <= program <= 127:
        raise InputError(f"{path}: sound.midi_program is {program}: it must be 0 to 127")
    loops = tempered_loops()
    if "valve_loops_percent" in table:
        percents = _entry(table, path, "valve_loops_percent", list)
        if len(percents) != 3 or not all(isinstance(percent, int | float) for percent in percents):
            raise InputError(f"{path}: valve_loops_percent is {percents!r}: it must be three numbers")
        loops = checked_loops(*(percent / 100 for percent in percents))
    return Instrument(
        key=path.stem,
        name=_entry(table, path, "name", str),
        abbreviation=_entry(table, path, "abbreviation", str),
        staff_steps=_entry(table, path, "sounding.staff_steps", int),
        half_steps=_entry(table, path, "sounding.half_steps", int),
        low=WrittenPitch.parse(_entry(table, path, "range.low", str)),
        high=WrittenPitch.parse(_entry(table, path, "range.high", str)),
        midi_program=program,
        musicxml_sound=_entry(table, path, "sound.musicxml", str),
        loops=loops,
    )


def instrument_keys() -> tuple[str, ...]:
    """Return the names under which the packaged instruments are asked for."""
    return tuple(sorted(path.stem for path in (templates() / "instruments").glob("*.toml")))


@cache
def instrument(key: str) -> Instrument:
    """Return a packaged instrument by name, or raise :class:`InputError` with the names there are."""
    if key not in instrument_keys():
        raise InputError(f"unknown instrument {key!r}: choose one of {', '.join(instrument_keys())}")
    return read_instrument(templates() / "instruments" / f"{key}.toml")
