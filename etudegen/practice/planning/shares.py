"""How the time that is not rest is shared out: rows of an aim, or of several, as whole minutes.

The minutes of an aim's own materials never fall as sessions grow, and are at least a third of what is not rest from a
quarter of an hour on.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from etudegen.practice import rules
from etudegen.practice.levels import Level
from etudegen.practice.planning.aims import AimTable
from etudegen.practice.planning.materials import Effort, Material, materials
from etudegen.practice.rules import Part

_THIRD_FROM = 15
# What is shorter than this part of what it is worth is left out.
_TOO_SHORT = 3 / 4
# What may take the place of a material for which the level names nothing, the nearest first.
_OF_MUSIC = ("piece", "improvising", "transpose")
_OF_EXERCISES = ("long-tones", "slurs-down", "slurs", "scales")
# The order of the parts where the rows of several aims are one session.
_ORDER = (
    (Part.WARM_UP, None), (Part.CONDITIONING, None), (Part.RANGE, None), (Part.TECHNIQUE, None), (Part.MUSIC, True),
    (Part.CHANGES, None), (Part.WARM_DOWN, None), (Part.MUSIC, False),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Order:
    """What a session is planned for, as far as its shares hang on it.

    ``aims`` are what those that it has are made of, with their weights; ``missing`` the names of materials that the
    level knows and this player does not have; ``most`` the most minutes of some materials for this player.
    """

    aims: tuple[tuple[AimTable, int], ...]
    level: Level
    has_tune: bool
    returning: bool
    missing: frozenset[str] = frozenset()
    most: tuple[tuple[str, int], ...] = ()

    def __hash__(self) -> int:
        level = self.level.name, self.level.kinds
        return hash((self.aims, level, self.has_tune, self.returning, self.missing, self.most))


@dataclass(frozen=True, slots=True)
class Row:
    """A block to be: a part, a material, and the minutes that it should have; ``own`` where it is the aim's own."""

    part: Part
    material: Material
    share: float
    own: bool
    minutes: int = 0
    most: int = 0

    def least(self, session: int) -> int:
        """Return the fewest minutes that are worth it."""
        if self.part in (Part.WARM_UP, Part.WARM_DOWN):
            return rules.SHORTEST_WARM_UP
        return self.material.least(session)


@dataclass(frozen=True, slots=True)
class Shared:
    """The rows of a session with their minutes, and what was left out and why, a sentence each."""

    rows: tuple[Row, ...]
    left_out: tuple[str, ...]


def longest(order: Order) -> int:
    """Return the most minutes of a session that are for playing, rests between them included."""
    return min(order.level.longest, rules.LONGEST_AFTER_WEEKS_OFF) if order.returning else order.level.longest


def run_of(order: Order, *, strenuous: bool) -> int:
    """Return the most minutes of playing without a rest."""
    run = order.level.strenuous_run if strenuous else order.level.run
    return min(run, rules.LONGEST_RUN_AFTER_WEEKS_OFF) if order.returning else run


def in_words(material: Material) -> str:
    """Return a material as a sentence names it."""
    return material.name.replace("-", " ")


def _known(material: Material, order: Order) -> tuple[Material, str]:
    """Return what takes the place of a material for this player, itself where it is known, and why."""
    seen = material
    tried: set[str] = set()
    while seen.name not in tried and not _is_known(seen, order):
        tried.add(seen.name)
        if seen.name in order.level.instead and seen.name not in order.missing:
            seen = materials()[order.level.instead[seen.name]]
        else:
            seen = _stand_in(seen, order)
    return seen, "" if seen is material else f"not yet {in_words(material)}: {in_words(seen)} instead"


def _is_known(material: Material, order: Order) -> bool:
    level = order.level
    return not (material.name in level.instead or material.name in order.missing or material.kind not in level.kinds)


def _stand_in(material: Material, order: Order) -> Material:
    """Return what every player can do in place of a material: music for music; where all else fails long tones."""
    for name in _OF_MUSIC if material.music else _OF_EXERCISES:
        if _is_known(materials()[name], order):
            return materials()[name]
    return materials()["long-tones"]


def _blended(order: Order, minutes: int) -> tuple[list[Row], list[str]]:
    """Return the rows of all aims by their weights, those of one material joined, with their shares of a session."""
    total = sum(weight for _, weight in order.aims)
    rows: list[Row] = []
    told: list[str] = []
    for table, weight in order.aims:
        for row in table.rows:
            share = row.share(minutes) * weight / total
            material, why = _known(row.material, order)
            part = row.part
            if material.effort is Effort.STRENUOUS and (order.returning or minutes < material.first):
                if share and order.returning:
                    told.append(f"no {in_words(material)}: nothing strenuous after weeks off")
                continue
            if share and why:
                told.append(why)
            if material is not row.material and part is Part.RANGE:
                part = Part.CONDITIONING
            if material.music and not row.material.music:
                part = Part.MUSIC
            rows.append(Row(part, material, share, row.material.name in table.own, most=_most(material, order)))
    return _joined(rows, blend=len(order.aims) > 1), list(dict.fromkeys(told))


def _most(material: Material, order: Order) -> int:
    return min(material.most, dict(order.most).get(material.name, material.most))


def _joined(rows: list[Row], *, blend: bool) -> list[Row]:
    """Return rows of one material as one, but for what begins and what ends a session."""
    found: dict[tuple[str, bool], Row] = {}
    for row in rows:
        key = (row.material.name, row.part is Part.WARM_DOWN)
        before = found.get(key)
        if before is None:
            found[key] = row
        else:
            part = Part.WARM_UP if Part.WARM_UP in (before.part, row.part) else before.part
            if row.material.music:
                # Where its own place is, not where it stands in for something else.
                del found[key]
            found[key] = replace(before, part=part, share=before.share + row.share, own=before.own or row.own)
    return _in_order(list(found.values())) if blend else list(found.values())


def _in_order(rows: list[Row]) -> list[Row]:
    """Return the rows of several aims in the order of a session, with one warm-up and one warm-down."""
    warm_ups = [row for row in rows if row.part is Part.WARM_UP]
    # The easiest begins; the others go on from it.
    first = min(warm_ups, key=lambda row: (row.material.effort, -row.share))
    downs = [row for row in rows if row.part is Part.WARM_DOWN]
    last = max(downs, key=lambda row: row.share, default=None)
    ordered = []
    for row in rows:
        part = row.part
        if row in warm_ups and row is not first:
            part = Part.CONDITIONING
        if row in downs and row is not last:
            continue
        share = sum(each.share for each in downs) if row is last else row.share
        ordered.append(replace(row, part=part, share=share))
    places = {each: place for place, each in enumerate(_ORDER)}

    def place(row: Row) -> tuple[int, int]:
        of_music = row.material.lips if row.part is Part.MUSIC else None
        # What is easy evens out what has strained.
        easy_last = row.part is Part.CONDITIONING and row.material.effort is Effort.EASY
        return places[row.part, of_music], row.material.effort + 3 * easy_last

    return sorted(ordered, key=place)


def _without_music(rows: list[Row], order: Order, minutes: int) -> list[Row]:
    """Return the rows without pieces, for an advanced player who has none in hand and little time."""
    if minutes > rules.NO_MUSIC_UP_TO or order.has_tune or order.level.place < rules.ADVANCED:
        return rows
    return [row for row in rows if row.material.kind != "repertoire" or row.own]


def _with_music(rows: list[Row], level: Level) -> list[Row]:
    """Return the rows with at least the level's share of music in them."""
    music = sum(row.share for row in rows if row.material.music)
    whole = sum(row.share for row in rows)
    wanted = whole * level.music / 100
    if not music or music >= wanted:
        return rows
    more, less = wanted / music, (whole - wanted) / (whole - music)
    return [replace(row, share=row.share * (more if row.material.music else less)) for row in rows]


def needs_warm_down(rows: Sequence[Row], minutes: int) -> bool:
    """Tell whether a session ends low and easy."""
    return minutes >= rules.LONG_SESSION or any(row.material.effort is Effort.STRENUOUS for row in rows)


def _kept(order: Order, minutes: int, practice: int) -> tuple[list[Row], list[str]]:
    """Return the rows that are worth their time in a session with so many minutes that are not rest."""
    rows, told = _blended(order, minutes)
    rows = [row for row in _without_music(rows, order, minutes) if row.share > 0]
    rows = _with_warm_down(rows, minutes)
    rows = _with_music(rows, order.level)
    while True:
        whole = sum(row.share for row in rows)
        short = [
            row
            for row in rows
            if not _must(row, rows, minutes)
            and (practice * row.share / whole < _TOO_SHORT * row.least(minutes) or _crowded(rows, minutes, practice))
        ]
        if not short:
            return rows, told
        out = min(short, key=lambda row: row.share / row.least(minutes))
        rows = _without(out, rows)
        told.append(_too_little(in_words(out.material), minutes))


def _too_little(words: str, minutes: int) -> str:
    return f"no {words}: of {minutes} minutes too few would be theirs"


def _without(out: Row, rows: Sequence[Row]) -> list[Row]:
    """Return rows without one, whose share its fellows have: an aim's own go to its own."""
    left = [row for row in rows if row is not out]
    fellows = [row for row in left if row.own == out.own] or left
    shared = sum(row.share for row in fellows)
    among = {id(row) for row in fellows} if shared else set()
    return [replace(row, share=row.share * (1 + out.share / shared)) if id(row) in among else row for row in left]


def _crowded(rows: Sequence[Row], minutes: int, practice: int) -> bool:
    return sum(row.least(minutes) for row in rows) > practice


def _with_warm_down(rows: list[Row], minutes: int) -> list[Row]:
    """Return the rows with a warm-down where one is needed, and its share if there is none yet."""
    if not needs_warm_down(rows, minutes) or any(row.part is Part.WARM_DOWN for row in rows):
        return rows
    easy = materials()["long-tones"]
    whole = sum(row.share for row in rows)
    row = Row(Part.WARM_DOWN, easy, whole * rules.WARM_DOWN_PER_CENT / 100, own=False, most=easy.most)
    quiet = next((place for place, each in enumerate(rows) if not each.material.lips), len(rows))
    return [*rows[:quiet], row, *rows[quiet:]]


def _must(row: Row, rows: Sequence[Row], minutes: int) -> bool:
    """Tell whether a row has to be there: warm-up, a warm-down that is needed, the last music, the last own one."""
    if row.part is Part.WARM_UP:
        return True
    if row.part is Part.WARM_DOWN and needs_warm_down(rows, minutes):
        return True
    last_music = row.material.music and sum(each.material.music for each in rows) == 1
    last_own = row.own and sum(each.own for each in rows) == 1
    return last_music or last_own


def _rests(order: Order, minutes: int) -> int:
    """Return the fewest rests that a session may have."""
    rows, _ = _blended(order, minutes)
    strenuous = any(row.material.effort is Effort.STRENUOUS and row.share > 0 for row in rows)
    whole = sum(row.share for row in rows)
    quiet = sum(row.share for row in rows if not row.material.lips) / whole
    run = run_of(order, strenuous=strenuous)
    rests = rules.rests_needed(minutes, run)
    # Minutes in which the lips rest are not played.
    while rests and minutes - rules.REST * (rests - 1) - int(quiet * (minutes - rules.REST * rests)) <= rests * run:
        rests -= 1
    return rests


@lru_cache(4096)
def practice_minutes(order: Order, minutes: int) -> int:
    """Return the minutes of a session that are not rest."""
    return minutes - rules.REST * _rests(order, minutes)


@lru_cache(256)
def _own_minutes(order: Order) -> Mapping[int, int]:
    """Return for each length of session the minutes of the aim's own materials.

    They never fall from one that has music to a longer one that has.
    """
    lengths = range(rules.SHORTEST_SESSION, longest(order) + 1)
    least: dict[int, int] = {}
    before = 0
    for minutes in lengths:
        third = -(-practice_minutes(order, minutes) // 3)
        if minutes >= _THIRD_FROM:
            before = max(before, third)
        least[minutes] = before
    found: dict[int, int] = {}
    above = rules.LONGEST_SESSION
    for minutes in reversed(lengths):
        if minutes < _THIRD_FROM:
            above = rules.LONGEST_SESSION
        practice = practice_minutes(order, minutes)
        rows, _ = _kept(order, minutes, practice)
        whole = sum(row.share for row in rows)
        own = sum(row.share for row in rows if row.own) / whole
        others = sum(row.least(minutes) for row in rows if not row.own)
        most = sum(row.most for row in rows if row.own)
        room = min(int(own * practice), practice - others, most)
        if not any(row.material.music for row in rows):
            # Without music there is more time for the aim.
            found[minutes] = max(-(-practice // 3), room)
            continue
        above = min(above, room)
        found[minutes] = max(least[minutes], above)
    return found


def shared_out(order: Order, minutes: int, more_rests: int = 0) -> Shared:
    """Return the rows of a session of so many minutes, at most :func:`longest`, with whole minutes that add up.

    They leave room for the fewest rests there can be, and for some ``more_rests``.
    """
    practice = practice_minutes(order, minutes) - rules.REST * more_rests
    rows, told = _kept(order, minutes, practice)
    of_own = _own_minutes(order)[minutes]
    while True:
        own = [row for row in rows if row.own]
        others = [row for row in rows if not row.own]
        if not others:
            of_own = practice
        # Where the one half has more rows than time, the least of them goes.
        crowded = next(
            (
                half
                for half, time in ((own, of_own), (others, practice - of_own))
                if sum(row.least(minutes) for row in half) > time and not all(_must(row, rows, minutes) for row in half)
            ),
            None,
        )
        if crowded is None:
            break
        out = min(
            (row for row in crowded if not _must(row, rows, minutes)), key=lambda row: row.share / row.least(minutes)
        )
        rows = _without(out, rows)
        told.append(_too_little(in_words(out.material), minutes))
    if others:
        of_own = max(of_own, sum(row.least(minutes) for row in own))
        of_own = min(of_own, practice - sum(row.least(minutes) for row in others))
    made = {id(row): each for row, each in zip(own, _whole(own, of_own, minutes), strict=True)}
    made |= {id(row): each for row, each in zip(others, _whole(others, practice - of_own, minutes), strict=True)}
    return Shared(tuple(replace(row, minutes=made[id(row)]) for row in rows), tuple(_plainly(told, rows, minutes)))


def _plainly(told: Sequence[str], rows: Sequence[Row], minutes: int) -> Iterator[str]:
    """Yield what was left out, what stands in for something and was left out itself in one sentence.

    A kind of exercise that is there under another name is not told as missing.
    """
    kinds = {row.material.kind for row in rows}
    out = {
        name: material
        for name, material in ((in_words(each), each) for each in materials().values())
        if _too_little(name, minutes) in told
    }
    for sentence in told:
        what, _, stood_in = sentence.partition(": ")
        stood_in = stood_in.removesuffix(" instead")
        if stood_in in out:
            missed = out[stood_in].kind not in kinds
            yield f"{what}, and {minutes} minutes are too few for {stood_in} instead" if missed else what
        elif not any(
            sentence == _too_little(name, minutes) and (material.kind in kinds or _stands_in(name, told))
            for name, material in out.items()
        ):
            yield sentence


def _stands_in(name: str, told: Sequence[str]) -> bool:
    return any(sentence.endswith(f": {name} instead") for sentence in told)


def _whole(rows: Sequence[Row], minutes: int, session: int) -> list[int]:
    """Return whole minutes for rows by their shares, by largest remainder, each from its least to its most.

    What cannot be had that way is given to, or taken from, the longest.
    """
    if not rows:
        return []
    bounds = [(row.least(session), row.most) for row in rows]
    fixed: dict[int, float] = {}
    exact: dict[int, float] = {}
    while True:
        free = [place for place in range(len(rows)) if place not in fixed]
        left = minutes - sum(fixed.values())
        whole = sum(rows[place].share for place in free)
        exact = {place: left * rows[place].share / whole for place in free} if whole else {}
        low = [place for place in free if exact[place] < bounds[place][0]]
        high = [place for place in free if exact[place] > bounds[place][1]]
        if not low and not high:
            break
        lack = sum(bounds[place][0] - exact[place] for place in low)
        over = sum(exact[place] - bounds[place][1] for place in high)
        fixed |= {place: bounds[place][lack < over] for place in (high if lack < over else low)}
        if len(fixed) == len(rows):
            break
    values = {place: int(share) for place, share in exact.items() if place not in fixed} | {
        place: int(value) for place, value in fixed.items()
    }
    order = sorted(range(len(rows)), key=lambda place: (-(exact.get(place, 0) % 1), place))
    all_fixed = len(fixed) == len(rows)
    while (over := sum(values.values()) - minutes) != 0:
        step = 1 if over < 0 else -1
        inside = [place for place in order if bounds[place][0] <= values[place] + step <= bounds[place][1]]
        able = [place for place in inside if all_fixed or place not in fixed] or inside
        able = able or [place for place in order if values[place] + step >= bounds[place][0]] or order
        place = able[0] if step > 0 else able[-1]
        values[place] += step
        order.remove(place)
        order.insert(len(order) if step > 0 else 0, place)
    return [values[place] for place in range(len(rows))]
