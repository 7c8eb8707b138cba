"""The rules that every plan keeps, worked out here again; common practice, no source, but for what names one."""

from collections.abc import Iterator
from itertools import pairwise

from etudegen.practice.levels import level
from etudegen.practice.plan import Plan
from etudegen.practice.rules import Part

_STRENUOUS = {"contact", "range"}
_EASY = {"long-tones", "pedals", "slurs-down"}


def broken(plan: Plan) -> Iterator[str]:
    """Yield what a plan breaks, nothing where it is as it should be."""
    blocks = plan.blocks
    resting = {Part.REST}
    if sum(block.minutes for block in blocks) != plan.minutes:
        yield "the minutes do not add up"
    # Beyond what the lips can do, what is left is rest, however short.
    body = blocks[:-1] if blocks[-1].part in resting else blocks
    if any(block.minutes < 3 or not block.why for block in body):
        yield "a block is too short, or has no reason"
    if blocks[0].part is not Part.WARM_UP or blocks[0].strenuous or blocks[0].tempo > 60:
        yield "it does not begin with an easy warm-up"
    if not blocks[0].settings.get("ramp") and blocks[0].high.number > max(72, blocks[0].low.number + 3):
        yield "the warm-up is not low"
    if any(block.minutes < 5 for block in body if block.part in resting):
        yield "a rest is shorter than five minutes"
    run = longest = 0
    for block in blocks:
        run = 0 if block.part in resting or block.kind == "writing-down" else run + block.minutes
        longest = max(longest, run)
    strenuous = any(block.kind in _STRENUOUS for block in blocks)
    known = level(plan.level)
    # G. Klickstein, "Taking Breaks", 2011: five minutes of rest after twenty-five; sooner when it is strenuous.
    allowed = known.strenuous_run if strenuous else known.run
    if longest > (min(12 + 3, allowed) if plan.returning else allowed):
        yield f"{longest} minutes of playing without a rest"
    for before, after in pairwise(blocks):
        if before.part in resting and after.part in resting:
            yield "two rests in a row"
        easy = after.material in _EASY or after.part in (Part.REST, Part.WARM_DOWN) or after.kind == "writing-down"
        if before.kind in _STRENUOUS and not easy:
            yield f"{after.kind} right after {before.kind}"
    played = [block for block in blocks if block.part not in resting and block.kind != "writing-down"]
    last = played[-1]
    easy = last.part is Part.WARM_DOWN and last.material in _EASY and last.tempo <= 60
    if (min(plan.minutes, known.longest) >= 60 or strenuous) and not plan.returning and not easy:
        yield "it does not end low and easy"
    if plan.minutes > 30 and not any(block.part in (Part.MUSIC, Part.CHANGES) for block in blocks):
        yield "no music"
    playing = sum(block.minutes for block in blocks if block.part not in resting)
    if plan.minutes >= 30 and sum(block.minutes for block in blocks if block.kind in _STRENUOUS) > playing / 5 + 1:
        yield "more than a fifth is strenuous"
    if plan.returning and (strenuous or playing > 75):
        yield "too much after weeks off"
    if playing > known.longest:
        yield "more than the lips can do at this level"
