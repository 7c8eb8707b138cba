"""A kind of exercise that is no part of the package: one note at a time, echoed softly. The tests add it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any

from etudegen.exercises.common import Common, ordinary_tone
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.kinds import Kind, Strain
from etudegen.exercises.settings import one_of, setting, whole_number
from etudegen.study import Line, Study
from etudegen.theory.pitch import WrittenPitch


class EchoOrder(StrEnum):
    """Which note comes next."""

    RISING = "rising"
    FALLING = "falling"


@dataclass(frozen=True, kw_only=True)
class EchoParameters(Common):
    """What a sheet of echoes can be asked for."""

    kind = "echoes"

    echoes: int = setting(2, "echoes of each note", whole_number("echoes", 1, 3), "NUMBER")
    order: EchoOrder = setting(EchoOrder.RISING, "rising or falling", one_of(EchoOrder, "order"), "ORDER")

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the order and how many notes there are."""
        yield f"{self.order}, {len(lines)} notes"


def study(parameters: EchoParameters) -> Study:
    """Make a study: each note and its echoes, one bar each."""
    numbers = range(parameters.low.number, parameters.high.number + 1)
    lines = []
    for number in numbers if parameters.order is EchoOrder.RISING else reversed(numbers):
        tone = ordinary_tone(WrittenPitch.from_number(number), Fraction(4))
        echoes = [replace(tone, dynamic="p")] * parameters.echoes
        lines.append(Line("", parameters.with_rest(parameters.dressed([tone, *echoes]))))
    return parameters.study(title="Echoes", instruction="Listen.", caution="Rest when the rests say so.", lines=lines)


def _choices(occasion: Occasion) -> Iterator[Choice]:
    for order in occasion.choices_of("order", tuple(EchoOrder)):
        yield Choice({"order": order}, order)


EXERCISE = Exercise(
    parameters=EchoParameters, study=study, page_name="echoes far away", practice=Practice(choices=_choices)
)
ECHOES = Kind("echoes", "Notes that come back from the harbour wall.", Strain.EASY, __name__)


def each_note_is_heard_with_its_echoes(parameters: Any, study: Study) -> None:
    """Raise AssertionError where a line is not one note as often as asked for."""
    for line in study.lines:
        heard = [tone.pitch.number for tone in line.tones]
        assert heard == heard[:1] * (1 + parameters.echoes)
