"""What files of notation programs hold that is legal, or nearly, and must still become pages."""

from pathlib import Path

import pytest
from lxml import etree

from etudegen.engraving.reading import read_page
from etudegen.export.musicxml import musicxml
from etudegen.instrument.catalogue import instrument
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.keys import KeysWanted, in_keys, read_tune, study_of
from etudegen.tunes.tune import Tune
from tests.kinds.reading import schema
from tests.printing import printed_together

TRUMPET = instrument("trumpet-bflat")
WANTED = KeysWanted(TRUMPET, WrittenPitch.parse("F#3"), WrittenPitch.parse("C6"), keys="C Gb")


def note(step: str, *inside: str, duration: int = 12, type_: str = "quarter", before: str = "") -> str:
    """A note of MusicXML; twelve divisions are a quarter note."""
    return (
        f"<note>{before}<pitch><step>{step}</step><octave>4</octave></pitch><duration>{duration}</duration>"
        f"<type>{type_}</type>{''.join(inside)}</note>"
    )


def slur(kind: str, number: int = 1) -> str:
    return f'<notations><slur type="{kind}" number="{number}"/></notations>'


def both(*inside: str) -> str:
    return f"<notations>{''.join(inside)}</notations>"


def lyric(text: str, syllabic: str = "single", verse: int = 1) -> str:
    return f'<lyric number="{verse}"><syllabic>{syllabic}</syllabic><text>{text}</text></lyric>'


REST = "<note><rest/><duration>12</duration><type>quarter</type></note>"
TRIPLET = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
GRACE = "<note><grace/><pitch><step>D</step><octave>4</octave></pitch><type>eighth</type></note>"
# As music21 writes it.
NO_CHORD = '<harmony><root><root-step text="">C</root-step></root><kind text="N.C.">none</kind></harmony>'
SEVENTH = "<harmony><root><root-step>G</root-step></root><kind>dominant</kind></harmony>"


def third(step: str, mark: str = "") -> str:
    tuplet = both(f'<tuplet type="{mark}" number="1"/>') if mark else ""
    return note(step, TRIPLET, tuplet, duration=4, type_="eighth")


FOUR = "".join(map(note, "CDEF"))
# Each is one bar or more of 4/4 unless it says another metre.
ODD = {
    "slurs one within another": note("C", slur("start")) + note("D", slur("start", 2)) + note("E", slur("stop", 2))
    + note("F", slur("stop")),
    "slurs that overlap": note("C", slur("start")) + note("D", slur("start", 2)) + note("E", slur("stop"))
    + note("F", slur("stop", 2)),
    "a slur to a rest": note("C", slur("start")) + note("D") + note("E")
    + REST.replace("</type>", "</type>" + slur("stop")),
    "a tie to nothing": note("C") * 3 + note("C", '<tie type="start"/>', both('<tied type="start"/>')),
    "a tie to another note": note("C", both('<tied type="start"/>')).replace(
        "<type>", '<tie type="start"/><type>') + note("D") * 3,
    "a breath with a dynamic": note("C", both("<articulations><breath-mark/></articulations>",
                                              "<dynamics><ff/></dynamics>")) + note("D") * 3,
    "a hyphen to nothing": note("C", lyric("har", "begin")) + note("D") * 3,
    "a second verse alone": note("C", lyric("one"), lyric("two", verse=2)) + note("D", lyric("more", verse=2))
    + note("E") * 2,
    "no chord in the middle": SEVENTH + note("C") * 2 + NO_CHORD + note("D") * 2,
    "a grace note in a triplet": third("C", "start") + GRACE + third("D") + third("E", "stop") + note("F") * 3,
    "a triplet without marks": third("C") + third("D") + third("E") + note("F") * 3,
    "a whole bar of rest in 5/4": ("5/4", '<note><rest measure="yes"/><duration>60</duration></note>',
                                   note("C") * 5),
    "a whole bar of rest in 9/8": ("9/8", '<note><rest measure="yes"/><duration>54</duration></note>',
                                   note("C", duration=6, type_="eighth") * 9),
    "a bar that is too long": note("C") * 5,
    "a bar that is too short": note("C") * 3,
}  # fmt: skip


def file_of(case: str, folder: Path) -> Path:
    found = ODD[case]
    metre, bars = (found[0], found[1:]) if isinstance(found, tuple) else ("4/4", (found, FOUR))
    beats, unit = metre.split("/")
    opening = (
        f"<attributes><divisions>12</divisions><key><fifths>0</fifths></key>"
        f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time></attributes>"
    )
    measures = "".join(
        f'<measure number="{number}">{opening if number == 1 else ""}{bar}</measure>'
        for number, bar in enumerate(bars, start=1)
    )
    path = folder / "odd.musicxml"
    path.write_text(
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Part</part-name></score-part>'
        f'</part-list><part id="P1">{measures}</part></score-partwise>',
        encoding="utf-8",
    )
    return path


@pytest.fixture
def melody(request: pytest.FixtureRequest, tmp_path: Path) -> Tune:
    return read_tune(file_of(request.param, tmp_path), None, TRUMPET)


@pytest.mark.parametrize("melody", list(ODD), indirect=True)
def test_it_is_valid_and_played_to_the_end(melody: Tune) -> None:
    score = write_score(study_of(in_keys(melody, WANTED), WANTED))
    root = etree.fromstring(musicxml(score))
    assert schema().validate(root), schema().error_log
    assert perform(score).duration == 2 * sum(line.duration for line in melody.lines)


def test_all_are_engraved_without_a_warning(tmp_path: Path) -> None:
    melodies = {name: read_tune(file_of(name, tmp_path), None, TRUMPET) for name in ODD}
    scores = {name: write_score(study_of(in_keys(melody, WANTED), WANTED)) for name, melody in melodies.items()}
    assert len(printed_together({name: read_page(score) for name, score in scores.items()})) == len(ODD)


@pytest.mark.parametrize("melody", ["slurs one within another", "slurs that overlap"], indirect=True)
def test_one_slur_at_a_time_is_kept_and_the_other_told(melody: Tune) -> None:
    slurred = [tone.slurred for tone in melody.tones]
    # It begins once and ends once.
    assert sum(now and not before for before, now in zip([False, *slurred], slurred, strict=False)) == 1
    assert not slurred[-1]
    assert not any(tone.slur_begins for tone in melody.tones)
    assert any("slur" in lost for lost in melody.lost)


@pytest.mark.parametrize("melody", ["a second verse alone"], indirect=True)
def test_verses_keep_their_numbers(melody: Tune) -> None:
    sung = [[(each.verse, each.text) for each in event.lyrics] for event in melody.tones]
    assert sung[:2] == [[(1, "one"), (2, "two")], [(2, "more")]]


@pytest.mark.parametrize("melody", ["no chord in the middle"], indirect=True)
def test_no_chord_is_printed_stored_and_heard_as_none(melody: Tune) -> None:
    score = write_score(study_of(in_keys(melody, WANTED), WANTED))
    assert [name.root for name in read_page(score).measures[0].chords][-1] == "N.C."
    assert [kind.text for kind in etree.fromstring(musicxml(score)).iter("kind")] == ["dominant", "none"] * 2
    assert [chord.duration for chord in perform(score).chords] == [2, 2]
