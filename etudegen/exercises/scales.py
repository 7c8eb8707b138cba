"""Scales through the keys, by default over the player's full range."""

from dataclasses import dataclass
from pathlib import Path

from etudegen.exercises.keyed import CAUTION, Keyed, own_file_setting
from etudegen.exercises.range_text import span_of
from etudegen.exercises.settings import one_of, setting
from etudegen.exercises.traversal import Extent, path
from etudegen.study import Study
from etudegen.theory.scales import scale, scale_names

INSTRUCTION = (
    "Even notes and one sound from bottom to top: let the air lead, and play the low notes as fully as the high."
)


@dataclass(frozen=True, kw_only=True)
class Parameters(Keyed):
    """What a scale sheet can be asked for. Checked when made: raises :class:`~etudegen.errors.InputError`."""

    scale: str = setting("major", f"one of {', '.join(scale_names())}, or your own", str, "NAME")
    scales: Path | None = own_file_setting("scales")
    extent: Extent = setting(
        Extent.FULL, "octaves: one, two, or full for the whole range", one_of(Extent, "extent"), "EXTENT"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        scale(self.scale, self.scales)


def study(parameters: Parameters) -> Study:
    """Make a study of one kind of scale: one line a key, from the tonic, as far as the extent goes, and home."""
    of = scale(parameters.scale, parameters.scales)
    lines, skipped = parameters.in_keys(
        of,
        lambda key: path(key, parameters.low, parameters.high, parameters.extent),
        f"extent {parameters.extent} does not fit {parameters.span}",
    )
    kind = of.name.replace("-", " ")
    return parameters.study(
        name=parameters.file_stem("scales", of.name, parameters.extent, parameters.rhythm, parameters.articulation),
        title=f"{kind[0].upper()}{kind[1:]} scales" if of.name != "chromatic" else "Chromatic scales",
        about=(
            span_of(lines, parameters.low, parameters.high),
            parameters.keys_text(lines),
            f"{parameters.rhythm}, {parameters.spoken.name}",
        ),
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )
