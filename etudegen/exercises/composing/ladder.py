"""The notes that a piece is made of: those of its scale in a stretch of the player's range, from the bottom up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from etudegen.instrument.fingerings import ordinary
from etudegen.theory.keys import names_of
from etudegen.theory.pitch import STEPS as LETTERS
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import ConcreteScale, scale, well_spelled

STEPS = 7
LEADING = 6
MODES = {"major": "major", "minor": "natural-minor"}


@dataclass(frozen=True)
class Ladder:
    """The notes of a key from a lowest to a highest, each with its step of the scale, 0 to 6.

    Over the dominant of a minor key the leading note is raised.
    """

    key: ConcreteScale
    mode: str
    notes: tuple[WrittenPitch, ...]

    @cached_property
    def steps(self) -> tuple[int, ...]:
        """The step of the scale that each note stands on."""
        first = LETTERS.index(self.notes[0].step) - LETTERS.index(self.key.tonic.step)
        return tuple((first + place) % STEPS for place in range(len(self.notes)))

    @cached_property
    def numbers(self) -> tuple[int, ...]:
        """The key number of each note."""
        return tuple(note.number for note in self.notes)

    @cached_property
    def raised(self) -> tuple[int, ...]:
        """The key number of each note over a dominant."""
        raises = self.mode == "minor"
        return tuple(
            number + (raises and step == LEADING) for number, step in zip(self.numbers, self.steps, strict=True)
        )

    @cached_property
    def valves(self) -> tuple[str, ...]:
        """The fingering of each note."""
        return tuple(str(resonance.valves) if (resonance := ordinary(note)) else "" for note in self.notes)

    def note(self, place: int, *, raised: bool) -> WrittenPitch:
        """Return the note at a place, its leading note raised where that is so."""
        note = self.notes[place]
        if raised and self.mode == "minor" and self.steps[place] == LEADING:
            return WrittenPitch(note.step, note.alter + 1, note.octave)
        return note


def ladder(key: ConcreteScale, mode: str, low: WrittenPitch, high: WrittenPitch) -> Ladder:
    """Return the notes of a key from a lowest to a highest one that have a fingering, raised or not."""
    made = Ladder(key, mode, tuple(note for note in key.members(low, high, rising=True) if ordinary(note)))
    if made.notes and made.raised[-1] > high.number:
        return replace(made, notes=made.notes[:-1])
    return made


def key_of(tonic: WrittenPitch, mode: str) -> ConcreteScale:
    """Return the scale of a key, by the name of its tonic on which no note needs a double accidental."""
    key = well_spelled(tonic, scale(MODES[mode]), keep=True)
    if mode == "minor" and key.scale.up[LEADING].above(key.tonic).alter > 0:
        return next(
            other
            for name in names_of(tonic.number)
            if not (other := ConcreteScale(name, key.scale)).lacks_signature
            and key.scale.up[LEADING].above(name).alter <= 0
        )
    return key


def stretches(whole: Sequence[WrittenPitch], half_steps: int) -> list[tuple[int, int]]:
    """Return the first and last places of stretches of so many half steps at most, each as wide as it can be."""
    found: list[tuple[int, int]] = []
    for first, low in enumerate(whole):
        last = max(place for place, note in enumerate(whole) if note.number - low.number <= half_steps)
        if not found or last > found[-1][1]:
            found.append((first, last))
    return found
