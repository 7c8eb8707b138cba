"""Filling a block: studies for this player that last as long as the block does, printed rests included.

Units are taken in today's order as long as they fit; what is missing then is made up by a slower tempo, within limits,
and by bars of rest after the lines. A block that goes on after a rest goes on with the units that come next.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named
from etudegen.practice import rules
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.pools import Sheet, Today, sheets_for
from etudegen.practice.profile import Profile
from etudegen.study import Line, Rest, Study, total
from etudegen.theory.tempo import METRONOME, SLOWEST, at_or_above, seconds

_MOST_ROUNDS = 12
# With less of its time taken up a block is filled with whatever fits, were it a sheet of one line.
_LEAST_TAKEN = Fraction(3, 4)
_ONCE_MORE = "once more"


# What a unit is known by: its first value and its length in quarter notes, and its key numbers. Where a range has few
# partials two shapes come to the same.
_Known = tuple[Fraction, Fraction, tuple[int, ...]]
# Units that have been had, each with the round in which it was.
Used = frozenset[tuple[int, _Known]]


@dataclass(frozen=True, slots=True)
class Filled:
    """A block with its studies and what is practised in them.

    ``used`` are all its units, those of the pieces of the block before included.
    """

    block: Block
    studies: tuple[Study, ...]
    items: tuple[Item, ...]
    used: Used = frozenset()


@dataclass(frozen=True, slots=True)
class _Unit:
    """A unit with what it takes: its lines and, in seconds, how long it lasts and how much of that is played.

    ``line`` is its place where it is a line of its sheet.
    """

    item: Item
    line: int
    known: _Known
    lines: int
    lasts: Fraction
    plays: Fraction


class _Offer:
    """A sheet with its units, which are made one by one, when they are first asked for."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self._made: list[_Unit] = []
        self._others = _units(sheet)

    def units(self) -> Iterator[_Unit]:
        """Yield the units."""
        yield from self._made
        for unit in self._others:
            self._made.append(unit)
            yield unit


@dataclass(frozen=True, slots=True)
class _Taken:
    """The units of a sheet that are taken in a round."""

    turn: int
    sheet: Sheet
    units: list[_Unit]


def _study(sheet: Sheet, items: Sequence[Item] = ()) -> Study | None:
    """Return the study of some units of a sheet (all its lines where these are the units); None where nothing fits."""
    try:
        return sheet.study(items)
    except InputError:
        return None


def _duration(lines: Iterable[Line]) -> Fraction:
    return total(event.duration for line in lines for event in line.events)


def _unit(item: Item, line: int, study: Study, lines: tuple[Line, ...]) -> _Unit:
    whole = _duration(lines)
    rests = total(event.duration for line in lines for event in line.events if isinstance(event, Rest))
    tones = [tone for line in lines for tone in line.tones]
    return _Unit(
        item,
        line,
        (tones[0].duration, whole, tuple(tone.pitch.number for tone in tones)),
        len(lines),
        seconds(whole, study.tempo),
        seconds(whole - rests, study.tempo),
    )


def _units(sheet: Sheet) -> Iterator[_Unit]:
    """Yield the units of a sheet."""
    if sheet.items:
        for item in sheet.items:
            single = _study(sheet, [item])
            if single is not None:
                yield _unit(item, 0, single, single.lines)
        return
    whole = _study(sheet)
    if whole is None:
        return
    pieces = [whole.lines] if sheet.choice.whole else [(line,) for line in whole.lines]
    for place, lines in enumerate(pieces):
        yield _unit(sheet.item, place, whole, lines)


def _worth_a_page(units: list[_Unit], turn: int) -> bool:
    plays = sum(unit.plays for unit in units)
    if sum(unit.lines for unit in units) >= rules.FEWEST_LINES:
        return plays >= rules.LEAST_PLAYING
    # Nobody turns a page for two lines that have been played before.
    return plays >= rules.PLAYING_ENOUGH and turn == 0


def _taken(offers: list[_Offer], room: Fraction, used: Used, *, any_size: bool) -> list[_Taken]:
    """Return the units that fit into so many seconds, by sheet, in order; only sheets worth a page unless any will do.

    The sheets are gone through again and again, those that are whole once; nothing that is ``used`` is taken again.
    Whole ones that do not fit are passed over; after one that has not been gone through no other is begun.
    """
    taken: list[_Taken] = []
    left = room
    heard = set(used)
    in_vain = 0
    for turn in range(_MOST_ROUNDS):
        offered = False
        for offer in offers:
            if turn and offer.sheet.choice.whole:
                continue
            units: list[_Unit] = []
            over = False
            for unit in offer.units():
                if (turn, unit.known) in heard:
                    continue
                offered = True
                over = unit.lasts > left
                if over:
                    break
                units.append(unit)
                left -= unit.lasts
            if units and (any_size or _worth_a_page(units, turn)):
                taken.append(_Taken(turn, offer.sheet, units))
                heard.update((turn, unit.known) for unit in units)
            else:
                left += sum(unit.lasts for unit in units)
            if over and not offer.sheet.choice.whole:
                return taken
        in_vain = in_vain + 1 if offered and (not taken or taken[-1].turn < turn) else 0
        if in_vain > 1:
            # What was left of one round was not worth taking, nor was anything of a whole one.
            break
    return taken


def _chosen(sheets: list[Sheet], room: Fraction, used: Used) -> list[_Taken]:
    """Return the units to fill so many seconds with; at least one, even if it lasts longer."""
    offers = [_Offer(sheet) for sheet in sheets]
    taken = _taken(offers, room, used, any_size=False)
    if sum(unit.lasts for each in taken for unit in each.units) < _LEAST_TAKEN * room:
        taken = _taken(offers, room, used, any_size=True) or taken
    if not taken:
        fresh = (
            _Taken(0, offer.sheet, [unit]) for offer in offers for unit in offer.units() if (0, unit.known) not in used
        )
        taken = list(islice(fresh, 1))
    return taken


def _without_rest(line: Line, bar: Fraction) -> Line:
    """Return a line with only the rest that fills its last bar."""
    played = sum((tone.duration for tone in line.tones), Fraction(0))
    events = tuple(event for event in line.events if not isinstance(event, Rest))
    return replace(line, events=(*events, Rest(-played % bar)) if played % bar else events)


def _with_more_rest(studies: list[Study], missing: Fraction) -> list[Study]:
    """Return the studies with so many seconds of rest more, in whole bars over their lines; in contact at its end."""
    if studies[-1].contact_seconds is not None:
        last = studies[-1]
        bars = int(missing / seconds(last.bar, last.tempo))
        down = Line("", (Rest(bars * last.bar),), heading="Rest with the instrument down")
        return [*studies[:-1], replace(last, lines=(*last.lines, down))] if bars > 0 else studies
    each = missing / sum(len(study.lines) for study in studies)
    owed = Fraction(0)
    spread = []
    for study in studies:
        bar = seconds(study.bar, study.tempo)
        lines = []
        for line in study.lines:
            owed += each
            bars = round(owed / bar)
            owed -= bars * bar
            lines.append(replace(line, events=(*line.events, Rest(bars * study.bar))) if bars > 0 else line)
        spread.append(replace(study, lines=tuple(lines)))
    return spread


def _merged(line: Line) -> Line:
    """Return a line whose rests at the end are one."""
    events = list(line.events)
    while len(events) > 1 and isinstance(events[-1], Rest) and isinstance(events[-2], Rest):
        last = events.pop()
        events[-1] = Rest(events[-1].duration + last.duration)
    return replace(line, events=tuple(events))


def _lasts(studies: list[Study]) -> Fraction:
    return sum((seconds(_duration(study.lines), study.tempo) for study in studies), Fraction(0))


def _slower(tempo: int, share: Fraction) -> int:
    """Return the slowest mark of a metronome at which a sheet takes no longer than a share of its tempo allows."""
    slow = tempo * share
    if slow < METRONOME[0]:
        return max(SLOWEST, round(slow))
    return min(tempo, at_or_above(slow))


def _to_time(studies: list[Study], wanted: int) -> list[Study]:
    """Return the studies at the tempi, and with the bars of rest, that make them last so many seconds."""
    share = min(Fraction(1), max(rules.SLOWEST_SHARE, _lasts(studies) / wanted))
    # The sheet of a contact set tells its time, which hangs on the tempo.
    if studies[0].contact_seconds is None:
        studies = [replace(study, tempo=_slower(study.tempo, share)) for study in studies]
    missing = wanted - _lasts(studies)
    if missing > 0:
        studies = _with_more_rest(studies, missing)
    return [replace(study, lines=tuple(map(_merged, study.lines))) for study in studies]


def _printed(taken: _Taken, *, again: bool) -> Study:
    """Return the study of units; one that comes ``again`` says so."""
    sheet = taken.sheet
    study = sheet.study([unit.item for unit in taken.units])
    if not sheet.items and not sheet.choice.whole:
        lines = tuple(study.lines[unit.line] for unit in taken.units)
        study = replace(study, lines=lines, subtitle=sheet.parameters.subtitle(lines))
    return replace(study, title=f"{study.title}, {_ONCE_MORE}") if again or taken.turn else study


def fill(block: Block, profile: Profile, today: Today, used: Used = frozenset()) -> Filled:
    """Return studies that fill a block, printed rests included, to within five per cent.

    ``used`` is what the pieces of the same block before it had.
    """
    room = Fraction(60 * block.minutes)
    sheets = sheets_for(block, profile, today)
    chosen = _chosen(sheets, room, used)
    again = bool(used) and not chosen
    if again:
        chosen = _chosen(sheets, room, frozenset())
    if not chosen:
        raise InputError(
            f"no {block.kind} can be made for {profile.label!r} between {block.low} and {block.high}: widen the range"
        )
    studies = [_printed(each, again=again) for each in chosen]
    items = [unit.item for each in chosen for unit in each.units]
    if _lasts(studies) > room:
        studies = [
            replace(study, lines=tuple(_without_rest(line, study.bar) for line in study.lines)) for study in studies
        ]
    had = frozenset((each.turn, unit.known) for each in chosen for unit in each.units)
    return Filled(block, tuple(_to_time(studies, int(room))), tuple(dict.fromkeys(items)), used | had)


def fill_as_asked(block: Block, profile: Profile) -> Filled:
    """Return the one study of a block whose kind sessions do not choose for, as it was asked for."""
    kind = kind_named(block.kind)
    player = {"instrument": profile.instrument, "low": block.low, "high": block.high, "tempo": block.tempo}
    study = kind.study(kind.parameters(**{**player, **block.settings}))
    return Filled(block, (study,), (Item(block.kind),))
