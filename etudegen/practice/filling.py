"""Filling a block: studies for this player that last as long as the block does, printed rests included.

Units are taken in today's order as long as they fit, from few sheets; where these give too little, lines are repeated.
What is missing then is made up by a slower tempo, within limits, and by the last rest. A block that goes on after a
rest goes on with the lines that come next.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named
from etudegen.practice import rules
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.pools import Sheet, Today, in_order, sheets_for
from etudegen.practice.profile import Profile
from etudegen.practice.units import Chosen, Known, UnitLine, chosen, lines_of
from etudegen.study import Line, Measure, Rest, Study, Tone
from etudegen.theory.tempo import METRONOME, SLOWEST, at_or_above, seconds

_MOST_TIMES = 4
# A block has at most so many sheets, a short one fewer: minutes up to which it has one, and two.
_MOST_SHEETS = 3
_ONE_SHEET, _TWO_SHEETS = 5, 9
# Seconds of rest that are not worth a word.
_LITTLE = 60


@dataclass(frozen=True, slots=True)
class Filled:
    """A block with its studies and what is practised in them; ``lacks`` are seconds that nothing was found for."""

    block: Block
    studies: tuple[Study, ...]
    items: tuple[Item, ...]
    lacks: Fraction = Fraction(0)


def fill(pieces: Sequence[Block], profile: Profile, today: Today) -> list[Filled]:
    """Return what fills a block, which rests may cut in ``pieces``: studies that last as long to within five per cent.

    Where the range gives too little music for the time, the last rest is longer, and what is lacking is told.
    """
    block = pieces[0]
    minutes = sum(piece.minutes for piece in pieces)
    taken = _taken(replace(block, minutes=minutes), profile, today, _sheets_allowed(minutes, len(pieces)))
    if not taken:
        raise InputError(
            f"no {block.kind} can be made for {profile.label!r} between {block.low} and {block.high}: widen the range"
        )
    return [
        _to_time(piece, rows, again=again) for piece, (rows, again) in zip(pieces, _cut(taken, pieces), strict=True)
    ]


def fill_as_asked(block: Block, profile: Profile) -> Filled:
    """Return the one study of a block whose kind sessions do not choose for, as it was asked for."""
    kind = kind_named(block.kind)
    player = {"instrument": profile.instrument, "low": block.low, "high": block.high, "tempo": block.tempo}
    study = kind.study(kind.parameters(**{**player, **block.settings}))
    return Filled(block, (study,), (Item(block.kind),))


def _sheets_allowed(minutes: int, pieces: int) -> int:
    most = 1 if minutes <= _ONE_SHEET else 2 if minutes <= _TWO_SHEETS else _MOST_SHEETS
    # Where a sheet goes on after a rest it is printed in two parts.
    return max(1, most - (pieces - 1))


def _taken(block: Block, profile: Profile, today: Today, most: int) -> list[Chosen]:
    """Return the lines that fill a block, from at most so many sheets; at least one, even if it lasts longer."""
    left = Fraction(60 * block.minutes)
    rows: dict[int, tuple[Sheet, list[UnitLine]]] = {}
    heard: set[Known] = set()
    full = False
    for sheets in sheets_for(block, profile, today):
        for sheet, items in in_order(sheets, today):
            # What is played once and in one piece leaves room for another sheet.
            whole = any(each.choice.whole for each, _ in rows.values())
            if id(sheet) not in rows and len(rows) == min(_MOST_SHEETS, most + whole):
                continue
            lines = [line for line in lines_of(sheet, items, today) if line.known not in heard]
            lasts = sum((line.lasts for line in lines), Fraction(0))
            if lasts > left and sheet.choice.whole and not sheet.practice.unbroken:
                continue
            if lasts > left and sheet.choice.together and rows:
                full = True
                break
            for line in lines:
                if line.lasts > left and rows and not sheet.choice.whole:
                    full = True
                    break
                rows.setdefault(id(sheet), (sheet, []))[1].append(line)
                heard.add(line.known)
                left -= line.lasts
            if full:
                break
        if full:
            break
    if not rows:
        rows = _first(block, profile, today)
    return [chosen(sheet, lines) for sheet, lines in _worth_a_page(list(rows.values()))]


def _first(block: Block, profile: Profile, today: Today) -> dict[int, tuple[Sheet, list[UnitLine]]]:
    """Return the first line that there is, though it lasts longer than the block."""
    for sheets in sheets_for(block, profile, today):
        for sheet, items in in_order(sheets, today):
            lines = lines_of(sheet, items, today)
            if lines:
                return {id(sheet): (sheet, [lines[0]])}
    return {}


def _worth_a_page(rows: list[tuple[Sheet, list[UnitLine]]]) -> list[tuple[Sheet, list[UnitLine]]]:
    """Return sheets without those that nobody turns a page for, unless there is nothing else."""

    def is_worth(lines: list[UnitLine]) -> bool:
        plays = sum(line.plays for line in lines)
        return plays >= (rules.LEAST_PLAYING if len(lines) >= rules.FEWEST_LINES else rules.PLAYING_ENOUGH)

    return [(sheet, lines) for sheet, lines in rows if is_worth(lines)] or rows[:1]


# Lines of a sheet with how often each is played.
_Row = tuple[Chosen, list[UnitLine], list[int]]


def _cut(taken: list[Chosen], pieces: Sequence[Block]) -> list[tuple[list[_Row], bool]]:
    """Return for each piece of a block its part of the lines, and whether they have been played before the rest."""
    lines = [(each, line) for each in taken for line in each.lines]
    whole = sum((line.lasts for _, line in lines), Fraction(0))
    minutes = sum(piece.minutes for piece in pieces)
    found: list[tuple[list[_Row], bool]] = []
    waiting, gone, until = lines, Fraction(0), 0
    heading: str | None = None
    for place, piece in enumerate(pieces):
        until += piece.minutes
        again = not waiting
        if again:
            waiting, gone = lines, Fraction(0)
        rows: list[_Row] = []
        last = place + 1 == len(pieces)
        # What is half in it belongs to a piece.
        while waiting and (not rows or last or (gone + waiting[0][1].lasts / 2) * minutes <= whole * until):
            (each, line), *waiting = waiting
            heading = line.line.heading or heading
            if not rows or rows[-1][0] is not each:
                rows.append((each, [], []))
                # A stage that goes on after a rest is named again.
                line = replace(line, line=replace(line.line, heading=heading))
            rows[-1][1].append(line)
            rows[-1][2].append(1)
            gone += line.lasts
        found.append((rows, again))
    return found


def _to_time(block: Block, rows: list[_Row], *, again: bool) -> Filled:
    """Return the studies of a block so often, so slow, and with such a last rest, that they last as long as it does."""
    room = Fraction(60 * block.minutes)
    _repeat(rows, room)
    lasts = _lasts(rows)
    if lasts > room:
        for each, lines, _ in rows:
            lines[:] = [replace(line, line=_without_rest(line.line, each.study.bar)) for line in lines]
        _repeat(rows, room)
        lasts = _lasts(rows)
    share = min(Fraction(1), max(rules.SLOWEST_SHARE, lasts / room))
    studies = [_printed(row, share, again=again) for row in rows]
    missing = room - sum((study.whole_seconds for study in studies), Fraction(0))
    if missing > 0:
        studies[-1] = _with_last_rest(studies[-1], missing)
    items = dict.fromkeys(line.item for _, lines, _ in rows for line in lines)
    lacks = (
        missing if missing > max(Fraction(_LITTLE), room / 10) and studies[-1].contact_seconds is None else Fraction(0)
    )
    return Filled(block, tuple(studies), tuple(items), lacks)


def _lasts(rows: list[_Row]) -> Fraction:
    return sum(
        (line.lasts * often for _, lines, times in rows for line, often in zip(lines, times, strict=True)), Fraction(0)
    )


def _repeat(rows: list[_Row], room: Fraction) -> None:
    """Repeat lines as often as there is time for, the first ones first, or less often where there is too little."""
    left = room - _lasts(rows)
    for _, lines, times in reversed(rows):
        for place in reversed(range(len(lines))):
            while left < 0 and times[place] > 1:
                times[place] -= 1
                left += lines[place].lasts
    if any(each.sheet.choice.whole for each, _, _ in rows):
        return
    for often in range(2, _MOST_TIMES + 1):
        for _, lines, times in rows:
            for place, line in enumerate(lines):
                if times[place] < often and line.lasts <= left:
                    times[place] += 1
                    left -= line.lasts


def _printed(row: _Row, share: Fraction, *, again: bool) -> Study:
    """Return the study of lines; one whose lines have been played before says so."""
    each, lines, times = row
    study = each.study
    fixed = study.contact_seconds is not None
    tempo = study.tempo if fixed else _slower(study.tempo, share)
    printed = []
    for line, often in zip(lines, times, strict=True):
        own = line.tempo if fixed else _slower(line.tempo, share)
        opening = () if own == tempo else (Measure(study.bar, tempo=own),)
        printed.append(replace(line.line, times=often, measures=opening))
    of_sheet = tuple(printed)
    title = f"{study.title}, once more" if again else study.title
    subtitle = each.sheet.parameters.subtitle(of_sheet)
    return replace(study, title=title, tempo=tempo, lines=of_sheet, subtitle=subtitle)


def _slower(tempo: int, share: Fraction) -> int:
    """Return the slowest mark of a metronome at which a sheet takes no longer than a share of its tempo allows."""
    slow = tempo * share
    if slow < METRONOME[0]:
        return max(SLOWEST, round(slow))
    return min(tempo, at_or_above(slow))


def _without_rest(line: Line, bar: Fraction) -> Line:
    """Return a line with only the rest that fills its last bar."""
    played = sum((tone.duration for tone in line.tones), Fraction(0))
    events = tuple(event for event in line.events if not isinstance(event, Rest))
    return replace(line, events=(*events, Rest(-played % bar)) if played % bar else events)


def _with_last_rest(study: Study, missing: Fraction) -> Study:
    """Return a study with about so many seconds of rest more, in whole bars after its last line."""
    last = study.lines[-1]
    if study.contact_seconds is not None:
        bars = int(missing / seconds(study.bar, study.tempo))
        down = Line("", (Rest(bars * study.bar),), heading="Rest with the instrument down")
        return replace(study, lines=(*study.lines, down)) if bars > 0 else study
    tempo = last.measures[0].tempo if last.measures and last.measures[0].tempo else study.tempo
    bars = round(missing / seconds(last.times * study.bar, tempo))
    if not bars:
        return study
    longer = replace(last, events=_merged((*last.events, Rest(bars * study.bar))))
    return replace(study, lines=(*study.lines[:-1], longer))


def _merged(events: tuple[Tone | Rest, ...]) -> tuple[Tone | Rest, ...]:
    """Return events whose rests at the end are one."""
    merged = list(events)
    while len(merged) > 1:
        before, last = merged[-2:]
        if not (isinstance(before, Rest) and isinstance(last, Rest)):
            break
        merged[-2:] = [Rest(before.duration + last.duration)]
    return tuple(merged)
