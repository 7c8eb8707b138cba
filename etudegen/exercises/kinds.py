"""The one table of the kinds of exercise. A new kind is a new row here and a module of its own."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from etudegen.exercises import slurs
from etudegen.exercises.common import Common
from etudegen.study import Study


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of exercise: its name as a command, what it is for, its parameters and what makes the study."""

    name: str
    purpose: str
    parameters: type[Common]
    study: Callable[[Any], Study]


KINDS = (
    Kind(
        "slurs",
        "Lip slurs: each line moves between the partials of one valve position.",
        slurs.SlurParameters,
        slurs.study,
    ),
)
