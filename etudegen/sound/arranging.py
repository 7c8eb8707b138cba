"""From a performance to what one plays along with."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import chain
from math import ceil, floor

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.backing import Backing
from etudegen.sound.band import comping, cymbal, plain_bass, walking_bass
from etudegen.sound.performance import Performance, SoundingChord, SoundingNote, tempo_at
from etudegen.sound.swinging import SwungTime, notes_played
from etudegen.sound.timeline import Passage, beat_length, lead_in, notes_heard, passages, tempos_heard
from etudegen.theory.rhythm import bar_length
from etudegen.theory.swing import EVEN, SWUNG, Feel, every_off_beat, swings
from etudegen.theory.tempo import FASTEST, SLOWEST

# General MIDI System Level 1 specification (MIDI Manufacturers Association): programs by the sound set, counted from
# zero (acoustic grand piano, reed organ, acoustic bass), and on channel 10 wood blocks by the percussion key map.
PIANO, DRONE_PROGRAM, PLUCKED_BASS = 0, 20, 32
FIRST_BEAT_CLICK, BEAT_CLICK = 76, 77
PERCUSSION_CHANNEL = 10
# Clicks and cymbal share a channel, and so their volume; velocities tell them apart.
_PERCUSSION_VOLUME = 100
_CLICK_VELOCITY, _FIRST_CLICK_VELOCITY = 84, 104
_DRONE_VELOCITY = 68
# Half an octave either way of C below middle C.
_DRONE_CENTRE, _OCTAVE, _TRITONE = 48, 12, 6
# A breath between drones, in quarter notes, but never more than a share of one.
_DRONE_BREAK, _DRONE_SHARE = Fraction(1, 2), Fraction(1, 8)
_MIDDLE = 64
# As many times faster or slower than it is written music can be had.
_MOST_TIMES = 4

# Start, duration and pitch class (0 is C) at concert pitch.
_Drone = tuple[Fraction, Fraction, int]


def _clicks(start: Fraction, end: Fraction, grid: Fraction, metre: tuple[int, int]) -> Iterator[SoundingNote]:
    """Yield a click on each beat from start to end; bars are counted from ``grid``."""
    beat, bar = beat_length(metre), bar_length(metre)
    moment = grid - ((grid - start) // beat) * beat
    while moment < end:
        first = (moment - grid) % bar == 0
        key, velocity = (FIRST_BEAT_CLICK, _FIRST_CLICK_VELOCITY) if first else (BEAT_CLICK, _CLICK_VELOCITY)
        yield SoundingNote(moment, beat / 4, key, velocity)
        moment += beat


def _all_clicks(
    found: Sequence[Passage], performance: Performance, backing: Backing, through: bool
) -> Iterator[SoundingNote]:
    metre = performance.metre
    yield from _clicks(Fraction(0), lead_in(performance, backing), Fraction(0), metre)
    for passage in found:
        if through or passage.answer:
            # Bars are those of the page, wherever it is heard.
            grid = passage.heard - passage.written + performance.pick_up
            yield from _clicks(passage.heard, passage.heard + passage.duration, grid, metre)


def _drones(performance: Performance) -> list[_Drone]:
    """Return a drone for each line: the pitch class of the note that it ends on, its tonic in scales."""
    found = []
    for start, duration in performance.lines:
        inside = [note for note in performance.notes if start <= note.start < start + duration]
        if inside:
            end = max(note.start + note.duration for note in inside)
            found.append((start, end - start, inside[-1].key % _OCTAVE))
    return found


def _drone_notes(drones: Sequence[_Drone], found: Sequence[Passage]) -> Iterator[SoundingNote]:
    for passage in found:
        for start, length, pitch_class in sorted(drones):
            if span := passage.part_of(start, length):
                heard, duration = span
                key = _DRONE_CENTRE + (pitch_class + _TRITONE - 1) % _OCTAVE - _TRITONE + 1
                breath = min(_DRONE_BREAK, duration * _DRONE_SHARE)
                yield SoundingNote(heard, duration - breath, key, _DRONE_VELOCITY)


def _chords_heard(chords: Sequence[SoundingChord], found: Sequence[Passage]) -> list[SoundingChord]:
    heard: list[SoundingChord] = []
    end = Fraction(0)
    for passage in found:
        for chord in sorted(chords, key=lambda chord: chord.start):
            if span := passage.part_of(chord.start, chord.duration):
                if span[0] < end:
                    raise InputError(f"chord at {chord.start} begins before the one ahead of it ended")
                heard.append(replace(chord, start=span[0], duration=span[1]))
                end = span[0] + span[1]
    return heard


def _band(
    chords: Sequence[SoundingChord], begin: Fraction, bar: Fraction, swinging: bool, time: SwungTime
) -> list[Voice]:
    played = (
        ("Bass", PLUCKED_BASS, 2, 100, 60, walking_bass(chords) if swinging else plain_bass(chords)),
        ("Piano", PIANO, 3, 96, 52, comping(chords, begin, bar, swinging)),
        ("Cymbal", None, PERCUSSION_CHANNEL, _PERCUSSION_VOLUME, 76, cymbal(chords, begin, bar, swinging)),
    )
    return [
        Voice(name, program, channel, volume, pan, tuple(map(time.note, notes)))
        for name, program, channel, volume, pan, notes in played
    ]


def _check(performance: Performance, backing: Backing) -> None:
    for wished, found, what, needed in (
        (backing.answer, performance.phrases, "call and response", "lines"),
        (backing.drone, performance.notes, "a drone", "notes for it"),
        (backing.band, performance.chords, "a band", "chord changes"),
    ):
        if wished and not found:
            raise InputError(f"{what} is asked for, but this music has no {needed}: leave it out")


def _tempo_scale(performance: Performance, tempo: Fraction | int | None) -> Fraction:
    """Return how many times as fast as written a performance is at a tempo; None is its own."""
    if tempo is None:
        return Fraction(1)
    own = performance.tempo
    slowest, fastest = max(SLOWEST, ceil(own / _MOST_TIMES)), min(FASTEST, floor(own * _MOST_TIMES))
    if not slowest <= tempo <= fastest:
        raise InputError(
            f"tempo {tempo} is out of reach for a sheet at {round(own)}: allowed are {slowest} to {fastest}"
        )
    return Fraction(tempo) / own


def _feel(performance: Performance, swing: bool | None) -> Feel:
    if not swings(performance.metre) or swing is False:
        return EVEN
    return SWUNG if swing and not performance.feel.swung else performance.feel


def arrange(performance: Performance, backing: Backing, tempo: Fraction | int | None = None) -> Arrangement:
    """Return a play-along of a performance at a tempo in quarter notes a minute, None for that of the sheet.

    The tempo is that of the beginning, later ones keep their proportion to it. Raises :class:`InputError` for a tempo
    below 20, above 300 or more than four times slower or faster than the sheet's, where something is asked for that
    the music has nothing for, and where nothing would sound.
    """
    _check(performance, backing)
    scale, feel = _tempo_scale(performance, tempo), _feel(performance, backing.swing)
    with_band = bool(performance.chords) if backing.band is None else backing.band
    with_drone = not with_band if backing.drone is None else backing.drone
    found = passages(performance, backing)
    tempos = tempos_heard(performance, scale, found)
    duration = found[-1].heard + found[-1].duration
    voices: list[Voice] = []
    if backing.melody and performance.notes:
        heard = tuple(notes_heard(notes_played(performance, feel, scale), found))
        voices.append(Voice(performance.part_name or "Trumpet", performance.program, 1, 120, _MIDDLE, heard))
    if with_band:
        begin = lead_in(performance, backing) + performance.pick_up
        time = SwungTime(
            every_off_beat(Fraction(0), duration, begin), lambda moment: feel.cymbal_ratio(tempo_at(tempos, moment))
        )
        chords = _chords_heard(performance.chords, found)
        voices += _band(chords, begin, bar_length(performance.metre), feel.swung, time)
    if with_drone:
        voices.append(Voice("Drone", DRONE_PROGRAM, 4, 80, _MIDDLE, tuple(_drone_notes(_drones(performance), found))))
    clicks = tuple(_all_clicks(found, performance, backing, not with_band if backing.click is None else backing.click))
    if clicks:
        voices.append(Voice("Click", None, PERCUSSION_CHANNEL, _PERCUSSION_VOLUME, _MIDDLE, clicks))
    if not any(chain.from_iterable(voice.notes for voice in voices)):
        raise InputError("nothing would sound: ask for the melody, the click, a drone or the band")
    return Arrangement(
        title=performance.title, metre=performance.metre, tempos=tempos, voices=tuple(voices), duration=duration
    )
