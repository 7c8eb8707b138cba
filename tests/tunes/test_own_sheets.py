"""Sheets of ours brought back by the command that moves tunes: at home they stay what they were."""

from pathlib import Path

import pytest
from lxml import etree

from etudegen.export.midi import midi
from etudegen.export.musicxml import musicxml
from etudegen.instrument.catalogue import instrument
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.study import Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.keys import KeysWanted, in_keys, read_tune, study_of
from tests.kinds.cases import CASES

TRUMPET = instrument("trumpet-bflat")
RANGE = (WrittenPitch.parse("F#3"), WrittenPitch.parse("G5"))
HOME = KeysWanted(TRUMPET, *RANGE, keys="home")


def at_home(content: bytes, folder: Path) -> Study:
    file = folder / "sheet.musicxml"
    file.write_bytes(content)
    return study_of(in_keys(read_tune(file, None, TRUMPET), HOME), HOME)


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "instrument" not in case.texts][::2])
def test_at_home_a_sheet_sounds_and_is_labelled_and_fingered_as_it_was(name: str, tmp_path: Path) -> None:
    study = CASES[name].study()
    again = at_home(musicxml(write_score(study)), tmp_path)
    assert [(line.label, line.heading) for line in again.lines] == [(line.label, line.heading) for line in study.lines]
    assert [[tone.fingering for tone in line.tones] for line in again.lines] == [
        [tone.fingering for tone in line.tones] for line in study.lines
    ]
    before, after = perform(write_score(study)), perform(write_score(again))
    assert after.notes == before.notes


def part(time: str, notes: str) -> bytes:
    """A part of one measure, its notes counted in sixteenths."""
    return (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Trumpet</part-name></score-part>'
        '</part-list><part id="P1"><measure number="1"><attributes><divisions>4</divisions><key><fifths>0</fifths>'
        f"</key><time>{time}</time></attributes>{notes}</measure></part></score-partwise>"
    ).encode()


def note(step: str, duration: int, kind: str, dots: int = 0, inside: str = "") -> str:
    lasts = "" if inside == "<grace/>" else f"<duration>{duration}</duration>"
    return (
        f"<note>{inside if inside == '<grace/>' else ''}<pitch><step>{step}</step><octave>4</octave></pitch>{lasts}"
        f"<type>{kind}</type>{'<dot/>' * dots}</note>"
    )


SIX_EIGHT = part("<beats>6</beats><beat-type>8</beat-type>", note("G", 6, "quarter", 1) + note("A", 6, "quarter", 1))
GRACE = part(
    "<beats>4</beats><beat-type>4</beat-type>",
    note("G", 0, "eighth", inside="<grace/>") + note("A", 8, "half") + note("G", 8, "half"),
)


@pytest.mark.parametrize("content", [SIX_EIGHT, GRACE], ids=["dotted quarters in 6/8", "a grace note"])
def test_a_tune_of_ours_brought_back_twice_is_written_as_it_was(content: bytes, tmp_path: Path) -> None:
    once = musicxml(write_score(at_home(content, tmp_path)))
    twice = musicxml(write_score(at_home(once, tmp_path)))
    for tag in ("dot", "grace", "tie", "type"):
        written = [[each.text for each in etree.fromstring(file).iter(tag)] for file in (content, once, twice)]
        assert written[0] == written[1] == written[2]
    assert midi(perform(write_score(at_home(once, tmp_path)))) == midi(perform(write_score(at_home(twice, tmp_path))))


def test_eighths_of_a_pick_up_are_beamed_where_the_file_has_no_beams(tmp_path: Path) -> None:
    eighths = note("G", 2, "eighth") + note("A", 2, "eighth")
    whole = note("B", 16, "whole")
    content = part("<beats>4</beats><beat-type>4</beat-type>", eighths).replace(
        b"</measure>", f'</measure><measure number="2">{whole}</measure>'.encode()
    )
    root = etree.fromstring(musicxml(write_score(at_home(content, tmp_path))))
    assert [beam.text for beam in root.iter("beam")] == ["begin", "end"]


def test_words_of_a_jump_are_printed_and_said_not_to_be_followed(tmp_path: Path) -> None:
    words = "<direction><direction-type><words>To Coda</words></direction-type></direction>"
    content = part("<beats>4</beats><beat-type>4</beat-type>", words + note("G", 16, "whole"))
    file = tmp_path / "jump.musicxml"
    file.write_bytes(content)
    tune = read_tune(file, None, TRUMPET)
    assert [text.text for line in tune.lines for text in line.texts] == ["To Coda"]
    assert any("'To Coda' in bar 1" in lost for lost in tune.lost)
