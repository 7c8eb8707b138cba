"""MIDI files of easy and hard sheets of every kind, read back by mido, against the study they came from."""

import functools
import io
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import mido
import pytest

from etudegen.export.midi import midi
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.study import Study, Tone
from etudegen.theory.swing import soloist_ratio
from tests.kinds.cases import CASES, cases_with, study_of
from tests.kinds.reading import heard_length, heard_tones

every_case = pytest.mark.parametrize("name", CASES)
# The pitch wheel of a MIDI file reaches from -8192 to 8191 (MIDI 1.0), here over two half steps either way.
_WHEEL_A_HALF_STEP = 4096


@dataclass
class Heard:
    """A note of the file: where it starts and ends, in ticks, its key and how hard it is played."""

    start: int
    end: int
    key: int
    velocity: int


@functools.cache
def _of(name: str) -> tuple[Study, mido.MidiFile]:
    study = study_of(name)
    return study, mido.MidiFile(file=io.BytesIO(midi(perform(write_score(study)))), charset="utf-8")


def _timed(file: mido.MidiFile) -> list[tuple[int, mido.Message]]:
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            found.append((tick, message))
    return found


def _heard(file: mido.MidiFile) -> list[Heard]:
    notes: list[Heard] = []
    sounding = False
    for tick, message in _timed(file):
        if message.type == "note_on" and message.velocity:
            assert not sounding, "two notes sound together"
            notes.append(Heard(tick, tick, message.note, message.velocity))
            sounding = True
        elif message.type in ("note_on", "note_off"):
            assert sounding
            assert message.note == notes[-1].key
            notes[-1].end = tick
            sounding = False
    assert not sounding
    return notes


def _breaths(study: Study) -> list[list[tuple[Fraction, Tone]]]:
    """Return the tones in groups that sound as one note: a note, the note the lips bring it down to, and back."""
    groups: list[list[tuple[Fraction, Tone]]] = []
    for at, tone in heard_tones(study):
        joined = groups and groups[-1][-1][1].slurred and (tone.bent or groups[-1][-1][1].bent)
        if joined:
            groups[-1].append((at, tone))
        else:
            groups.append([(at, tone)])
    return groups


def _transposition(study: Study) -> int:
    # Common practice, no source: B flat instruments sound a whole step lower than written.
    return 0 if study.instrument.key == "trumpet-c" else -2


@every_case
def test_keys_sound_at_concert_pitch_and_where_the_study_has_them(name: str) -> None:
    study, file = _of(name)
    heard, groups = _heard(file), _breaths(study)
    assert [note.key for note in heard] == [group[0][1].pitch.number + _transposition(study) for group in groups]
    if not study.feel.swung:
        assert [note.start for note in heard] == [group[0][0] * file.ticks_per_beat for group in groups]


@every_case
def test_the_file_lasts_as_long_as_the_study(name: str) -> None:
    study, file = _of(name)
    quarters = heard_length(study)
    if all(line.is_played_as_it_stands for line in study.lines):
        assert abs(file.length - float(quarters * 60 / study.tempo)) < 0.001
    else:
        assert abs(file.length - float(study.whole_seconds)) < 0.001
    assert {sum(message.time for message in track) for track in file.tracks} == {quarters * file.ticks_per_beat}


@every_case
def test_slurred_and_broad_notes_are_held_staccato_ones_half_and_tongued_ones_nearly(name: str) -> None:
    study, file = _of(name)
    heard = _heard(file)
    for note, group in zip(heard, _breaths(study), strict=True):
        last = group[-1][1]
        full = (group[-1][0] + last.duration - group[0][0]) * file.ticks_per_beat
        if study.feel.swung:
            continue
        marks = [str(mark) for mark in last.marks]
        if last.slurred or "tenuto" in marks:
            assert note.end - note.start == full
        elif "staccato" in marks:
            assert note.end - note.start == full / 2
        else:
            assert last.duration * file.ticks_per_beat * Fraction(7, 8) - 1 <= note.end - note.start - (
                full - last.duration * file.ticks_per_beat
            )
            assert note.end - note.start < full
    for (note, following), (group, _) in zip(pairwise(heard), pairwise(_breaths(study)), strict=True):
        assert (note.end == following.start) == (group[-1][1].slurred or "tenuto" in map(str, group[-1][1].marks))


@every_case
def test_accented_notes_are_clearly_louder_than_all_others(name: str) -> None:
    study, file = _of(name)
    loud: set[int] = set()
    plain: set[int] = set()
    for note, group in zip(_heard(file), _breaths(study), strict=True):
        accented = "accent" in map(str, group[0][1].marks)
        (loud if accented else plain).add(note.velocity)
    assert max(plain) <= 127
    if "accented" in CASES[name].texts.values():
        # By a quarter or so, and not to the limit. Common practice, no source.
        assert 1.2 * max(plain) < min(loud) < 1.5 * max(plain)
    else:
        assert not loud


@pytest.mark.parametrize("name", cases_with("swing"))
def test_swung_off_beats_come_as_late_as_soloists_play_them(name: str) -> None:
    study, file = _of(name)
    beat = 60_000 / study.tempo
    # A soloist stays below 2 to 1, and at fast tempi at 1 to 1: tests/reference/swing_ratio.csv.
    ratio = float(soloist_ratio(study.tempo))
    assert 1 <= ratio < 2
    short = beat / (1 + ratio)
    off_beats = 0
    for note, (at, _) in zip(_heard(file), heard_tones(study), strict=True):
        milliseconds = note.start / file.ticks_per_beat * beat
        if at % 1 == 0:
            assert note.start == at * file.ticks_per_beat
        else:
            assert at % 1 == Fraction(1, 2)
            off_beats += 1
            assert abs(milliseconds - (float(at + Fraction(1, 2)) * beat - short)) < 1
    assert off_beats > 10
    for (note, following), (_, tone) in zip(pairwise(_heard(file)), heard_tones(study)[:-1], strict=True):
        assert (note.end == following.start) == tone.slurred


def test_swing_is_tried_slow_and_fast() -> None:
    tempos = {study_of(name).tempo for name in cases_with("swing")}
    assert min(tempos) < 120 < max(tempos)


@every_case
def test_the_wheel_is_at_rest_wherever_a_note_begins_and_ends(name: str) -> None:
    _, file = _of(name)
    wheel = 0
    for _, message in _timed(file):
        if message.type == "pitchwheel":
            wheel = message.pitch
        elif message.type in ("note_on", "note_off"):
            assert wheel == 0
    bends = any(message.type == "pitchwheel" for _, message in _timed(file))
    assert bends == name.startswith("bends")


@pytest.mark.parametrize("name", [name for name in CASES if name.startswith("bends")])
def test_a_bent_note_glides_down_as_far_as_it_is_bent_stays_and_comes_back(name: str) -> None:
    study, file = _of(name)
    messages = _timed(file)
    controls = [(message.control, message.value) for _, message in messages if message.type == "control_change"]
    # Registered parameter 0, the bend range, is set to two half steps (MIDI 1.0).
    assert controls[:3] == [(101, 0), (100, 0), (6, 2)]
    wheel = [(tick, message.pitch) for tick, message in messages if message.type == "pitchwheel"]
    bent = [(at, tone) for at, tone in heard_tones(study) if tone.bent]
    assert len(bent) == len(study.lines)
    seen = 0
    for at, tone in bent:
        start, end = at * file.ticks_per_beat, (at + tone.duration) * file.ticks_per_beat
        inside = [(tick, pitch) for tick, pitch in wheel if start <= tick <= end]
        seen += len(inside)
        deepest = -_WHEEL_A_HALF_STEP * tone.bent
        assert min(pitch for _, pitch in inside) == deepest
        assert inside[-1] == (end, 0)
        down = [tick for tick, pitch in inside if pitch == deepest]
        # It is heard as the lower note for at least a quarter of its length.
        back = next(tick for tick, pitch in inside if tick > down[0] and pitch > deepest)
        assert back - down[0] >= (end - start) / 4
        before, after = (
            [pitch for tick, pitch in inside if tick <= down[0]],
            [pitch for tick, pitch in inside if tick >= back],
        )
        assert before == sorted(before, reverse=True)
        assert after == sorted(after)
    assert seen == len(wheel), "nothing else bends"
