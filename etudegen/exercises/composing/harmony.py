"""Harmony: which chord of the key is behind each moment of a piece."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from etudegen.exercises.composing.forms import Ending, Form

_STEPS = 7
DOMINANT = 5


@dataclass(frozen=True, slots=True)
class Harmony:
    """A chord on a step of the scale, 1 to 7, from a moment of its bar on, in quarter notes."""

    at: Fraction
    root: int

    @property
    def steps(self) -> frozenset[int]:
        """The steps of the scale, 0 to 6, that are in it; a dominant has its seventh."""
        thirds = 4 if self.root == DOMINANT else 3
        return frozenset((self.root - 1 + 2 * each) % _STEPS for each in range(thirds))


# A bar has one chord, or two with a slash between. Common practice, no source, but where phrases end: a half cadence on
# the dominant, a full one from it to the tonic (any textbook of harmony).
_PLANS: Mapping[str, Mapping[Ending, Sequence[str]]] = {
    "major": {
        Ending.OPEN: ("1 4 5 1", "1 5 1/4 1", "1 6 4/5 1", "1 1 5 1", "1 2 5 1"),
        Ending.HALF: ("1 4 1 5", "1 6 2 5", "1 5 1 5", "1 4 2/4 5", "6 4 2 5", "4 1 2 5"),
        Ending.FULL: ("1 4 5 1", "6 2 5 1", "1 2 5 1", "4 1 5 1", "1 4/2 5 1", "2 5 1/5 1"),
    },
    "minor": {
        Ending.OPEN: ("1 4 5 1", "1 6 4/5 1", "1 7 3 1", "1 1 5 1"),
        Ending.HALF: ("1 4 1 5", "1 6 4 5", "1 7 6 5", "3 7 1 5", "6 3 4 5"),
        Ending.FULL: ("1 4 5 1", "6 4 5 1", "1 2 5 1", "4 1 5 1", "3 4 5 1"),
    },
}
_ELSEWHERE = ("2", "3", "4", "6")


def harmonies(form: Form, mode: str, bar: Fraction, chance: Random) -> list[tuple[Harmony, ...]]:
    """Return the chords of each bar; phrases of one letter have the same ones up to their last two bars."""
    known: dict[str, list[str]] = {}
    bars: list[tuple[Harmony, ...]] = []
    for number, phrase in enumerate(form.phrases):
        plans = [plan.split() for plan in _PLANS[mode][phrase.ending]]
        if number == 0:
            # It is the tonic from which one hears where one is.
            plans = [plan for plan in plans if plan[0][0] == "1"]
        elif phrase.letter not in known:
            plans = [plan for plan in plans if plan[0][0] in _ELSEWHERE] or plans
        plan = chance.choice(plans)
        if phrase.letter in known:
            plan = [*known[phrase.letter][:2], *plan[2:]]
        known.setdefault(phrase.letter, plan)
        bars += [_bar(text, bar) for text in plan]
    return bars


def _bar(text: str, bar: Fraction) -> tuple[Harmony, ...]:
    first, *second = map(int, text.split("/"))
    # In three the second chord is on the third beat, in four on the third as well.
    later = bar / 2 if bar % 2 == 0 or bar.denominator > 1 else bar - 1
    if bar.denominator == 1 and bar % 3 == 0:
        later = bar * 2 / 3
    return (Harmony(Fraction(0), first), *(Harmony(later, root) for root in second))


def sounding(chords: Sequence[Harmony], at: Fraction) -> Harmony:
    """Return the chord of a bar that sounds at a moment of it."""
    return next(chord for chord in reversed(chords) if chord.at <= at)
