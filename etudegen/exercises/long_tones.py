"""Long tones: steady tone, low and quiet, to open a session and to close it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import combinations

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, NOTES, Common, ordinary_tone, tempo_setting
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.settings import one_of, setting, whole_number
from etudegen.exercises.span import span_of
from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import respelled

INSTRUCTION = "Full breath, soft start, one steady sound to the last count. Rest as long as you played."
SWELLING = (
    "Full breath, soft start; swell to the middle and back without a break in the sound. Rest as long as you played."
)
CAUTION = f"Low and quiet: it is meant to feel easy. {HEALTH}"
_MIDDLE = WrittenPitch("G", 0, 4)
_TONES_ON_A_LINE = 2
_SHORTEST, _LONGEST = 2, 32


class ToneOrder(StrEnum):
    """Which tone comes next."""

    OUTWARD = "outward"
    DOWN = "down"


class Dynamics(StrEnum):
    """What the loudness does."""

    LEVEL = "level"
    SWELL = "swell"


@dataclass(frozen=True, kw_only=True)
class LongToneParameters(Common):
    """What a sheet of long tones can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "long-tones"

    tempo: int = tempo_setting(60)
    order: ToneOrder = setting(
        ToneOrder.OUTWARD,
        "outward (a half step below and above in turn, to both ends of the range) or down (the gentle one)",
        one_of(ToneOrder, "order"),
        "ORDER",
    )
    start: WrittenPitch | None = setting(
        None, "note to start on, written", NOTES, "NOTE", "G4, or the middle of the range"
    )
    counts: int = setting(8, "length of each tone in beats", whole_number("counts", _SHORTEST, _LONGEST), "BEATS")
    dynamics: Dynamics = setting(
        Dynamics.LEVEL, "level, or a swell up and down", one_of(Dynamics, "dynamics"), "DYNAMICS"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.start is not None and not self.holds(self.start):
            raise InputError(f"start {self.start} is outside the range: allowed are {self.low} to {self.high}")

    @property
    def first(self) -> WrittenPitch:
        """The note to start on."""
        if self.start is not None:
            return self.start if abs(self.start.alter) <= 1 else respelled(self.start, self.start.alter)
        if self.holds(_MIDDLE):
            return _MIDDLE
        return WrittenPitch.from_number((self.low.number + self.high.number) // 2)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span with the order, and how long and in which way each tone is held."""
        yield f"{span_of(lines)}, {self.order}"
        yield f"{self.counts} counts, {'swelling' if self.dynamics is Dynamics.SWELL else 'level'}"


def _order(parameters: LongToneParameters) -> Iterator[WrittenPitch]:
    first = parameters.first
    yield first
    below = range(first.number - 1, parameters.low.number - 1, -1)
    above = range(first.number + 1, parameters.high.number + 1) if parameters.order is ToneOrder.OUTWARD else range(0)
    for step in range(max(len(below), len(above))):
        if step < len(below):
            yield respelled(WrittenPitch.from_number(below[step]), -1)
        if step < len(above):
            yield respelled(WrittenPitch.from_number(above[step]), 1)


def study(parameters: LongToneParameters) -> Study:
    """Make a study of long tones: each chromatic note of the span once, with a rest after each."""
    swell = parameters.dynamics is Dynamics.SWELL
    lines: list[Line] = []
    events: list[Tone | Rest] = []
    notes = list(_order(parameters))
    for place, note in enumerate(notes, start=1):
        tone = ordinary_tone(note, Fraction(parameters.counts))
        softly = "p" if place == 1 else ""
        shown = parameters.dressed([Tone(note, tone.duration, tone.valves, tone.partial, dynamic=softly, swell=swell)])
        events += parameters.with_rest(shown)
        if place % _TONES_ON_A_LINE == 0 or place == len(notes):
            lines.append(Line("", tuple(events)))
            events = []
    return parameters.study(
        title="Long tones",
        instruction=SWELLING if swell else INSTRUCTION,
        caution=CAUTION,
        lines=lines,
    )


# What a session draws from, in counts.
_LENGTHS = (6, 8, 10, 12, 14, 16)
_MOST_SHEETS = 3


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield tones of several lengths: first those of sheets that fill the time together, whole ones."""
    for counts in [occasion.asked["counts"]] if "counts" in occasion.asked else _lengths(occasion):
        yield Choice({"counts": counts})


def _lengths(occasion: Occasion) -> list[int]:
    shortest = study(LongToneParameters(**{**occasion.asked, **occasion.player, "counts": _LENGTHS[0]}))
    count = shortest.whole_seconds / _LENGTHS[0]
    for sheets in range(1, _MOST_SHEETS + 1):
        fitting = [
            lengths
            for lengths in combinations(_LENGTHS, sheets)
            if occasion.least_seconds <= sum(lengths) * count <= occasion.seconds
        ]
        if fitting:
            chosen = occasion.turn(fitting)[0]
            return [*chosen, *(each for each in _LENGTHS if each not in chosen)]
    return [*_LENGTHS]


EXERCISE = Exercise(
    parameters=LongToneParameters,
    study=study,
    page_name="long tones",
    practice=Practice(choices=_choices, long_notes=True),
    over_drone=True,
)
