"""A play-along as a standard MIDI file (type 1, as in the Standard MIDI Files 1.0 specification), one track a voice.

The bytes are put together here: a file of several channels needs little, and `etudegen.export.midi` writes one part.
"""

import struct
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from etudegen.audio.arrangement import Arrangement, Voice
from etudegen.export.midi import TICKS_PER_QUARTER
from etudegen.export.performance import SoundingNote

_MICROSECONDS_PER_MINUTE = 60_000_000
_NAME, _END, _TEMPO, _METRE = 0x03, 0x2F, 0x51, 0x58
_NOTE_OFF, _NOTE_ON, _CONTROL, _PROGRAM, _BEND = 0x80, 0x90, 0xB0, 0xC0, 0xE0
_VOLUME, _PAN = 7, 10
# Registered parameter 0 is the bend range; two half steps is where most players start anyway.
_BEND_RANGE = ((101, 0), (100, 0), (6, 2), (38, 0))
_BEND_CENTRE, _CENTS_TO_THE_END = 8192, 200
_CENTS_A_STEP = 5


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)


def _coded(number: int) -> bytes:
    """Return a number as seven bits a byte, all but the last one marked."""
    coded = [number & 0x7F]
    while number := number >> 7:
        coded.append(number & 0x7F | 0x80)
    return bytes(reversed(coded))


def _meta(kind: int, data: bytes) -> bytes:
    return bytes((0xFF, kind)) + _coded(len(data)) + data


def _named(text: str) -> bytes:
    return _meta(_NAME, text.replace("♭", "b").replace("♯", "#").encode())


def _track(timed: list[tuple[int, bytes]], end: int) -> bytes:
    body = bytearray()
    now = 0
    for tick, event in [*timed, (end, _meta(_END, b""))]:
        body += _coded(tick - now) + event
        now = tick
    return b"MTrk" + struct.pack(">I", len(body)) + bytes(body)


def _conductor(arrangement: Arrangement, end: int) -> bytes:
    beats, unit = arrangement.metre
    timed = [
        (0, _named(arrangement.title)),
        (0, _meta(_METRE, bytes((beats, unit.bit_length() - 1, 24, 8)))),
    ]
    for start, tempo in arrangement.tempos:
        microseconds = round(_MICROSECONDS_PER_MINUTE / tempo)
        timed.append((_ticks(start), _meta(_TEMPO, microseconds.to_bytes(3, "big"))))
    return _track(timed, end)


def _bends(note: SoundingNote, channel: int) -> Iterator[tuple[int, bytes]]:
    """Yield the bends of a note: steps of a few cents from each of its points to the next."""
    for (start, cents), (end, following) in pairwise(note.bends):
        steps = -(-abs(following - cents) // _CENTS_A_STEP)
        for step in range(1, steps + 1):
            share = Fraction(step, steps)
            reached = cents + (following - cents) * share
            value = max(0, min(2 * _BEND_CENTRE - 1, round(_BEND_CENTRE * (1 + reached / _CENTS_TO_THE_END))))
            yield (
                _ticks(note.start + start + (end - start) * share),
                bytes((_BEND | channel, value & 0x7F, value >> 7)),
            )


def _voice_track(voice: Voice, end: int) -> bytes:
    channel = voice.channel - 1
    opening = [_named(voice.name)]
    if voice.program is not None:
        opening.append(bytes((_PROGRAM | channel, voice.program)))
    controls = [(_VOLUME, voice.volume), (_PAN, voice.pan)]
    if any(note.bends for note in voice.notes):
        controls += _BEND_RANGE
    opening += [bytes((_CONTROL | channel, number, value)) for number, value in controls]
    sounds: list[tuple[int, int, bytes]] = []
    for note in voice.notes:
        sounds.append((_ticks(note.start), 2, bytes((_NOTE_ON | channel, note.key, note.velocity))))
        sounds.append((_ticks(note.start + note.duration), 0, bytes((_NOTE_OFF | channel, note.key, 0))))
        sounds += [(tick, 1, bend) for tick, bend in _bends(note, channel)]
    # At one tick a note ends before the next begins, or a repeated key would be cut off.
    sounds.sort(key=lambda sound: sound[:2])
    return _track([(0, event) for event in opening] + [(tick, event) for tick, _, event in sounds], end)


def midi_file(arrangement: Arrangement) -> bytes:
    """Return a play-along as the bytes of a MIDI file: a track for tempos and metre, then one for each voice."""
    end = _ticks(arrangement.duration)
    tracks = [_conductor(arrangement, end), *(_voice_track(voice, end) for voice in arrangement.voices)]
    return b"MThd" + struct.pack(">IHHH", 6, 1, len(tracks), TICKS_PER_QUARTER) + b"".join(tracks)
