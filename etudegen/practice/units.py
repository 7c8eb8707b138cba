"""The units of which a block is made: what a key, a position or a line is on paper, and how long it takes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.practice.items import Item
from etudegen.practice.pools import Sheet, Today
from etudegen.study import Line, Rest, Study, total
from etudegen.theory.tempo import at_or_below, seconds

# What a line is known by: its first value and its length in quarter notes, and its key numbers. Where a range has few
# partials two shapes come to the same.
Known = tuple[Fraction, Fraction, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class UnitLine:
    """A line of a unit, at its own tempo in quarter notes a minute.

    ``weak`` where it went badly the last time, ``added`` where it stands on a sheet of others.
    """

    item: Item
    line: Line
    tempo: int
    weak: bool = False
    added: bool = False

    @property
    def known(self) -> Known:
        """What it is known by."""
        tones = list(self.line.tones)
        return tones[0].duration, self.line.duration, tuple(tone.pitch.number for tone in tones)

    @property
    def lasts(self) -> Fraction:
        """How long it takes once, rests included, in seconds."""
        return seconds(self.line.duration, self.tempo)

    @property
    def plays(self) -> Fraction:
        """How long is played in it, in seconds."""
        return self.lasts - seconds(
            total(each.duration for each in self.line.events if isinstance(each, Rest)), self.tempo
        )


@dataclass(frozen=True, slots=True)
class Chosen:
    """A sheet with the lines of it that are played, in the order in which they are printed."""

    sheet: Sheet
    study: Study
    lines: tuple[UnitLine, ...]


def lines_of(sheet: Sheet, items: Sequence[Item], today: Today) -> tuple[UnitLine, ...]:
    """Return the lines of units of a sheet, all of its lines where these are the units; none where nothing fits."""
    return tuple(line for item in items or (sheet.item,) for line in _lines(sheet, item if items else None, today))


def _lines(sheet: Sheet, item: Item | None, today: Today) -> Iterator[UnitLine]:
    known_as = item or sheet.item
    state = today.history.states.get(known_as)
    try:
        study = sheet.study([item] if item else [], easier=state is not None and state.wants_easier)
    except InputError:
        return
    tempo = sheet.tempo(today.history.step(known_as), today.history.tempo(known_as))
    if study.contact_seconds is not None:
        # The sheet of a contact set tells its time, which hangs on the tempo.
        tempo = study.tempo
    weak = state is not None and state.is_weak
    yield from (UnitLine(known_as, line, _its_own(line, tempo, study), weak) for line in study.lines)


def _its_own(line: Line, tempo: int, study: Study) -> int:
    """Return the tempo of a line of a sheet that is at ``tempo``: slower or faster by as much as the study has it."""
    own = line.opening_tempo
    return tempo if own is None else min(tempo, at_or_below(Fraction(own * tempo, study.tempo)))


def chosen(sheet: Sheet, lines: Sequence[UnitLine]) -> Chosen:
    """Return a sheet with lines of its units as they are printed."""
    items = list(dict.fromkeys(line.item for line in lines))
    study = sheet.study(items if sheet.items else ())
    ordered = _as_printed(study, lines) if sheet.items and sheet.choice.together else tuple(lines)
    return Chosen(sheet, study, ordered)


def _as_printed(study: Study, lines: Sequence[UnitLine]) -> tuple[UnitLine, ...]:
    """Return lines in the order in which a study has them, stage by stage, each unit's in turn."""
    waiting: dict[str, list[UnitLine]] = {}
    for line in lines:
        waiting.setdefault(line.line.label, []).append(line)
    ordered: list[UnitLine] = []
    heading: str | None = None
    for printed in study.lines:
        heading = printed.heading or heading
        rows = waiting.get(printed.label)
        if rows:
            line = rows.pop(0)
            ordered.append(replace(line, line=replace(line.line, heading=heading)))
            heading = None
    return tuple(ordered)
