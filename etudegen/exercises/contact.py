"""Unbroken-contact sets: the mouthpiece stays on the lips from the first note to the last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.exercises.common import BAR, HEALTH, NOTES, Common, Rests, ordinary_tone, tempo_setting
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.settings import one_of, setting, whole_number
from etudegen.exercises.span import span_of
from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import respelled
from etudegen.theory.tempo import seconds

# Common practice, no source: shorter builds nothing, longer tires the lips out.
_SHORTEST, _LONGEST = 2, 6
_SLOWEST, _FASTEST = 40, 80
_UNIT_BARS = 2
_UNITS_ON_A_LINE = 3


class ContactForm(StrEnum):
    """What is played while the mouthpiece stays."""

    RISING = "rising"
    INTERVALS = "intervals"
    SWELLS = "swells"


@dataclass(frozen=True, kw_only=True)
class ContactParameters(Common):
    """What a contact set can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "contact"

    tempo: int = tempo_setting(60, _SLOWEST, _FASTEST)
    form: ContactForm = setting(
        ContactForm.RISING,
        "rising (long notes by half steps), intervals (widening from one note) or swells (swelling notes)",
        one_of(ContactForm, "form"),
        "FORM",
    )
    minutes: int = setting(
        3,
        f"contact time in minutes, {_SHORTEST} to {_LONGEST}",
        whole_number("minutes", _SHORTEST, _LONGEST),
        "MINUTES",
    )
    start: WrittenPitch | None = setting(
        None, "note to start from, written", NOTES, "NOTE", "C4, or the lowest in range"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.rests is not Rests.EQUAL:
            raise InputError(f"rest {self.rests} is not allowed: a contact set has its own rests, so leave it out")
        if self.start is not None and not self.holds(self.start):
            raise InputError(f"start {self.start} is outside the range: allowed are {self.low} to {self.high}")

    @property
    def base(self) -> WrittenPitch:
        """The note that the set starts from."""
        usual = WrittenPitch("C", 0, 4)
        chosen = self.start or (usual if self.holds(usual) else self.low)
        return chosen if abs(chosen.alter) <= 1 else respelled(chosen, chosen.alter)

    @property
    def units(self) -> int:
        """How many units of two bars come nearest to the minutes asked for without passing the longest time."""
        return int(Fraction(self.minutes * self.tempo) / (BAR * _UNIT_BARS))

    @property
    def contact_seconds(self) -> Fraction:
        """How long the mouthpiece stays on the lips."""
        return seconds(self.units * _UNIT_BARS * BAR, self.tempo)

    @property
    def time(self) -> str:
        """The time of contact as a page tells it."""
        minutes, rest = divmod(round(self.contact_seconds), 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span, and what is played for how long."""
        yield span_of(lines)
        yield f"{self.form}, contact time {self.time}"


def _numbers(base: int, high: int, units: int) -> list[int]:
    """Return so many key numbers: up from the base and back, as high as there is time for, again if there is more.

    The last ones stay on the base, so that the set ends where it began.
    """
    top = min(high, base + (units - 1) // 2)
    if top == base:
        return [base] * units
    way = [*range(base, top + 1), *range(top - 1, base, -1)]
    rounds, left = divmod(units, len(way))
    return [*way * rounds, *[base] * left] if left <= 1 else [*way * rounds, *_numbers(base, high, left)]


def _notes(parameters: ContactParameters) -> Iterator[WrittenPitch]:
    """Yield the notes of the units, sharps on the way up and flats on the way down."""
    before = parameters.base.number
    for number in _numbers(before, parameters.high.number, parameters.units):
        yield respelled(WrittenPitch.from_number(number), 1 if number >= before else -1)
        before = number


def _unit(parameters: ContactParameters, note: WrittenPitch) -> tuple[Tone | Rest, ...]:
    """Return two bars: a long note, or the base and a note above it; then two beats to breathe through the nose."""
    if parameters.form is ContactForm.INTERVALS and note.number != parameters.base.number:
        base = replace(ordinary_tone(parameters.base, Fraction(2)), slurred=True)
        tones = [base, ordinary_tone(note, Fraction(4))]
    else:
        swell = parameters.form is ContactForm.SWELLS
        tones = [replace(ordinary_tone(note, Fraction(6)), swell=swell)]
    return (*parameters.dressed(tones), Rest(Fraction(2)))


def _rows(units: list[tuple[Tone | Rest, ...]]) -> Iterator[list[tuple[Tone | Rest, ...]]]:
    """Yield the units line by line, the last lines one shorter if need be: a unit alone would be drawn out over one."""
    count = -(-len(units) // _UNITS_ON_A_LINE)
    full = len(units) - count * (_UNITS_ON_A_LINE - 1)
    begin = 0
    for row in range(count):
        end = begin + _UNITS_ON_A_LINE - (row >= full)
        yield units[begin:end]
        begin = end


def study(parameters: ContactParameters) -> Study:
    """Make a set of two-bar units that lasts the minutes asked for, to within a unit, the mouthpiece always on."""
    units = [_unit(parameters, note) for note in _notes(parameters)]
    lines = [Line("", sum(row, ())) for row in _rows(units)]
    return parameters.study(
        title="Unbroken contact",
        instruction=(
            "The mouthpiece stays on the lips from the first note to the last: in the rests breathe through the nose "
            "and keep the lips set. Beat time with the foot. Afterwards rest at least "
            f"{parameters.time} with the instrument down."
        ),
        caution=f"Strenuous: once a day, only when warmed up, and end it when the sound or the lips give way. {HEALTH}",
        lines=lines,
        contact_seconds=parameters.contact_seconds,
    )


_DAILY_FORMS = (ContactForm.RISING, ContactForm.SWELLS, ContactForm.INTERVALS)


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield one set: half of the time is contact, the other half rest with the instrument down."""
    half = int(occasion.seconds / 60) // 2
    minutes = occasion.asked.get("minutes", max(_SHORTEST, min(_LONGEST, half)))
    form = occasion.choices_of("form", _DAILY_FORMS)[0]
    yield Choice({"minutes": minutes, "form": form}, form, whole=True)


EXERCISE = Exercise(
    parameters=ContactParameters,
    study=study,
    page_name="unbroken contact",
    practice=Practice(choices=_choices, long_notes=True, unbroken=True),
)
