"""How exact durations are written down: note values, ties over barlines, tuplets and beams."""

from fractions import Fraction
from functools import cache

from music21.common.numberTools import opFrac
from music21.duration import Duration, DurationTuple, quarterConversion
from music21.meter import TimeSignature
from music21.note import Note, Rest
from music21.stream import Measure

_Ratio = tuple[int, int]
_BEAT = Fraction(1)
# In quarter notes: values written with one notehead (dotted ones included), longest first.
_VALUES = tuple(Fraction(*pair) for pair in ((4, 1), (3, 1), (2, 1), (3, 2), (1, 1), (3, 4), (1, 2), (1, 4), (1, 8)))


def pieces(start: Fraction, duration: Fraction, bar: Fraction) -> tuple[Fraction, ...]:
    """Cut a duration that begins ``start`` quarter notes into a bar into values that can each be written.

    Cuts fall at barlines, then at the next beat for what begins off the beat, so that every beat shows.
    """
    return _pieces(start.as_integer_ratio(), duration.as_integer_ratio(), bar.as_integer_ratio())


def duration_of(length: Fraction) -> Duration:
    """Return a length in quarter notes as music21's duration."""
    plain = _plain(length.as_integer_ratio())
    return Duration(opFrac(length)) if plain is None else Duration(plain)


@cache
def _plain(of_length: _Ratio) -> DurationTuple | None:
    """Return a length of one note value, dotted or not; None for what is in a tuplet or of several."""
    found = quarterConversion(opFrac(Fraction(*of_length)))
    return found.components[0] if len(found.components) == 1 and found.tuplet is None else None


@cache
def _pieces(of_start: _Ratio, of_duration: _Ratio, of_bar: _Ratio) -> tuple[Fraction, ...]:
    # Asked for by whole numbers: looking fractions up takes longer than cutting.
    start, duration, bar = (Fraction(*each) for each in (of_start, of_duration, of_bar))
    cut = []
    while duration:
        room = min(duration, bar - start)
        to_beat = -start % _BEAT
        if to_beat and room > to_beat:
            room = to_beat
        # A value within a tuplet fits as it stands.
        piece = room if room.denominator % 3 == 0 else next(value for value in _VALUES if value <= room)
        cut.append(piece)
        start = (start + piece) % bar
        duration -= piece
    return tuple(cut)


@cache
def _beams(signature: str, values: tuple[tuple[float | Fraction, bool], ...]) -> tuple[tuple[str, ...] | None, ...]:
    """Return for each value of a bar (in quarter notes; True: a note) its beam types, outermost first."""
    bar = Measure()
    for value, sounds in values:
        bar.append(Note(duration=Duration(value)) if sounds else Rest(duration=Duration(value)))
    beams = TimeSignature(signature).getBeams(bar)
    return tuple(
        None
        if each is None
        else tuple(f"{beam.type}-{beam.direction}" if beam.direction else str(beam.type) for beam in each)
        for each in beams
    )


def add_beams(signature: str, signs: list[Note | Rest]) -> None:
    """Beam the notes of one bar by beat."""
    values = tuple((sign.quarterLength, sign.isNote) for sign in signs)
    if not any(value < 1 and sounds for value, sounds in values):
        return
    for sign, types in zip(signs, _beams(signature, values), strict=True):
        for kind in types or ():
            sign.beams.append(*kind.split("-"))


def add_tuplet_ends(signs: list[Note | Rest]) -> None:
    """Mark where each tuplet of a bar starts and stops; beamed ones need no bracket."""
    if not any(sign.duration.tuplets for sign in signs):
        return
    start = Fraction(0)
    group: list[Note | Rest] = []
    for sign in signs:
        start += Fraction(sign.quarterLength)
        if sign.duration.tuplets:
            group.append(sign)
        if group and start % _BEAT == 0:
            bracket = any(each.isRest or each.duration.type != "eighth" for each in group)
            for each in group:
                each.duration.tuplets[0].bracket = bracket
            group[0].duration.tuplets[0].type = "start"
            group[-1].duration.tuplets[0].type = "stop"
            group = []
