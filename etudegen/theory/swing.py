"""How unequal swung eighth notes are, depending on the tempo.

Measured on the ride cymbal: about linear in tempo, up to 3.5 to 1 at slow tempi and 1 to 1 at fast ones, while the
short note stays near 100 milliseconds from medium to fast tempi (A. Friberg and A. Sundstrom, "Swing ratios and
ensemble timing in jazz performance", Music Perception 19(3), 2002, 333-349; "Preferred swing ratio in jazz as a
function of tempo", TMH-QPSR 4/1997). Soloists play smaller ratios than the cymbal at slow and medium tempi.
"""

from fractions import Fraction

_SHORT_NOTE = Fraction(100)
_EVEN, _MOST = Fraction(1), Fraction(7, 2)
_MILLISECONDS_PER_MINUTE = 60_000


def swing_ratio(tempo: Fraction | int) -> Fraction:
    """Return how long the first of two swung eighths is against the second, at quarter notes a minute."""
    beat = _MILLISECONDS_PER_MINUTE / Fraction(tempo)
    return max(_EVEN, min(_MOST, (beat - _SHORT_NOTE) / _SHORT_NOTE))


def swung(quarters: Fraction, ratio: Fraction) -> Fraction:
    """Return where a moment of even time, in quarter notes, falls when eighths are swung: beats stay, halves move."""
    beat, within = divmod(quarters, 1)
    middle = ratio / (1 + ratio)
    if within <= Fraction(1, 2):
        return beat + 2 * within * middle
    return beat + middle + (2 * within - 1) * (1 - middle)
