"""A session by a routine's shares: which of its blocks there are, how long each is, and where the rests fall."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from etudegen.exercises.kinds import practice_of
from etudegen.exercises.long_tones import ToneOrder
from etudegen.practice import rules
from etudegen.practice.profile import Pedals, Profile
from etudegen.practice.routines import Routine, RoutineBlock
from etudegen.practice.rules import Part

# Common practice, no source: where a routine says nothing else the lips let go on long tones.
_WARM_DOWN = RoutineBlock(
    Part.WARM_DOWN,
    "long-tones",
    0,
    "Easy and low at the end, so that the lips let go.",
    settings={"order": ToneOrder.DOWN},
)
_MUSIC = RoutineBlock(Part.MUSIC, "repertoire", 20, "Music is what all the rest is for.")
# What it costs to cut a run of playing at a minute: between two blocks, next to or inside a card, inside a study,
# inside one that is a single set.
_BETWEEN, _IN_CARD, _IN_STUDY, _IN_A_SET, _TOO_SMALL = 0, 6, 20, 500, 1000
_BESIDE_STRENUOUS = -8
_MUST = -10_000


def laid_by_routine(
    routine: Routine, profile: Profile, minutes: int, *, returning: bool
) -> list[tuple[RoutineBlock | None, int]]:
    """Return the blocks of a session by a routine with their minutes, rests (None) between them."""
    wanted = _wanted(routine, profile, minutes, returning=returning)
    strenuous = any(rules.is_strenuous(block.kind) for block in wanted)
    run = rules.longest_run(strenuous=strenuous, returning=returning)
    rests = rules.rests_needed(minutes, run)
    while True:
        shares = _shared_out(wanted, minutes, minutes - rests * rules.REST)
        cut = _cut([*zip(wanted, shares, strict=True)], rests, run)
        if cut is not None:
            return cut
        rests += 1


def _wanted(routine: Routine, profile: Profile, minutes: int, *, returning: bool) -> list[RoutineBlock]:
    """Return the blocks of a routine that this session has, with what the rules add."""
    blocks = [
        block
        for block in routine.blocks
        if minutes >= block.shortest
        and not (returning and rules.is_strenuous(block.kind))
        and not (profile.pedals is Pedals.NONE and _is_in_pedal_register(block.kind))
        and block.part is not Part.WARM_DOWN
    ]
    own_material = any(block.part in (Part.MUSIC, Part.CHANGES) for block in blocks)
    if minutes > rules.NO_MUSIC_UP_TO and not own_material:
        blocks.append(_MUSIC)
    strained = any(rules.is_strenuous(block.kind) for block in blocks)
    run = rules.longest_run(strenuous=strained, returning=returning)
    playing = minutes - rules.REST * rules.rests_needed(minutes, run)
    # The warm-down, where there is one, comes on top.
    while len(blocks) > 1 and rules.SHORTEST_BLOCK * (len(blocks) + strained) > playing:
        droppable = [block for block in blocks[1:] if block.part not in (Part.MUSIC, Part.CHANGES)] or blocks[1:]
        blocks.remove(min(droppable, key=lambda block: block.share))
    strenuous = any(rules.is_strenuous(block.kind) for block in blocks)
    if minutes >= rules.LONG_SESSION or strenuous:
        own = next((block for block in routine.blocks if block.part is Part.WARM_DOWN), _WARM_DOWN)
        blocks.append(own)
    return blocks


def _is_in_pedal_register(kind: str) -> bool:
    practice = practice_of(kind)
    return practice is not None and practice.pedal_register


def _shared_out(blocks: Sequence[RoutineBlock], session: int, playing: int) -> list[int]:
    """Return minutes for each block that add up to the playing time, by share, each long enough to be worth it."""
    fixed: dict[int, int] = {}
    if blocks[-1].part is Part.WARM_DOWN:
        fixed[len(blocks) - 1] = min(rules.warm_down_minutes(session), playing // 4)
    total = sum(block.share for place, block in enumerate(blocks) if place not in fixed)
    warm_up = round(playing * blocks[0].share / total)
    if len(blocks) > 1:
        fixed[0] = min(rules.LONGEST_WARM_UP, max(rules.SHORTEST_WARM_UP, warm_up))
    free = [place for place in range(len(blocks)) if place not in fixed]
    left = playing - sum(fixed.values())
    exact = {place: left * blocks[place].share / sum(blocks[each].share for each in free) for place in free}
    minutes = {place: max(rules.SHORTEST_BLOCK, int(exact[place])) for place in free}
    # What rounding left over goes where most is missing, or is taken from the longest.
    while (over := sum(minutes.values()) - left) != 0:
        if over < 0:
            place = max(free, key=lambda each: exact[each] - minutes[each])
            minutes[place] += 1
        else:
            place = max(free, key=lambda each: minutes[each])
            minutes[place] -= 1
    return [fixed[place] if place in fixed else minutes[place] for place in range(len(blocks))]


def _cost_of_cut(blocks: Sequence[tuple[RoutineBlock, int]], at: int) -> int:
    """Return what it costs to rest after so many minutes of playing."""
    end = 0
    for place, (block, minutes) in enumerate(blocks):
        start, end = end, end + minutes
        if at == end:
            neighbours = [block, *(each for each, _ in blocks[place + 1 : place + 2])]
            strenuous = sum(rules.is_strenuous(each.kind) for each in neighbours)
            return (_MUST if strenuous == len(neighbours) > 1 else _BETWEEN) + strenuous * _BESIDE_STRENUOUS
        if start < at < end:
            if min(at - start, end - at) < rules.SHORTEST_BLOCK:
                return _TOO_SMALL
            practice = practice_of(block.kind)
            if practice is not None and practice.unbroken:
                return _IN_A_SET
            return _IN_CARD if block.part in (Part.MUSIC, Part.CHANGES) else _IN_STUDY
    return _TOO_SMALL


def _cuts(blocks: Sequence[tuple[RoutineBlock, int]], rests: int, run: int) -> tuple[int, ...] | None:
    """Return the cheapest minutes of playing to rest after, with no run longer than allowed; None if there are none."""
    playing = sum(minutes for _, minutes in blocks)
    costs = [_cost_of_cut(blocks, at) for at in range(playing)]
    best: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for _ in range(rests):
        found: dict[int, tuple[int, tuple[int, ...]]] = {}
        for start, (cost, before) in best.items():
            for at in range(start + 1, min(start + run, playing - 1) + 1):
                # Runs that are about equal come first where nothing else decides.
                candidate = (cost + 10 * costs[at] + abs(at - start - playing // (rests + 1)), (*before, at))
                if at not in found or candidate < found[at]:
                    found[at] = candidate
        best = found
    ends = [value for at, value in best.items() if playing - at <= run]
    cheapest = min(ends, default=None)
    return cheapest[1] if cheapest and all(costs[at] < _TOO_SMALL for at in cheapest[1]) else None


def _cut(
    blocks: Sequence[tuple[RoutineBlock, int]], rests: int, run: int
) -> list[tuple[RoutineBlock | None, int]] | None:
    """Return the blocks with rests (None) between them; None where they cannot be cut well with so few rests."""
    cuts = _cuts(blocks, rests, run)
    if cuts is None:
        return None
    pieces = list(_pieces(blocks, cuts))
    for (one, _), (other, _) in pairwise(pieces):
        if one and other and rules.is_strenuous(one.kind) and rules.is_strenuous(other.kind):
            return None
    return pieces


def _pieces(
    blocks: Sequence[tuple[RoutineBlock, int]], cuts: Sequence[int]
) -> Iterator[tuple[RoutineBlock | None, int]]:
    now = 0
    for block, minutes in blocks:
        end = now + minutes
        for at in cuts:
            if now < at <= end:
                yield block, at - now
                yield None, rules.REST
                now = at
        if now < end:
            yield block, end - now
        now = end
