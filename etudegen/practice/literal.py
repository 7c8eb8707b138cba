"""A session that is kept to the minute as it was said, and what of the rules it departs from, told with the remedy."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from etudegen.practice import rules
from etudegen.practice.routines import Routine, RoutineBlock
from etudegen.practice.rules import Part

_EASY_KINDS = ("long-tones", "slurs", "bends", "pedals")
_LIPS_REST = ("writing-down", "rest")
_LOW_AND_EASY = ("long-tones", "pedals")
_REST = RoutineBlock(Part.REST, "rest", 0, "", minutes=rules.REST)


def pieces_of(routine: Routine, run: int, *, with_rests: bool) -> list[tuple[RoutineBlock, int, bool]]:
    """Return the blocks of a routine with their minutes and whether they go on after a rest.

    With ``with_rests`` there are rests wherever more than ``run`` minutes would be played without one, and between
    strenuous blocks; a block that has to be cut is.
    """
    pieces: list[tuple[RoutineBlock, int, bool]] = []
    played, strained = 0, False
    for block in routine.blocks:
        left, continued = block.minutes, False
        lips = block.kind not in _LIPS_REST
        strenuous = rules.is_strenuous(block.kind)
        if with_rests and lips and strenuous and strained:
            pieces.append((_REST, rules.REST, False))
            played = 0
        while with_rests and lips and played + left > run:
            # What would leave a scrap on either side of the rest goes as a whole behind it.
            room = run - played
            first = min(room, left - rules.SHORTEST_PIECE)
            if played and (first < rules.SHORTEST_PIECE or left <= run):
                first = 0
            first = min(max(first, 0), run)
            if first:
                pieces.append((block, first, continued))
                continued = True
                left -= first
            elif not played:
                break
            pieces.append((_REST, rules.REST, False))
            played = 0
        pieces.append((block, left, continued))
        played = played + left if lips else 0
        strained = strenuous
    return pieces


def departures(blocks: Sequence[tuple[RoutineBlock, int]], run: int, longest: int) -> Iterator[str]:
    """Yield what of the rules so many minutes of blocks depart from, a sentence each with the remedy."""
    first = blocks[0][0]
    if first.kind not in _EASY_KINDS:
        yield f"It begins with {first.kind}, which is no warm-up: put 'long-tones 5' or 'slurs 5 ramp' first."
    played = most = 0
    for block, minutes in blocks:
        played = 0 if block.kind in _LIPS_REST else played + minutes
        most = max(most, played)
    if most > run:
        yield f"{most} minutes are played without a rest, not {run}: say --with-rests, or 'rest 5' between."
    for (one, _), (other, _) in pairwise(blocks):
        if rules.is_strenuous(one.kind) and other.kind not in (*_LIPS_REST, *_LOW_AND_EASY):
            yield f"{other.kind} follows right after {one.kind}, which strains: put 'rest 5' or 'long-tones 5' between."
    playing = [block for block, _ in blocks if block.kind not in _LIPS_REST]
    minutes = sum(length for block, length in blocks if block.kind != "rest")
    strenuous = any(rules.is_strenuous(block.kind) for block in playing)
    if playing and (minutes >= rules.LONG_SESSION or strenuous) and playing[-1].kind not in _LOW_AND_EASY:
        yield f"It ends with {playing[-1].kind}: put 'long-tones 5' or 'pedals 5' last, so that the lips let go."
    if minutes > longest:
        yield f"{minutes} minutes are more than the {longest} that are enough for the lips: make it shorter."
    if minutes > rules.NO_MUSIC_UP_TO and not any(block.part in (Part.MUSIC, Part.CHANGES) for block, _ in blocks):
        yield "There is no music in it: put in 'repertoire 15', or a tune."
