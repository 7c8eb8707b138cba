"""The two tables that show the instrument: its fingerings, and the tuning of its partials."""

from collections.abc import Iterator
from dataclasses import dataclass

from etudegen.errors import InputError
from etudegen.instrument.catalogue import Instrument
from etudegen.instrument.fingerings import alternates, ordinary
from etudegen.instrument.partials import HIGHEST, Resonance, series
from etudegen.instrument.tube import STANDARD_A4, Loops, cents, checked_a4, equal_tempered_hertz
from etudegen.instrument.valves import COMBINATIONS, Valves
from etudegen.theory.pitch import SoundingPitch, WrittenPitch


@dataclass(frozen=True, slots=True)
class FingeringRow:
    """A written note, its ordinary valves (None where no partial serves it) and the other valves for it."""

    written: WrittenPitch
    valves: Valves | None
    alternates: tuple[Valves, ...]


@dataclass(frozen=True, slots=True)
class TuningRow:
    """A partial: the note it serves, its frequency, how far that is from equal temperament, and the slide.

    ``cents`` is positive where the partial is sharp; ``slide_mm`` is how far the third slide must be drawn for the
    combination to be as low as it is meant to be: 0.0 where nothing is missing, None without the third valve.
    """

    partial: int
    valves: Valves
    written: WrittenPitch
    sounding: SoundingPitch
    hertz: float
    cents: float
    slide_mm: float | None


def fingering_rows(instrument: Instrument, low: WrittenPitch, high: WrittenPitch) -> Iterator[FingeringRow]:
    """Yield a row for every written note from low to high."""
    if low.number > high.number:
        raise InputError(f"low {low} is above high {high}: low must be the lower note")
    for number in range(low.number, high.number + 1):
        note = WrittenPitch.from_number(number)
        chosen = ordinary(note)
        others = tuple(other.valves for other in alternates(note, instrument.loops))
        yield FingeringRow(note, chosen.valves if chosen else None, others)


def tuning_rows(instrument: Instrument, a4: float = STANDARD_A4, loops: Loops | None = None) -> Iterator[TuningRow]:
    """Yield a row for each partial (1 to 16) of each valve combination, ``a4`` in hertz."""
    tube = instrument.tube(checked_a4(a4), loops)
    for valves in COMBINATIONS:
        slide = tube.third_slide(valves)
        for resonance in series(valves, HIGHEST):
            yield _tuning_row(instrument, resonance, tube.hertz(resonance.partial, valves), a4, slide)


def _tuning_row(
    instrument: Instrument, resonance: Resonance, hertz: float, a4: float, slide: float | None
) -> TuningRow:
    written = WrittenPitch.from_number(resonance.number)
    sounding = SoundingPitch.from_number(instrument.sounding(written).number)
    return TuningRow(
        partial=resonance.partial,
        valves=resonance.valves,
        written=written,
        sounding=sounding,
        hertz=hertz,
        cents=cents(hertz / equal_tempered_hertz(sounding, a4)),
        slide_mm=slide,
    )
