"""Long tones: steady tone, low and quiet, to open a session and to close it."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, Common, ordinary_tone, tempo_setting
from etudegen.exercises.range_text import span_of
from etudegen.exercises.settings import one_of, setting, whole_number
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


class Order(StrEnum):
    """Which tone comes next."""

    OUTWARD = "outward"
    DOWN = "down"


class Dynamics(StrEnum):
    """What the loudness does."""

    LEVEL = "level"
    SWELL = "swell"


@dataclass(frozen=True, kw_only=True)
class Parameters(Common):
    """What a sheet of long tones can be asked for. Checked when made: raises :class:`InputError`."""

    tempo: int = tempo_setting(60)
    order: Order = setting(
        Order.OUTWARD,
        "outward (a half step below and above in turn, to both ends of the range) or down (the gentle one)",
        one_of(Order, "order"),
        "ORDER",
    )
    start: WrittenPitch | None = setting(
        None, "note to start on, written", WrittenPitch.parse, "NOTE", "G4, or the middle of the range"
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


def _order(parameters: Parameters) -> Iterator[WrittenPitch]:
    first = parameters.first
    yield first
    below = range(first.number - 1, parameters.low.number - 1, -1)
    above = range(first.number + 1, parameters.high.number + 1) if parameters.order is Order.OUTWARD else range(0)
    for step in range(max(len(below), len(above))):
        if step < len(below):
            yield respelled(WrittenPitch.from_number(below[step]), -1)
        if step < len(above):
            yield respelled(WrittenPitch.from_number(above[step]), 1)


def study(parameters: Parameters) -> Study:
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
    how = "swelling" if swell else "level"
    return parameters.study(
        name=parameters.file_stem("long-tones", parameters.order, str(parameters.counts), parameters.dynamics),
        title="Long tones",
        about=(f"{span_of(lines)}, {parameters.order}", f"{parameters.counts} counts, {how}"),
        instruction=SWELLING if swell else INSTRUCTION,
        caution=CAUTION,
        lines=lines,
    )
