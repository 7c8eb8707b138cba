"""Half-step bends: within one partial the lips bring a note down and back, with the valves still."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.exercises.common import HEALTH, NOTES, Common, Fingerings, ordinary_tone, tempo_setting
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.settings import flag, setting
from etudegen.exercises.span import span_of
from etudegen.instrument.tube import cents, equal_tempered_hertz
from etudegen.study import Line, Skipped, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import respelled

INSTRUCTION = (
    "First hear the half step with its own fingering; then hold the first valves and bring the note down with the lips "
    "alone, as far as you heard, and back. The sound stays full all the way."
)
WHOLE_STEP = INSTRUCTION.replace("half step", "whole step")
CAUTION = f"Bends tire the lips sooner than it seems: rest as long as you played. {HEALTH}"
# Common practice, no source: above the eighth partial the neighbours are too close to bend between.
_HIGHEST_PARTIAL = 8
# Common practice, no source: bends start on a middle note, and nobody needs them above C5.
_MIDDLE, _HIGHEST = WrittenPitch("G", 0, 4), WrittenPitch("C", 0, 5)
_HALF, _WHOLE = Fraction(2), Fraction(4)


@dataclass(frozen=True, kw_only=True)
class BendParameters(Common):
    """What a sheet of bends can be asked for. Checked when made: raises :class:`~etudegen.errors.InputError`."""

    kind = "bends"

    low: WrittenPitch = setting(WrittenPitch("B", 0, 3), "lowest note to bend down to, written", NOTES, "NOTE")
    high: WrittenPitch = setting(WrittenPitch("G", 0, 4), "highest note to bend, written", NOTES, "NOTE")
    tempo: int = tempo_setting(60)
    both_ways: bool = flag("go down through the notes and up again")
    whole_step: bool = flag("bend a whole step, for advanced players, where the partials allow it")
    show_cents: bool = flag("tell how many cents the bent note lies below the resonance of the tube")

    @property
    def half_steps(self) -> int:
        """How far the lips bring the note down."""
        return 2 if self.whole_step else 1

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span, and which way it goes."""
        yield span_of(lines)
        yield "down and up" if self.both_ways else "downwards"


def distance_below(partial: int) -> float:
    """Return how far below a partial of the tube the next one lies, in half steps."""
    return math.inf if partial == 1 else cents(partial / (partial - 1)) / 100


def bends(partial: int, half_steps: int) -> bool:
    """Tell whether a note on a partial bends so far instead of slipping to the partial below."""
    return partial <= _HIGHEST_PARTIAL and distance_below(partial) > half_steps


def cents_below_resonance(parameters: BendParameters, tone: Tone) -> float:
    """Return how far a bent tone lies below (negative) the resonance of its held tube, in cents."""
    assert tone.partial is not None and tone.valves is not None  # noqa: PT018
    resonance = parameters.instrument.tube().hertz(tone.partial, tone.valves)
    return cents(equal_tempered_hertz(parameters.instrument.sounding(tone.pitch)) / resonance)


def _line(parameters: BendParameters, note: WrittenPitch) -> Line:
    # Its lower neighbour, so that no natural is needed on the way back.
    below = note.above(-1, -parameters.half_steps)
    first, own = ordinary_tone(note, _HALF), ordinary_tone(below, _HALF)
    back = replace(first, duration=_WHOLE)
    bent = replace(first, pitch=below, bent=parameters.half_steps, slurred=True)
    if parameters.show_cents:
        bent = replace(bent, remark=f"{cents_below_resonance(parameters, bent):+.0f} cents".replace("-", "−"))
    slurred = replace(first, slurred=True)
    reference = parameters.dressed([slurred, replace(own, slurred=True), back])
    # The held valves are what the exercise is about: they are printed at the note and where it is bent.
    held = parameters.dressed([slurred, bent, back])
    if parameters.fingerings is not Fingerings.NONE:
        held = (held[0], replace(held[1], fingering=str(bent.valves)), held[2])
    return Line("", parameters.with_rest((*reference, *held)))


def _order(parameters: BendParameters) -> list[int]:
    """Return the key numbers to bend: from the middle downwards, then, if asked for, up to the top of the range."""
    top = min(parameters.high.number, _HIGHEST.number)
    start = min(top, _MIDDLE.number)
    # What is brought down stays inside the range too.
    bottom = parameters.low.number + parameters.half_steps
    down = list(range(start, bottom - 1, -1))
    up = list(range(bottom + 1, top + 1)) if parameters.both_ways and down else []
    return [*down, *up] or list(range(top, bottom - 1, -1))


def study(parameters: BendParameters) -> Study:
    """Make a study of bends: for each note the interval by valves, then by the lips with the valves held."""
    lines: list[Line] = []
    skipped: list[Skipped] = []
    for number in _order(parameters):
        # Spelled so that the note below has the next letter: flats for half steps, sharps for whole ones.
        note = respelled(WrittenPitch.from_number(number), 1 if parameters.whole_step else -1)
        tone = ordinary_tone(note, _HALF)
        assert tone.partial is not None
        if not bends(tone.partial, parameters.half_steps):
            why = f"partial {tone.partial} lies too close to the one below: it would slip instead of bending"
            skipped.append(Skipped(note.pretty, why))
        elif number - parameters.half_steps < _lowest_ordinary():
            skipped.append(Skipped(note.pretty, "the bend would leave the ordinary range, so no valves can show it"))
        else:
            lines.append(_line(parameters, note))
    if not lines and not skipped:
        skipped.append(Skipped(parameters.span, f"the bend would leave {parameters.span}"))
    if parameters.high.number > _HIGHEST.number:
        skipped.append(Skipped(f"above {_HIGHEST.pretty}", "partials lie so close there that forcing a bend does harm"))
    size = "whole-step" if parameters.whole_step else "half-step"
    return parameters.study(
        title=f"{size.capitalize()} bends",
        instruction=WHOLE_STEP if parameters.whole_step else INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
    )


def _lowest_ordinary() -> int:
    return WrittenPitch("F", 1, 3).number


# Where the bends of a sheet begin and end; the lowest note is only bent down to. The first two take turns, the high
# ones come last.
_SPANS = (
    (WrittenPitch("B", 0, 3), WrittenPitch("G", 0, 4)),
    (WrittenPitch("F", 1, 3), WrittenPitch("B", 0, 3)),
    (WrittenPitch("G", 0, 4), WrittenPitch("C", 0, 5)),
)


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield what lies in range of each span, from day to day in another order, and down only or down and up."""
    lowest, highest = (occasion.player[name].number for name in ("low", "high"))
    both_ways = {"both_ways": occasion.choices_of("both_ways", (False, False, True, True))[0]}
    for low, high in (*occasion.turn(_SPANS[:2]), *_SPANS[2:]):
        inside = max(lowest, low.number), min(highest, high.number)
        if inside[0] < inside[1]:
            span = {"low": WrittenPitch.from_number(inside[0]), "high": WrittenPitch.from_number(inside[1])}
            yield Choice({**span, **both_ways})


EXERCISE = Exercise(
    parameters=BendParameters,
    study=study,
    page_name="bends",
    practice=Practice(choices=_choices, long_notes=True, caution=True),
)
