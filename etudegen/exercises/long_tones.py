"""Long tones: steady tone, low and quiet, to open a session and to close it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cached_property
from itertools import zip_longest

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, NOTES, Common, ordinary_tone, tempo_setting
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import TONIC, daily_keys
from etudegen.exercises.settings import one_of, setting, whole_number
from etudegen.exercises.span import span_of
from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import ConcreteScale, respelled, scale, well_spelled

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
    key: WrittenPitch | None = setting(
        None, "only the notes of a major key, by its written tonic", TONIC, "KEY", "every half step"
    )
    counts: int = setting(8, "length of each tone in beats", whole_number("counts", _SHORTEST, _LONGEST), "BEATS")
    dynamics: Dynamics = setting(
        Dynamics.LEVEL, "level, or a swell up and down", one_of(Dynamics, "dynamics"), "DYNAMICS"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.start is not None and not self.holds(self.start):
            raise InputError(f"start {self.start} is outside the range: allowed are {self.low} to {self.high}")
        if self.major is None:
            return
        if not self.notes:
            raise InputError(
                f"key {self.major.name} has no note between {self.low} and {self.high}: give a wider range, another "
                "key, or none for every half step"
            )
        start = self.start
        if start is not None and start.number not in {note.number for note in self.notes}:
            near = sorted(self.notes, key=lambda note: abs(note.number - start.number))[:2]
            raise InputError(
                f"start {self.start} is not in the key of {self.major.name} major: allowed are its notes, such as "
                + " or ".join(map(str, near))
            )

    @property
    def first(self) -> WrittenPitch:
        """The note to start on."""
        if self.start is not None:
            return self.start if abs(self.start.alter) <= 1 else respelled(self.start, self.start.alter)
        middle = _MIDDLE.number if self.holds(_MIDDLE) else (self.low.number + self.high.number) // 2
        return min(self.notes, key=lambda note: (abs(note.number - middle), note.number))

    @cached_property
    def notes(self) -> tuple[WrittenPitch, ...]:
        """The notes of the range, low to high: each half step, or those of the key."""
        if self.major is None:
            return tuple(WrittenPitch.from_number(each) for each in range(self.low.number, self.high.number + 1))
        return tuple(self.major.members(self.low, self.high, rising=True))

    @cached_property
    def major(self) -> ConcreteScale | None:
        """The major scale of the key, if one was asked for."""
        return None if self.key is None else well_spelled(self.key, scale("major"), keep=True)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span with the order, and how long and in which way each tone is held."""
        yield f"{span_of(lines)}, {self.order}"
        if self.major is not None:
            yield f"in {self.major.name}"
        yield f"{self.counts} counts, {'swelling' if self.dynamics is Dynamics.SWELL else 'level'}"


def _order(parameters: LongToneParameters) -> Iterator[WrittenPitch]:
    first = parameters.first
    yield first
    below = [note for note in reversed(parameters.notes) if note.number < first.number]
    above = [note for note in parameters.notes if note.number > first.number]
    in_key = parameters.key is not None
    for low, high in zip_longest(below, above if parameters.order is ToneOrder.OUTWARD else ()):
        if low:
            yield low if in_key else respelled(low, -1)
        if high:
            yield high if in_key else respelled(high, 1)


def study(parameters: LongToneParameters) -> Study:
    """Make a study of long tones: each note of the span, or of a key in it, once, with a rest after each."""
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


# What a session draws from, in counts: even numbers, so that tones on two lines end at barlines together.
_LENGTHS = (4, 6, 8, 10, 12, 14, 16, 20, 24)
_MOST_TIMES = 4
# Who knows keys of so many sharps or flats at most has long tones in one of them.
_FEW_ACCIDENTALS = 3
# By how many half steps the first note of a descent turns from day to day.
_STARTS = (0, 2, -1, 1)


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield tones of the lengths that fill the time best, from a first note that turns with the day."""
    start = _start(occasion)
    for counts in [occasion.asked["counts"]] if "counts" in occasion.asked else _lengths(occasion, start):
        yield Choice({"counts": counts, **start})


def _start(occasion: Occasion) -> dict[str, WrittenPitch]:
    """Return the key of the day for who knows few of them, and the first note of a descent."""
    key = _key(occasion)
    if occasion.asked.get("order") is not ToneOrder.DOWN or "start" in occasion.asked:
        return key
    usual = LongToneParameters(**{**occasion.asked, **occasion.player, **key})
    notes = {note.number: note for note in usual.notes}
    starts = [usual.first.number + by for by in occasion.turn(_STARTS)]
    return {**key, "start": next(notes[number] for number in starts if number in notes)}


def _key(occasion: Occasion) -> dict[str, WrittenPitch]:
    if occasion.bounds.signature > _FEW_ACCIDENTALS or {"key", "start"} & occasion.asked.keys():
        return {}
    keys = daily_keys(scale("major"), occasion)
    return {"key": occasion.turn(keys)[0]} if keys else {}


def _lengths(occasion: Occasion, start: Mapping[str, WrittenPitch]) -> list[int]:
    """Return lengths: first those that fill the time, played as few times as can be, long ones in turn with others."""
    shortest = study(LongToneParameters(**{**occasion.asked, **occasion.player, **start, "counts": _LENGTHS[0]}))
    count = shortest.whole_seconds / _LENGTHS[0]
    known = [each for each in _LENGTHS if each <= occasion.bounds.counts]
    for times in range(1, _MOST_TIMES + 1):
        least, most = (seconds / times for seconds in (occasion.least_seconds, occasion.seconds))
        fitting = [each for each in known if least <= each * count <= most]
        if fitting:
            return occasion.turn(fitting)
    return [max((each for each in known if each * count <= occasion.seconds), default=known[0])]


EXERCISE = Exercise(
    parameters=LongToneParameters,
    study=study,
    page_name="long tones",
    practice=Practice(choices=_choices, long_notes=True),
    over_drone=True,
)
