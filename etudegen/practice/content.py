"""Filling a block: studies for this player that last as long as the block does, printed rests included.

Units are taken in today's order as long as they fit; what is missing then is made up by a slower tempo, within limits,
and by bars of rest after the lines.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.common import BAR
from etudegen.exercises.kinds import KINDS
from etudegen.practice.plan import Block
from etudegen.practice.player import Player
from etudegen.practice.pools import Sheet, Today, sheets_for
from etudegen.study import Line, Rest, Study

_KINDS = {kind.name: kind for kind in KINDS}
# How much slower than planned a block may be to fill its time.
_SLOWEST_SHARE = Fraction(17, 20)
_MOST_ROUNDS = 12
_SLOWEST = 20


@dataclass(frozen=True, slots=True)
class Filled:
    """A block with its studies and the names under which the journal knows what is in them."""

    block: Block
    studies: tuple[Study, ...]
    items: tuple[str, ...]


def _study(sheet: Sheet, units: list[str]) -> Study | None:
    """Return the study of some units of a sheet (all its lines where it has no units); None where nothing fits."""
    kind = _KINDS[sheet.kind]
    texts = {**sheet.texts, **({sheet.unit_setting: " ".join(units)} if sheet.unit_setting else {})}
    try:
        return kind.study(kind.parameters.from_texts(texts))
    except InputError:
        return None


def _duration(lines: tuple[Line, ...]) -> Fraction:
    return sum((line.duration for line in lines), Fraction(0))


def _pieces(sheets: list[Sheet]) -> Iterator[tuple[int, str, Fraction]]:
    """Yield the units of all sheets, again and again: place of the sheet, the unit, how many quarter notes it lasts.

    Each round takes a sheet up anew, as a sheet of its own.
    """
    for turn in range(_MOST_ROUNDS):
        for place, sheet in enumerate(sheets):
            number = turn * len(sheets) + place
            if sheet.whole:
                whole = _study(sheet, [])
                if whole is not None and turn == 0:
                    yield number, "", _duration(whole.lines)
            elif sheet.unit_setting:
                for unit in sheet.units:
                    single = _study(sheet, [unit])
                    if single is not None:
                        yield number, unit, _duration(single.lines)
            else:
                whole = _study(sheet, [])
                for line, each in enumerate(whole.lines if whole else ()):
                    yield number, str(line), each.duration


def _taken(sheets: list[Sheet], room: Fraction) -> dict[int, list[str]]:
    """Return the units that fit into so many quarter notes, by sheet, in order; at least one."""
    taken: dict[int, list[str]] = {}
    left = room
    for number, unit, duration in _pieces(sheets):
        if taken and duration > left:
            break
        if duration <= left or not taken:
            taken.setdefault(number, []).append(unit)
            left -= duration
    return taken


def _without_rest(line: Line) -> Line:
    """Return a line with only the rest that fills its last bar."""
    played = sum((tone.duration for tone in line.tones), Fraction(0))
    events = tuple(event for event in line.events if not isinstance(event, Rest))
    return replace(line, events=(*events, Rest(-played % BAR)) if played % BAR else events)


def _with_more_rest(studies: list[Study], bars: int) -> list[Study]:
    """Return the studies with so many bars of rest more, spread over their lines; after a contact set at its end."""
    if studies[-1].contact_seconds is not None:
        down = Line("", (Rest(bars * BAR),), heading="Rest with the instrument down")
        return [*studies[:-1], replace(studies[-1], lines=(*studies[-1].lines, down))]
    count = sum(len(study.lines) for study in studies)
    each, extra = divmod(bars, count)
    spread = []
    place = 0
    for study in studies:
        lines = []
        for line in study.lines:
            more = (each + (place < extra)) * BAR
            place += 1
            lines.append(replace(line, events=(*line.events, Rest(more))) if more else line)
        spread.append(replace(study, lines=tuple(lines)))
    return spread


def _merged(line: Line) -> Line:
    """Return a line whose rests at the end are one."""
    events = list(line.events)
    while len(events) > 1 and isinstance(events[-1], Rest) and isinstance(events[-2], Rest):
        last = events.pop()
        events[-1] = Rest(events[-1].duration + last.duration)
    return replace(line, events=tuple(events))


def _to_time(studies: list[Study], seconds: int) -> list[Study]:
    """Return the studies at the tempo, and with the bars of rest, that make them last so many seconds."""
    tempo = studies[0].tempo
    quarters = _duration(tuple(line for study in studies for line in study.lines))
    # The sheet of a contact set tells its time, which hangs on the tempo.
    slowest = tempo if studies[0].contact_seconds else max(_SLOWEST, int(tempo * _SLOWEST_SHARE))
    tempo = max(slowest, min(tempo, round(quarters * 60 / seconds)))
    missing = Fraction(seconds * tempo, 60) - quarters
    bars = int(missing / BAR)
    timed = [replace(study, tempo=tempo) for study in studies]
    if bars > 0:
        timed = _with_more_rest(timed, bars)
    return [replace(study, lines=tuple(map(_merged, study.lines))) for study in timed]


def fill(block: Block, player: Player, today: Today) -> Filled:
    """Return studies that fill a block, printed rests included, to within five per cent."""
    sheets = sheets_for(block, player, today)
    tempo = int(sheets[0].texts["tempo"])
    room = Fraction(block.minutes * tempo)
    sheets = [replace(sheet, texts={**sheet.texts, "tempo": str(tempo)}) for sheet in sheets]
    studies, items = [], []
    for number, units in _taken(sheets, room).items():
        sheet = sheets[number % len(sheets)]
        study = _study(sheet, units)
        assert study is not None  # its units were tried one by one
        if not sheet.unit_setting and not sheet.whole:
            study = replace(study, lines=study.lines[: len(units)])
        studies.append(study)
        items += [sheet.item(unit if sheet.unit_setting else "") for unit in units]
    if not studies:
        raise InputError(
            f"no {block.kind} can be made for {player.label!r} between {block.low} and {block.high}: widen the range"
        )
    if _duration(tuple(line for study in studies for line in study.lines)) > room:
        studies = [replace(study, lines=tuple(map(_without_rest, study.lines))) for study in studies]
    return Filled(block, tuple(_to_time(studies, 60 * block.minutes)), tuple(dict.fromkeys(items)))
