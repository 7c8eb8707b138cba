"""Range studies: the whole range by scale or arpeggio, or lines that climb by half steps to the top note."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, NOTES, Rests, checked_reach
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import Keyed, daily_keys, told_in_keys
from etudegen.exercises.settings import one_of, setting
from etudegen.exercises.span import span_of
from etudegen.exercises.traversal import Extent, complete, path
from etudegen.study import Line, Skipped, Study
from etudegen.theory.chords import chord
from etudegen.theory.degrees import parse_degrees
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import Scale, respelled, scale

INSTRUCTION = "Play from the air, never by pressing. Leave a line out as soon as the sound gets thin or the lips press."
CAUTION = (
    "Range work is strenuous: only when warmed up, never last in a session, and rest at least as long as you play. "
    f"{HEALTH}"
)
_CLIMB = parse_degrees("1 2 3 4 5 4 3 2 1")
_CLIMBING_LINES = 8


class RangeForm(StrEnum):
    """What carries the player over the range."""

    CLIMB = "climb"
    SCALE = "scale"
    ARPEGGIO = "arpeggio"


@dataclass(frozen=True, kw_only=True)
class RangeParameters(Keyed):
    """What a range study can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "range"
    sounding = (*Keyed.sounding, "reach")

    form: RangeForm = setting(
        RangeForm.CLIMB,
        "climb (lines that rise by half steps to the top note), scale or arpeggio (the whole range in each key)",
        one_of(RangeForm, "form"),
        "FORM",
    )
    reach: WrittenPitch | None = setting(
        None, "highest note to aim at on a good day, at most a whole step above high, written", NOTES, "NOTE", "none"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.rests is not Rests.EQUAL:
            raise InputError(f"rest {self.rests} is not allowed: range work takes at least equal rest, so choose equal")
        checked_reach(self.reach, self.high)
        if self.form is RangeForm.CLIMB and (self.keys or self.order):
            raise InputError("a climb goes by half steps and not by keys: leave out keys and order, or choose a form")

    @property
    def top(self) -> WrittenPitch:
        """The highest note to play."""
        if self.reach is None or self.reach.number == self.high.number:
            return self.high
        return self.reach if abs(self.reach.alter) <= 1 else respelled(self.reach, 1)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span with what it reaches for, the keys, and how it is played."""
        above = "" if self.top is self.high else f", reaching {self.top.pretty}"
        yield f"{span_of(lines, self.low, self.high)}{above}"
        climb = self.form is RangeForm.CLIMB
        yield "climbing by half steps" if climb else f"{self.form}s, {self.keys_text(lines)}"
        yield f"{self.running}, {self.spoken.name}"


def _climbs(parameters: RangeParameters) -> tuple[list[Line], list[Skipped]]:
    """Return five notes up and down, the top of each line a half step above the one before, the last at the top."""
    above_tonic = max(degree.half_steps for degree in _CLIMB)
    top = parameters.top.number
    lines = []
    for number in range(top - _CLIMBING_LINES + 1, top + 1):
        key = parameters.key(WrittenPitch.from_number(number - above_tonic), scale("major"))
        tonic = key.tonic_at(number - above_tonic)
        if tonic.number >= parameters.low.number:
            tones = parameters.run([degree.above(tonic) for degree in _CLIMB])
            lines.append(Line(key.name, parameters.with_rest(tones), sharps=key.sharps))
    return lines, [] if lines else [Skipped("climb", f"no five notes of a major scale fit {parameters.span}")]


def _carrier(form: RangeForm) -> Scale:
    return scale("major") if form is RangeForm.SCALE else chord("major").as_scale()


def _whole_ranges(parameters: RangeParameters) -> tuple[list[Line], list[Skipped]]:
    return parameters.in_keys(
        _carrier(parameters.form),
        lambda key: complete(path(key, parameters.low, parameters.top, Extent.FULL), key),
        f"it does not fit {parameters.span}",
    )


def study(parameters: RangeParameters) -> Study:
    """Make a range study with equal rest after each line."""
    climb = parameters.form is RangeForm.CLIMB
    lines, skipped = _climbs(parameters) if climb else _whole_ranges(parameters)
    return parameters.study(
        title="Range study",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the climb, which leads up to the top note, so that half of it is none; then the whole range."""
    asked = occasion.asked.get("form")
    if asked in (None, RangeForm.CLIMB):
        yield Choice({"form": RangeForm.CLIMB}, RangeForm.CLIMB, whole=True)
    if asked is not RangeForm.CLIMB:
        for form in occasion.choices_of("form", (RangeForm.ARPEGGIO, RangeForm.SCALE)):
            yield Choice({"form": form}, form, "keys", daily_keys(_carrier(form), occasion), in_rhythms=True)


EXERCISE = Exercise(
    parameters=RangeParameters,
    study=study,
    page_name="range study",
    practice=Practice(choices=_choices, told=told_in_keys),
)
