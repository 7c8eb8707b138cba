"""Scales through the keys, by default over the player's full range."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import CAUTION, NAMES, Keyed, daily_keys, own_file_setting, told_in_keys
from etudegen.exercises.settings import one_of, setting
from etudegen.exercises.span import span_of
from etudegen.exercises.traversal import Extent, path, within_an_octave
from etudegen.plain_text import with_capital
from etudegen.study import Line, Study
from etudegen.theory.scales import practised_scales, scale, scale_names

INSTRUCTION = (
    "Even notes and one sound from bottom to top: let the air lead, and play the low notes as fully as the high."
)


@dataclass(frozen=True, kw_only=True)
class ScaleParameters(Keyed):
    """What a scale sheet can be asked for. Checked when made: raises :class:`~etudegen.errors.InputError`."""

    kind = "scales"

    scale: str = setting("major", f"one of {', '.join(scale_names())}, or your own", NAMES, "NAME")
    scales: Path | None = own_file_setting("scales")
    extent: Extent = setting(
        Extent.FULL, "octaves: one, two, or full for the whole range", one_of(Extent, "extent"), "EXTENT"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        scale(self.scale, self.scales)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span, the keys, and how it is played."""
        yield span_of(lines, self.low, self.high)
        yield self.keys_text(lines)
        yield f"{self.running}, {self.spoken.name}"


def study(parameters: ScaleParameters) -> Study:
    """Make a study of one kind of scale: one line a key, from the tonic, as far as the extent goes, and home."""
    of = scale(parameters.scale, parameters.scales)
    lines, skipped = parameters.in_keys(
        of,
        lambda key: path(key, parameters.low, parameters.high, parameters.extent),
        f"extent {parameters.extent} does not fit {parameters.span}",
    )
    return parameters.study(
        title=f"{with_capital(of.name.replace('-', ' '))} scales",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the scales that are for daily practice."""
    own = occasion.asked.get("scales")
    for name in occasion.choices_of("scale", practised_scales(own), lambda each: scale(each, own).difficulty):
        settings = {"scale": name, **occasion.extent}
        yield Choice(settings, name, "keys", daily_keys(scale(name, own), occasion), in_rhythms=True)


EXERCISE = Exercise(
    parameters=ScaleParameters,
    study=study,
    page_name="scales",
    practice=Practice(choices=_choices, told=told_in_keys, easier=within_an_octave),
    over_drone=True,
)
