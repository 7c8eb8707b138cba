"""Range studies: the whole range by scale or arpeggio, or lines that climb by half steps to the top note."""

from dataclasses import dataclass
from enum import StrEnum

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, Rests
from etudegen.exercises.keyed import Keyed
from etudegen.exercises.range_text import span_of
from etudegen.exercises.settings import one_of, setting, whole_number
from etudegen.exercises.traversal import Extent, complete, path
from etudegen.study import Line, Skipped, Study
from etudegen.theory.chords import chord
from etudegen.theory.degrees import parse_degrees
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import respelled, scale

INSTRUCTION = "Play from the air, never by pressing. Leave a line out as soon as the sound gets thin or the lips press."
CAUTION = (
    "Range work is strenuous: only when warmed up, never last in a session, and rest at least as long as you play. "
    f"{HEALTH}"
)
_CLIMB = parse_degrees("1 2 3 4 5 4 3 2 1")
_CLIMBING_LINES = 8
_MOST_REACH = 2


class Form(StrEnum):
    """What carries the player over the range."""

    CLIMB = "climb"
    SCALE = "scale"
    ARPEGGIO = "arpeggio"


@dataclass(frozen=True, kw_only=True)
class Parameters(Keyed):
    """What a range study can be asked for. Checked when made: raises :class:`InputError`."""

    form: Form = setting(
        Form.CLIMB,
        "climb (lines that rise by half steps to the top note), scale or arpeggio (the whole range in each key)",
        one_of(Form, "form"),
        "FORM",
    )
    reach: int = setting(
        0,
        f"half steps above the highest comfortable note, up to {_MOST_REACH}",
        whole_number("reach", 0, _MOST_REACH),
        "N",
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.rests is not Rests.EQUAL:
            raise InputError(f"rest {self.rests} is not allowed: range work takes at least equal rest, so choose equal")
        if self.form is Form.CLIMB and (self.keys or self.order):
            raise InputError("a climb goes by half steps and not by keys: leave out keys and order, or choose a form")

    @property
    def top(self) -> WrittenPitch:
        """The highest note to play."""
        return self.high if not self.reach else respelled(self.high.above(0, self.reach), 1)


def _climbs(parameters: Parameters) -> tuple[list[Line], list[Skipped]]:
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


def _whole_ranges(parameters: Parameters) -> tuple[list[Line], list[Skipped]]:
    return parameters.in_keys(
        scale("major") if parameters.form is Form.SCALE else chord("major").as_scale(),
        lambda key: complete(path(key, parameters.low, parameters.top, Extent.FULL), key),
        f"it does not fit {parameters.span}",
    )


def study(parameters: Parameters) -> Study:
    """Make a range study with equal rest after each line."""
    climb = parameters.form is Form.CLIMB
    lines, skipped = _climbs(parameters) if climb else _whole_ranges(parameters)
    above = f", reaching {parameters.top.pretty}" if parameters.reach else ""
    how = "climbing by half steps" if climb else f"{parameters.form}s, {parameters.keys_text(lines)}"
    return parameters.study(
        name=parameters.file_stem("range", parameters.form, parameters.rhythm, f"reach-{parameters.reach}"),
        title="Range study",
        about=(
            f"{span_of(lines, parameters.low, parameters.high)}{above}",
            how,
            f"{parameters.rhythm}, {parameters.spoken.name}",
        ),
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )
