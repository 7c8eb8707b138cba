"""Keys: their names, their signatures on the line of fifths, and the orders in which all twelve are gone through."""

import random
import re
from collections.abc import Sequence
from enum import StrEnum
from functools import cache

from etudegen.errors import InputError
from etudegen.theory.pitch import STEPS, WrittenPitch

# A tonic stands for its pitch class; this octave is only there to make it a pitch.
_OCTAVE = 4
_FIFTHS = {step: fifths for fifths, step in enumerate("FCGDAEB", start=-1)}
_MOST_SHARPS = 7
# Common practice, no source: round by fourths, starting from C.
_BY_FOURTHS = (0, 5, 10, 3, 8, 1, 6, 11, 4, 9, 2, 7)
_FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


class KeyOrder(StrEnum):
    """How one key follows another."""

    FOURTHS = "fourths"
    FIFTHS = "fifths"
    CHROMATIC = "chromatic"
    SHUFFLED = "shuffled"


def tonic(name: str) -> WrittenPitch:
    """Read a key's name such as ``Bb`` or ``F#``; raise :class:`InputError` for anything else."""
    if not re.fullmatch(r"[A-Ga-g](#|b|♯|♭)?", name):
        raise InputError(f"cannot read the key {name!r}: write a letter A to G with # or b if needed, like Bb or F#")
    return WrittenPitch.parse(f"{name}{_OCTAVE}")


def parse_keys(text: str) -> tuple[WrittenPitch, ...]:
    """Read ``all`` (as no keys at all) or key names parted by spaces or commas, each key once."""
    if text.strip() == "all":
        return ()
    tonics = tuple(tonic(word) for word in re.split(r"[\s,]+", text.strip()))
    seen: set[int] = set()
    for each in tonics:
        if each.number % 12 in seen:
            raise InputError(f"the key {each.name} is named twice in {text!r}: name each key once")
        seen.add(each.number % 12)
    return tonics


def major_sharps(of: WrittenPitch) -> int:
    """Return the sharps (negative: flats) in the signature of a major key; more than 7 has no signature."""
    return _FIFTHS[of.step] + 7 * of.alter


def has_signature(sharps: int) -> bool:
    """Tell whether so many sharps (negative: flats) make a signature that exists."""
    return abs(sharps) <= _MOST_SHARPS


def altered_steps(sharps: int) -> dict[str, int]:
    """Return which steps a signature bends, and by how many half steps."""
    names = "FCGDAEB" if sharps > 0 else "BEADGCF"
    return dict.fromkeys(names[: abs(sharps)], 1 if sharps > 0 else -1)


@cache
def all_tonics() -> tuple[WrittenPitch, ...]:
    """Return the twelve tonics, black keys by their flat names, upwards from C."""
    return tuple(tonic(name) for name in _FLAT_NAMES)


def names_of(pitch_class: int) -> tuple[WrittenPitch, ...]:
    """Return the names of a pitch class with at most one accidental, flat and natural names first."""
    named = (WrittenPitch(step, alter, _OCTAVE) for alter in (0, -1, 1) for step in STEPS)
    return tuple(each for each in named if each.number % 12 == pitch_class % 12)


def in_order(tonics: Sequence[WrittenPitch], order: KeyOrder, seed: int) -> tuple[WrittenPitch, ...]:
    """Return tonics in an order; by fourths and fifths it starts from C, or from the first key after it."""
    if order is KeyOrder.SHUFFLED:
        shuffled = sorted(tonics, key=lambda each: each.number % 12)
        random.Random(seed).shuffle(shuffled)  # noqa: S311 - an order of practice, not a secret
        return tuple(shuffled)
    if order is KeyOrder.CHROMATIC:
        return tuple(sorted(tonics, key=lambda each: each.number % 12))
    rounds = _BY_FOURTHS if order is KeyOrder.FOURTHS else (_BY_FOURTHS[0], *_BY_FOURTHS[:0:-1])
    return tuple(sorted(tonics, key=lambda each: rounds.index(each.number % 12)))
