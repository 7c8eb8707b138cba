"""Which name a key gets and in which octave a tune lies best for a player."""

from dataclasses import dataclass

from etudegen.theory.keys import major_sharps, names_of
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.tune import Tune

_OCTAVES = range(-4, 5)
# A whole step from either end of the range counts as near it.
_NEAR = 2
_RELATIVE_MINOR = 3
_DOUBLE = 2


@dataclass(frozen=True, slots=True)
class Placed:
    """A tune moved to a key, its notes inside the range."""

    key: str
    tune: Tune


@dataclass(frozen=True, slots=True)
class Unfit:
    """A key in which no octave holds the whole tune, with what lies outside in the octave that holds most of it."""

    key: str
    outside: tuple[str, ...]

    @property
    def why(self) -> str:
        """Why it does not fit."""
        shown = "; ".join(self.outside[:8])
        more = f"; and {len(self.outside) - 8} more" if len(self.outside) > 8 else ""
        return f"it fits in no octave, outside are {shown}{more}"


def key_name(tune: Tune) -> str:
    """Return the name of a tune's key as a page shows it, such as ``B♭`` or ``F♯m``."""
    return tune.tonic.pretty_name + ("m" if tune.minor else "")


def _signature(tune: Tune) -> int:
    """Return how many sharps or flats the key has, as a major or minor key."""
    sharps = major_sharps(tune.tonic) - (_RELATIVE_MINOR if tune.minor else 0)
    return abs(sharps)


def _to(tune: Tune, tonic: WrittenPitch) -> Tune:
    """Return a tune in the key of a tonic, by the shortest way on the staff."""
    tonic = WrittenPitch(tonic.step, tonic.alter, tune.tonic.octave)
    return tune.moved(tonic.staff_number - tune.tonic.staff_number, tonic.number - tune.tonic.number)


def _effort(tune: Tune) -> int:
    """Return how hard a key reads: its sharps or flats, and as much as two more for each double accidental."""
    return _signature(tune) + _DOUBLE * tune.doubles


def named(tune: Tune, tonic: WrittenPitch, *, keep: bool) -> Tune:
    """Return a tune in a key, under the one of its names that reads best.

    With ``keep`` the name that was given stands unless the other needs fewer double accidentals and reads better.
    What needs a double accidental even then is renamed.
    """
    best = _to(tune, tonic)
    for name in names_of(tonic.number):
        if name.name == tonic.name:
            continue
        other = _to(tune, name)
        if not other.has_signatures:
            continue
        reads_better = (_effort(other), _signature(other)) < (_effort(best), _signature(best))
        if (reads_better and (not keep or other.doubles < best.doubles)) or not best.has_signatures:
            best = other
    return best.simplified()


def _outside(tune: Tune, low: WrittenPitch, high: WrittenPitch) -> tuple[str, ...]:
    return tuple(
        f"bar {number} {tone.pitch}"
        for number, tone in tune.numbered()
        if not low.number <= tone.pitch.number <= high.number
    )


def placed(tune: Tune, low: WrittenPitch, high: WrittenPitch) -> Placed | Unfit:
    """Return a tune in the octave that suits a range best: nothing outside, then the fewest notes near the limits.

    Between octaves that are equal in that, the one whose notes lie nearest the middle of the range, then the lower.
    """
    numbers = [tone.pitch.number for tone in tune.tones]
    middle = (low.number + high.number) / 2

    def strain(octave: int) -> tuple[int, int, float, int]:
        moved = [number + 12 * octave for number in numbers]
        outside = sum(not low.number <= number <= high.number for number in moved)
        near = sum(number < low.number + _NEAR or number > high.number - _NEAR for number in moved)
        return outside, near, abs(sum(moved) / len(moved) - middle), octave

    best = min(_OCTAVES, key=strain)
    chosen = tune.moved(7 * best, 12 * best)
    outside = _outside(chosen, low, high)
    if outside:
        return Unfit(key_name(tune), outside)
    return Placed(key_name(tune), chosen)
