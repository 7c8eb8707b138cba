"""Eighth notes of a performance: found to be swung or even, and made even again."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from etudegen.sound.performance import SoundingNote
from etudegen.theory.swing import swing_ratio

_EVEN = Fraction(1)
_HALF = Fraction(1, 2)


def ratio_played(notes: Sequence[SoundingNote], tempo: Fraction) -> Fraction:
    """Return the swing ratio that is heard in the notes at this tempo: 1 where off-beats fall in the middle."""
    ratio = swing_ratio(tempo)
    off_beat = ratio / (1 + ratio)
    within = {note.start % 1 for note in notes}
    return ratio if off_beat in within and _HALF not in within else _EVEN


def _even(quarters: Fraction, ratio: Fraction) -> Fraction:
    """Return where a moment of swung time falls when eighths are even."""
    beat, within = divmod(quarters, 1)
    middle = ratio / (1 + ratio)
    if within <= middle:
        return beat + within / middle / 2
    return beat + _HALF + (within - middle) / (1 - middle) / 2


def evened(notes: Sequence[SoundingNote], ratio: Fraction) -> Iterator[SoundingNote]:
    """Yield notes that were swung by a ratio in even time."""
    for note in notes:
        start = _even(note.start, ratio)
        yield replace(note, start=start, duration=_even(note.start + note.duration, ratio) - start)
