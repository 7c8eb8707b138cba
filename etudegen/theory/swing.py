"""How unequal swung eighth notes are, depending on the tempo and on who plays them.

Measured on the ride cymbal: about linear in tempo, up to 3.5 to 1 at slow tempi and 1 to 1 at fast ones, while the
short note stays near 100 milliseconds from medium to fast tempi (A. Friberg and A. Sundstrom, "Swing ratios and
ensemble timing in jazz performance", Music Perception 19(3), 2002, 333-349; "Preferred swing ratio in jazz as a
function of tempo", TMH-QPSR 4/1997). Soloists play smaller ratios than the cymbal at slow and medium tempi (the first
of these), in 456 recorded solos mostly near 1.3 to 1 (C. Corcoran and K. Frieler, "Playing it straight", Music
Perception 38(4), 2021, 372-385).

Which off-beats swing is common practice, no source: those of beats that are divided into two eighths and nothing else,
whatever is tied over their ends. Triplets, sixteenths and dotted eighths fill a beat that stays as it is written, and
in metres counted in eighths (6/8, 12/8, 7/8) nothing swings.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from etudegen.errors import InputError

_SHORT_NOTE = Fraction(100)
_EVEN, _MOST_OF_THE_CYMBAL = Fraction(1), Fraction(7, 2)
# No source gives a soloist's curve. So far from even, as a share of the cymbal's, a soloist stays below 2 to 1 at slow
# and medium tempi, plays 1.3 to 1 at 200 and is even where the cymbal is.
_SOLOIST_SHARE = Fraction(3, 10)
# A little beyond what was measured on anybody.
MOST = Fraction(4)
_MILLISECONDS_PER_MINUTE = 60_000
_HALF = Fraction(1, 2)
# As sheets say it, so fine.
FINEST_RATIO = 10
# The lower number of a metre that is counted in quarter notes.
_QUARTER_METRE = 4


def cymbal_ratio(tempo: Fraction | int) -> Fraction:
    """Return how long a drummer's first of two eighths is against the second, at quarter notes a minute."""
    beat = _MILLISECONDS_PER_MINUTE / Fraction(tempo)
    return max(_EVEN, min(_MOST_OF_THE_CYMBAL, (beat - _SHORT_NOTE) / _SHORT_NOTE))


def soloist_ratio(tempo: Fraction | int) -> Fraction:
    """Return how long a soloist's first of two eighths is against the second, at quarter notes a minute."""
    return _EVEN + _SOLOIST_SHARE * (cymbal_ratio(tempo) - _EVEN)


@dataclass(frozen=True, slots=True)
class Feel:
    """How written eighths are played: evenly or swung.

    ``ratio`` is the soloist's if the music gives one, from 1 to 4 (2 is two to one), else None: the tempo decides.
    """

    swung: bool = False
    ratio: Fraction | None = None

    def __post_init__(self) -> None:
        if self.ratio is not None and not (self.swung and _EVEN <= self.ratio <= MOST):
            raise InputError(
                f"swing ratio {float(self.ratio):g}: allowed are {_EVEN} to {MOST}, and none where eighths are even"
            )

    def soloist_ratio(self, tempo: Fraction) -> Fraction:
        """Return the ratio that the written part is played in, at quarter notes a minute."""
        return (self.ratio or soloist_ratio(tempo)) if self.swung else _EVEN

    def cymbal_ratio(self, tempo: Fraction) -> Fraction:
        """Return the ratio that the cymbal and what goes with it is played in, at quarter notes a minute."""
        return cymbal_ratio(tempo) if self.swung else _EVEN


EVEN, SWUNG = Feel(), Feel(swung=True)


def swung(quarters: Fraction, ratio: Fraction) -> Fraction:
    """Return where a moment of even time, in quarter notes, falls when eighths are swung: beats stay, halves move."""
    beat, within = divmod(quarters, 1)
    middle = ratio / (1 + ratio)
    if within <= _HALF:
        return beat + 2 * within * middle
    return beat + middle + (2 * within - 1) * (1 - middle)


def swings(metre: tuple[int, int]) -> bool:
    """Tell whether eighths can swing in a metre: where it is counted in quarters or longer notes."""
    return metre[1] <= _QUARTER_METRE


def off_beats_of(
    bars: Sequence[tuple[Fraction, Fraction, Fraction]], boundaries: Iterable[Fraction]
) -> Iterator[Fraction]:
    """Yield the off-beats that swing where eighths do, in bars whose metre swings.

    All in quarter notes: ``bars`` are (start, duration, any moment on which a beat falls); ``boundaries`` are the
    moments where notes begin and end.
    """
    within: dict[Fraction, set[Fraction]] = {}
    moments = sorted(set(boundaries))
    for start, duration, beat in bars:
        for moment in moments[bisect_left(moments, start) : bisect_left(moments, start + duration)]:
            if inside := (moment - beat) % 1:
                within.setdefault(moment - inside, set()).add(inside)
    for begins, divisions in within.items():
        if divisions == {_HALF}:
            yield begins + _HALF


def every_off_beat(start: Fraction, end: Fraction, beat: Fraction) -> Iterator[Fraction]:
    """Yield the middle of every beat from start to end, in quarter notes; beats are counted from ``beat``."""
    moment = start + (beat + _HALF - start) % 1
    while moment < end:
        yield moment
        moment += 1
