"""Standard MIDI files (type 1, as in the Standard MIDI Files 1.0 specification) from a performance."""

from fractions import Fraction

from music21.midi import ChannelVoiceMessages, DeltaTime, MetaEvents, MidiEvent, MidiFile, MidiTrack

from etudegen.export.performance import Performance

TICKS_PER_QUARTER = 960
_MICROSECONDS_PER_MINUTE = 60_000_000
_CHANNEL = 1
_END_OF_TRACK_ROOM = 0


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)


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
        (0, _meta(MetaEvents.SEQUENCE_TRACK_NAME, performance.title.encode())),
        (0, _meta(MetaEvents.TIME_SIGNATURE, bytes((beats, unit.bit_length() - 1, 24, 8)))),
    ]
    for start, tempo in performance.tempos:
        microseconds = round(_MICROSECONDS_PER_MINUTE / tempo)
        timed.append((_ticks(start), _meta(MetaEvents.SET_TEMPO, microseconds.to_bytes(3, "big"))))
    return _track(0, timed, end)


def _player(performance: Performance, end: int) -> MidiTrack:
    opening = [
        (0, _meta(MetaEvents.SEQUENCE_TRACK_NAME, performance.part_name.encode())),
        (0, _voice(ChannelVoiceMessages.PROGRAM_CHANGE, performance.program)),
    ]
    sounds: list[tuple[int, int, MidiEvent]] = []
    for note in performance.notes:
        on = _voice(ChannelVoiceMessages.NOTE_ON, note.key, note.velocity)
        off = _voice(ChannelVoiceMessages.NOTE_OFF, note.key, 0)
        sounds += [(_ticks(note.start), 1, on), (_ticks(note.start + note.duration), 0, off)]
    # At one tick a note ends before the next begins, or a repeated key would be cut off.
    sounds.sort(key=lambda sound: sound[:2])
    return _track(1, opening + [(tick, event) for tick, _, event in sounds], end)


def midi(performance: Performance) -> bytes:
    """Return a performance as the bytes of a MIDI file; the closing rests are kept in its length."""
    end = _ticks(performance.duration)
    file = MidiFile()
    file.ticksPerQuarterNote = TICKS_PER_QUARTER
    file.tracks = [_conductor(performance, end), _player(performance, end)]
    written: bytes = file.writestr()
    return written
