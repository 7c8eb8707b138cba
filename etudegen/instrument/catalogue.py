"""Instruments as data: one TOML file each in ``templates/instruments``, checked when it is read."""

from dataclasses import dataclass
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.caching import read_once
from etudegen.files.tables import Table, read_toml
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
from etudegen.theory.pitch import SoundingPitch, WrittenPitch

# The name of the instrument that is meant where none is named.
USUAL = "trumpet-bflat"
_VALVES = 3
_LOOPS = "valve_loops_percent"
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


def _loops(file: Table) -> Loops:
    """Return the valve loops, by rule where the file does not give them."""
    if _LOOPS not in file:
        return tempered_loops()
    percents = file.numbers(_LOOPS, _VALVES, "it must be three numbers, in per cent of the open tube")
    try:
        return checked_loops(*(percent / 100 for percent in percents))
    except InputError as error:
        raise file.wrong(_LOOPS, str(error)) from error


def _range(file: Table) -> tuple[WrittenPitch, WrittenPitch]:
    low, high = file.read("low", WrittenPitch.parse), file.read("high", WrittenPitch.parse)
    if low.number > high.number:
        raise file.wrong("low", f"it must not be above range.high, {high}")
    return low, high


def _shift(file: Table) -> tuple[int, int]:
    """Return steps on the staff and half steps from written to sounding pitch, which must make an interval."""
    steps = file.whole_number("staff_steps", -_FARTHEST_STEPS, _FARTHEST_STEPS)
    half_steps = file.whole_number("half_steps", -_FARTHEST_HALF_STEPS, _FARTHEST_HALF_STEPS)
    if abs(FUNDAMENTAL.above(steps, half_steps).alter) > 1:
        raise file.wrong("half_steps", f"it makes no interval with {steps} staff steps")
    return steps, half_steps


def _name(text: str) -> str:
    if not text.strip():
        raise InputError("it must be a text of one letter or more")
    return text


@read_once
def read_instrument(path: Path) -> Instrument:
    """Read an instrument file; raise :class:`InputError` naming file and key for anything wrong in it."""
    file = read_toml(path)
    file.only("name", "abbreviation", "sounding", "range", "sound", _LOOPS)
    sounding, played, sound = file.table("sounding"), file.table("range"), file.table("sound")
    sounding.only("staff_steps", "half_steps")
    played.only("low", "high")
    sound.only("midi_program", "musicxml")
    staff_steps, half_steps = _shift(sounding)
    low, high = _range(played)
    return Instrument(
        key=path.stem,
        name=file.read("name", _name),
        abbreviation=file.read("abbreviation", _name),
        staff_steps=staff_steps,
        half_steps=half_steps,
        low=low,
        high=high,
        midi_program=sound.whole_number("midi_program", 0, 127),
        musicxml_sound=sound.read("musicxml", _name),
        loops=_loops(file),
    )


@read_once
def _names_in(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def instrument_keys() -> tuple[str, ...]:
    """Return the names under which the packaged instruments are asked for."""
    return _names_in(templates() / "instruments")


def instrument(key: str) -> Instrument:
    """Return a packaged instrument by name, or raise :class:`InputError` with the names there are."""
    if key not in instrument_keys():
        raise InputError(f"unknown instrument {key!r}: choose one of {', '.join(instrument_keys())}")
    return read_instrument(templates() / "instruments" / f"{key}.toml")
