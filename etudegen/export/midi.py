"""Standard MIDI files (type 1, as in the Standard MIDI Files 1.0 specification) from a performance."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from music21.midi import ChannelVoiceMessages, DeltaTime, MetaEvents, MidiEvent, MidiFile, MidiTrack

from etudegen.export.performance import Performance, SoundingNote

TICKS_PER_QUARTER = 960
_MICROSECONDS_PER_MINUTE = 60_000_000
_CHANNEL = 1
_BEND_RANGE_HALF_STEPS = 2
_BEND_CENTRE = 8192
_CENTS_A_STEP = 5


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)


def _name(text: str) -> bytes:
    # Most players show names as plain ASCII; signs of the trade have a plain form, other letters stay what they are.
    return text.replace("♭", "b").replace("♯", "#").encode()


def _meta(kind: MetaEvents, data: bytes) -> MidiEvent:
    event = MidiEvent(type=kind)
    event.data = data
    return event


def _voice(kind: ChannelVoiceMessages, first: int, second: int | None = None) -> MidiEvent:
    event = MidiEvent(type=kind, channel=_CHANNEL)
    event.parameter1, event.parameter2 = first, second
    return event


def _track(number: int, timed: list[tuple[int, MidiEvent]], end: int) -> MidiTrack:
    track = MidiTrack(number)
    now = 0
    for tick, event in [*timed, (end, _meta(MetaEvents.END_OF_TRACK, b""))]:
        track.events += [DeltaTime(time=tick - now), event]
        now = tick
    track.updateEvents()
    return track


def _conductor(performance: Performance, end: int) -> MidiTrack:
    beats, unit = performance.metre
    timed = [
        (0, _meta(MetaEvents.SEQUENCE_TRACK_NAME, _name(performance.title))),
        (0, _meta(MetaEvents.TIME_SIGNATURE, bytes((beats, unit.bit_length() - 1, 24, 8)))),
    ]
    for start, tempo in performance.tempos:
        microseconds = round(_MICROSECONDS_PER_MINUTE / tempo)
        timed.append((_ticks(start), _meta(MetaEvents.SET_TEMPO, microseconds.to_bytes(3, "big"))))
    return _track(0, timed, end)


def _bend_range() -> list[MidiEvent]:
    """Set the bend range to two half steps either way (registered parameter 0), where most players start anyway."""
    controls = ((101, 0), (100, 0), (6, _BEND_RANGE_HALF_STEPS), (38, 0))
    return [_voice(ChannelVoiceMessages.CONTROLLER_CHANGE, number, value) for number, value in controls]


def _bend(cents: float) -> MidiEvent:
    value = round(_BEND_CENTRE * (1 + cents / (100 * _BEND_RANGE_HALF_STEPS)))
    low, high = max(0, min(2 * _BEND_CENTRE - 1, value)) & 0x7F, max(0, min(2 * _BEND_CENTRE - 1, value)) >> 7
    return _voice(ChannelVoiceMessages.PITCH_BEND, low, high)


def _glides(note: SoundingNote) -> Iterator[tuple[int, MidiEvent]]:
    """Yield the pitch bends of a note: steps of a few cents from each of its points to the next."""
    for (start, cents), (end, following) in pairwise(note.bends):
        if cents == following:
            continue
        steps = max(1, abs(following - cents) // _CENTS_A_STEP)
        for step in range(1, steps + 1):
            share = Fraction(step, steps)
            moment = note.start + start + (end - start) * share
            yield _ticks(moment), _bend(float(cents + (following - cents) * share))


def _player(performance: Performance, end: int) -> MidiTrack:
    opening = [
        _meta(MetaEvents.SEQUENCE_TRACK_NAME, _name(performance.part_name)),
        _voice(ChannelVoiceMessages.PROGRAM_CHANGE, performance.program),
    ]
    if any(note.bends for note in performance.notes):
        opening += _bend_range()
    sounds: list[tuple[int, int, MidiEvent]] = []
    for note in performance.notes:
        on = _voice(ChannelVoiceMessages.NOTE_ON, note.key, note.velocity)
        off = _voice(ChannelVoiceMessages.NOTE_OFF, note.key, 0)
        sounds += [(_ticks(note.start), 2, on), (_ticks(note.start + note.duration), 0, off)]
        sounds += [(tick, 1, event) for tick, event in _glides(note)]
    # At one tick a note ends before the next begins, or a repeated key would be cut off.
    sounds.sort(key=lambda sound: sound[:2])
    return _track(1, [(0, event) for event in opening] + [(tick, event) for tick, _, event in sounds], end)


def midi(performance: Performance) -> bytes:
    """Return a performance as the bytes of a MIDI file; the closing rests are kept in its length."""
    end = _ticks(performance.duration)
    file = MidiFile()
    file.ticksPerQuarterNote = TICKS_PER_QUARTER
    file.tracks = [_conductor(performance, end), _player(performance, end)]
    written: bytes = file.writestr()
    return written
