"""A sheet of ours read back from its MusicXML means what it meant, for every kind and for tunes."""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

import pytest
from music21 import converter

from etudegen.exercises.kinds import kind_named
from etudegen.export.musicxml import musicxml
from etudegen.notation.score import write_score
from etudegen.sound.performance import Performance, perform
from etudegen.study import Line, Measure, Rest, Study, Tone
from etudegen.tunes.keys import as_it_stands, read_tune
from tests.kinds.cases import CASES


def meant(line: Line) -> list[tuple[object, ...]]:
    """What is played of a line, with tied notes and neighbouring rests as one."""
    events: list[Tone | Rest] = []
    tied = False
    for event in line.events:
        before = events[-1] if events else None
        if isinstance(event, Rest) and isinstance(before, Rest):
            events[-1] = Rest(before.duration + event.duration)
        elif isinstance(event, Tone) and isinstance(before, Tone) and tied:
            events[-1] = replace(
                before, duration=before.duration + event.duration, slurred=event.slurred, breath=event.breath
            )
        else:
            events.append(event)
        tied = isinstance(event, Tone) and event.tied
    return [
        (event.duration,)
        if isinstance(event, Rest)
        else (
            event.pitch, event.duration, event.slurred, event.marks, event.syllable, event.bent, event.octave_bracket,
            event.breath, event.slash, event.remark, event.partial_number,
        )
        for event in events
    ]  # fmt: skip


def over_it(line: Line) -> list[tuple[object, ...]]:
    """What stands over a line: chords as they sound and are printed, repeats."""
    chords = [
        (at, symbol and (symbol.root.name, symbol.quality.symbol, symbol.bass and symbol.bass.name))
        for at, symbol in line.chords
    ]
    repeats, at = [], Fraction(0)
    for measure in line.measures:
        repeats += [(at, "start")] if measure.repeat_starts else []
        at += measure.length
        repeats += [(at, "end")] if measure.repeat_ends else []
    return [*chords, *repeats]


class Way(NamedTuple):
    """A study and how it sounds, what comes back of it, and what is told as lost on the way."""

    study: Study
    heard: Performance
    again: Study
    lost: tuple[str, ...]


@pytest.fixture(scope="module", params=list(CASES))
def way(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Way:
    study = CASES[request.param].study()
    score = write_score(study)
    # Before MusicXML is written, which moves what stands under octave brackets.
    heard = perform(score)
    file = tmp_path_factory.mktemp("sheet") / "sheet.musicxml"
    file.write_bytes(musicxml(score))
    tune = read_tune(file, None, study.instrument)
    return Way(study, heard, as_it_stands(tune, study.instrument), tune.lost)


def test_repeats_and_tempi_of_lines_come_back(tmp_path) -> None:
    study = kind_named("scales").study(kind_named("scales").parameters.of({"keys": "C F Bb Eb"}))
    times, tempi = (4, 2, 1, 3), (None, 60, 60, None)
    lines = [
        replace(line, times=often, measures=(Measure(study.bar, tempo=tempo),) if tempo else ())
        for line, often, tempo in zip(study.lines, times, tempi, strict=False)
    ]
    study = replace(study, lines=tuple(lines))
    heard = perform(write_score(study))
    # Four quarter notes at a time, repeats as often as the signs say.
    assert heard.duration == sum(line.times * line.duration for line in study.lines)
    assert sum(note.id == "line-4-event-1" for note in heard.notes) == 3
    file = tmp_path / "sheet.musicxml"
    file.write_bytes(musicxml(write_score(study)))
    again = as_it_stands(read_tune(file, None, study.instrument), study.instrument)
    assert [line.times for line in again.lines] == list(times)
    assert [line.measures[0].tempo if line.measures else None for line in again.lines] == list(tempi)
    assert again.whole_seconds == study.whole_seconds
    (second,) = converter.parse(file).parts
    assert sum(note.quarterLength for note in second.expandRepeats().flatten().notesAndRests) == heard.duration


def test_every_line_is_read_back_as_it_was(way: Way) -> None:
    study, again = way.study, way.again
    assert [meant(line) for line in again.lines] == [meant(line) for line in study.lines]
    assert [over_it(line) for line in again.lines] == [over_it(line) for line in study.lines]
    for field in ("label", "heading", "sharps"):
        assert [getattr(line, field) for line in again.lines] == [getattr(line, field) for line in study.lines]
    opening = study.lines[0].measures
    # What is in stages begins at the tempo of the first.
    tempo = (opening[0].tempo if opening else None) or study.tempo
    assert (again.tempo, again.metre, again.feel) == (tempo, study.metre, study.feel)


def test_it_sounds_and_lasts_as_it_did(way: Way) -> None:
    assert replace(perform(write_score(way.again)), title=way.heard.title) == way.heard
    assert way.again.whole_seconds == way.study.whole_seconds


def test_nothing_of_it_is_told_as_lost(way: Way) -> None:
    assert way.lost == ()
