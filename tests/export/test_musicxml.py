"""MusicXML files against the published schema, two other programs that read them, and the study they came from."""

import functools
import importlib.util
import os
import re
import subprocess
import warnings
from fractions import Fraction
from pathlib import Path

import lilypond
import mido
import partitura
import pytest
from hypothesis import given, settings
from lxml import etree

from etudegen.errors import InputError
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import NAMED, parse_contour
from etudegen.exercises.slurs import PositionOrder, SlurParameters, study
from etudegen.export.musicxml import musicxml
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.valves import POSITIONS
from etudegen.notation.score import write_score
from etudegen.study import Study
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from tests.reference.tables import value
from tests.strategies import NASTY_TITLES, small_studies

HERE = Path(__file__).parent
_SCHEMA_IMPORT = "{http://www.w3.org/2001/XMLSchema}import"

holds_for_every_file = settings(max_examples=10)
any_study = small_studies().map(lambda made: made[1])

SOME_STUDIES = {
    "usual": SlurParameters(),
    "triplets with everything printed": SlurParameters(
        rhythm=Rhythm.TRIPLETS, contour=NAMED["climb"], fingerings=Fingerings.EVERY, partial_numbers=True
    ),
    "far partials in sixteenths": SlurParameters(
        rhythm=Rhythm.SIXTEENTHS, far_partials=True, high=WrittenPitch("C", 0, 6), rests=Rests.HALF
    ),
    "own partials on a C trumpet": SlurParameters(
        contour=parse_contour("2 4 3 5"), rhythm=Rhythm.EIGHTHS, repeats=3, instrument=instrument("trumpet-c")
    ),
    "shuffled ramp without rests": SlurParameters(
        ramp=True, direction=PositionOrder.SHUFFLED, rests=Rests.NONE, positions=POSITIONS[:3]
    ),
}
some_study = pytest.mark.parametrize(
    "made", [pytest.param(study(asked), id=name) for name, asked in SOME_STUDIES.items()]
)


@functools.cache
def schema() -> etree.XMLSchema:
    """The MusicXML 4.0 schema as the package `musicxml` ships it, with what it imports taken from beside this file."""
    (package,) = importlib.util.find_spec("musicxml").submodule_search_locations
    document = etree.parse(Path(package) / "generate_classes" / "musicxml_4_0.xsd")
    for imported in document.getroot().iter(_SCHEMA_IMPORT):
        imported.set("schemaLocation", (HERE / Path(imported.get("schemaLocation")).name).as_uri())
    return etree.XMLSchema(document)


def written(made: Study) -> bytes:
    return musicxml(write_score(made))


def parsed(made: Study) -> etree._Element:
    return etree.fromstring(written(made))


def tones_of(made: Study) -> list[tuple[int, Fraction, Fraction]]:
    """Key number at written pitch, start and duration in quarter notes of every tone."""
    heard, at = [], Fraction(0)
    for line in made.lines:
        for event in line.events:
            if hasattr(event, "pitch"):
                heard.append((event.pitch.number, at, event.duration))
            at += event.duration
    return heard


def alter_of(note: etree._Element) -> int:
    return int(note.findtext("pitch/alter") or 0)


def test_the_schema_refuses_what_is_not_musicxml() -> None:
    root = parsed(study(SlurParameters()))
    assert schema().validate(root), schema().error_log
    root.find("part/measure/note/pitch/step").text = "H"
    assert not schema().validate(root)


@holds_for_every_file
@given(any_study)
def test_every_file_is_valid_musicxml(made: Study) -> None:
    assert schema().validate(parsed(made)), schema().error_log


@some_study
def test_the_studies_that_are_looked_at_closely_are_valid_too(made: Study) -> None:
    assert schema().validate(parsed(made)), schema().error_log


@some_study
def test_partitura_reads_the_same_pitches_starts_and_durations(made: Study, tmp_path: Path) -> None:
    file = tmp_path / "sheet.musicxml"
    file.write_bytes(written(made))
    with warnings.catch_warnings():
        # It looks for tempo words in every text, and says of labels that they are none.
        warnings.simplefilter("ignore")
        (part,) = partitura.load_musicxml(file).parts
    notes = part.note_array()
    divisions = int(part.quarter_duration_map(0))
    read = [
        (
            int(note["pitch"]),
            Fraction(int(note["onset_div"]), divisions),
            Fraction(int(note["duration_div"]), divisions),
        )
        for note in notes
    ]
    assert sorted(read, key=lambda note: note[1]) == tones_of(made)


@pytest.mark.parametrize(
    "made", [pytest.param(study(asked), id=name) for name, asked in list(SOME_STUDIES.items())[1:4]]
)
def test_musicxml2ly_gives_the_notes_back_at_concert_pitch(made: Study, tmp_path: Path) -> None:
    engraver = Path(lilypond.executable())
    sheet, converted = tmp_path / "sheet.musicxml", tmp_path / "converted.ly"
    sheet.write_bytes(written(made))
    paths = os.pathsep.join([str(engraver.parent), os.environ.get("PATH", "")])
    conversion = subprocess.run(
        [lilypond.executable("musicxml2ly"), "--loglevel=WARN", "-o", converted, sheet],
        env={**os.environ, "PATH": paths}, capture_output=True, text=True,
    )  # fmt: skip
    assert (conversion.returncode, conversion.stdout, conversion.stderr) == (0, "", "")
    text = converted.read_text(encoding="utf-8")
    (voice,) = re.findall(r"^(PartPOneVoiceOne) =", text, re.MULTILINE)
    music = text[: text.index("% The score definition")]
    converted.write_text(f"{music}\n\\score {{ \\{voice} \\midi {{ }} }}\n", encoding="utf-8")
    played = subprocess.run(
        [engraver, "--loglevel=WARN", "-o", tmp_path / "played", converted], capture_output=True, text=True
    )
    # The converter hangs a word that follows a breath mark on the breath, not on the note.
    complaints = [line for line in played.stderr.splitlines() if "warning" in line or "error" in line]
    astray = [line for line in complaints if "Unattached TextScriptEvent" in line]
    assert (played.returncode, played.stdout, complaints) == (0, "", astray)
    assert len(astray) <= sum(tone.breath for line in made.lines for tone in line.tones)
    (midi,) = (*tmp_path.glob("played.mid"), *tmp_path.glob("played.midi"))
    half_steps = 0 if made.instrument.key == "trumpet-c" else -2
    expected = [(number + half_steps, start, duration) for number, start, duration in tones_of(made)]
    assert notes_in(mido.MidiFile(midi)) == expected


def notes_in(file: mido.MidiFile) -> list[tuple[int, Fraction, Fraction]]:
    """Key number, start and duration in quarter notes of every note."""
    heard, sounding = [], {}
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                sounding[message.note] = tick
            elif message.type in ("note_on", "note_off"):
                start = sounding.pop(message.note)
                heard.append(
                    (message.note, Fraction(start, file.ticks_per_beat), Fraction(tick - start, file.ticks_per_beat))
                )
    return sorted(heard, key=lambda note: note[1])


@holds_for_every_file
@given(any_study)
def test_no_other_program_and_no_date_stand_in_the_file(made: Study) -> None:
    file = written(made)
    title = made.title.encode()
    for word in (b"music21", b"encoding-date", b"composer", b"movement-title"):
        assert word not in file.lower() or word in title.lower()
    root = etree.fromstring(file)
    assert not re.search(r"\d{4}-\d{2}-\d{2}", " ".join(root.find("identification").itertext()))
    assert [software.text.split()[0] for software in root.iter("software")] == ["etudegen"]


@holds_for_every_file
@given(any_study)
def test_the_title_of_the_study_is_the_title_of_the_work_and_of_the_page(made: Study) -> None:
    root = parsed(made)
    assert root.findtext("work/work-title") == made.title
    credits = {credit.findtext("credit-type"): credit.findtext("credit-words") for credit in root.iter("credit")}
    assert credits["title"] == made.title
    assert credits["subtitle"] == made.subtitle


@pytest.mark.parametrize("title", NASTY_TITLES)
def test_a_title_full_of_signs_that_mean_something_elsewhere_is_only_a_title(title: str) -> None:
    root = parsed(study(SlurParameters(title=title, positions=POSITIONS[:1])))
    # A blank title is none at all: the sheet is called what its kind is called.
    assert root.findtext("work/work-title").split() == (title.split() or ["Lip", "slurs"])


# Python puts bytes of a command line that are no UTF-8 into texts as unpaired surrogates, the last one here.
@pytest.mark.parametrize(
    "title", ["be\x07ll", "es\x1b[31mcape", "form\x0cfeed", "nul\x00", "none\uffff", "Gr\udcfc\udcdfe"], ids=ascii
)
def test_a_title_with_characters_that_xml_cannot_hold_still_gives_a_file_or_is_refused(title: str) -> None:
    try:
        asked = SlurParameters(title=title, positions=POSITIONS[:1])
    except InputError:
        return
    root = parsed(study(asked))
    assert re.findall("[a-zA-Z]", root.findtext("work/work-title")) == re.findall("[a-zA-Z]", title)


@pytest.mark.parametrize("key", instrument_keys())
def test_transposition_leads_from_written_to_sounding_pitch(key: str) -> None:
    root = parsed(study(SlurParameters(instrument=instrument(key))))
    moves = [
        f"{transpose.findtext('diatonic')} / {transpose.findtext('chromatic')}" for transpose in root.iter("transpose")
    ]
    # B-flat: element transpose of the MusicXML 4.0 reference; a C instrument has none, or one that moves nothing.
    if key == "trumpet-c":
        assert moves in ([], ["0 / 0"])
    else:
        assert moves == [value("notation", "B-flat trumpet transpose diatonic / chromatic")]


@pytest.mark.parametrize("key", instrument_keys())
def test_the_instrument_is_named_with_its_standard_sound_and_programme(key: str) -> None:
    played = instrument(key)
    root = parsed(study(SlurParameters(instrument=played)))
    assert [part.text for part in root.iter("part-name")] == [played.name]
    assert [sound.text for sound in root.iter("instrument-sound")] == [played.musicxml_sound]
    assert played.musicxml_sound.startswith("brass.")
    # MusicXML 4.0 counts programmes from 1, General MIDI as in the table from 0.
    programme = int(value("notation", "General MIDI trumpet programme (zero-based)")) + 1
    assert [int(found.text) for found in root.iter("midi-program")] == [programme]


def test_the_metronome_mark_says_72_quarters_and_so_does_the_playback() -> None:
    root = parsed(study(SlurParameters(tempo=72)))
    assert [(mark.findtext("beat-unit"), mark.findtext("per-minute")) for mark in root.iter("metronome")] == [
        ("quarter", "72")
    ]
    assert [float(sound.get("tempo")) for sound in root.iter("sound")] == [72]


@some_study
def test_each_line_but_the_first_begins_a_new_system_with_its_label(made: Study) -> None:
    root = parsed(made)
    starts = [sum(int(before.duration / 4) for before in made.lines[:place]) for place in range(len(made.lines))]
    measures = root.findall("part/measure")
    breaks = [place for place, measure in enumerate(measures) if measure.find("print[@new-system='yes']") is not None]
    assert breaks == starts[1:]
    for at, line in zip(starts, made.lines, strict=True):
        bold = [words.text for words in measures[at].iter("words") if words.get("font-weight") == "bold"]
        assert bold == [words for words in (line.heading, line.label) if words]


@some_study
def test_fingerings_stand_at_the_notes_of_the_study_that_have_them(made: Study) -> None:
    found = []
    for note in parsed(made).iter("note"):
        new = note.find("rest") is None and note.find("tie[@type='stop']") is None
        texts = [fingering.text for fingering in note.iter("fingering")]
        if new:
            found.append(texts[0] if texts else None)
        else:
            assert not texts
    assert found == [tone.fingering for line in made.lines for tone in line.tones]


def test_partial_numbers_are_words_in_front_of_their_notes() -> None:
    made = study(SOME_STUDIES["triplets with everything printed"])
    waiting, found = None, []
    for element in parsed(made).findall("part/measure/*"):
        if element.tag == "direction":
            waiting = next((words.text for words in element.iter("words") if words.get("font-style")), waiting)
        elif element.tag == "note" and element.find("rest") is None and element.find("tie[@type='stop']") is None:
            found.append(waiting)
            waiting = None
    assert found == [str(tone.partial) for line in made.lines for tone in line.tones]


@holds_for_every_file
@given(any_study)
def test_slurs_and_beams_and_ties_and_tuplets_open_and_close_in_turn(made: Study) -> None:
    slurs = ties = tuplets = beams = 0
    opened = 0
    for note in parsed(made).iter("note"):
        kinds = [slur.get("type") for slur in note.iter("slur")]
        opened += kinds.count("start")
        slurs += kinds.count("start") - kinds.count("stop")
        ties += len(note.findall("tie[@type='start']")) - len(note.findall("tie[@type='stop']"))
        assert len(note.findall("tie")) == len(note.findall("notations/tied"))
        tuplets += len(note.findall("notations/tuplet[@type='start']"))
        assert bool(tuplets) == (note.find("time-modification") is not None)
        tuplets -= len(note.findall("notations/tuplet[@type='stop']"))
        beam = note.findtext("beam[@number='1']")
        beams += {"begin": 1, "end": -1}.get(beam, 0)
        assert beam != "continue" or beams == 1
        assert slurs in (0, 1)
        assert ties in (0, 1)
        assert tuplets in (0, 1)
        assert beams in (0, 1)
    assert (slurs, ties, tuplets, beams) == (0, 0, 0, 0)
    tones = [tone for line in made.lines for tone in line.tones]
    before = [False, *(tone.slurred for tone in tones)]
    assert opened == sum(tone.slurred and not joined for tone, joined in zip(tones, before, strict=False))


@holds_for_every_file
@given(any_study)
def test_accidental_signs_alone_tell_a_reader_the_pitches(made: Study) -> None:
    signs = {"sharp": 1, "flat": -1, "natural": 0, "double-sharp": 2, "flat-flat": -2}
    for measure in parsed(made).iter("measure"):
        standing: dict[tuple[str | None, str | None], int] = {}
        for note in measure.iter("note"):
            if note.find("rest") is not None:
                continue
            place = note.findtext("pitch/step"), note.findtext("pitch/octave")
            sign = note.findtext("accidental")
            if note.find("tie[@type='stop']") is not None:
                assert sign is None
                continue
            if sign is not None:
                standing[place] = signs[sign]
            assert standing.get(place, 0) == alter_of(note)


@holds_for_every_file
@given(any_study)
def test_bars_are_full_and_counted_rests_are_whole_bars(made: Study) -> None:
    root = parsed(made)
    divisions = int(root.findtext(".//divisions"))
    measures = root.findall("part/measure")
    assert len(measures) == made.bars
    for measure in measures:
        assert sum(int(note.findtext("duration")) for note in measure.iter("note")) == 4 * divisions
    assert not list(root.iter("backup")) + list(root.iter("forward"))
    counted = sum(int(rest.text) for rest in root.iter("multiple-rest"))
    whole = [rest for rest in root.iter("rest") if rest.get("measure") == "yes"]
    assert counted <= len(whole)
    assert 4 * len(whole) == sum(
        event.duration for line in made.lines for event in line.events if not hasattr(event, "pitch")
    )


def test_making_the_file_twice_gives_the_same_bytes() -> None:
    for asked in SOME_STUDIES.values():
        assert written(study(asked)) == written(study(asked))
