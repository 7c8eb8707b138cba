"""What the blocks of a session draw from: for each kind of exercise, sheets of units that are chosen one by one.

A unit is a key, a valve position or a line. Which sheet and which unit come first turns with the day.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.exercises.exercise import Choice, Occasion
from etudegen.exercises.kinds import Kind, kind_named, practice_of
from etudegen.exercises.settings import settings_of
from etudegen.practice import rules
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.profile import Profile
from etudegen.practice.rotation import turned
from etudegen.practice.spacing import History, todays
from etudegen.study import Study
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import at_or_below

# How many of a kind a day has where nothing is known of it.
_PLACES = 4
# What comes after the rhythm that a sheet usually has, where there is time for more.
_RHYTHMS = (Rhythm.EIGHTHS, Rhythm.TRIPLETS, Rhythm.SIXTEENTHS)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet that a block may have: the choice it comes from, and its parameters, its own tempo among them.

    ``items`` are its units in today's order, each with the value that stands for it; none where its lines are the
    units.
    """

    kind: Kind
    choice: Choice
    parameters: Common
    items: Mapping[Item, Any] = field(default_factory=dict)

    def study(self, items: Sequence[Item] = ()) -> Study:
        """Return the study of some of its units, of all lines where these are the units.

        Raises :class:`InputError` where nothing of it fits.
        """
        if not self.choice.unit_setting:
            return self.kind.study(self.parameters)
        units: dict[str, Any] = {self.choice.unit_setting: tuple(self.items[item] for item in items)}
        return self.kind.study(replace(self.parameters, **units))

    @property
    def item(self) -> Item:
        """What the journal knows it as where its lines are the units."""
        return Item(self.kind.name, self.choice.name)


@dataclass(frozen=True, slots=True)
class Today:
    """What the order of things depends on: the day's number, and what was had before it."""

    day: int
    history: History[Item]

    def order(self, items: Sequence[Item]) -> list[Item]:
        """Return the units of a sheet in today's order."""
        # As many as there were when one of them was had last.
        had = [self.history.had[item] for item in items if item in self.history.had]
        places = had.count(max(had)) if had else _PLACES
        return todays(items, places, self.history, self.day)


def sheets_for(block: Block, profile: Profile, today: Today) -> list[Sheet]:
    """Return the sheets that a block may be filled from, in today's order, each at this player's tempo for it."""
    kind = kind_named(block.kind)
    practice = practice_of(block.kind)
    if practice is None:
        raise InputError(f"{block.kind} is made of the player's own material: a session has no sheets of it")
    player = {"instrument": profile.instrument, "low": block.low, "high": block.high, "tempo": block.tempo}
    seconds = Fraction(60 * block.minutes)
    turn = partial(turned, day=today.day)
    occasion = Occasion(player, block.settings, rules.SLOWEST_SHARE * seconds, seconds, turn)
    try:
        choices = list(practice.choices(occasion))
    except InputError:
        # What the routine asks for does not go with this player's range.
        return []
    usual = {**player, **block.settings}
    usual["tempo"] = min(block.tempo, usual["tempo"])
    sheets = []
    for choice, parameters in _in_rhythms(kind, choices, usual):
        # Left out where this player's tempo is slower than any that the exercise can have.
        with suppress(InputError):
            sheets.append(_sheet(kind, choice, parameters, profile, today))
    return sheets


def _in_rhythms(kind: Kind, choices: Sequence[Choice], usual: Mapping[str, Any]) -> Iterator[tuple[Choice, Common]]:
    """Yield choices with their parameters in their usual rhythms, then in others."""
    rows = [list(_rhythms(kind, choice, usual)) for choice in choices]
    for turn in range(max(map(len, rows), default=0)):
        for choice, row in zip(choices, rows, strict=True):
            made = row[turn] if turn < len(row) else None
            if made is not None:
                yield choice, made


def _rhythms(kind: Kind, choice: Choice, usual: Mapping[str, Any]) -> Iterator[Common | None]:
    """Yield the parameters of a choice in each rhythm that it can be had in, the usual one first.

    None stands for a rhythm that does not go with the rest: a cell or an articulation that it does not fit.
    """
    values = {**usual, **choice.settings}
    first = _made(kind, values)
    if not choice.in_rhythms or "rhythm" in usual:
        yield first
        return
    if first is not None:
        yield first
    for rhythm in _RHYTHMS:
        if first is None or rhythm not in first.rhythms:
            yield _made(kind, {**values, "rhythm": rhythm})


def _made(kind: Kind, values: Mapping[str, Any]) -> Common | None:
    try:
        return kind.parameters(**values)
    except InputError:
        return None


def _sheet(kind: Kind, choice: Choice, parameters: Common, profile: Profile, today: Today) -> Sheet:
    """Return the sheet of a choice at the fastest tempo for everything that moves on it."""
    returning = profile.days_since_played >= rules.WEEKS_OFF
    tempi = (rules.working_tempo(profile.clean_tempo(rhythm), returning=returning) for rhythm in parameters.rhythms)
    tempo = min(parameters.tempo, *tempi)
    # Slower than the slowest mark of a metronome a player counts in halves of the beat: the tempo stays.
    made = replace(parameters, tempo=min(tempo, at_or_below(tempo)))
    if not choice.unit_setting:
        return Sheet(kind, choice, made)
    setting = settings_of(kind.parameters)[choice.unit_setting]
    units = {Item(kind.name, choice.name, setting.text((unit,))): unit for unit in choice.units}
    return Sheet(kind, choice, made, {item: units[item] for item in today.order([*units])})
