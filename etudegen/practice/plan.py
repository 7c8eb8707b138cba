"""A plan: which blocks a session has, in which order, how long each is, and why it is there.

What it is made of follows from the player's aims and level, or from a routine; :mod:`~etudegen.practice.rules` holds
over it. Everything is in whole minutes, and they add up to the minutes asked for.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.plain_text import with_capital
from etudegen.practice import rules
from etudegen.practice.levels import Level, level, level_for
from etudegen.practice.literal import departures, pieces_of
from etudegen.practice.planning.laying import laid
from etudegen.practice.planning.outline import laid_by_routine
from etudegen.practice.planning.shares import Order, longest, run_of
from etudegen.practice.planning.weighing import of_aims, weights_today
from etudegen.practice.profile import Aim, Pedals, Profile
from etudegen.practice.routines import Routine, RoutineBlock
from etudegen.practice.rules import Part
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm

_CONTINUED_WHY = "Continued: goes on where the rest came."
_REST_WHY = "Instrument down: rest is part of practising, not time off it."
_ENOUGH_WHY = "Enough for the lips today: listen, sing, finger in silence, or leave it at that."
# Who knows pedal notes only a little plays few of them.
_FEW_PEDALS = 6


@dataclass(frozen=True, slots=True)
class Block:
    """A block of a session: ``minutes`` long, between ``low`` and ``high`` (written), at ``tempo`` or below.

    A ``continued`` one goes on after a rest with what the block of its kind before it began; ``material`` is what it is
    made of where the plan follows from an aim, ``own`` the file of the tune that was named for it.
    """

    part: Part
    kind: str
    minutes: int
    strenuous: bool
    low: WrittenPitch
    high: WrittenPitch
    tempo: int
    why: str
    settings: Mapping[str, Any] = field(default_factory=dict)
    continued: bool = False
    material: str = ""
    own: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """The blocks of a session, rests included, in playing order.

    ``aim`` is the one with the most weight of those in ``weights``; ``remarks`` tell what was left out and why.
    """

    minutes: int
    aim: Aim
    routine: str
    returning: bool
    blocks: tuple[Block, ...]
    weights: tuple[tuple[Aim, int], ...] = ()
    level: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def aims_told(self) -> str:
        """Its aims, the one with most weight first; what it follows where it is kept as it was said."""
        told = sorted(self.weights, key=lambda each: -each[1])
        return " and ".join(str(aim) for aim, _ in told) or self.routine


def checked_minutes(minutes: int) -> int:
    """Return the length of a session that can be planned, or raise :class:`InputError`."""
    if not rules.SHORTEST_SESSION <= minutes <= rules.LONGEST_SESSION:
        raise InputError(
            f"a session of {minutes} minutes cannot be planned: allowed are {rules.SHORTEST_SESSION} to "
            f"{rules.LONGEST_SESSION}"
        )
    return minutes


def make_plan(
    profile: Profile,
    minutes: int,
    aim: Aim | Mapping[Aim, int] | None = None,
    routine: Routine | None = None,
    *,
    day: int = 0,
    with_rests: bool = False,
    most: Mapping[str, int] | None = None,
    missing: frozenset[str] = frozenset(),
) -> Plan:
    """Plan a session of exactly so many minutes by one aim or several with weights, or by a routine.

    Aims are those of the player if left out; which of them a session has may hang on the number of the ``day``. A
    routine whose blocks have minutes is kept as it was said; ``with_rests`` puts rests into it, which then come on top.
    ``most`` are minutes by material that a plan made of aims keeps to where it can, ``missing`` materials that it does
    without.
    """
    checked_minutes(minutes)
    returning = profile.days_since_played >= rules.WEEKS_OFF
    asked = {aim: 1} if isinstance(aim, Aim) else dict(aim or profile.aims)
    if not any(asked.values()):
        asked = {profile.chief_aim: 1}
    # Not all that this player knows: what hangs on it is kept for all of a level.
    known = level(profile.level) if profile.level else level_for(profile.high)
    known = replace(known, kinds=profile.kinds) if profile.kinds else known
    order = Order((), known, bool(profile.tunes), returning, _missing(profile) | missing, _most(profile, most or {}))
    if routine is not None and routine.literal:
        return _literally(profile, routine, known, order, asked, with_rests=with_rests)
    length = minutes if routine else min(minutes, longest(order))
    weights = weights_today({each: weight for each, weight in asked.items() if weight}, order, length, day)
    chief = max(weights, key=lambda each: each[1])[0]
    blocks: list[Block] = []
    remarks: list[str] = []
    if not profile.level:
        remarks.append(f"Level: {known.name}, taken from the range.")
    if routine is not None:
        blocks = _blocks(profile, laid_by_routine(routine, profile, length, returning=returning), returning=returning)
    else:
        pieces, left_out = laid(of_aims(order, weights), length)
        remarks += [f"{with_capital(told)}." for told in left_out]
        for piece in pieces:
            row = piece.row
            wanted = (
                RoutineBlock(row.part, row.material.kind, 0, row.material.why, 0, row.material.settings)
                if row
                else None
            )
            block = _block(profile, wanted, piece.minutes, returning=returning)
            why = _CONTINUED_WHY if piece.continued else block.why
            named = row.material.name if row else ""
            blocks.append(replace(block, why=why, continued=piece.continued, material=named))
    if length < minutes:
        rest = _block(profile, None, minutes - length, returning=returning)
        blocks.append(replace(rest, why=_ENOUGH_WHY))
        remarks.append(f"{length} minutes are enough for the lips today: the last {minutes - length} are rest.")
    name = routine.name if routine else ""
    shared = tuple((each, asked[each]) for each, _ in weights)
    return Plan(minutes, chief, name, returning, tuple(blocks), shared, known.name, tuple(remarks))


def _literally(
    profile: Profile, routine: Routine, known: Level, order: Order, asked: Mapping[Aim, int], *, with_rests: bool
) -> Plan:
    """Return the plan of a routine as it was said, with what it departs from among the remarks."""
    strenuous = any(rules.is_strenuous(block.kind) for block in routine.blocks)
    run = run_of(order, strenuous=strenuous)
    pieces = pieces_of(routine, run, with_rests=with_rests)
    blocks = []
    for wanted, length, continued in pieces:
        resting = wanted.part is Part.REST
        block = _block(profile, None if resting else wanted, length, returning=order.returning)
        why = _CONTINUED_WHY if continued else block.why
        if "tempo" in wanted.settings:
            # Kept as it was said, but for who has been away.
            block = replace(block, tempo=rules.working_tempo(wanted.settings["tempo"], returning=order.returning))
        blocks.append(replace(block, why=why, continued=continued, own=wanted.own))
    remarks = list(departures([(block, length) for block, length, _ in pieces], run, longest(order)))
    remarks += _too_fast(profile, blocks)
    if order.returning:
        off = profile.days_since_played
        remarks.append(f"After {off} days off the top is lower and tempi are slower than asked for.")
    chief = max(asked, key=lambda aim: asked[aim])
    minutes = sum(block.minutes for block in blocks)
    return Plan(minutes, chief, routine.name, order.returning, tuple(blocks), (), known.name, tuple(remarks))


def _too_fast(profile: Profile, blocks: Sequence[Block]) -> Iterator[str]:
    """Yield for each block with a tempo that this player does not have clean what the fastest one is."""
    for block in blocks:
        clean = min(profile.clean_tempo(rhythm) for rhythm in _rhythms(block))
        if "tempo" in block.settings and block.tempo > clean and not block.continued:
            yield f"{block.kind} at {block.tempo} is faster than what is clean: say {clean}bpm, or leave the tempo out."


def _missing(profile: Profile) -> frozenset[str]:
    """Return the materials that this player does not have, whatever the level says."""
    return frozenset({"pedals"} if profile.pedals is Pedals.NONE else ())


def _most(profile: Profile, most: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    few = {"pedals": _FEW_PEDALS} if profile.pedals is Pedals.SOME else {}
    return tuple(sorted((few | dict(most)).items()))


def _blocks(profile: Profile, pieces: list[tuple[RoutineBlock | None, int]], *, returning: bool) -> list[Block]:
    blocks: list[Block] = []
    begun: RoutineBlock | None = None
    for each, length in pieces:
        block = _block(profile, each, length, returning=returning)
        again = each is not None and each is begun
        blocks.append(replace(block, why=_CONTINUED_WHY, continued=True) if again else block)
        begun = each or begun
    return blocks


def _block(profile: Profile, wanted: RoutineBlock | None, minutes: int, *, returning: bool) -> Block:
    low, high = profile.low, profile.high
    if returning:
        lower = max(low.number, high.number - rules.LOWER_AFTER_WEEKS_OFF)
        high = WrittenPitch.from_number(lower)
    if wanted is None:
        return Block(Part.REST, "rest", minutes, strenuous=False, low=low, high=high, tempo=0, why=_REST_WHY)
    tempo = rules.working_tempo(profile.clean_tempo(Rhythm.QUARTERS), returning=returning)
    # A ramp begins low and easy by itself, and widens.
    if wanted.part in (Part.WARM_UP, Part.WARM_DOWN) and not wanted.settings.get("ramp"):
        easy = max(low.number + 3, min(high.number, rules.EASY_TOP))
        high = high if high.number <= easy else WrittenPitch.from_number(easy)
        tempo = min(tempo, rules.EASY_TEMPO)
    block = Block(
        part=wanted.part,
        kind=wanted.kind,
        minutes=minutes,
        strenuous=rules.is_strenuous(wanted.kind),
        low=low,
        high=high,
        tempo=tempo,
        why=wanted.why,
        settings=wanted.settings,
    )
    return replace(block, tempo=_tempo(profile, block, returning=returning))


def _tempo(profile: Profile, block: Block, *, returning: bool) -> int:
    """Return the tempo to work at: the clean one for the block's rhythm, less in warm-up and long-note work."""
    practice = practice_of(block.kind)
    if block.part in (Part.WARM_UP, Part.WARM_DOWN) or (practice is not None and practice.long_notes):
        return min(block.tempo, rules.EASY_TEMPO)
    clean = min(profile.clean_tempo(rhythm) for rhythm in _rhythms(block))
    return min(block.tempo, rules.working_tempo(clean, returning=returning))


def _rhythms(block: Block) -> tuple[Rhythm, ...]:
    """Return the rhythms that a block usually moves in."""
    if practice_of(block.kind) is None:
        return (Rhythm.EIGHTHS,)
    parameters = kind_named(block.kind).parameters
    try:
        return parameters(**block.settings).rhythms
    except InputError:
        # What the routine asks for goes only with what a sheet chooses besides.
        return parameters().rhythms
