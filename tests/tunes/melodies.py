"""Random melodies as values: metres, pick-ups, rests, triplets, ties and chord symbols."""

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from etudegen.study import Line, Measure, NoteValue, Rest, Tone, Tuplet
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.symbols import ChordSymbol, parse_quality
from etudegen.tunes.tune import Tune

_TONICS = tuple(WrittenPitch(step, alter, 4) for step in STEPS for alter in (-1, 0, 1))
_FIFTHS = {step: fifths for fifths, step in enumerate("FCGDAEB", start=-1)}
_VALUES = (("half", Fraction(2)), ("quarter", Fraction(1)), ("eighth", Fraction(1, 2)), ("16th", Fraction(1, 4)))


def _signature(tonic: WrittenPitch, minor: bool) -> int:
    return _FIFTHS[tonic.step] + 7 * tonic.alter - (3 if minor else 0)


@st.composite
def pitches(draw: st.DrawFn) -> WrittenPitch:
    """A note of two octaves and a bit, with any single accidental."""
    return WrittenPitch(draw(st.sampled_from(STEPS)), draw(st.sampled_from((0, 0, 0, -1, 1))), draw(st.integers(3, 5)))


def _event(pitch: WrittenPitch | None, duration: Fraction, value: NoteValue) -> Tone | Rest:
    return Rest(duration, written=value) if pitch is None else Tone(pitch, duration, written=value)


@st.composite
def _beat(draw: st.DrawFn, room: Fraction) -> list[Tone | Rest]:
    """Events that fill one or two beats from a beat on."""
    pitch = st.one_of(st.none(), pitches(), pitches(), pitches())
    if draw(st.integers(0, 4)) == 0:
        triplet = (Tuplet(3, 2, place == 0, place == 2, bracket=False) for place in range(3))
        return [_event(draw(pitch), Fraction(1, 3), NoteValue("eighth", tuplet=place)) for place in triplet]
    name, value = draw(st.sampled_from([each for each in _VALUES if each[1] <= room]))
    return [_event(draw(pitch), value, NoteValue(name)) for _ in range(max(1, int(1 / value)))]


def _tied(events: list[Tone | Rest]) -> list[Tone | Rest]:
    """Tie the last note to a note of the same pitch that follows it."""
    first, second = events[-2:]
    if not isinstance(first, Tone) or not isinstance(second, Tone) or first.written.tuplet or second.written.tuplet:
        return events
    return [*events[:-2], replace(first, tied=True), replace(second, pitch=first.pitch)]


@st.composite
def _measures(draw: st.DrawFn, beats: int, first: bool) -> list[Tone | Rest]:
    length = draw(st.integers(1, beats)) if first else beats
    events: list[Tone | Rest] = []
    while (at := sum((event.duration for event in events), Fraction(0))) < length:
        events += draw(_beat(length - at))
    return _tied(events) if len(events) > 1 and draw(st.booleans()) else events


@st.composite
def tunes(draw: st.DrawFn) -> Tune:
    """A tune of one to six bars with at least one note."""
    tonic, minor = draw(st.sampled_from(_TONICS)), draw(st.booleans())
    sharps = _signature(tonic, minor)
    if abs(sharps) > 7:
        tonic, sharps = WrittenPitch("C", 0, 4), _signature(WrittenPitch("C", 0, 4), minor)
    beats = draw(st.integers(2, 5))
    written = [draw(_measures(beats, place == 0)) for place in range(draw(st.integers(1, 6)))]
    if not any(isinstance(event, Tone) for events in written for event in events):
        written.append([Tone(draw(pitches()), Fraction(1), written=NoteValue("quarter"))])
    measures, chords, at = [], [], Fraction(0)
    for place, events in enumerate(written):
        length = sum((event.duration for event in events), Fraction(0))
        measures.append(Measure(length, str(place + 1), metre=(beats, 4) if place == 0 else None))
        if draw(st.booleans()):
            chords.append((at, ChordSymbol(draw(pitches()), parse_quality("7"))))
        at += length
    line = Line(
        "",
        tuple(event for events in written for event in events),
        sharps=sharps,
        chords=tuple(chords),
        measures=tuple(measures),
        mode="minor" if minor else "major",
    )
    return Tune("A tune", tonic, minor, (line,), (beats, 4))
