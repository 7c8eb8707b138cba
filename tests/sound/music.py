"""Music to arrange, and measuring what was made of it."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from etudegen.sound.performance import Performance, SoundingNote

TRUMPET = 56
A4_KEY, A4_HERTZ = 69, 440.0


def performance(
    notes: list[tuple[Fraction | int, Fraction | int, int]],
    duration: Fraction | int,
    tempo: int = 120,
    metre: tuple[int, int] = (4, 4),
    tempos: tuple[tuple[Fraction, Fraction], ...] | None = None,
    **parts: object,
) -> Performance:
    """A trumpet part from (start, duration, key), whose off-beats are those of its notes."""
    starts = [Fraction(start) for start, _, _ in notes]
    made = Performance(
        title="Harbour étude",
        part_name="Trumpet in B♭",
        program=TRUMPET,
        metre=metre,
        tempos=tempos or ((Fraction(0), Fraction(tempo)),),
        notes=tuple(SoundingNote(Fraction(start), Fraction(length), key, 80) for start, length, key in notes),
        duration=Fraction(duration),
        off_beats=tuple(start for start in starts if start % 1 == Fraction(1, 2)),
    )
    return replace(made, **parts)


def hertz(key: int) -> float:
    """Equal temperament from A4 at 440 hertz (ISO 16)."""
    return A4_HERTZ * 2 ** ((key - A4_KEY) / 12)


def cents(measured: float, expected: float) -> float:
    return float(1200 * np.log2(measured / expected))


def onsets(samples: np.ndarray, rate: int) -> list[float]:
    """Seconds at which the energy of the last 2 ms reaches a tenth of its greatest after 50 ms below that."""
    window = rate // 500
    power = np.convolve(samples.astype(np.float64) ** 2, np.ones(window))[: len(samples)]
    loud = np.flatnonzero(power > power.max() / 10) / rate
    return [float(loud[0]), *(float(after) for before, after in pairwise(loud) if after - before > 0.05)]
