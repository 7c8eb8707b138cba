"""The MIDI file of a play-along, read back by mido."""

import io
from fractions import Fraction

import mido
import pytest

from etudegen.export.arrangement_midi import midi_file
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.performance import SoundingChord as Chord
from etudegen.sound.performance import SoundingNote
from tests.sound.music import performance


def read(made: Arrangement) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi_file(made)), charset="utf-8")


def timed(track: mido.MidiTrack) -> list[tuple[int, mido.Message]]:
    found, tick = [], 0
    for message in track:
        tick += message.time
        found.append((tick, message))
    return found


def full() -> Arrangement:
    tempos = ((Fraction(0), Fraction(160)), (Fraction(8), Fraction(80)))
    chords = [Chord(Fraction(4 * bar), Fraction(4), bar, (bar, bar + 4, bar + 7), bar) for bar in range(4)]
    notes = [(beat, Fraction(15, 16), 60 + beat) for beat in range(16)]
    lines = ((Fraction(0), Fraction(16)),)
    played = performance(notes, 16, tempos=tempos, chords=tuple(chords), lines=lines)
    return arrange(played, Backing(count_in=1, click=True, drone=True, band=True, swing=True), 120)


def test_each_voice_is_a_track_with_its_channel_and_program() -> None:
    made = full()
    file = read(made)
    assert (file.type, len(file.tracks)) == (1, 1 + len(made.voices))
    for voice, track in zip(made.voices, file.tracks[1:], strict=True):
        assert track.name == voice.name.replace("♭", "b")
        channels = {message.channel for message in track if not message.is_meta}
        assert channels == {voice.channel - 1}
        programs = [message.program for message in track if message.type == "program_change"]
        assert programs == ([] if voice.program is None else [voice.program])
        volumes = [message.value for message in track if message.is_cc(7)]
        assert volumes == [voice.volume]
    # General MIDI System Level 1 specification: percussion is channel 10, which mido counts as 9.
    assert {voice.name for voice in made.voices if voice.channel == 10} == {"Click", "Cymbal"}


def test_every_note_is_there_to_the_tick() -> None:
    made = full()
    file = read(made)
    for voice, track in zip(made.voices, file.tracks[1:], strict=True):
        heard = sorted(
            (tick, message.note, message.velocity) for tick, message in timed(track) if message.type == "note_on"
        )
        written = sorted((round(note.start * file.ticks_per_beat), note.key, note.velocity) for note in voice.notes)
        assert heard == written
        ends = sorted((tick, message.note) for tick, message in timed(track) if message.type == "note_off")
        assert ends == sorted(
            (round((note.start + note.duration) * file.ticks_per_beat), note.key) for note in voice.notes
        )


def test_tempos_metre_title_and_length() -> None:
    made = full()
    file = read(made)
    conductor = timed(file.tracks[0])
    assert file.tracks[0].name == "Harbour étude"
    metres = [(message.numerator, message.denominator) for _, message in conductor if message.type == "time_signature"]
    assert metres == [(4, 4)]
    tempos = [(tick, mido.tempo2bpm(message.tempo)) for tick, message in conductor if message.type == "set_tempo"]
    assert tempos == [(0, pytest.approx(120)), (12 * file.ticks_per_beat, pytest.approx(60))]
    assert file.length == pytest.approx(float(made.seconds), abs=1e-3)


def test_a_bent_note_glides_and_comes_back() -> None:
    glide = ((Fraction(1), 0), (Fraction(3, 2), -100), (Fraction(2), -100), (Fraction(3), 0))
    bent = SoundingNote(Fraction(0), Fraction(4), 67, 80, glide)
    made = Arrangement("", (4, 4), ((Fraction(0), Fraction(60)),), (Voice("T", 56, 1, 100, 64, (bent,)),), Fraction(4))
    file = read(made)
    wheel = [(tick, message.pitch) for tick, message in timed(file.tracks[1]) if message.type == "pitchwheel"]
    # Half of the range of two half steps, which registered parameter 0 sets (MIDI 1.0 specification).
    assert min(pitch for _, pitch in wheel) == -4096
    assert wheel[-1] == (3 * file.ticks_per_beat, 0)
    assert [message.value for message in file.tracks[1] if message.is_cc(6)] == [2]


def test_same_bytes_every_time() -> None:
    assert midi_file(full()) == midi_file(full())
