"""Plans by the ten thousand: the rules as code over every aim, level and length, and over blends of aims.

    python tests/long_plans.py [every] [blends] [--seed NUMBER]

``every`` takes each so-many-th length only (1: all, some 32,000 orders). Without a seed the blends take one at random;
it is printed. Exit code 1 tells of a breach that is not among the named exceptions.
"""

import argparse
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, product
from pathlib import Path

if __name__ == "__main__":
    # Run as a script, from wherever: the tests beside it are found from the folder above.
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from etudegen.errors import InputError
from etudegen.practice.levels import Level, levels
from etudegen.practice.plan import Plan, make_plan
from etudegen.practice.planning import laying, shares
from etudegen.practice.planning.aims import aim_table
from etudegen.practice.planning.materials import materials
from etudegen.practice.profile import Aim, Profile
from tests.practice.rules_of_plans import broken

LENGTHS = range(10, 241)
_LONGEST_STEP = 6
_SHORT = 20
# How many plans are timed in the full check.
_COLD = 40
_SHARED, _CLEARLY_LESS = 0.8, 0.8
_TUNE = (Path("quay-waltz.musicxml"),)
_MOST_TOLD = 6
# What is known to break a rule, and why.
_FALL_AT_A_REST = "the aim's own minutes fall where a rest comes in"
_FALL_AT_A_BLOCK = "the aim's own minutes fall where a block that is not its own comes in"
_FALL_BY_ONE = "the aim's own minutes fall by one in more than an hour"
_ALIKE = "more than four fifths in common, first months and short sessions up to intermediate"
_LITTLE_LESS = "not clearly less, without music after weeks off"
_STEP_WITH_MUSIC = "a block changes by more than six minutes where music comes in"
EXCEPTIONS: Mapping[str, str] = {
    _FALL_AT_A_REST: "runs of 12 and 15 minutes: five minutes of rest leave less than warm-up, music and the own had",
    _FALL_AT_A_BLOCK: "in twenty minutes or less all that there was before was the aim's own",
    _FALL_BY_ONE: "whole minutes: where a long block is cut in three its pieces are moved by one",
    _LITTLE_LESS: "half an hour of range work is long tones then, as an orchestral player's is",
    _ALIKE: "range work comes later: a beginner who aims at range has long tones and slurs, as one who aims at sound",
    _STEP_WITH_MUSIC: "from 31 minutes on there is music for an advanced player without a tune, too",
}

Minutes = dict[str, int]
Breach = tuple[str, str]


def player(level: Level, *, tune: bool, off: bool) -> Profile:
    """Return somebody of a level."""
    return Profile(label="x", level=level.name, tunes=_TUNE if tune else (), days_since_played=30 if off else 1)


def minutes_of(plan: Plan) -> Minutes:
    """Return the minutes of each material, rests among them."""
    found: Minutes = defaultdict(int)
    for block in plan.blocks:
        found[block.material or "rest"] += block.minutes
    return dict(found)


def own_of(aim: Aim, level: Level) -> frozenset[str]:
    """Return the materials that are an aim's own at a level, those that stand in for them among them."""
    found = set()
    for name in aim_table(aim).own:
        while name in level.instead:
            name = level.instead[name]
        found.add(name)
    return frozenset(found)


def of_one(plan: Plan, own: frozenset[str], level: Level) -> Iterator[str]:
    """Yield what a plan breaks by itself."""
    yield from broken(plan)
    made = minutes_of(plan)
    playing = sum(made.values()) - made.get("rest", 0)
    if plan.minutes >= 15 and 3 * sum(made.get(name, 0) for name in own) < playing:
        yield "less than a third is the aim's own"
    music = sum(length for name, length in made.items() if name in materials() and materials()[name].music)
    if not music and not (plan.minutes <= 30 and plan.level in ("advanced", "professional")):
        yield "no music from ten minutes up"
    for block in plan.blocks:
        known = materials().get(block.material)
        if known and not block.continued and block.part not in ("warm-up", "warm-down"):
            whole = sum(each.minutes for each in plan.blocks if each.material == block.material)
            if whole < known.least(min(plan.minutes, 75 if plan.returning else 240, level.longest)):
                yield f"a block is shorter than it is worth: {known.name} {whole}"


def step(before: Minutes, made: Minutes) -> Iterator[str]:
    """Yield which blocks change by too much from one minute of session to the next."""
    music = [any(materials()[name].music for name in each if name in materials()) for each in (before, made)]
    for name in made.keys() & before.keys() - {"rest"}:
        if abs(made[name] - before[name]) > _LONGEST_STEP:
            yield _STEP_WITH_MUSIC if music == [False, True] else "a block changes by more than six minutes"


def apart(plans: Mapping[Aim, Minutes], own: Mapping[Aim, frozenset[str]], minutes: int, level: Level) -> Iterator[str]:
    """Yield what the plans of two aims have too much in common."""
    for one, other in combinations(plans, 2):
        shared = sum(min(length, plans[other].get(name, 0)) for name, length in plans[one].items() if name != "rest")
        playing = max(sum(made.values()) - made.get("rest", 0) for made in (plans[one], plans[other]))
        if shared > _SHARED * playing:
            alike = (
                _ALIKE
                if level.place == 1 or (level.place <= 3 and minutes < _SHORT)
                else "more than four fifths in common"
            )
            yield f"{alike}: {one} and {other}"
    for one, other in product(plans, plans) if minutes >= 30 else ():
        if own[one].isdisjoint(own[other]):
            has, gives = (sum(plans[each].get(name, 0) for name in own[one]) for each in (one, other))
            if gives > _CLEARLY_LESS * has:
                music = any(materials()[name].music for name in plans[other] if name in materials())
                yield f"{'not clearly less' if music else _LITTLE_LESS}: {one} in {other}"


class Count:
    """What was found."""

    def __init__(self) -> None:
        self.orders = self.distinct = 0
        self.breaches: Counter[str] = Counter()
        self.examples: dict[str, list[str]] = defaultdict(list)
        self.seconds: list[float] = []

    def breach(self, rule: str, where: str) -> None:
        """Count a breach; rules are counted without the aims that they name."""
        where = f"{where} {rule.partition(': ')[2]}"
        rule = rule.split(":")[0]
        self.breaches[rule] += 1
        if len(self.examples[rule]) < _MOST_TOLD:
            self.examples[rule].append(where)

    @property
    def unknown(self) -> int:
        """How many breaches are no known exceptions."""
        return sum(count for rule, count in self.breaches.items() if rule not in EXCEPTIONS)


def sweep(lengths: Sequence[int], count: Count) -> None:
    """Plan for every aim, level and length, with and without a tune, and after weeks off."""
    steady = len(lengths) == len(LENGTHS)
    for level, tune, off in product(levels(), (True, False), (False, True)):
        who = player(level, tune=tune, off=off)
        own = {aim: own_of(aim, level) for aim in Aim}
        before: dict[Aim, Minutes] = {}
        owned: dict[Aim, int] = {}
        for minutes in lengths:
            plans: dict[Aim, Minutes] = {}
            for aim in Aim:
                where = f"{aim} {level.name} {minutes}{' tune' if tune else ''}{' weeks off' if off else ''}"
                count.orders += 1
                begun = time.perf_counter()
                try:
                    plan = make_plan(who, minutes, aim)
                except InputError as error:
                    count.breach(f"no plan ({str(error)[:40]})", where)
                    continue
                count.seconds.append(time.perf_counter() - begun)
                made = plans[aim] = minutes_of(plan)
                for rule in of_one(plan, own[aim], level):
                    count.breach(rule, where)
                has_music = any(materials()[name].music for name in made if name in materials())
                of_own = sum(made.get(name, 0) for name in own[aim])
                if minutes >= 15 and has_music:
                    if of_own < owned.get(aim, 0):
                        had = before.get(aim, {})
                        rule = "the aim's own minutes fall"
                        if made.get("rest", 0) > had.get("rest", 0):
                            rule = _FALL_AT_A_REST
                        elif made.keys() - had.keys() - own[aim]:
                            rule = _FALL_AT_A_BLOCK
                        elif minutes > 60 and owned[aim] - of_own == 1:
                            rule = _FALL_BY_ONE
                        count.breach(rule, f"{where}: {owned[aim]} to {of_own}")
                    owned[aim] = of_own
                if steady and aim in before:
                    for rule in step(before[aim], made):
                        count.breach(rule, f"{where}: {before[aim]} to {made}")
                before[aim] = made
            for rule in apart(plans, own, minutes, level):
                count.breach(rule, f"{level.name} {minutes}{' weeks off' if off else ''}{' tune' if tune else ''}")


def blend(drawn: random.Random, count: Count) -> None:
    """Plan for several aims with weights, over as many days as the weights add up to."""
    level = drawn.choice(levels())
    who = player(level, tune=drawn.random() < 0.7, off=drawn.random() < 0.1)
    aims = drawn.sample(list(Aim), drawn.randint(2, 4))
    weights = {aim: drawn.randint(1, 5) for aim in aims}
    minutes = drawn.randint(10, 240)
    where = f"{ {str(aim): weight for aim, weight in weights.items()} } {level.name} {minutes}"
    turns: Counter[Aim] = Counter()
    together = False
    for day in range(sum(weights.values())):
        count.orders += 1
        plan = make_plan(who, minutes, weights, day=day)
        for rule in broken(plan):
            count.breach(rule, where)
        together = together or len(plan.weights) > 1
        turns.update(dict(plan.weights).keys() if len(plan.weights) == 1 else [])
    if not together and any(turns[aim] != weight for aim, weight in weights.items()):
        count.breach("an aim has not its days", f"{where}: {dict(turns)}")


def cold(count: int, drawn: random.Random) -> list[float]:
    """Return how long plans take where nothing is known of their order yet, in seconds."""
    taken = []
    for _ in range(count):
        for cached in (laying.laid, shares.practice_minutes, shares._own_minutes):
            cached.cache_clear()
        who = player(drawn.choice(levels()), tune=True, off=False)
        begun = time.perf_counter()
        make_plan(who, drawn.randint(10, 240), drawn.choice(list(Aim)))
        taken.append(time.perf_counter() - begun)
    return sorted(taken)


def main(arguments: list[str] | None = None) -> int:
    """Run the check; return 1 where a rule is broken."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("every", nargs="?", type=int, default=1)
    reader.add_argument("blends", nargs="?", type=int, default=600)
    reader.add_argument("--seed", type=int)
    asked = reader.parse_args(arguments)
    seed = random.randrange(2**31) if asked.seed is None else asked.seed
    print(f"seed {seed}")
    count, drawn = Count(), random.Random(seed)
    sweep(LENGTHS[:: asked.every], count)
    for _ in range(asked.blends):
        blend(drawn, count)
    taken = cold(_COLD if asked.every == 1 else 1, drawn)
    print(f"{count.orders} orders; breaches: {sum(count.breaches.values())}, of which unknown {count.unknown}")
    for rule, times in count.breaches.most_common():
        print(f"{times:6} {rule}{f' ({EXCEPTIONS[rule]})' if rule in EXCEPTIONS else ''}")
        for example in count.examples[rule]:
            print(f"         {example}")
    median, slowest = (1000 * each for each in (taken[len(taken) // 2], taken[-1]))
    print(f"a plan of an order that is new: median {median:.0f} ms, slowest {slowest:.0f} ms")
    return 1 if count.unknown else 0


if __name__ == "__main__":
    sys.exit(main())
