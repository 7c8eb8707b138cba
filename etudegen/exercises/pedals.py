"""Pedal-register descents: from the ordinary range down to the fundamentals of the tube and below."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.common import BAR, HEALTH, Common, tempo_setting
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.settings import flag, note_between, one_of, setting
from etudegen.instrument.pedals import LOWEST_ORDINARY, BentFingering, is_ordinary, pedal_fingering
from etudegen.study import Line, Study, Tone
from etudegen.theory.degrees import Degree, parse_degrees
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm, running_then_held
from etudegen.theory.scales import respelled

INSTRUCTION = (
    "Slow, soft, with a full breath. Keep the corners and the mouthpiece where they are and let the sound sink; a note "
    "that does not speak yet is left to the air, never forced."
)
CAUTION = f"Rest after each line. {HEALTH}"
_HIGHEST_START = WrittenPitch("C", 0, 4)
_USUAL_LOWEST = WrittenPitch("F", 1, 2)
_LOWEST_ASKED, _HIGHEST_ASKED = WrittenPitch("C", 0, 2), WrittenPitch("F", 0, 3)
_OCTAVE = 12
_LETTERS = 7
_LEAST_HOLD = Fraction(2)


class DescentForm(StrEnum):
    """How a line sinks."""

    CHROMATIC = "chromatic"
    TRIAD = "triad"
    SCALE = "scale"
    OCTAVE = "octave"


_DEGREES = {
    DescentForm.TRIAD: parse_degrees("8 5 3 1"),
    DescentForm.SCALE: parse_degrees("8 7 6 5 4 3 2 1"),
    DescentForm.OCTAVE: parse_degrees("8 1 8"),
}
_RHYTHM_QUARTERS = {DescentForm.CHROMATIC: 1, DescentForm.TRIAD: 2, DescentForm.SCALE: 1, DescentForm.OCTAVE: 2}


@dataclass(frozen=True, kw_only=True)
class PedalParameters(Common):
    """What a sheet of pedal descents can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "pedals"

    tempo: int = tempo_setting(60)
    form: DescentForm = setting(
        DescentForm.TRIAD, f"one of {', '.join(DescentForm)}", one_of(DescentForm, "form"), "FORM"
    )
    lowest: WrittenPitch = setting(
        _USUAL_LOWEST,
        f"lowest pedal note, written, down to {_LOWEST_ASKED}",
        note_between(_LOWEST_ASKED, _HIGHEST_ASKED),
        "NOTE",
    )
    bent_fingering: BentFingering = setting(
        BentFingering.OCTAVE,
        "valves for F3 to C#3: those of the octave above (octave), or 1-2-3 (longest)",
        one_of(BentFingering, "bent fingering"),
        "HOW",
    )
    brackets: bool = flag("write the pedal notes an octave higher under an 8vb bracket")

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield how deep it goes, and in which form."""
        lowest = min((tone.pitch for line in lines for tone in line.tones), key=lambda note: note.number)
        yield f"down to {lowest.pretty}"
        yield f"descending {self.form}s"


def _starts(parameters: PedalParameters) -> Iterator[WrittenPitch]:
    """Yield the first notes: ordinary, inside the range, each a half step lower, an octave above what may be played."""
    top = min(parameters.high.number, _HIGHEST_START.number)
    bottom = max(parameters.low.number, LOWEST_ORDINARY.number, parameters.lowest.number + _OCTAVE)
    for number in range(top, bottom - 1, -1):
        yield respelled(WrittenPitch.from_number(number), -1)


def _descent(parameters: PedalParameters, start: WrittenPitch) -> list[WrittenPitch]:
    # Two octaves where that is asked for and as deep as asked for.
    octaves = 2 if start.number - 2 * _OCTAVE >= parameters.lowest.number else 1
    if parameters.form is DescentForm.CHROMATIC:
        numbers = range(start.number, start.number - octaves * _OCTAVE - 1, -1)
        return [respelled(WrittenPitch.from_number(number), -1) for number in numbers]
    tonic = start.above(-_LETTERS * octaves, -_OCTAVE * octaves)
    notes = [degree.above(tonic) for degree in _degrees(parameters.form, octaves)]
    return [note if abs(note.alter) <= 1 else respelled(note, -1) for note in notes]


def _degrees(form: DescentForm, octaves: int) -> list[Degree]:
    """Return the degrees of a descent over one octave or two."""
    low = list(_DEGREES[form])
    if octaves == 1:
        return low
    high = [replace(degree, number=degree.number + _LETTERS) for degree in low]
    return [high[0], *low[:2], high[0]] if form is DescentForm.OCTAVE else [*high[:-1], *low]


def _tones(parameters: PedalParameters, notes: list[WrittenPitch]) -> tuple[Tone, ...]:
    quarters = _RHYTHM_QUARTERS[parameters.form]
    durations = running_then_held(len(notes), Rhythm.QUARTERS, BAR / quarters, _LEAST_HOLD)
    tones = []
    for place, (note, duration) in enumerate(zip(notes, durations, strict=True)):
        valves, partial = pedal_fingering(note, parameters.bent_fingering)
        tone = Tone(note, duration * quarters, valves, partial, slurred=place + 1 < len(notes))
        below = parameters.brackets and not is_ordinary(note)
        tones.append(replace(tone, octave_bracket=below, dynamic="p" if place == 0 else ""))
    return parameters.dressed(tones)


def study(parameters: PedalParameters) -> Study:
    """Make a study of descents: each line starts on an ordinary note and sinks an octave, the next a half step on."""
    lines = [
        Line("", parameters.with_rest(_tones(parameters, _descent(parameters, start)))) for start in _starts(parameters)
    ]
    if not lines:
        raise InputError(
            f"no descent fits: it starts between {LOWEST_ORDINARY} and {_HIGHEST_START} inside {parameters.low} to "
            f"{parameters.high} and sinks an octave, no lower than {parameters.lowest}"
        )
    return parameters.study(
        title="Pedal register",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
    )


# The easy ones first.
_DAILY_FORMS = (DescentForm.TRIAD, DescentForm.OCTAVE, DescentForm.SCALE, DescentForm.CHROMATIC)


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the forms of a descent."""
    for form in occasion.choices_of("form", _DAILY_FORMS):
        yield Choice({"form": form}, form)


EXERCISE = Exercise(
    parameters=PedalParameters,
    study=study,
    page_name="pedal register",
    practice=Practice(choices=_choices, long_notes=True, pedal_register=True),
)
