"""Contours: shapes over a list of usable partials, low to high, as groups that are slurred together."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from etudegen.errors import InputError
from etudegen.instrument.partials import HIGHEST

Groups = list[list[int]]


def _neighbours(partials: list[int]) -> Groups:
    """Each pair of neighbours, alternating: 2 3 2 3, 3 4 3 4 ..."""
    return [[low, high, low, high] for low, high in pairwise(partials)]


def _falls(partials: list[int]) -> Groups:
    """Each pair of neighbours from the top down, alternating, to end on the lowest: 6 5 6 5, 5 4 5 4, 4 3 4 3."""
    return [[high, low, high, low] for low, high in reversed([*pairwise(partials)])]


def _climb(partials: list[int]) -> Groups:
    """Up from the lowest and back, each climb (three at most) higher: 2 3 4 3, 2 3 4 5 4 3, 2 3 4 5 6 5 4 3."""
    last = len(partials) - 1
    if last < 2:
        return _sweep(partials)
    tops = sorted({2, (last + 3) // 2, last})
    return [group for top in tops for group in _sweep(partials[: top + 1])]


def _skips(partials: list[int]) -> Groups:
    """Every other partial, each pair a step higher, and back the same way: 2 4 3 5 4 6 4 5 3 4."""
    if len(partials) == 2:
        return _sweep(partials)
    up = [note for low, high in zip(partials, partials[2:], strict=False) for note in (low, high)]
    return [[*up, *up[-2:0:-1]]]


def _sweep(partials: list[int]) -> Groups:
    """From the lowest to the highest and back: 2 3 4 5 6 5 4 3."""
    return [[*partials, *partials[-2:0:-1]]]


def _anchor(partials: list[int]) -> Groups:
    """From the lowest, an anchor, to each of the others: 2 3 2 4 2 5 2 6."""
    return [[note for reach in partials[1:] for note in (partials[0], reach)]]


def _leaps(partials: list[int]) -> Groups:
    """Octaves (partials in the ratio 1 to 2), then twelfths (1 to 3), each alternating."""
    return [[low, ratio * low, low, ratio * low] for ratio in (2, 3) for low in partials if ratio * low in partials]


def _threes(partials: list[int]) -> Groups:
    """Each three neighbours, a step higher each time, and back: 2 3 4, 3 4 5, 4 5 6, 6 5 4, 5 4 3, 4 3 2."""
    if len(partials) == 2:
        return _falls(partials)
    up = [partials[first : first + 3] for first in range(len(partials) - 2)]
    return [*up, *([*reversed(group)] for group in reversed(up))]


def _parted(partials: Sequence[int]) -> Groups:
    """Part a shape where a partial comes twice in a row: a note that is repeated has to be tongued."""
    groups: Groups = [[partials[0]]]
    for before, partial in pairwise(partials):
        if partial == before:
            groups.append([])
        groups[-1].append(partial)
    return groups


@dataclass(frozen=True, slots=True)
class Contour:
    """A shape over partials. A named one takes all usable partials; ``own`` holds a player's partials as typed.

    One that ``ends_low`` has the lowest partial for its held last note.
    """

    name: str
    meaning: str
    shape: Callable[[list[int]], Groups]
    own: tuple[int, ...] = ()
    ends_low: bool = False

    def groups(self, usable: list[int], times: int) -> Groups:
        """Return what is slurred together, with each group gone through ``times`` times and the held last note.

        ``usable`` are the partials at hand, low to high; no groups come back where the shape does not fit them.
        """
        if self.own:
            return self._own_groups(times) if set(self.own) <= set(usable) else []
        groups = [group * times for group in self.shape(usable)]
        if groups and not self.ends_low:
            # Every other shape leads back to where its last group began: that note is held.
            groups[-1].append(groups[-1][0])
        return groups

    def _own_groups(self, times: int) -> Groups:
        if self.own[0] != self.own[-1]:
            return [group for _ in range(times) for group in _parted(self.own)]
        return _parted((*self.own, *self.own[1:] * (times - 1)))


NAMED = {
    contour.name: contour
    for contour in (
        Contour("neighbours", "neighbouring partials alternating", _neighbours),
        Contour("falls", "neighbouring partials alternating, from the top down", _falls, ends_low=True),
        Contour("climb", "climbs from the lowest partial and back, each one higher", _climb),
        Contour("skips", "skipping every other partial", _skips),
        Contour("sweep", "from the lowest partial to the highest and back", _sweep),
        Contour("anchor", "one anchor note with wider and wider reaches", _anchor),
        Contour("threes", "three neighbouring partials, a step higher each time, and back", _threes, ends_low=True),
        Contour("leaps", "leaps of an octave and a twelfth", _leaps),
    )
}


def parse_contour(text: str) -> Contour:
    """Return a named contour, or the player's own from partial numbers such as ``2 3 4 3 2``."""
    text = text.strip()
    if text in NAMED:
        return NAMED[text]
    words = [word for word in re.split(r"[\s,]+", text) if word]
    if words and re.fullmatch(r"[A-Za-z-]+", words[0]):
        raise InputError(
            f"unknown contour {text!r}: choose one of {', '.join(NAMED)}, or give partial numbers like '2 3 4 3 2'"
        )
    if not all(re.fullmatch(r"[0-9]{1,3}", word) for word in words) or len(words) < 2:
        raise InputError(f"cannot read the contour {text!r}: give two or more whole partial numbers, like '2 3 4 3 2'")
    partials = tuple(int(word) for word in words)
    if any(not 2 <= partial <= HIGHEST for partial in partials):
        raise InputError(f"contour {text!r} leaves the series: partial numbers run from 2 to {HIGHEST}")
    if len(partials) > 64:
        raise InputError(f"a contour of {len(partials)} partials does not fit on a line: allowed are 2 to 64")
    if all(partial == partials[0] for partial in partials):
        raise InputError(f"contour {text!r} does not move: it needs two different partials")
    return Contour(" ".join(map(str, partials)), "partial numbers of the player's own", _sweep, partials)


def is_contour(contour: Contour) -> bool:
    """Tell whether a contour is one of the named ones, or one that partial numbers of a player's own make."""
    if contour in NAMED.values():
        return True
    try:
        return parse_contour(contour.name) == contour
    except (AttributeError, InputError):
        return False
