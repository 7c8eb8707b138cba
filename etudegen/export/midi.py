"""Standard MIDI files (type 1, as in the Standard MIDI Files 1.0 specification) from voices in time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from music21.midi import ChannelVoiceMessages, DeltaTime, MetaEvents, MidiEvent, MidiFile, MidiTrack

from etudegen.sound.performance import Performance, SoundingNote
from etudegen.sound.swinging import notes_played, tempos_played

TICKS_PER_QUARTER = 960
_MICROSECONDS_PER_MINUTE = 60_000_000
_CHANNEL = 1
# MIDI 1.0 Detailed Specification: pitch bend is a number of 14 bits, its middle is no change of pitch.
_WHEEL_HALF_STEPS = 2
_WHEEL_CENTRE = 8192
# Registered parameter 0 is the range of pitch bend; General MIDI starts with two half steps either way.
_WHEEL_RANGE = ((101, 0), (100, 0), (6, _WHEEL_HALF_STEPS), (38, 0))
_CENTS_A_STEP = 5


@dataclass(frozen=True, slots=True)
class MidiVoice:
    """One track: ``program`` is zero-based General MIDI, None for percussion; ``channel`` 1 to 16.

    ``controls`` are (number, value) of the controllers that it begins with.
    """

    name: str
    program: int | None
    channel: int
    notes: Sequence[SoundingNote]
    controls: Sequence[tuple[int, int]] = ()


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)


def _name(text: str) -> bytes:
    # Most players show names as plain ASCII; signs of the trade have a plain form, other letters stay what they are.
    return text.replace("♭", "b").replace("♯", "#").encode()


def _meta(kind: MetaEvents, data: bytes) -> MidiEvent:
    event = MidiEvent(type=kind)
    event.data = data
    return event


def _voice(channel: int, kind: ChannelVoiceMessages, first: int, second: int | None = None) -> MidiEvent:
    event = MidiEvent(type=kind, channel=channel)
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


def _conductor(title: str, metre: tuple[int, int], tempos: Sequence[tuple[Fraction, Fraction]], end: int) -> MidiTrack:
    beats, unit = metre
    timed = [
        (0, _meta(MetaEvents.SEQUENCE_TRACK_NAME, _name(title))),
        (0, _meta(MetaEvents.TIME_SIGNATURE, bytes((beats, unit.bit_length() - 1, 24, 8)))),
    ]
    for start, tempo in tempos:
        microseconds = round(_MICROSECONDS_PER_MINUTE / tempo)
        timed.append((_ticks(start), _meta(MetaEvents.SET_TEMPO, microseconds.to_bytes(3, "big"))))
    return _track(0, timed, end)


def _off_key(channel: int, cents: float) -> MidiEvent:
    value = round(_WHEEL_CENTRE * (1 + cents / (100 * _WHEEL_HALF_STEPS)))
    turned = max(0, min(2 * _WHEEL_CENTRE - 1, value))
    return _voice(channel, ChannelVoiceMessages.PITCH_BEND, turned & 0x7F, turned >> 7)


def _glides(channel: int, note: SoundingNote) -> Iterator[tuple[int, MidiEvent]]:
    """Yield the glide of a note as pitch bend: steps of a few cents from each of its points to the next."""
    for (start, cents), (end, following) in pairwise(note.glide):
        if cents == following:
            continue
        steps = max(1, abs(following - cents) // _CENTS_A_STEP)
        for step in range(1, steps + 1):
            share = Fraction(step, steps)
            moment = note.start + start + (end - start) * share
            yield _ticks(moment), _off_key(channel, float(cents + (following - cents) * share))


def _voice_track(number: int, voice: MidiVoice, end: int) -> MidiTrack:
    channel = voice.channel
    opening = [_meta(MetaEvents.SEQUENCE_TRACK_NAME, _name(voice.name))]
    if voice.program is not None:
        opening.append(_voice(channel, ChannelVoiceMessages.PROGRAM_CHANGE, voice.program))
    controls = [*voice.controls, *(_WHEEL_RANGE if any(note.glide for note in voice.notes) else ())]
    opening += [_voice(channel, ChannelVoiceMessages.CONTROLLER_CHANGE, *control) for control in controls]
    sounds: list[tuple[int, int, MidiEvent]] = []
    for note in voice.notes:
        on = _voice(channel, ChannelVoiceMessages.NOTE_ON, note.key, note.velocity)
        off = _voice(channel, ChannelVoiceMessages.NOTE_OFF, note.key, 0)
        sounds += [(_ticks(note.start), 2, on), (_ticks(note.start + note.duration), 0, off)]
        sounds += [(tick, 1, event) for tick, event in _glides(channel, note)]
    # At one tick a note ends before the next begins, or a repeated key would be cut off.
    sounds.sort(key=lambda sound: sound[:2])
    return _track(number, [(0, event) for event in opening] + [(tick, event) for tick, _, event in sounds], end)


def midi_of(
    title: str,
    metre: tuple[int, int],
    tempos: Sequence[tuple[Fraction, Fraction]],
    voices: Sequence[MidiVoice],
    duration: Fraction,
) -> bytes:
    """Return the bytes of a MIDI file: a track for tempos and metre, then one for each voice.

    ``tempos`` are (quarter notes from the start, quarter notes a minute); ``duration`` is in quarter notes.
    """
    end = _ticks(duration)
    file = MidiFile()
    file.ticksPerQuarterNote = TICKS_PER_QUARTER
    tracks = (_voice_track(number, voice, end) for number, voice in enumerate(voices, start=1))
    file.tracks = [_conductor(title, metre, tempos, end), *tracks]
    written: bytes = file.writestr()
    return written


def midi(performance: Performance) -> bytes:
    """Return a performance as the bytes of a MIDI file; the closing rests are kept in its length."""
    notes = notes_played(performance, performance.feel)
    voice = MidiVoice(performance.part_name, performance.program, _CHANNEL, notes)
    return midi_of(performance.title, performance.metre, tempos_played(performance), [voice], performance.duration)
