"""Random melodies as values: metres, pick-ups, rests, triplets, ties and chord symbols."""

from fractions import Fraction

from hypothesis import strategies as st

from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.tunes.tune import Bar, Chord, Event, Melody, Place

_TONICS = tuple(WrittenPitch(step, alter, 4) for step in STEPS for alter in (-1, 0, 1))
_FIFTHS = {step: fifths for fifths, step in enumerate("FCGDAEB", start=-1)}
_VALUES = (("half", Fraction(2)), ("quarter", Fraction(1)), ("eighth", Fraction(1, 2)), ("16th", Fraction(1, 4)))


def _signature(tonic: WrittenPitch, minor: bool) -> int:
    return _FIFTHS[tonic.step] + 7 * tonic.alter - (3 if minor else 0)


@st.composite
def pitches(draw: st.DrawFn) -> WrittenPitch:
    """A note of two octaves and a bit, with any single accidental."""
    return WrittenPitch(draw(st.sampled_from(STEPS)), draw(st.sampled_from((0, 0, 0, -1, 1))), draw(st.integers(3, 5)))


@st.composite
def _beat(draw: st.DrawFn, at: Fraction, room: Fraction) -> list[Event]:
    """Events that fill one or two beats from a beat on."""
    pitch = st.one_of(st.none(), pitches(), pitches(), pitches())
    if draw(st.integers(0, 4)) == 0:
        third = Fraction(1, 3)
        return [
            Event(at + place * third, draw(pitch), third, "eighth", place=Place(3, 2, place == 0, place == 2, False))
            for place in range(3)
        ]
    name, value = draw(st.sampled_from([each for each in _VALUES if each[1] <= room]))
    count = max(1, int(1 / value))
    return [Event(at + place * value, draw(pitch), value, name) for place in range(count)]


def _tied(events: list[Event]) -> list[Event]:
    """Tie the last note to a note of the same pitch that follows it."""
    from dataclasses import replace

    first, second = events[-2:]
    if first.pitch is None or second.pitch is None or second.place or first.place:
        return events
    return [*events[:-2], replace(first, tie="start"), replace(second, pitch=first.pitch, tie="stop")]


@st.composite
def _bars(draw: st.DrawFn, number: int, beats: int, first: bool, sharps: int) -> Bar:
    length = draw(st.integers(1, beats)) if first else beats
    events: list[Event] = []
    while (at := sum((event.duration for event in events), Fraction(0))) < length:
        events += draw(_beat(at, length - at))
    if len(events) > 1 and draw(st.booleans()):
        events = _tied(events)
    chords = (Chord(Fraction(0), draw(pitches()), "7", None, "dominant"),) if draw(st.booleans()) else ()
    return Bar(
        str(number),
        Fraction(length),
        tuple(events),
        metre=(beats, 4) if first else None,
        sharps=sharps if first else None,
        chords=chords,
    )


@st.composite
def melodies(draw: st.DrawFn) -> Melody:
    """A melody of one to six bars with at least one note."""
    tonic, minor = draw(st.sampled_from(_TONICS)), draw(st.booleans())
    sharps = _signature(tonic, minor)
    if abs(sharps) > 7:
        tonic, sharps = WrittenPitch("C", 0, 4), _signature(WrittenPitch("C", 0, 4), minor)
    beats = draw(st.integers(2, 5))
    bars = tuple(draw(_bars(place + 1, beats, place == 0, sharps)) for place in range(draw(st.integers(1, 6))))
    melody = Melody("A tune", tonic, minor, bars)
    if not list(melody.notes):
        note = Event(Fraction(0), draw(pitches()), Fraction(1), "quarter")
        melody = Melody("A tune", tonic, minor, (*bars, Bar("99", Fraction(1), (note,))))
    return melody
