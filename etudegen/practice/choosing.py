"""Which lines a block has: in today's order, from few sheets, as long as they fit."""

from bisect import bisect
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from etudegen.plain_text import with_capital
from etudegen.practice import rules
from etudegen.practice.items import Item
from etudegen.practice.plan import Block
from etudegen.practice.pools import Sheet, Today, in_order, sheets_for
from etudegen.practice.profile import Profile
from etudegen.practice.units import Chosen, Known, UnitLine, chosen, lines_of

MOST_SHEETS = 3
# The level tells how many pages half an hour has at most. About so many notes and rests stand on a system, so many
# systems on a page; where there are more in a block, lines are repeated instead.
_MINUTES_OF_PAGES = 30
_SIGNS_ON_A_SYSTEM, _SYSTEMS_ON_A_PAGE, _SYSTEMS_FOR_A_TITLE, _FEWEST_SYSTEMS = 34, 9, 2, 4


def lines_taken(block: Block, profile: Profile, today: Today, most: int) -> list[Chosen]:
    """Return the lines that fill a block, from at most so many sheets; at least one, even if it lasts longer.

    What went badly comes when it is due, whatever the sheets of the day are: it is added to the first of them.
    """
    pages = Fraction(profile.knows.pages * block.minutes, _MINUTES_OF_PAGES)
    systems = max(_FEWEST_SYSTEMS, int(pages * _SYSTEMS_ON_A_PAGE) - _SYSTEMS_FOR_A_TITLE)
    choosing = _Choosing(Fraction(60 * block.minutes), systems, most, today)
    rounds = [list(in_order(sheets, today)) for sheets in sheets_for(block, profile, today)]
    for offered in rounds:
        for more in (False, True):
            # Where the sheets of the day leave time, what else there is is added to them.
            choosing.adds_all = more
            for sheet, items in offered:
                if choosing.full:
                    break
                choosing.offer(sheet, items)
    if not choosing.rows:
        return _as_much_as_fits([each for offered in rounds for each in offered], Fraction(60 * block.minutes), today)
    return choosing.chosen()


def _as_much_as_fits(offered: list[tuple[Sheet, tuple[Item, ...]]], room: Fraction, today: Today) -> list[Chosen]:
    """Return lines of the first units that there are, at least one though it lasts longer than the block."""
    for sheet, items in offered:
        lines = lines_of(sheet, items, today)
        ends = list(accumulate(line.lasts for line in lines))
        if lines:
            return [chosen(sheet, lines[: max(1, bisect(ends, room))])]
    return []


class _Choosing:
    """The lines that have been taken for a block, sheet by sheet, while units are offered one after the other."""

    def __init__(self, room: Fraction, systems: int, most: int, today: Today) -> None:
        self._left, self._systems, self._most, self._today = room, systems, most, today
        self._heard: set[Known] = set()
        self._added: list[UnitLine] = []
        self.rows: dict[int, tuple[Sheet, list[UnitLine]]] = {}
        self.full = self.adds_all = False

    def offer(self, sheet: Sheet, items: tuple[Item, ...]) -> None:
        """Take the lines of some units of a sheet, if there is time for them and a sheet more can be had."""
        is_new = id(sheet) not in self.rows
        added = is_new and bool(self.rows) and self._is_enough()
        if added and not self._can_be_added(sheet, items):
            return
        lines = [line for line in lines_of(sheet, items, self._today) if line.known not in self._heard]
        lasts = sum((line.lasts for line in lines), Fraction(0))
        if lasts > self._left:
            if sheet.choice.whole and not sheet.practice.unbroken:
                return
            if added or (sheet.choice.together and self.rows):
                self.full = True
                return
            if sheet.choice.together:
                # In another shape or rhythm there may be time for all of it.
                return
        for line in lines:
            takes = -(-len(line.line.events) // _SIGNS_ON_A_SYSTEM)
            is_too_much = line.lasts > self._left or (takes > self._systems and not sheet.choice.together)
            if is_too_much and self.rows and not sheet.choice.whole:
                self.full = True
                return
            self._systems -= takes
            self._heard.add(line.known)
            self._left -= line.lasts
            if added:
                self._added.append(_under_its_name(line, again=not self.adds_all))
            else:
                self.rows.setdefault(id(sheet), (sheet, []))[1].append(line)

    def _is_enough(self) -> bool:
        # What is played once and in one piece leaves room for another sheet.
        whole = any(each.choice.whole for each, _ in self.rows.values())
        return len(self.rows) == min(MOST_SHEETS, self._most + whole)

    def _can_be_added(self, sheet: Sheet, items: tuple[Item, ...]) -> bool:
        """Tell whether units may stand on a sheet of others: where they went badly, or nothing else is left."""
        states = self._today.history.states
        is_weak = len(items) == 1 and items[0] in states and states[items[0]].is_weak
        return bool(sheet.items) and not sheet.choice.together and (is_weak or self.adds_all)

    def chosen(self) -> list[Chosen]:
        """Return the sheets, without those that nobody turns a page for unless there is nothing else."""
        rows = list(self.rows.values())
        worth = [row for row in rows if _is_worth_a_page(row[1])] or rows[:1]
        sheets = [chosen(sheet, lines) for sheet, lines in worth]
        # Those of one scale stand together, under its name.
        by_choice: dict[str, list[UnitLine]] = {}
        short = [
            _under_its_name(line, again=False)
            for row in rows
            if row not in worth and row[0].items and not row[0].choice.together
            for line in row[1]
        ]
        for line in (*short, *self._added):
            fellows = by_choice.setdefault(line.item.choice, [])
            fellows.append(replace(line, line=replace(line.line, heading=None)) if fellows else line)
        # A single line more of something else is a scrap, but for what went badly.
        is_enough = len(sheets[0].lines) >= rules.FEWEST_LINES
        added = [
            line
            for fellows in by_choice.values()
            if len(fellows) > 1 or fellows[0].weak or not is_enough
            for line in fellows
        ]
        return [_joined(sheets[0], added), *sheets[1:]] if added else sheets


def _joined(sheet: Chosen, added: Sequence[UnitLine]) -> Chosen:
    """Return a sheet with lines of others below its own: it is called by its kind, and what each is by a heading."""
    first, *others = sheet.lines
    named = replace(first, line=replace(first.line, heading=with_capital(_name_of(first))))
    title = with_capital(sheet.sheet.kind.exercise.page_name)
    return replace(sheet, study=replace(sheet.study, title=title), lines=(named, *others, *added))


def _under_its_name(line: UnitLine, *, again: bool) -> UnitLine:
    """Return a line that stands on a sheet of others, under the name of what it is of."""
    name = _name_of(line)
    heading = f"Once more, slower: {name}" if again else with_capital(name)
    return replace(line, added=True, line=replace(line.line, heading=heading))


def _name_of(line: UnitLine) -> str:
    return line.item.choice.replace("-", " ")


def _is_worth_a_page(lines: list[UnitLine]) -> bool:
    plays = sum(line.plays for line in lines)
    return plays >= (rules.LEAST_PLAYING if len(lines) >= rules.FEWEST_LINES else rules.PLAYING_ENOUGH)
