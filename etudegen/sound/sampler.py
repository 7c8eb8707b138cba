"""One note as sound: a font's layers played at the right speed, in equal temperament from A4 at 440 Hz."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from etudegen.sound.arranging import DRONE_PROGRAM
from etudegen.sound.soundfont import PERCUSSION_BANK, Layer, read_font

Samples = NDArray[np.float32]

# Nothing rings on longer than this after its end, so that rests are silent.
LONGEST_RELEASE = 0.15
# Blocks of wood and cymbals are struck and ring for themselves.
_STRUCK_SECONDS = 0.8
_SHORTEST_ATTACK, _DRONE_ATTACK = 0.002, 0.25
# An envelope's decay and release are given as the time for 100 dB.
_DECIBELS = 100.0
# Above this share of the sample rate nothing is let through, so that nothing is folded back.
_HIGHEST_SHARE = 0.45
_STEEP, _GENTLE = 64, 4
_FRAMES_FOR_FILTER = 4096
_CACHED_SECONDS = 4.0
_OCTAVE_CENTS = 1200


@dataclass(frozen=True, slots=True)
class Struck:
    """A note to play: ``program`` None for percussion, ``frames`` until it is let go at ``rate`` frames a second.

    ``glide`` are (seconds from its start, cents off its key).
    """

    program: int | None
    key: int
    velocity: int
    frames: int
    rate: int
    glide: tuple[tuple[float, float], ...] = ()

    @property
    def held(self) -> int:
        """For how many frames it is held."""
        return max(self.frames, round(_STRUCK_SECONDS * self.rate)) if self.program is None else self.frames

    @property
    def length(self) -> int:
        """For how many frames it sounds."""
        return self.held + round(LONGEST_RELEASE * self.rate)


def _filtered(layer: Layer, rate: int) -> Layer:
    """Return a layer with what is above its cutoff, or would be folded back, taken out of its wave."""
    wave, loop = layer.wave, layer.loop
    if loop is not None:
        # The loop is taken from far inside an unrolled one, where the filter no longer hears the beginning.
        times = 2 + -(-_FRAMES_FOR_FILTER // (loop[1] - loop[0]))
        wave = np.concatenate([wave[: loop[1]], np.tile(wave[loop[0] : loop[1]], times + 1)])
        loop = (loop[0] + (times - 1) * (loop[1] - loop[0]), loop[0] + times * (loop[1] - loop[0]))
    padded = np.concatenate([np.zeros(_FRAMES_FOR_FILTER, np.float32), wave, np.zeros(_FRAMES_FOR_FILTER, np.float32)])
    # Frequencies as they are heard, once the wave is played at its step.
    hertz = np.fft.rfftfreq(len(padded), 1 / layer.step)
    passed = 1 / np.sqrt(1 + (hertz / (_HIGHEST_SHARE * rate)) ** _STEEP)
    passed /= np.sqrt(1 + (hertz / layer.cutoff) ** _GENTLE)
    clean = np.fft.irfft(np.fft.rfft(padded) * passed, len(padded)).astype(np.float32)
    end = loop[1] if loop is not None else len(wave)
    return replace(layer, wave=clean[_FRAMES_FOR_FILTER : _FRAMES_FOR_FILTER + end], loop=loop)


@lru_cache(maxsize=256)
def _layers(font: Path, program: int | None, key: int, velocity: int, rate: int) -> tuple[Layer, ...]:
    bank, number = (PERCUSSION_BANK, 0) if program is None else (0, program)
    return tuple(_filtered(layer, rate) for layer in read_font(font).layers(bank, number, key, velocity))


def _played(seconds: NDArray[np.float64], glide: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    """Return for how many seconds a wave has run by then, faster or slower while it glides."""
    if not glide:
        return seconds
    points = [(0.0, 0.0), *glide, (math.inf, glide[-1][1])]
    run = np.zeros_like(seconds)
    for (start, cents), (end, following) in pairwise(points):
        within = np.clip(seconds - start, 0, end - start)
        slope = 0.0 if math.isinf(end) or end == start else (following - cents) / (end - start)
        at_start = 2 ** (cents / _OCTAVE_CENTS)
        if abs(slope) < 1e-9:
            run += within * at_start
        else:
            rising = slope * math.log(2) / _OCTAVE_CENTS
            run += at_start * np.expm1(rising * within) / rising
    return run


def _read(layer: Layer, place: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the wave between its frames (cubic Hermite through four of them)."""
    wave, loop = layer.wave, layer.loop
    if loop is not None:
        first, end = loop
        place = np.where(place < end, place, first + (place - first) % (end - first))
        guarded = np.concatenate([wave[:1], wave[:end], wave[first : first + 1], wave[first + 1 : first + 2], wave[:1]])
    else:
        guarded = np.concatenate([np.zeros(1, np.float32), wave, np.zeros(3, np.float32)])
        place = np.minimum(place, len(wave))
    whole = place.astype(np.int64)
    part = place - whole
    before, here, there, after = (guarded[whole + shift] for shift in range(4))
    slope_here, slope_there = (there - before) / 2, (after - here) / 2
    bow = 2 * (here - there) + slope_here + slope_there
    read: NDArray[np.float64] = ((bow * part + (there - here) - slope_here - bow) * part + slope_here) * part + here
    return read


def _envelope(layer: Layer, seconds: NDArray[np.float64], held: float, attack: float) -> NDArray[np.float64]:
    decays = np.maximum(0, seconds - attack - layer.hold) / layer.decay
    loud = np.maximum(10 ** (-_DECIBELS / 20 * decays), layer.sustain)
    loud *= np.minimum(1, seconds / attack)
    after = np.maximum(0, seconds - held)
    # The straight line brings to nothing what the font would let ring longer.
    loud *= 10 ** (-_DECIBELS / 20 * after / layer.release) * np.maximum(0, 1 - after / LONGEST_RELEASE)
    return loud


def piece(note: Struck, first: int, last: int, font: Path) -> Samples:
    """Return the frames of a note from ``first`` up to ``last``, counted from where it begins."""
    if note.length <= _CACHED_SECONDS * note.rate:
        return _whole(note, font)[first:last]
    return _piece(note, first, last, font)


@lru_cache(maxsize=128)
def _whole(note: Struck, font: Path) -> Samples:
    return _piece(note, 0, note.length, font)


def _piece(note: Struck, first: int, last: int, font: Path) -> Samples:
    seconds = np.arange(first, last) / note.rate
    sound = np.zeros(last - first)
    softest = _DRONE_ATTACK if note.program == DRONE_PROGRAM else _SHORTEST_ATTACK
    for layer in _layers(font, note.program, note.key, note.velocity, note.rate):
        wave = _read(layer, _played(seconds, note.glide) * layer.step)
        sound += layer.gain * wave * _envelope(layer, seconds, note.held / note.rate, max(softest, layer.attack))
    # Loudness goes with the square of the velocity (the specification's default modulator, about).
    return (sound * (note.velocity / 127) ** 2).astype(np.float32)
