"""Ways through a key's notes inside a player's range: up, down, and home to where they started."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Any, TypeVar

from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import ConcreteScale

_OCTAVE = 12
P = TypeVar("P", bound=Any)


class Extent(StrEnum):
    """How far a scale or an arpeggio goes."""

    ONE = "one"
    TWO = "two"
    FULL = "full"

    @property
    def half_steps(self) -> int | None:
        """The distance from the first note to the top, None for as far as the range goes."""
        return {"one": _OCTAVE, "two": 2 * _OCTAVE}.get(self.value)


def within_an_octave(parameters: P) -> P:
    """Return parameters of scales or arpeggios that go no further than an octave, where the range has one."""
    fits = parameters.high.number - parameters.low.number >= _OCTAVE
    return replace(parameters, extent=Extent.ONE) if fits else parameters


def path(
    key: ConcreteScale,
    low: WrittenPitch,
    high: WrittenPitch,
    extent: Extent,
    starts: Callable[[WrittenPitch], bool] | None = None,
) -> list[WrittenPitch]:
    """Return the notes of a scale or arpeggio from its lowest starting note in range, up, down and back to it.

    ``starts`` tells the notes it may start and end on (the tonic, if left out). ``full`` goes to the highest member
    of the key in range, then down to the lowest, then back to the first note. Where the ways up and down differ it
    turns on members of both, so that the two forms of one degree never meet. Returns no notes where the extent does not
    fit into the range.
    """
    rising = key.members(low, high, rising=True)
    falling = key.members(low, high, rising=False)
    first = next(filter(starts or key.is_tonic, rising), None)
    if first is None:
        return []
    if extent.half_steps is not None:
        top = first.number + extent.half_steps
        up = [note for note in rising if first.number <= note.number <= top]
        down = [note for note in reversed(falling) if first.number <= note.number < top]
        return [*up, *down] if up[-1].number == top else []
    turns = {note.number for note in rising} & {note.number for note in falling}
    top, bottom = max(turns), min(turns)
    up = [note for note in rising if first.number <= note.number <= top]
    down = [note for note in reversed(falling) if bottom <= note.number < top]
    home = [note for note in rising if bottom < note.number <= first.number]
    return [*up, *down, *home] if down else []


def complete(notes: list[WrittenPitch], key: ConcreteScale) -> list[WrittenPitch]:
    """Return the notes if every member of the key is among them, else none: half a chord is no arpeggio."""
    there = {(note.number - key.tonic.number) % _OCTAVE for note in notes}
    return notes if {degree.half_steps % _OCTAVE for degree in key.scale.up} <= there else []


def to_and_fro(rungs: Sequence[WrittenPitch], start: int, step: int, count: int) -> list[WrittenPitch]:
    """Return so many notes along the rungs, up or down by ``step``, which turn at both ends and repeat none."""
    notes, place = [], start
    for _ in range(count):
        notes.append(rungs[place])
        if not 0 <= place + step < len(rungs):
            step = -step
        place += step
    return notes
