"""What the blocks of a session draw from: for each kind of exercise, sheets of units that are chosen one by one.

A unit is a key, a valve position or a line. Which sheet and which unit come first hangs on the day and on what was had
before it; how far a sheet goes, on what the player knows.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import Any, TypeVar

from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.exercises.exercise import Bounds, Choice, Occasion, Practice
from etudegen.exercises.kinds import Kind, kind_named, practice_of
from etudegen.exercises.settings import settings_of
from etudegen.practice import rules
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.profile import Profile
from etudegen.practice.rotation import turned
from etudegen.practice.rules import Part
from etudegen.practice.spacing import History, todays
from etudegen.study import Study
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import FASTEST, at_or_below, steps

# A tempo that was reached may have been reached in a slower rhythm than today's: so many steps up are not too bold.
_MOST_STEPS_UP = 2
# How many of a kind a day has where nothing is known of it.
_PLACES = 4
# Rhythms that a sheet may have in place of its usual one: faster ones first, where there is time for more.
_RHYTHMS = (Rhythm.EIGHTHS, Rhythm.TRIPLETS, Rhythm.SIXTEENTHS, Rhythm.QUARTERS, Rhythm.HALVES)


@dataclass(frozen=True, slots=True)
class Today:
    """What the order of things depends on: the day's number, and what was had before it."""

    day: int
    history: History[Item]

    def order(self, items: Sequence[Item]) -> list[Item]:
        """Return what a block may have in today's order; where nothing is known of it, as it stands."""
        return _ordered(items, self.history)

    def order_of_groups(self, groups: Sequence[tuple[Item, ...]]) -> list[tuple[Item, ...]]:
        """Return what belongs together in today's order.

        A group is as old as what was had last in it, and as weak as what went worst.
        """
        history = self.history
        had = {group: max(history.had.get(item, -1) for item in group) for group in groups}
        rated = {group: [history.states[item] for item in group if item in history.states] for group in groups}
        together: History[tuple[Item, ...]] = History(
            history.days,
            {group: day for group, day in had.items() if day >= 0},
            {group: min(states, key=lambda state: state.rating) for group, states in rated.items() if states},
            {group: min(history.held.get(item, 1.0) for item in group) for group in groups},
        )
        return _ordered(groups, together)


T = TypeVar("T")


def _ordered(things: Sequence[T], history: History[T]) -> list[T]:
    # As many as there were when one of them was had last.
    had = [history.had[thing] for thing in things if thing in history.had]
    return todays(things, had.count(max(had)) if had else _PLACES, history)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet that a block may have: the choice it comes from, and its parameters, its own tempo among them.

    ``items`` are its units with the values that stand for them; none where its lines are the units. ``fastest`` is the
    fastest tempo that a unit may rise to, None where the tempo is kept as it was asked for.
    """

    kind: Kind
    choice: Choice
    parameters: Common
    fastest: int | None
    items: Mapping[Item, Any] = field(default_factory=dict)

    def study(self, items: Sequence[Item] = (), *, easier: bool = False) -> Study:
        """Return the study of some of its units, of all lines where these are the units; perhaps an easier shape.

        Raises :class:`InputError` where nothing of it fits.
        """
        units: dict[str, Any] = {}
        if self.choice.unit_setting:
            units = {self.choice.unit_setting: tuple(self.items[item] for item in items)}
        parameters = replace(self.parameters, **units)
        practice = self.practice
        if easier and practice.easier is not None:
            parameters = practice.easier(parameters)
        return self.kind.study(parameters)

    @property
    def practice(self) -> Practice:
        """How its kind is practised."""
        practice = self.kind.exercise.practice
        assert practice is not None
        return practice

    @property
    def item(self) -> Item:
        """What the journal knows it as where its lines are the units."""
        return Item(self.kind.name, self.choice.name)

    def tempo(self, step: int, aimed_at: int | None = None) -> int:
        """Return its tempo so many steps of a metronome above or below; one that is aimed at, within limits, if any."""
        usual = self.parameters.tempo
        if self.fastest is None:
            return usual
        stepped = steps(usual, step) if step else usual
        wanted = stepped if aimed_at is None else towards(aimed_at, usual)
        return min(wanted, max(self.fastest, usual))


def towards(aimed_at: int, usual: int) -> int:
    """Return the tempo that is aimed at, not far above the usual one."""
    return min(aimed_at, steps(usual, _MOST_STEPS_UP))


def bounds_of(profile: Profile) -> Bounds:
    """Return how far sheets go for a player."""
    known = profile.knows
    keys = tuple(sorted({key.number % 12 for key in profile.keys})) or tuple(range(12))
    return Bounds(
        rhythms=known.rhythms,
        # Who names keys knows their signatures.
        signature=known.signature if not profile.keys else Bounds().signature,
        keys=keys,
        counts=known.counts,
        difficulty=known.difficulty,
        extent=known.extent,
        leaps=known.leap,
        breath=known.breath,
        articulations=known.articulations,
    )


def sheets_for(block: Block, profile: Profile, today: Today) -> list[list[Sheet]]:
    """Return the sheets that a block may be filled from, each at this player's tempo for it.

    First those in their usual rhythms, then those in others, in the order of the day.
    """
    kind = kind_named(block.kind)
    practice = practice_of(block.kind)
    if practice is None:
        raise InputError(f"{block.kind} is made of the player's own material: a session has no sheets of it")
    player = {"instrument": profile.instrument, "low": block.low, "high": block.high, "tempo": block.tempo}
    seconds = Fraction(60 * block.minutes)
    bounds = bounds_of(profile)
    turn = partial(turned, day=today.day)
    occasion = Occasion(player, block.settings, rules.SLOWEST_SHARE * seconds, seconds, turn, bounds, today.day)
    try:
        choices = list(practice.choices(occasion))
    except InputError:
        # What the routine asks for does not go with this player's range.
        return []
    usual = {**player, **block.settings}
    usual["tempo"] = min(block.tempo, usual["tempo"])
    rows = [
        list(_in_rhythms(kind, choice, {**usual, **spoken}, bounds))
        for choice, spoken in zip(choices, _articulated(kind, choices, block, bounds, today), strict=True)
    ]
    rounds: list[list[Sheet]] = []
    for turned_to in range(max(map(len, rows), default=0)):
        sheets = []
        for choice, row in zip(choices, rows, strict=True):
            parameters = row[turned_to] if turned_to < len(row) else None
            if parameters is not None:
                # Left out where this player's tempo is slower than any that the exercise can have.
                with suppress(InputError):
                    sheets.append(
                        _sheet(kind, choice, parameters, profile, block, _todays_units(choice, bounds, today))
                    )
        rounds.append(sheets)
    return rounds


def _articulated(
    kind: Kind, choices: Sequence[Choice], block: Block, bounds: Bounds, today: Today
) -> Iterator[dict[str, str]]:
    """Yield for each choice how it is spoken today, as a setting, where the routine does not say it."""
    known = turned(bounds.articulations, today.day)
    turns = "articulation" in settings_of(kind.parameters) and "articulation" not in block.settings and known
    for place, choice in enumerate(choices):
        free = turns and choice.in_rhythms and "articulation" not in choice.settings
        yield {"articulation": known[place % len(known)]} if free else {}


def _in_rhythms(kind: Kind, choice: Choice, usual: Mapping[str, Any], bounds: Bounds) -> Iterator[Common | None]:
    """Yield the parameters of a choice in each rhythm that it can be had in and the player knows, the usual one first.

    None stands for a rhythm that does not go with the rest: a cell or an articulation that it does not fit.
    """
    values = {**usual, **choice.settings}
    first = _made(kind, values)
    if not choice.in_rhythms or "rhythm" in values:
        yield first
        return
    if first is not None and set(first.rhythms) <= set(bounds.rhythms):
        yield first
    for rhythm in _RHYTHMS:
        if rhythm in bounds.rhythms and (first is None or rhythm not in first.rhythms):
            yield _made(kind, {**values, "rhythm": rhythm})


def _made(kind: Kind, values: Mapping[str, Any]) -> Common | None:
    try:
        return kind.parameters(**values)
    except InputError:
        return None


def _todays_units(choice: Choice, bounds: Bounds, today: Today) -> Sequence[Any]:
    """Return the units of a choice in the order of the day; those that belong together as they are."""
    if choice.together or not choice.units:
        return choice.units
    if choice.unit_setting != "keys" or not bounds.knows_few_keys:
        return turned(choice.units, today.day)
    # The easiest key is always there; the others take turns.
    first, *others = choice.units
    return [first, *(turned(others, today.day) if others else ())]


def _sheet(
    kind: Kind, choice: Choice, parameters: Common, profile: Profile, block: Block, units: Sequence[Any]
) -> Sheet:
    """Return the sheet of a choice, with its units in today's order, at the fastest tempo for all that moves on it."""
    returning = profile.days_since_played >= rules.WEEKS_OFF
    tempi = (rules.working_tempo(profile.clean_tempo(rhythm), returning=returning) for rhythm in parameters.rhythms)
    tempo = min(parameters.tempo, *tempi)
    # Slower than the slowest mark of a metronome a player counts in halves of the beat: the tempo stays.
    as_said = block.settings.get("tempo") == block.tempo
    made = parameters if as_said else replace(parameters, tempo=min(tempo, at_or_below(tempo)))
    practice = practice_of(block.kind)
    easy = block.part in (Part.WARM_UP, Part.WARM_DOWN) or (practice is not None and practice.long_notes)
    fastest = None if "tempo" in block.settings else rules.EASY_TEMPO if easy else FASTEST
    if not choice.unit_setting:
        return Sheet(kind, choice, made, fastest)
    setting = settings_of(kind.parameters)[choice.unit_setting]
    return Sheet(
        kind, choice, made, fastest, {Item(kind.name, choice.name, setting.text((unit,))): unit for unit in units}
    )


def in_order(sheets: Sequence[Sheet], today: Today) -> Iterator[tuple[Sheet, tuple[Item, ...]]]:
    """Yield the units of sheets in today's order, each with its sheet; those that belong together, and lines, as one.

    A sheet that is played in one piece comes first; of several that the journal knows as one, each comes after all
    others have been gone through once.
    """
    yield from ((sheet, ()) for sheet in sheets if sheet.choice.whole)
    waiting = [sheet for sheet in sheets if not sheet.choice.whole]
    while waiting:
        owners: dict[Item, Sheet] = {}
        later = []
        for sheet in waiting:
            items = tuple(sheet.items) or (sheet.item,)
            if owners.keys().isdisjoint(items):
                owners |= dict.fromkeys(items, sheet)
            else:
                later.append(sheet)
        yield from _of_round(owners, today)
        waiting = later


def _of_round(owners: Mapping[Item, Sheet], today: Today) -> Iterator[tuple[Sheet, tuple[Item, ...]]]:
    sheets = {id(sheet): sheet for sheet in owners.values()}
    if any(sheet.choice.together or not sheet.items for sheet in sheets.values()):
        groups = [tuple(sheet.items) or (sheet.item,) for sheet in sheets.values()]
        for group in today.order_of_groups(groups):
            sheet = owners[group[0]]
            yield sheet, tuple(sheet.items)
        return
    for item in today.order(list(owners)):
        yield owners[item], (item,)
