"""From a study to its play-along: what is printed is what is heard."""

import io
from dataclasses import replace

import librosa
import mido
import numpy as np
import pytest

from etudegen.exercises.slurs import SlurParameters, study
from etudegen.export.arrangement_midi import midi_file
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.performance import Performance, perform
from etudegen.sound.rendering import FULL_RATE, render
from etudegen.study import Study
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.swing import SWUNG, soloist_ratio
from tests.sound.music import cents, hertz


@pytest.fixture(scope="module")
def made() -> Study:
    return study(SlurParameters(positions=(OPEN,), rhythm=Rhythm.EIGHTHS, tempo=120))


@pytest.fixture(scope="module")
def performance(made: Study) -> Performance:
    return perform(write_score(made))


def test_call_and_response_takes_every_line_twice(made: Study, performance: Performance) -> None:
    arrangement = arrange(performance, Backing(click=False, answer=True))
    file = mido.MidiFile(file=io.BytesIO(midi_file(arrangement)), charset="utf-8")
    keys = [message.note for message in file.tracks[1] if message.type == "note_on"]
    # A B-flat trumpet sounds a whole tone below what is written.
    assert keys == [tone.pitch.number - 2 for line in made.lines for tone in line.tones]
    assert arrangement.duration == 4 + 2 * performance.duration


def test_each_tone_sounds_at_concert_pitch(made: Study, performance: Performance) -> None:
    samples = render(arrange(performance, Backing(click=False, count_in=0)))[:, 0]
    tones = [tone for line in made.lines for tone in line.tones]
    for note, tone in zip(performance.notes[:12], tones, strict=False):
        begin, end = (float(moment) / 2 for moment in (note.start, note.start + note.duration))
        part = samples[round((begin + 0.04) * FULL_RATE) : round((end - 0.01) * FULL_RATE)]
        measured = librosa.yin(part, fmin=100, fmax=1200, sr=FULL_RATE, frame_length=4096)
        assert abs(cents(float(np.median(measured)), hertz(tone.pitch.number - 2))) < 5


def test_a_swinging_page_swings_at_every_tempo(made: Study) -> None:
    swinging = perform(write_score(replace(made, feel=SWUNG)))
    for tempo in (60, 120, 180):
        notes = arrange(swinging, Backing(click=False, count_in=0), tempo).voices[0].notes
        ratio = soloist_ratio(tempo)
        assert notes[1].start == ratio / (1 + ratio)
    even = arrange(swinging, Backing(click=False, count_in=0, swing=False)).voices[0].notes
    assert list(even) == list(perform(write_score(made)).notes)
