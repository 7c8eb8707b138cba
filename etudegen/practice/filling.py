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
from etudegen.practice.choosing import MOST_SHEETS, lines_taken
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.pools import Today
from etudegen.practice.profile import Profile
from etudegen.practice.units import Chosen, UnitLine
from etudegen.study import Line, Measure, Rest, Study, Tone
from etudegen.theory.tempo import METRONOME, SLOWEST, at_or_above, seconds

# A short block has fewer sheets than others: minutes up to which it has one, and two.
_ONE_SHEET, _TWO_SHEETS = 5, 9
# Seconds of rest that are not worth a word.
_LITTLE = 60
_AFTER_CONTACT = "Rest with the instrument down"
_TO_THE_END = "Rest until this block is over"


@dataclass(frozen=True, slots=True)
class Filled:
    """A block with its studies and what is practised in them; ``lacks`` are seconds that nothing was found for."""

    block: Block
    studies: tuple[Study, ...]
    items: tuple[Item, ...]
    lacks: Fraction = Fraction(0)


class NothingFitsError(InputError):
    """Nothing of a kind of exercise can be made within a player's range."""

    def __init__(self, block: Block, label: str) -> None:
        self.block = block
        super().__init__(
            f"no {block.kind} can be made for {label!r} between {block.low} and {block.high}: widen the range"
        )


def fill(pieces: Sequence[Block], profile: Profile, today: Today) -> list[Filled]:
    """Return what fills a block, which rests may cut in ``pieces``: studies that last as long to within five per cent.

    Where the range gives too little music for the time, the last rest is longer, and what is lacking is told. Raises
    :class:`NothingFitsError` where it gives none at all.
    """
    block = pieces[0]
    minutes = sum(piece.minutes for piece in pieces)
    taken = lines_taken(replace(block, minutes=minutes), profile, today, _sheets_allowed(minutes, len(pieces)))
    if not taken:
        raise NothingFitsError(block, profile.label)
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
    most = 1 if minutes <= _ONE_SHEET else 2 if minutes <= _TWO_SHEETS else MOST_SHEETS
    # Where a sheet goes on after a rest it is printed in two parts.
    return max(1, most - (pieces - 1))


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
    sheet: Chosen | None = None
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
            heading = line.line.heading or (heading if each is sheet else None)
            sheet = each
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
    every = [
        (lines[place], times, place)
        for each, lines, times in rows
        for place in range(len(lines))
        if not each.sheet.choice.whole
    ]
    # What goes badly comes first, then what comes first on the page.
    every.sort(key=lambda each: not each[0].weak)
    for often in range(2, rules.MOST_TIMES + 1):
        for line, times, place in every:
            if times[place] < often and line.lasts <= left:
                times[place] += 1
                left -= line.lasts


def _printed(row: _Row, share: Fraction, *, again: bool) -> Study:
    """Return the study of lines; one whose lines have been played before says so."""
    each, lines, times = row
    study = each.study
    fixed = study.contact_seconds is not None or each.sheet.fastest is None
    tempo = study.tempo if fixed else _slower(study.tempo, share)
    printed = []
    for line, often in zip(lines, times, strict=True):
        own = line.tempo if fixed else _slower(line.tempo, share)
        opening = () if own == tempo else (Measure(study.bar, tempo=own),)
        printed.append(replace(line.line, times=often, measures=opening))
    of_sheet = tuple(printed)
    title = f"{study.title}, once more" if again else study.title
    not_added = [line for line, unit in zip(of_sheet, lines, strict=True) if not unit.added]
    subtitle = each.sheet.parameters.subtitle(not_added or of_sheet)
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
    in_contact = study.contact_seconds is not None
    if in_contact or missing >= _LITTLE:
        # A line of its own: nobody should take it for a part of the exercise.
        whole = missing / seconds(study.bar, study.tempo)
        rest = Rest((int(whole) if in_contact else round(whole)) * study.bar)
        apart = Line("", (rest,), heading=_AFTER_CONTACT if in_contact else _TO_THE_END)
        return replace(study, lines=(*study.lines, apart)) if rest.duration else study
    tempo = last.opening_tempo or study.tempo
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
