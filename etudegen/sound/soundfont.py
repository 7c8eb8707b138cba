"""Instruments out of a SoundFont file (SoundFont 2.04 technical specification): samples, and how they are played.

What makes notes waver (modulators, low-frequency oscillators) is left out: a play-along is something to tune to.
"""

import importlib.metadata
import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from etudegen.errors import MachineError

# TimGM6mb by Tim Brechbill and David Bolton (GNU GPL 2) comes with this general MIDI library.
_PACKAGE, _FONT_NAME = "pretty_midi", "TimGM6mb.sf2"
PERCUSSION_BANK = 128
_A4_KEY, _A4_HERTZ = 69, 440.0
_OCTAVE_CENTS = 1200
# A sound is not looked for farther than this from the tuning that is noted.
_CENTS_APART, _CENT = 30.0, 0.25
_FEWEST_PERIODS, _PARTIALS, _TUNING_FRAMES, _FINER = 24, 6, 1 << 16, 8
# Generators by number, with the value each has where a zone does not say (section 8.1 of the specification).
_START, _END_SHIFT, _LOOP_START, _LOOP_END = 0, 1, 2, 3
_START_COARSE, _END_COARSE, _LOOP_START_COARSE, _LOOP_END_COARSE = 4, 12, 45, 50
_CUTOFF, _ENVELOPE_TO_CUTOFF = 8, 11
_ATTACK, _HOLD, _DECAY, _SUSTAIN, _RELEASE = 34, 35, 36, 37, 38
_INSTRUMENT, _KEYS, _VELOCITIES, _ATTENUATION = 41, 43, 44, 48
_COARSE_TUNE, _FINE_TUNE, _SAMPLE, _MODES, _SCALE, _ROOT = 51, 52, 53, 54, 56, 58
_DEFAULTS = {_CUTOFF: 13500, _ATTACK: -12000, _HOLD: -12000, _DECAY: -12000, _RELEASE: -12000, _SCALE: 100, _ROOT: -1}
_RANGES = (_KEYS, _VELOCITIES)
_EVERY_KEY = 0x7F00
_LOOPS = (1, 3)
# The hardware that such fonts were made on took this much of the attenuation that is written (from memory).
_ATTENUATION_SHARE = 0.4

# Threads that want a font at the same time wait for the first of them to read it.
_READING = Lock()

_BAG = np.dtype([("generators", "<u2"), ("modulators", "<u2")])
_GENERATOR = np.dtype([("number", "<u2"), ("amount", "<i2")])
_PRESET = np.dtype([("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("bag", "<u2"), ("unused", "<u4", 3)])
_INSTRUMENT_HEADER = np.dtype([("name", "S20"), ("bag", "<u2")])
_SAMPLE_HEADER = np.dtype(
    [
        ("name", "S20"),
        *((field, "<u4") for field in ("start", "end", "loop_start", "loop_end", "rate")),
        ("key", "u1"),
        ("correction", "i1"),
        ("link", "<u2"),
        ("kind", "<u2"),
    ]
)
_RECORDS = {
    "phdr": _PRESET,
    "pbag": _BAG,
    "pgen": _GENERATOR,
    "inst": _INSTRUMENT_HEADER,
    "ibag": _BAG,
    "igen": _GENERATOR,
    "shdr": _SAMPLE_HEADER,
}

Zone = dict[int, int]
Tuned = tuple[NDArray[np.float32], tuple[int, int], float]


@dataclass(frozen=True, eq=False, slots=True)
class Layer:
    """One sample as a key plays it.

    ``wave`` from -1 to 1; ``loop`` is (first, end) in frames of it, None if it sounds once; ``step`` frames of it are
    one second; ``cutoff`` in hertz; ``gain`` a factor; attack, hold, decay (to silence) and release in seconds;
    ``sustain`` a factor.
    """

    wave: NDArray[np.float32]
    loop: tuple[int, int] | None
    step: float
    cutoff: float
    gain: float
    attack: float
    hold: float
    decay: float
    sustain: float
    release: float


def _seconds(timecents: int) -> float:
    return float(2 ** (timecents / _OCTAVE_CENTS))


def _within(span: int, value: int) -> bool:
    return span & 0x7F <= value <= span >> 8 & 0x7F


class SoundFont:
    """A font that was read, asked for the layers of a key."""

    def __init__(self, content: bytes) -> None:
        chunks = dict(_chunks(content))
        self._wave = np.frombuffer(chunks["smpl"], "<i2")
        # Tuning takes a while, and neighbouring keys share a sample.
        self._tuned: dict[tuple[int, tuple[int, int], float], Tuned] = {}
        self._tables = {
            name: np.frombuffer(chunks[name], record, len(chunks[name]) // record.itemsize)
            for name, record in _RECORDS.items()
        }

    def layers(self, bank: int, program: int, key: int, velocity: int) -> tuple[Layer, ...]:
        """Return what sounds when a key is struck; raise :class:`MachineError` if the font lacks the program."""
        presets = self._tables["phdr"]
        here = np.flatnonzero((presets["bank"] == bank) & (presets["program"] == program))
        if not len(here):
            raise MachineError(f"the sound font has no program {program} in bank {bank}: install another one")
        found: list[Layer] = []
        for outer in self._zones("p", int(here[0]), _INSTRUMENT):
            if _struck(outer, key, velocity):
                for inner in self._zones("i", outer[_INSTRUMENT], _SAMPLE):
                    if _struck(inner, key, velocity):
                        found.append(self._layer(_together(outer, inner), key, tuned=bank != PERCUSSION_BANK))
        return tuple(found)

    def _zones(self, kind: str, index: int, last: int) -> Iterator[Zone]:
        """Yield the zones of a preset or an instrument, what its first one says for all of them with each."""
        headers = self._tables["phdr" if kind == "p" else "inst"]
        bags, generators = self._tables[f"{kind}bag"]["generators"], self._tables[f"{kind}gen"]
        common: Zone = {}
        for bag in range(int(headers[index]["bag"]), int(headers[index + 1]["bag"])):
            listed = generators[int(bags[bag]) : int(bags[bag + 1])]
            zone = {int(number): int(amount) for number, amount in listed}
            if last in zone:
                yield common | zone
            else:
                common = zone

    def _layer(self, zone: Zone, key: int, *, tuned: bool) -> Layer:
        header = self._tables["shdr"][zone[_SAMPLE]]

        def place(field: str, fine: int, coarse: int) -> int:
            return int(header[field]) + zone.get(fine, 0) + 32768 * zone.get(coarse, 0)

        start, end = place("start", _START, _START_COARSE), place("end", _END_SHIFT, _END_COARSE)
        loop = (
            place("loop_start", _LOOP_START, _LOOP_START_COARSE) - start,
            place("loop_end", _LOOP_END, _LOOP_END_COARSE) - start,
        )
        looped = zone.get(_MODES, 0) in _LOOPS and 0 <= loop[0] < loop[1]
        shorts = self._wave[start : start + loop[1] if looped else end]
        wave: NDArray[np.float32] = shorts.astype(np.float32) / np.float32(32768)
        root = zone[_ROOT] if zone[_ROOT] >= 0 else int(header["key"])
        tuning = 100 * zone.get(_COARSE_TUNE, 0) + zone.get(_FINE_TUNE, 0) + int(header["correction"])
        cents = (key - root) * zone[_SCALE] + tuning
        rate = float(header["rate"])
        step = rate * 2 ** (cents / _OCTAVE_CENTS)
        if looped and tuned:
            hertz = _A4_HERTZ * 2 ** ((key - _A4_KEY) / 12)
            name = (zone[_SAMPLE], loop, round(hertz / step, 9))
            if name not in self._tuned:
                self._tuned[name] = _tuned(wave, loop, hertz / step)
            wave, loop, pitch = self._tuned[name]
            step = hertz / pitch
        return Layer(
            wave=wave,
            loop=loop if looped else None,
            step=step,
            # The filter stands where its envelope opens it: short notes never hear it close.
            cutoff=8.176 * 2 ** ((zone[_CUTOFF] + max(0, zone.get(_ENVELOPE_TO_CUTOFF, 0))) / _OCTAVE_CENTS),
            gain=10 ** (-_ATTENUATION_SHARE * zone.get(_ATTENUATION, 0) / 200),
            attack=_seconds(zone[_ATTACK]),
            hold=_seconds(zone[_HOLD]),
            decay=_seconds(zone[_DECAY]),
            sustain=10 ** (-max(0, min(1440, zone.get(_SUSTAIN, 0))) / 200),
            release=_seconds(zone[_RELEASE]),
        )


def _tuned(wave: NDArray[np.float32], loop: tuple[int, int], near: float) -> Tuned:
    """Return wave and loop with one pitch from the first moment to the last, and that pitch in periods a frame.

    ``near`` is the pitch by the tuning that the font notes: that is some cents off, and players drift while they hold
    a note.
    """
    first, end = loop
    if (end - first) * near < _FEWEST_PERIODS:
        # A short loop holds whole periods.
        exact = max(1, round(near * (end - first))) / (end - first)
        return wave, loop, exact if abs(_OCTAVE_CENTS * math.log2(exact / near)) <= _CENTS_APART else near
    window = math.ceil(_FEWEST_PERIODS / near)
    centres = np.arange(window // 2, end - window // 2, window // 2)
    found = [_measured(wave[centre - window // 2 : centre + window // 2], near) for centre in centres]
    pitch = np.interp(np.arange(end), centres, found) / near
    # Where each frame goes so that all periods become equally long; a loop must begin and end on a frame.
    goes = np.concatenate([[0.0], np.cumsum(pitch)])
    fitted = round(goes[first]), round(goes[end])
    goes = np.interp(goes, [0.0, goes[first], goes[end]], [0.0, *fitted])
    return _at(wave, np.interp(np.arange(fitted[1]), goes, np.arange(end + 1))), fitted, near


def _at(wave: NDArray[np.float32], place: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return a wave between its frames, by way of one that is finer by a whole factor."""
    fine = np.fft.irfft(np.fft.rfft(wave), len(wave) * _FINER) * _FINER
    return np.interp(place * _FINER, np.arange(len(fine)), fine).astype(np.float32)


def _measured(wave: NDArray[np.float32], near: float) -> float:
    """Return the fundamental of a wave near a frequency, both in periods a frame."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), _TUNING_FRAMES))
    tried = near * 2 ** (np.arange(-_CENTS_APART, _CENTS_APART, _CENT) / _OCTAVE_CENTS)
    partials = np.arange(1, 1 + _PARTIALS)[:, None] * tried
    level = np.interp(partials * _TUNING_FRAMES, np.arange(len(spectrum)), spectrum).sum(axis=0)
    return float(tried[level.argmax()])


def _struck(zone: Zone, key: int, velocity: int) -> bool:
    return _within(zone.get(_KEYS, _EVERY_KEY), key) and _within(zone.get(_VELOCITIES, _EVERY_KEY), velocity)


def _together(outer: Zone, inner: Zone) -> Zone:
    """Return what an instrument's zone says with what the preset adds to it."""
    zone = _DEFAULTS | inner
    for number, amount in outer.items():
        if number not in (*_RANGES, _INSTRUMENT):
            zone[number] = zone.get(number, 0) + amount
    return zone


def _chunks(content: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield the chunks of a RIFF file by name, those within its lists."""
    place = 12
    while place + 8 <= len(content):
        name, length = content[place : place + 4], struct.unpack_from("<I", content, place + 4)[0]
        if name == b"LIST":
            place += 12
            continue
        yield name.decode("latin-1"), content[place + 8 : place + 8 + length]
        place += 8 + length + length % 2


@cache
def font_path() -> Path:
    """Return where the General MIDI font lies; raise :class:`MachineError` if it is not installed.

    Its package is only looked up, never imported.
    """
    try:
        files = importlib.metadata.files(_PACKAGE) or ()
    except importlib.metadata.PackageNotFoundError as error:
        raise MachineError(f"no sounds to play with: install the Python package {_PACKAGE!r}") from error
    for file in files:
        if file.name == _FONT_NAME and (path := Path(str(file.locate()))).is_file():
            return path
    raise MachineError(f"the Python package {_PACKAGE!r} has no sound font {_FONT_NAME}: install it again")


def read_font(path: Path) -> SoundFont:
    """Return a SoundFont file, read once; raise :class:`MachineError` if it cannot be read or is none."""
    with _READING:
        return _read(path)


@lru_cache(maxsize=2)
def _read(path: Path) -> SoundFont:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise MachineError(f"cannot read the sound font {str(path)!r}: {error.strerror or error}") from error
    if content[:4] != b"RIFF" or content[8:12] != b"sfbk":
        raise MachineError(f"{str(path)!r} is no SoundFont file: install the Python package {_PACKAGE!r} again")
    try:
        return SoundFont(content)
    except (KeyError, ValueError, struct.error) as error:
        raise MachineError(f"the sound font {str(path)!r} is damaged: install {_PACKAGE!r} again") from error
