"""From a performance and wishes to a play-along."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import chain

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice, Wishes
from etudegen.sound.band import comping, cymbal, plain_bass, swung_notes, walking_bass
from etudegen.sound.performance import Performance, SoundingChord, SoundingNote
from etudegen.sound.swing_feel import evened, ratio_played
from etudegen.sound.timeline import (
    TEMPO_UNSAID,
    Passage,
    Span,
    beat_length,
    lead_in,
    notes_heard,
    passages,
    tempos_heard,
)
from etudegen.theory.rhythm import bar_length
from etudegen.theory.swing import swing_ratio

# General MIDI: programs counted from zero, percussion by key on channel 10.
PIANO, DRONE_PROGRAM, PLUCKED_BASS = 0, 20, 32
FIRST_BEAT_CLICK, BEAT_CLICK = 76, 77
# Clicks and cymbal share a channel, and so their volume; velocities tell them apart.
_PERCUSSION_CHANNEL, _PERCUSSION_VOLUME = 10, 100
_CLICK_VELOCITY, _FIRST_CLICK_VELOCITY = 84, 104
_DRONE_VELOCITY = 68
# Half an octave either way of C below middle C.
_DRONE_CENTRE, _OCTAVE, _TRITONE = 48, 12, 6
# A breath between drones, in quarter notes, but never more than a share of one.
_DRONE_BREAK, _DRONE_SHARE = Fraction(1, 2), Fraction(1, 8)
_MIDDLE = 64
_EVEN = Fraction(1)


def _clicks(start: Fraction, end: Fraction, grid: Fraction, metre: tuple[int, int]) -> Iterator[SoundingNote]:
    """Yield a click on each beat from start to end; bars are counted from ``grid``."""
    beat, bar = beat_length(metre), bar_length(metre)
    moment = grid - ((grid - start) // beat) * beat
    while moment < end:
        first = (moment - grid) % bar == 0
        key, velocity = (FIRST_BEAT_CLICK, _FIRST_CLICK_VELOCITY) if first else (BEAT_CLICK, _CLICK_VELOCITY)
        yield SoundingNote(moment, beat / 4, key, velocity)
        moment += beat


def _all_clicks(found: Sequence[Passage], wishes: Wishes, performance: Performance) -> Iterator[SoundingNote]:
    metre = performance.metre
    yield from _clicks(Fraction(0), lead_in(performance, wishes), Fraction(0), metre)
    for passage in found:
        if wishes.click or passage.answer:
            # Bars are those of the page, wherever it is heard.
            grid = passage.heard - passage.written + performance.pick_up
            yield from _clicks(passage.heard, passage.heard + passage.duration, grid, metre)


def _drone_notes(drones: Sequence[tuple[Fraction, Fraction, int]], found: Sequence[Passage]) -> Iterator[SoundingNote]:
    for passage in found:
        for start, length, pitch_class in sorted(drones):
            if span := passage.part_of(start, length):
                heard, duration = span
                key = _DRONE_CENTRE + (pitch_class + _TRITONE - 1) % _OCTAVE - _TRITONE + 1
                breath = min(_DRONE_BREAK, duration * _DRONE_SHARE)
                yield SoundingNote(heard, duration - breath, key, _DRONE_VELOCITY)


def _checked_drones(drones: Sequence[tuple[Fraction, Fraction, int]]) -> None:
    for start, length, pitch_class in drones:
        if start < 0 or length <= 0 or pitch_class not in range(_OCTAVE):
            raise InputError(
                f"drone at {start} for {length} quarter notes on pitch class {pitch_class}: it must begin at 0 or "
                "later, last longer than 0, and be on 0 (C) to 11 (B)"
            )


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
    chords: Sequence[SoundingChord], begin: Fraction, bar: Fraction, ratio: Fraction, swings: bool
) -> list[Voice]:
    played = (
        ("Bass", PLUCKED_BASS, 2, 100, 60, walking_bass(chords) if swings else plain_bass(chords)),
        ("Piano", PIANO, 3, 96, 52, comping(chords, begin, bar, swings)),
        ("Cymbal", None, _PERCUSSION_CHANNEL, _PERCUSSION_VOLUME, 76, cymbal(chords, begin, bar, swings)),
    )
    return [
        Voice(name, program, channel, volume, pan, tuple(swung_notes(notes, begin, ratio)))
        for name, program, channel, volume, pan, notes in played
    ]


def _checked_wishes(
    wishes: Wishes, lines: Sequence[Span], drones: Sequence[object], chords: Sequence[SoundingChord]
) -> None:
    for wished, found, what, needed in (
        (wishes.answer, lines, "call and response", "lines"),
        (wishes.drone, drones, "a drone", "notes for it"),
        (wishes.band, chords, "a band", "chord changes"),
    ):
        if wished and not found:
            raise InputError(f"{what} is asked for, but this music has no {needed}: leave it out")


def _melody(performance: Performance, wishes: Wishes) -> tuple[list[SoundingNote], bool, Fraction]:
    """Return the notes of the performance with their eighths as wished, whether they swing, and in what ratio."""
    tempo = performance.tempos[0][1] if performance.tempos else TEMPO_UNSAID
    played = ratio_played(performance.notes, tempo)
    swings = wishes.swing if wishes.swing is not None else played != _EVEN
    ratio = swing_ratio(tempo * wishes.tempo_scale) if swings else _EVEN
    even = evened(performance.notes, played)
    return list(swung_notes(even, Fraction(0), ratio)), swings, ratio


def arrange(
    performance: Performance,
    wishes: Wishes,
    lines: Sequence[Span] = (),
    drones: Sequence[tuple[Fraction, Fraction, int]] = (),
    chords: Sequence[SoundingChord] = (),
) -> Arrangement:
    """Return a play-along of a performance.

    All moments are in quarter notes on the page: ``lines`` are (start, duration) of each line, for call and response;
    ``drones`` are (start, duration, pitch class at concert pitch). Raises :class:`InputError` where something is
    wished for that the music has nothing for, and where nothing would sound.
    """
    _checked_wishes(wishes, lines, drones, chords)
    _checked_drones(drones)
    found = passages(performance, wishes, lines)
    metre = performance.metre
    begin = lead_in(performance, wishes)
    melody, swings, ratio = _melody(performance, wishes)
    voices: list[Voice] = []
    if wishes.melody:
        heard = tuple(notes_heard(melody, found))
        voices.append(Voice(performance.part_name or "Trumpet", performance.program, 1, 120, _MIDDLE, heard))
    if wishes.band:
        voices += _band(_chords_heard(chords, found), begin + performance.pick_up, bar_length(metre), ratio, swings)
    if wishes.drone:
        held = tuple(_drone_notes(drones, found))
        voices.append(Voice("Drone", DRONE_PROGRAM, 4, 80, _MIDDLE, held))
    clicks = tuple(_all_clicks(found, wishes, performance))
    if clicks:
        voices.append(Voice("Click", None, _PERCUSSION_CHANNEL, _PERCUSSION_VOLUME, _MIDDLE, clicks))
    if not any(chain.from_iterable(voice.notes for voice in voices)):
        raise InputError("nothing would sound: ask for the melody, the click, a drone or the band")
    return Arrangement(
        title=performance.title,
        metre=metre,
        tempos=tempos_heard(performance, wishes, found),
        voices=tuple(voices),
        duration=found[-1].heard + found[-1].duration if found else begin,
    )
