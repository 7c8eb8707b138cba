"""MusicXML of easy and hard sheets of every kind: the schema, another program that reads it, and every sign in it."""

import functools
import warnings
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import partitura
import pytest
from partitura.score import Slur, Tuplet

from etudegen.exercises.kinds import KINDS
from etudegen.study import Study
from etudegen.theory.swing import soloist_ratio
from tests.kinds.cases import CASES, TEXTS, cases_with, study_of
from tests.kinds.reading import ReadSheet, read_sheet, runs, schema, timed_lines, timed_tones, written

every_case = pytest.mark.parametrize("name", CASES)


@functools.cache
def _of(name: str) -> tuple[Study, ReadSheet]:
    study = study_of(name)
    return study, read_sheet(written(study))


@functools.cache
def _partitura(name: str, folder: Path) -> partitura.score.Part:
    file = folder / f"{list(CASES).index(name)}.musicxml"
    file.write_bytes(written(study_of(name)))
    with warnings.catch_warnings():
        # It looks for tempo words in every text, and says of labels that they are none.
        warnings.simplefilter("ignore")
        (part,) = partitura.load_musicxml(file).parts
    return part


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("musicxml")


def test_every_kind_has_an_easy_sheet_and_hard_ones() -> None:
    assert set(TEXTS) == {kind.name for kind in KINDS}
    for cases in TEXTS.values():
        assert "easy" in cases
        assert len(cases) >= 2


@every_case
def test_the_file_is_valid_by_the_schema_of_musicxml_4(name: str) -> None:
    _, sheet = _of(name)
    assert schema().validate(sheet.root), schema().error_log


@every_case
def test_names_of_notes_and_their_starts_and_durations_are_those_of_the_study(name: str) -> None:
    study, sheet = _of(name)
    assert [(tone.at, tone.duration, tone.pitch) for tone in sheet.tones] == [
        (at, tone.duration, (tone.pitch.step, tone.pitch.alter, tone.pitch.octave)) for at, tone in timed_tones(study)
    ]
    assert len(sheet.measures) == study.bars


@every_case
def test_partitura_reads_the_same_pitches_starts_and_durations(name: str, folder: Path) -> None:
    part = _partitura(name, folder)
    divisions = int(part.quarter_duration_map(0))
    read = sorted(
        (
            Fraction(int(note["onset_div"]), divisions),
            int(note["pitch"]),
            Fraction(int(note["duration_div"]), divisions),
        )
        for note in part.note_array()
    )
    # It keeps the written pitch and does not carry out the transposition of the part.
    assert read == sorted((at, tone.pitch.number, tone.duration) for at, tone in timed_tones(study_of(name)))


@every_case
def test_partitura_reads_as_many_ties_slurs_and_tuplets(name: str, folder: Path) -> None:
    part, (study, sheet) = _partitura(name, folder), _of(name)
    assert sum(note.tie_next is not None for note in part.notes) == sum(len(tone.notes) - 1 for tone in sheet.tones)
    assert len(list(part.iter_all(Slur))) == len(runs([tone.slurred for _, tone in timed_tones(study)]))
    thirds = [
        (at, tone) for at, tone in timed_tones(study) if at.denominator % 3 == 0 or tone.duration.denominator == 3
    ]
    beats = {at // 1 for at, _ in thirds}
    assert len(list(part.iter_all(Tuplet))) == len(beats)


@every_case
def test_tuplets_open_and_close_in_every_beat_that_has_one(name: str) -> None:
    _, sheet = _of(name)
    inside = False
    for note in (note for tone in sheet.tones for note in tone.notes):
        kinds = [tuplet.get("type") for tuplet in note.findall("notations/tuplet")]
        assert kinds in ([], ["start"], ["stop"])
        assert (kinds == ["start"]) <= (not inside)
        inside = inside or kinds == ["start"]
        modified = note.find("time-modification")
        assert inside == (modified is not None)
        if modified is not None:
            assert (modified.findtext("actual-notes"), modified.findtext("normal-notes")) == ("3", "2")
        inside = inside and kinds != ["stop"]
    assert not inside


@every_case
def test_slurs_join_the_notes_that_the_study_joins(name: str) -> None:
    study, sheet = _of(name)
    open_slurs: dict[str, int] = {}
    spans = []
    for place, tone in enumerate(sheet.tones):
        for note in tone.notes:
            for slur in note.findall("notations/slur"):
                if slur.get("type") == "start":
                    assert slur.get("number") not in open_slurs
                    open_slurs[slur.get("number")] = place
                else:
                    spans.append((open_slurs.pop(slur.get("number")), place))
    assert open_slurs == {}
    assert spans == [(first, last + 1) for first, last in runs([tone.slurred for _, tone in timed_tones(study)])]


@every_case
def test_dots_lines_and_accents_stand_at_their_notes(name: str) -> None:
    study, sheet = _of(name)
    for read, (_, tone) in zip(sheet.tones, timed_tones(study), strict=True):
        marks = [str(mark) for mark in tone.marks]
        breath = ["breath-mark"] if tone.breath else []
        if len(read.notes) == 1:
            assert read.tags("notations/articulations/*") == [*marks, *breath]
        else:
            assert read.tags("notations/articulations/*") == marks
            assert [each.tag for each in read.notes[-1].findall("notations/articulations/*")] == breath


@every_case
def test_syllables_are_lyrics(name: str) -> None:
    study, sheet = _of(name)
    for read, (_, tone) in zip(sheet.tones, timed_tones(study), strict=True):
        assert read.texts("lyric/text") == ([tone.syllable] if tone.syllable else [])


@every_case
def test_fingerings_and_bends_are_technical_signs_at_their_notes(name: str) -> None:
    study, sheet = _of(name)
    for read, (_, tone) in zip(sheet.tones, timed_tones(study), strict=True):
        assert read.texts("notations/technical/fingering") == ([tone.fingering] if tone.fingering else [])
        # Element brass-bend of the MusicXML 4.0 reference: tests/reference/notation.csv.
        assert len(read.tags("notations/technical/brass-bend")) == bool(tone.bent)
        assert all(note.find("notations/technical") is None for note in read.notes[1:])


def test_every_line_of_bends_has_one_sign_in_the_file() -> None:
    for name in (name for name in CASES if name.startswith("bends")):
        study, sheet = _of(name)
        assert len(list(sheet.root.iter("brass-bend"))) == len(study.lines)


@every_case
def test_octave_brackets_cover_their_notes_and_leave_the_pitch_alone(name: str) -> None:
    study, sheet = _of(name)
    tones = timed_tones(study)
    shifts = sorted(
        (at, {"up": 0, "down": 0, "stop": 1}[shift.get("type")], shift) for at, shift in sheet.placed("octave-shift")
    )
    wanted = runs([tone.octave_bracket for _, tone in tones])
    # Each line starts above the bracket, so that brackets of two lines never meet.
    assert len(shifts) == 2 * len(wanted)
    for (first, last), (start, _, opening), (end, _, closing) in zip(wanted, shifts[::2], shifts[1::2], strict=True):
        # Element octave-shift of the MusicXML 4.0 reference: 8va is type "down", so 8vb is "up".
        assert (opening.get("type"), opening.get("size"), closing.get("type")) == ("up", "8", "stop")
        assert start == tones[first][0]
        assert tones[last][0] <= end <= tones[last][0] + tones[last][1].duration
        between = (
            _order(sheet, opening) < sheet_order(sheet, first) <= sheet_order(sheet, last) < _order(sheet, closing)
        )
        assert between, "the bracket does not cover its notes in the order of the file"


def _order(sheet: ReadSheet, element: object) -> int:
    return list(sheet.root.iter()).index(element)


def sheet_order(sheet: ReadSheet, place: int) -> int:
    return _order(sheet, sheet.tones[place].notes[-1])


@every_case
def test_each_line_stands_in_its_key_on_a_system_of_its_own_under_its_label(name: str) -> None:
    study, sheet = _of(name)
    keys = dict(sheet.placed("key"))
    breaks = {at for at, element in sheet.placed("print") if element.get("new-system") == "yes"}
    bold = [(at, words.text) for at, words in sheet.placed("words") if words.get("font-weight") == "bold"]
    standing = None
    for number, (at, line) in enumerate(timed_lines(study)):
        if at in keys:
            standing = int(keys.pop(at).findtext("fifths"))
        assert standing == line.sharps
        assert (at in breaks) == (number > 0)
        assert [text for when, text in bold if when == at] == [text for text in (line.heading, line.label) if text]
    assert keys == {}, "a key changes inside a line"


@every_case
def test_hairpins_open_to_the_middle_of_a_swelling_tone_and_close_to_its_end(name: str) -> None:
    study, sheet = _of(name)
    wanted = []
    for at, tone in timed_tones(study):
        if tone.swell:
            middle, end = at + tone.duration / 2, at + tone.duration
            wanted += [(at, "crescendo"), (middle, "stop"), (middle, "diminuendo"), (end, "stop")]
    for begins, line in timed_lines(study):
        for hairpin in line.hairpins:
            wanted += [(begins + hairpin.at, "crescendo" if hairpin.grows else "diminuendo")]
            wanted += [(begins + hairpin.until, "stop")]
    found = [(at, wedge.get("type")) for at, wedge in sheet.placed("wedge")]
    assert sorted(found) == sorted(wanted)
    open_wedges: dict[str, str] = {}
    for _, wedge in sheet.placed("wedge"):
        number, kind = wedge.get("number"), wedge.get("type")
        assert (number in open_wedges) == (kind == "stop")
        if kind == "stop":
            del open_wedges[number]
        else:
            open_wedges[number] = kind
    assert open_wedges == {}


@every_case
def test_small_words_and_dynamics_stand_where_the_study_has_them(name: str) -> None:
    study, sheet = _of(name)
    small = sorted((at, words.text) for at, words in sheet.placed("words") if words.get("font-style") == "italic")
    tones = timed_tones(study)
    assert small == sorted((at, text) for at, tone in tones for text in (tone.partial_number, tone.remark) if text)
    soft = [(at, mark[0].tag) for at, mark in sheet.placed("dynamics")]
    told = [(begins + text.at, text.text) for begins, line in timed_lines(study) for text in line.texts]
    assert sorted(soft) == sorted([*told, *((at, tone.dynamic) for at, tone in tones if tone.dynamic)])


@every_case
def test_swing_is_said_once_with_the_ratio_of_the_tempo_and_only_if_asked(name: str) -> None:
    study, sheet = _of(name)
    swings = list(sheet.placed("swing"))
    words = [at for at, words in sheet.placed("words") if words.text == "Swing"]
    assert len(swings) == len(words) == study.feel.swung
    if study.feel.swung:
        (at, swing), *_ = swings
        assert at == 0
        assert swing.findtext("swing-type") == "eighth"
        ratio = Fraction(int(swing.findtext("first")), int(swing.findtext("second")))
        # The soloist's, whose part it is, below 2 to 1: tests/reference/swing_ratio.csv names the sources.
        assert 1 <= ratio < 2
        assert abs(ratio - soloist_ratio(study.tempo)) < 0.06


@every_case
def test_the_tempo_is_a_mark_at_the_start_and_where_another_begins(name: str) -> None:
    study, sheet = _of(name)
    begins, marks = Fraction(0), list[tuple[Fraction, str]]()
    for line in study.lines:
        tempo = str((line.measures[0].tempo if line.measures else None) or study.tempo)
        if not marks or marks[-1][1] != tempo:
            marks.append((begins, tempo))
        begins += line.duration
    assert [(at, mark.findtext("per-minute")) for at, mark in sheet.placed("metronome")] == marks


@every_case
def test_accidentals_alone_tell_the_pitches_of_a_bar_in_its_key(name: str) -> None:
    study, sheet = _of(name)
    signs = {"sharp": 1, "flat": -1, "natural": 0}
    lines = [*((at, line.sharps) for at, line in timed_lines(study)), (Fraction(10**9), 0)]
    for (begins, sharps), (ends, _) in pairwise(lines):
        bent = dict.fromkeys("FCGDAEB"[:sharps], 1) if sharps > 0 else dict.fromkeys("BEADGCF"[:-sharps], -1)
        standing: dict[tuple[str, int], int] = {}
        bar = None
        for tone in sheet.tones:
            # A slash has no pitch, so it has no accidental.
            for note in tone.notes[:1] if tone.texts("notehead") != ["slash"] else []:
                if not begins <= tone.at < ends:
                    continue
                if tone.at // study.bar != bar:
                    bar, standing = tone.at // study.bar, {}
                step, alter, octave = tone.pitch
                sign = note.findtext("accidental")
                if sign is not None:
                    standing[step, octave] = signs[sign]
                assert standing.get((step, octave), bent.get(step, 0)) == alter


@pytest.mark.parametrize(
    ("sign", "setting"),
    [
        ("staccato", "staccato"), ("tenuto", "legato"), ("accent", "accented"), ("lyric", "triple-tongue"),
        ("octave-shift", "brackets"), ("brass-bend", "whole_step"), ("wedge", "swell"), ("swing", "swing"),
        ("tuplet", "triplets"), ("slur", "slurred"), ("fingering", "every"),
    ],
)  # fmt: skip
def test_the_cases_that_ask_for_a_sign_have_it(sign: str, setting: str) -> None:
    names = cases_with(setting)
    assert names
    for name in names:
        assert next(_of(name)[1].root.iter(sign), None) is not None, name
