"""Filling a block: studies for this player that last as long as the block does, printed rests included.

Units are taken in today's order as long as they fit; what is missing then is made up by a slower tempo, within limits,
and by bars of rest after the lines. A block that goes on after a rest goes on with the units that come next.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.kinds import KINDS
from etudegen.exercises.spans import retold
from etudegen.practice import rules
from etudegen.practice.plan import Block
from etudegen.practice.player import Player
from etudegen.practice.pools import Sheet, Today, sheets_for
from etudegen.study import Line, Rest, Study
from etudegen.theory.tempo import SLOWEST, seconds

_KINDS = {kind.name: kind for kind in KINDS}
_MOST_ROUNDS = 12
# With less of its time taken up a block is filled with whatever fits, were it a sheet of one line.
_LEAST_TAKEN = Fraction(3, 4)
_ONCE_MORE = "once more"


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a unit stands: the round that its sheet is taken up in, the place of the sheet, and the unit's name."""

    turn: int
    sheet: int
    unit: str


Used = frozenset[_Place]


@dataclass(frozen=True, slots=True)
class Filled:
    """A block with its studies and the names under which the journal knows what is in them.

    ``used`` are the places of all units, those of the pieces of the block before included.
    """

    block: Block
    studies: tuple[Study, ...]
    items: tuple[str, ...]
    used: Used = frozenset()


@dataclass(frozen=True, slots=True)
class _Unit:
    """A unit with what it takes: its lines and, in seconds, how long it lasts and how much of that is played."""

    place: _Place
    lines: int
    lasts: Fraction
    plays: Fraction


@dataclass(frozen=True, slots=True)
class _Offer:
    """A sheet in a round with the units of it that are left, made one by one."""

    turn: int
    sheet: Sheet
    units: Iterator[_Unit]


def _study(sheet: Sheet, units: list[str]) -> Study | None:
    """Return the study of some units of a sheet (all its lines where it has no units); None where nothing fits."""
    kind = _KINDS[sheet.kind]
    texts = {**sheet.texts, **({sheet.unit_setting: " ".join(units)} if sheet.unit_setting else {})}
    try:
        return kind.study(kind.parameters.from_texts(texts))
    except InputError:
        return None


def _duration(lines: Iterable[Line]) -> Fraction:
    return sum((line.duration for line in lines), Fraction(0))


def _unit(place: _Place, study: Study, lines: tuple[Line, ...]) -> _Unit:
    played = sum((tone.duration for line in lines for tone in line.tones), Fraction(0))
    return _Unit(place, len(lines), seconds(_duration(lines), study.tempo), seconds(played, study.tempo))


def _units(sheet: Sheet, turn: int, number: int, used: Used) -> Iterator[_Unit]:
    """Yield the units of a sheet that are not used yet."""
    if sheet.unit_setting:
        for name in sheet.units:
            place = _Place(turn, number, name)
            single = _study(sheet, [name]) if place not in used else None
            if single is not None:
                yield _unit(place, single, single.lines)
        return
    whole = _study(sheet, []) if turn == 0 or not sheet.whole else None
    if whole is None:
        return
    pieces = [whole.lines] if sheet.whole else [(line,) for line in whole.lines]
    for line, lines in enumerate(pieces):
        place = _Place(turn, number, str(line))
        if place not in used:
            yield _unit(place, whole, lines)


def _offers(sheets: list[Sheet], used: Used) -> Iterator[_Offer]:
    """Yield all sheets, again and again."""
    for turn in range(_MOST_ROUNDS):
        for number, sheet in enumerate(sheets):
            yield _Offer(turn, sheet, _units(sheet, turn, number, used))


def _worth_a_page(units: list[_Unit]) -> bool:
    plays = sum(unit.plays for unit in units)
    if sum(unit.lines for unit in units) >= rules.FEWEST_LINES:
        return plays >= rules.LEAST_PLAYING
    # Nobody turns a page for two lines that have been played before.
    return plays >= rules.PLAYING_ENOUGH and units[0].place.turn == 0


def _taken(offers: Iterable[_Offer], room: Fraction, *, any_size: bool) -> list[tuple[Sheet, list[_Unit]]]:
    """Return the units that fit into so many seconds, by sheet, in order; only sheets worth a page unless any will do.

    Sheets that are whole but do not fit are passed over; after one that has not been gone through no other is begun.
    """
    taken: list[tuple[Sheet, list[_Unit]]] = []
    left = room
    latest = 0
    for offer in offers:
        if offer.turn > latest + 1:
            # A whole round had nothing to take.
            break
        units: list[_Unit] = []
        over = False
        for unit in offer.units:
            over = unit.lasts > left
            if over:
                break
            units.append(unit)
            left -= unit.lasts
        if units and (any_size or _worth_a_page(units)):
            taken.append((offer.sheet, units))
            latest = offer.turn
        else:
            left += sum(unit.lasts for unit in units)
        if over and not offer.sheet.whole:
            break
    return taken


def _chosen(sheets: list[Sheet], room: Fraction, used: Used) -> list[tuple[Sheet, list[_Unit]]]:
    """Return the units to fill so many seconds with, by sheet; at least one, even if it lasts longer."""
    taken = _taken(_offers(sheets, used), room, any_size=False)
    if sum(unit.lasts for _, units in taken for unit in units) < _LEAST_TAKEN * room:
        taken = _taken(_offers(sheets, used), room, any_size=True) or taken
    if not taken:
        first = next(((offer.sheet, unit) for offer in _offers(sheets, used) for unit in offer.units), None)
        taken = [(first[0], [first[1]])] if first else []
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


def _to_time(studies: list[Study], wanted: int) -> list[Study]:
    """Return the studies at the tempi, and with the bars of rest, that make them last so many seconds."""
    share = min(Fraction(1), max(rules.SLOWEST_SHARE, _lasts(studies) / wanted))
    # The sheet of a contact set tells its time, which hangs on the tempo.
    if studies[0].contact_seconds is None:
        studies = [replace(study, tempo=max(SLOWEST, round(study.tempo * share))) for study in studies]
    missing = wanted - _lasts(studies)
    if missing > 0:
        studies = _with_more_rest(studies, missing)
    return [replace(study, lines=tuple(map(_merged, study.lines))) for study in studies]


def _printed(sheet: Sheet, units: list[_Unit]) -> Study:
    """Return the study of the units of a sheet."""
    study = _study(sheet, [unit.place.unit for unit in units])
    assert study is not None  # its units were tried one by one
    if not sheet.unit_setting and not sheet.whole:
        lines = tuple(study.lines[int(unit.place.unit)] for unit in units)
        study = replace(study, lines=lines, subtitle=retold(study.subtitle, study.lines, lines))
    return replace(study, title=f"{study.title}, {_ONCE_MORE}") if units[0].place.turn else study


def fill(block: Block, player: Player, today: Today, used: Used = frozenset()) -> Filled:
    """Return studies that fill a block, printed rests included, to within five per cent.

    ``used`` are the places of what the pieces of the same block before it had.
    """
    room = Fraction(60 * block.minutes)
    chosen = _chosen(sheets_for(block, player, today), room, used)
    if not chosen:
        raise InputError(
            f"no {block.kind} can be made for {player.label!r} between {block.low} and {block.high}: widen the range"
        )
    studies = [_printed(sheet, units) for sheet, units in chosen]
    items = [sheet.item(unit.place.unit if sheet.unit_setting else "") for sheet, units in chosen for unit in units]
    if _lasts(studies) > room:
        studies = [
            replace(study, lines=tuple(_without_rest(line, study.bar) for line in study.lines)) for study in studies
        ]
    places = frozenset(unit.place for _, units in chosen for unit in units)
    return Filled(block, tuple(_to_time(studies, int(room))), tuple(dict.fromkeys(items)), used | places)
