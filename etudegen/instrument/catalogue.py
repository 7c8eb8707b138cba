"""Instruments as data: one TOML file each in ``templates/instruments``, checked when it is read."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.files.templates import templates
from etudegen.instrument.partials import FUNDAMENTAL
from etudegen.instrument.tube import (
    STANDARD_A4,
    Loops,
    Tube,
    checked_loops,
    equal_tempered_hertz,
    tempered_loops,
)
from etudegen.theory.library import read_toml
from etudegen.theory.pitch import SoundingPitch, WrittenPitch

# The name of the instrument that is meant where none is named.
USUAL = "trumpet-bflat"
_VALVES = 3
# Two octaves either way: farther than any valved brass instrument is written from where it sounds.
_FARTHEST_STEPS, _FARTHEST_HALF_STEPS = 14, 24


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


class _File:
    """An instrument file, read key by key; what is wrong is told with file, key and value."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._table = read_toml(path)

    def _wrong(self, dotted: str, value: Any, why: str) -> InputError:
        return InputError(f"{self._path}: {dotted} is {value!r}: {why}")

    def _value(self, dotted: str) -> Any:
        value: Any = self._table
        for key in dotted.split("."):
            value = value.get(key) if isinstance(value, dict) else None
        return value

    def text(self, dotted: str) -> str:
        value = self._value(dotted)
        if not isinstance(value, str) or not value.strip():
            raise self._wrong(dotted, value, "it must be a text")
        return value

    def number(self, dotted: str, low: int, high: int) -> int:
        value = self._value(dotted)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise self._wrong(dotted, value, f"it must be a whole number from {low} to {high}")
        return value

    def note(self, dotted: str) -> WrittenPitch:
        try:
            return WrittenPitch.parse(self.text(dotted))
        except InputError as error:
            raise self._wrong(dotted, self._value(dotted), str(error)) from error

    def loops(self, key: str) -> Loops:
        """Return the valve loops, by rule where the file does not give them."""
        if key not in self._table:
            return tempered_loops()
        percents = self._table[key]
        numbers = isinstance(percents, list) and all(type(percent) in (int, float) for percent in percents)
        if not numbers or len(percents) != _VALVES:
            raise self._wrong(key, percents, "it must be three numbers")
        try:
            return checked_loops(*(percent / 100 for percent in percents))
        except InputError as error:
            raise self._wrong(key, percents, str(error)) from error

    def range(self) -> tuple[WrittenPitch, WrittenPitch]:
        low, high = self.note("range.low"), self.note("range.high")
        if low.number > high.number:
            raise self._wrong("range.low", str(low), f"it must not be above range.high, {high}")
        return low, high

    def shift(self) -> tuple[int, int]:
        """Return steps on the staff and half steps from written to sounding pitch, which must make an interval."""
        steps = self.number("sounding.staff_steps", -_FARTHEST_STEPS, _FARTHEST_STEPS)
        half_steps = self.number("sounding.half_steps", -_FARTHEST_HALF_STEPS, _FARTHEST_HALF_STEPS)
        if abs(FUNDAMENTAL.above(steps, half_steps).alter) > 1:
            raise self._wrong("sounding.half_steps", half_steps, f"it makes no interval with {steps} staff steps")
        return steps, half_steps


def read_instrument(path: Path) -> Instrument:
    """Read an instrument file; raise :class:`InputError` naming file and key for anything wrong in it."""
    file = _File(path)
    staff_steps, half_steps = file.shift()
    low, high = file.range()
    return Instrument(
        key=path.stem,
        name=file.text("name"),
        abbreviation=file.text("abbreviation"),
        staff_steps=staff_steps,
        half_steps=half_steps,
        low=low,
        high=high,
        midi_program=file.number("sound.midi_program", 0, 127),
        musicxml_sound=file.text("sound.musicxml"),
        loops=file.loops("valve_loops_percent"),
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
