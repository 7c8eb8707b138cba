"""Rhythm: the values of the notes, bar by bar, from those that tunes have, so that what comes back is heard to."""

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from math import exp
from random import Random

from etudegen.exercises.composing.forms import PHRASE_BARS, Ending, Form
from etudegen.theory.melody import BarRhythm, melody_tables
from etudegen.theory.rhythm import Metre, bar_length

Values = tuple[Fraction, ...]
# How far, in notes a beat, a bar may be from what is wanted before it becomes rare.
_SPREAD = 0.35
_MOST_IN_AN_END, _LEAST_BARS = 4, 3
_HALF = Fraction(1, 2)
# What bars of uneven metres are made of.
_MADE_OF: dict[Metre, tuple[Metre, ...]] = {
    (5, 4): ((3, 4), (2, 4)), (7, 8): ((2, 4), (3, 8)), (12, 8): ((6, 8), (6, 8)),
}  # fmt: skip


@cache
def _bars(metre: Metre) -> tuple[BarRhythm, ...]:
    """Return the rhythms of bars in a metre, those of uneven ones put together."""
    counted = melody_tables().bars
    if metre == (4, 4):
        # Two bars of two make one of four: tunes in four are slow, and have hardly a sixteenth.
        return (*counted[metre], *_together((2, 4), (2, 4)))
    if metre in counted:
        return counted[metre]
    if metre == (3, 8):
        # The halves of bars of six.
        half = Fraction(3, 2)
        halves: dict[Values, int] = {}
        for bar in counted[6, 8]:
            values = bar.values[: next((n for n in range(len(bar.values) + 1) if sum(bar.values[:n]) >= half), 0)]
            if sum(values) == half:
                halves[values] = halves.get(values, 0) + bar.weight
        return tuple(BarRhythm(values, weight) for values, weight in halves.items())
    return _together(*_MADE_OF[metre])


def _together(*metres: Metre) -> tuple[BarRhythm, ...]:
    """Return the bars that are made of a bar of one metre and one of another."""
    first, second = map(_bars, metres)
    often = sorted(second, key=lambda each: -each.weight)[:12]
    return tuple(
        BarRhythm(one.values + other.values, max(1, one.weight * other.weight // 1000))
        for one in sorted(first, key=lambda each: -each.weight)[:24]
        for other in often
    )


def metres() -> tuple[Metre, ...]:
    """Return the metres that there are rhythms for."""
    return (*melody_tables().bars, *_MADE_OF)


@cache
def _fitting(metre: Metre, shortest: Fraction, density: float) -> tuple[list[Values], list[float]]:
    """Return rhythms of bars with no shorter values, and how likely each is where so many notes a beat are wanted."""
    beats = bar_length(metre) / _beat(metre)
    fitting = [each for each in _bars(metre) if min(each.values) >= shortest]
    if len(fitting) < _LEAST_BARS:
        fitting += _plain(metre, shortest)
    weights = [
        each.weight**0.6 * exp(-(((len(each.values) / float(beats) - density) / _SPREAD) ** 2) / 2) for each in fitting
    ]
    return [each.values for each in fitting], [weight + 1e-9 for weight in weights]


def _plain(metre: Metre, shortest: Fraction) -> list[BarRhythm]:
    """Return bars of one value, for what tunes have too little of."""
    length, found = bar_length(metre), []
    for value in (shortest, 2 * shortest, length):
        if value >= shortest and length % value == 0:
            found.append(BarRhythm((value,) * int(length / value), 100))
    return found


def _beat(metre: Metre) -> Fraction:
    return Fraction(3, 2) if metre[1] == 8 and metre[0] % 3 == 0 else Fraction(1)


def beat_of(metre: Metre) -> Fraction:
    """Return the length of a beat in quarter notes: a dotted quarter in six and twelve eighths."""
    return _beat(metre)


def _end(metre: Metre, shortest: Fraction, ending: Ending, chance: Random) -> Values:
    """Return the rhythm of the last bar of a phrase, which comes to rest on a long note."""
    length = bar_length(metre)
    values, weights = _ends(metre, shortest)
    if not values or (ending is Ending.FULL and chance.random() < _HALF):
        return (length,)
    return chance.choices(values, weights)[0]


@cache
def _ends(metre: Metre, shortest: Fraction) -> tuple[list[Values], list[int]]:
    """Return the rhythms of bars that come to rest, and how often there are such bars."""
    resting = [
        each
        for each in _bars(metre)
        if len(each.values) <= _MOST_IN_AN_END
        and min(each.values) >= shortest
        and each.values[-1] == max(each.values) >= bar_length(metre) / 2
    ]
    return [each.values for each in resting], [each.weight for each in resting]


def rhythm(form: Form, metre: Metre, shortest: Fraction, density: float, chance: Random) -> list[Values]:
    """Return the values of each bar, in quarter notes; phrases of one letter are alike up to their last bar."""
    choices, weights = _fitting(metre, shortest, density)
    known: dict[str, list[Values]] = {}
    bars: list[Values] = []
    drawn: list[Values] = []

    def draw() -> Values:
        # A piece is of few rhythms: what it has had comes back as often as something new comes.
        if len(drawn) > 1 and chance.random() < _HALF:
            return chance.choice(drawn)
        drawn.append(chance.choices(choices, weights)[0])
        return drawn[-1]

    for phrase in form.phrases:
        if phrase.letter not in known:
            first, second = draw(), draw()
            if phrase.goes_on:
                known[phrase.letter] = [first, second, first]
            else:
                known[phrase.letter] = [first, second, chance.choice((first, draw()))]
        begun = known[phrase.letter]
        if phrase.goes_on and begun[2] != begun[0]:
            begun = [begun[0], begun[1], begun[0]]
        bars += [*begun, _end(metre, shortest, phrase.ending, chance)]
    assert len(bars) == PHRASE_BARS * len(form.phrases)
    return bars


def starts(values: Sequence[Fraction]) -> list[Fraction]:
    """Return where in its bar each note begins."""
    found, at = [], Fraction(0)
    for value in values:
        found.append(at)
        at += value
    return found
