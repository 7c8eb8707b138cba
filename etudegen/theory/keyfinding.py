"""Which key is heard: the notes of a melody, by how long they sound, against profiles of the keys.

Source of the profiles: B. Aarden, Dynamic melodic expectancy (2003), as music21 10.5.1 has them (AardenEssen).
"""

from collections.abc import Iterable
from fractions import Fraction
from functools import cache

_HALF_STEPS = 12
_PROFILES = {
    "major": (
        17.7661, 0.145624, 14.9265, 0.160186, 19.8049, 11.3587, 0.291248, 22.062, 0.145624, 8.15494, 0.232998, 4.95122,
    ),
    "minor": (
        18.2648, 0.737619, 14.0499, 16.8599, 0.702494, 14.4362, 0.702494, 18.6161, 4.56621, 1.93186, 7.37619, 1.75623,
    ),
}  # fmt: skip


@cache
def _centred(mode: str) -> tuple[float, ...]:
    """Return a profile less its mean, of length one."""
    profile = _PROFILES[mode]
    mean = sum(profile) / _HALF_STEPS
    less = [each - mean for each in profile]
    length = sum(each * each for each in less) ** 0.5
    return tuple(each / length for each in less)


def key_heard(notes: Iterable[tuple[int, Fraction]]) -> tuple[int, str]:
    """Return the key, 0 (C) to 11 with its mode, whose profile notes, given as key number and duration, are most like.

    The profile is correlated with how long each note of the octave sounds.
    """
    lasting = [0.0] * _HALF_STEPS
    for number, duration in notes:
        lasting[number % _HALF_STEPS] += float(duration)
    scores = {
        (tonic, mode): sum(
            lasting[(tonic + above) % _HALF_STEPS] * weight for above, weight in enumerate(_centred(mode))
        )
        for mode in _PROFILES
        for tonic in range(_HALF_STEPS)
    }
    # Less its mean, a profile sums to nothing: what sounds in all notes alike counts for no key.
    return max(scores, key=scores.__getitem__)
