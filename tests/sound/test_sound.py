"""What is heard, measured: length, onsets, pitch, loudness, silence."""

from dataclasses import replace
from fractions import Fraction

import librosa
import numpy as np
import pytest

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.arranging import arrange
from etudegen.sound.backing import Backing
from etudegen.sound.performance import SoundingChord as Chord
from etudegen.sound.performance import SoundingNote
from etudegen.sound.rendering import FULL_RATE, HALF_RATE, render
from etudegen.sound.sampler import Struck, piece
from etudegen.sound.soundfont import font_path
from tests.sound.music import cents, hertz, onsets, performance

RELEASE = 0.15
SCALE = [52, 55, 58, 60, 62, 64, 67, 70, 72, 75, 79, 82, 84]
ODD_TEMPO = 97


def pitch(samples: np.ndarray, rate: int) -> float:
    """The fundamental by YIN (A. de Cheveigne and H. Kawahara, JASA 111(4), 2002), the median over the note."""
    found = librosa.yin(samples, fmin=100, fmax=1500, sr=rate, frame_length=4096 if rate == FULL_RATE else 2048)
    return float(np.median(found))


def cut(samples: np.ndarray, rate: int, start: float, end: float) -> np.ndarray:
    return samples[round(start * rate) : round(end * rate), 0]


@pytest.mark.parametrize("tempo", [ODD_TEMPO, 60, 211])
@pytest.mark.parametrize("rate", [FULL_RATE, HALF_RATE])
def test_length_is_exact_to_the_sample(tempo: int, rate: int) -> None:
    played = performance([(0, 1, 60), (4, Fraction(9, 2), 64)], Fraction(17, 2), tempo=tempo)
    samples = render(arrange(played, Backing(click=False)), rate)
    seconds = Fraction(25, 2) * 60 / tempo
    assert samples.shape == (round(seconds * rate), 2)
    assert samples.dtype == np.float32
    # What still rings is faded out.
    assert abs(samples[-rate // 10 :]).max() > 0.1
    assert abs(samples[-1]).max() < 1e-3


@pytest.mark.parametrize(("tempo", "rate"), [(ODD_TEMPO, FULL_RATE), (180, FULL_RATE), (60, HALF_RATE)])
def test_clicks_fall_on_the_beats(tempo: int, rate: int) -> None:
    made = arrange(performance([(0, 1, 60)], 12, tempo=tempo), Backing(count_in=1, click=True, melody=False))
    found = onsets(render(made, rate)[:, 0], rate)
    assert found == pytest.approx([beat * 60 / tempo for beat in range(16)], abs=0.01)


def test_changes_of_tempo_move_the_clicks() -> None:
    tempos = ((Fraction(0), Fraction(120)), (Fraction(4), Fraction(75)))
    made = arrange(performance([], 8, tempos=tempos), Backing(count_in=0, click=True, melody=False))
    found = onsets(render(made)[:, 0], FULL_RATE)
    assert found == pytest.approx(
        [*(beat * 0.5 for beat in range(4)), *(2 + beat * 0.8 for beat in range(4))], abs=0.01
    )


@pytest.mark.parametrize(("rate", "seconds"), [(FULL_RATE, 1.5), (FULL_RATE, 0.25), (HALF_RATE, 1.0)])
def test_trumpet_is_at_concert_pitch_within_five_cents(rate: int, seconds: float) -> None:
    length = Fraction(seconds)
    played = performance([(2 * index, length, key) for index, key in enumerate(SCALE)], 2 * len(SCALE), tempo=60)
    samples = render(arrange(played, Backing(click=False, count_in=0)), rate)
    for index, key in enumerate(SCALE):
        measured = pitch(cut(samples, rate, 2 * index + 0.04, 2 * index + seconds - 0.02), rate)
        assert abs(cents(measured, hertz(key))) < 5, key


def test_a_long_tone_stays_in_tune() -> None:
    samples = render(arrange(performance([(0, 12, 70)], 12, tempo=60), Backing(click=False, count_in=0)))
    for second in range(12):
        assert abs(cents(pitch(cut(samples, FULL_RATE, second + 0.1, second + 0.9), FULL_RATE), hertz(70))) < 5


@pytest.mark.parametrize(("program", "keys"), [(32, (28, 36, 45, 55)), (20, (43, 48, 54))])
def test_bass_and_drone_are_in_tune(program: int, keys: tuple[int, ...]) -> None:
    for key in keys:
        note = SoundingNote(Fraction(0), Fraction(2), key, 90)
        voice = Voice("", program, 2, 100, 64, (note,))
        samples = render(Arrangement("", (4, 4), ((Fraction(0), Fraction(60)),), (voice,), Fraction(2)))
        part = cut(samples, FULL_RATE, 0.3, 1.8)
        found = librosa.yin(part, fmin=hertz(key) * 0.8, fmax=hertz(key) * 1.5, sr=FULL_RATE, frame_length=8192)
        assert abs(cents(float(np.median(found)), hertz(key))) < 5, key


def test_a_glide_is_heard() -> None:
    glide = ((Fraction(1), 0), (Fraction(3, 2), -100), (Fraction(5, 2), -100), (Fraction(3), 0))
    voice = Voice("", 56, 1, 110, 64, (SoundingNote(Fraction(0), Fraction(4), 67, 80, glide),))
    samples = render(Arrangement("", (4, 4), ((Fraction(0), Fraction(60)),), (voice,), Fraction(4)))
    for start, end, below in ((0.1, 0.95, 0), (1.6, 2.4, 100), (3.1, 3.9, 0)):
        measured = pitch(cut(samples, FULL_RATE, start, end), FULL_RATE)
        assert abs(cents(measured, hertz(67)) + below) < 5


def everything(tempo: int = 120) -> Arrangement:
    eighths = [(Fraction(eighth, 2), Fraction(1, 2), 58 + eighth * 7 % 26) for eighth in range(64)]
    chords = [
        Chord(Fraction(4 * bar), Fraction(4), bar, (bar, bar + 4, (bar + 7) % 12, (bar + 10) % 12), bar)
        for bar in range(8)
    ]
    played = performance(eighths, 32, tempo=tempo, chords=tuple(chords), lines=((Fraction(0), Fraction(32)),))
    return arrange(played, Backing(click=True, drone=True, band=True, swing=True))


@pytest.mark.parametrize("which", ["everything", "melody", "click", "drone", "cymbal", "loud"])
def test_peak_lies_between_minus_12_and_minus_1_decibels(which: str) -> None:
    made = everything()
    voices = {
        "everything": made.voices,
        "melody": made.voices[:1],
        "cymbal": made.voices[3:4],
        "drone": made.voices[4:5],
        "click": made.voices[5:],
        "loud": tuple(
            replace(voice, volume=127, notes=tuple(replace(note, velocity=127) for note in voice.notes))
            for voice in made.voices
        ),
    }[which]
    peak = 20 * np.log10(float(np.abs(render(replace(made, voices=voices))).max()))
    assert -12 <= peak <= -1


def test_rests_are_silent() -> None:
    played = performance([(0, 1, 60), (3, 1, 72), (4, Fraction(1, 2), 72), (6, 2, 58)], 8, tempo=60)
    samples = render(arrange(played, Backing(click=False, count_in=0)))
    for start, end in ((1, 3), (4.5, 6)):
        assert np.abs(cut(samples, FULL_RATE, start + RELEASE, end)).max() == 0
    for start, end in ((0, 1), (3, 4.5), (6, 8)):
        assert np.abs(cut(samples, FULL_RATE, start + 0.05, end - 0.05)).max() > 0.05


def test_answers_are_left_to_the_player() -> None:
    phrases = ((Fraction(0), Fraction(4)), (Fraction(4), Fraction(4)))
    played = performance([(beat, 1, 60 + beat) for beat in range(8)], 8, tempo=120, phrases=phrases)
    made = arrange(played, Backing(click=False, count_in=1, answer=True))
    trumpet = render(replace(made, voices=made.voices[:1]))
    for start, silent in ((2, False), (4, True), (6, False), (8, True)):
        loudest = np.abs(cut(trumpet, FULL_RATE, start + RELEASE, start + 2)).max()
        assert loudest == 0 if silent else loudest > 0.05
    clicks = onsets(render(replace(made, voices=made.voices[1:]))[:, 0], FULL_RATE)
    counted = [second + beat / 2 for second in (0, 4, 8) for beat in range(4)]
    assert clicks == pytest.approx(counted, abs=0.01)


def test_notes_begin_where_they_are_written() -> None:
    played = performance([(beat, Fraction(1, 2), 67) for beat in range(8)], 8, tempo=ODD_TEMPO)
    found = onsets(render(arrange(played, Backing(click=False, count_in=0)))[:, 0], FULL_RATE)
    # A blown note swells for some milliseconds before a tenth of its energy is there.
    assert found == pytest.approx([beat * 60 / ODD_TEMPO for beat in range(8)], abs=0.03)


def test_pieces_join_without_a_seam() -> None:
    """A long note, mixed in pieces of some seconds, is frame by frame the note made at once."""
    samples = render(arrange(performance([(0, 10, 64)], 10, tempo=60), Backing(click=False, count_in=0)))[:, 0]
    alone = piece(Struck(56, 64, 80, 10 * FULL_RATE, FULL_RATE), 0, 10 * FULL_RATE, font_path())
    before_the_fade = slice(0, round(9.9 * FULL_RATE))
    scale = samples[:FULL_RATE].max() / alone[:FULL_RATE].max()
    assert np.abs(samples - scale * alone)[before_the_fade].max() < 1e-5
    assert np.abs(samples[: 9 * FULL_RATE].reshape(-1, FULL_RATE // 10)).max(axis=1).min() > 0.05


def test_the_same_every_time() -> None:
    assert np.array_equal(render(everything()), render(everything()))


def test_wrong_rates_and_endless_music_are_refused() -> None:
    made = arrange(performance([(0, 1, 60)], 4), Backing(click=False))
    with pytest.raises(InputError, match="sample rate 8000"):
        render(made, 8000)
    with pytest.raises(InputError, match="at most 30"):
        render(arrange(performance([(0, 1, 60)], 4000), Backing(click=False)))
