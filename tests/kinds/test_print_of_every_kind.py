"""Easy and hard sheets of every kind on paper: LilyPond does not complain, and the page says what it should."""

import io
import re
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pypdf
import pytest

from etudegen.exercises.kinds import KINDS
from etudegen.sheets.contents import Format
from etudegen.sheets.sheet import write_sheets
from etudegen.study import Study
from tests.kinds.cases import CASES, study_of
from tests.kinds.reading import read_sheet, runs, schema

# Two or three of each kind: all would take too long.
PRINTED = (
    "long-tones, easy", "long-tones, swells over barlines",
    "slurs, easy", "slurs, sixteenths", "slurs, triplets of their own",
    "bends, easy", "bends, whole steps", "bends, with cents",
    "pedals, easy", "pedals, under brackets", "pedals, brackets without rests",
    "contact, easy", "contact, swells",
    "scales, easy", "scales, swing", "scales, triple tongue", "scales, slurred triplets",
    "patterns, easy", "patterns, triplets bent", "patterns, sixteenths",
    "arpeggios, easy", "arpeggios, broken ninths",
    "changes, easy", "changes, repeats and no chord", "changes, swing in flats", "changes, triplets in five",
    "vocabulary, easy", "vocabulary, placed",
    "range, easy", "range, scales with a reach", "range, arpeggios slurred",
)  # fmt: skip
every_sheet = pytest.mark.parametrize("name", PRINTED)
Sheets = dict[str, tuple[Study, dict[str, bytes] | Exception]]
FORMATS = (Format.PDF, Format.LY, Format.MUSICXML, Format.MIDI)


class _Sheets(dict[str, tuple[Study, dict[str, bytes] | Exception]]):
    """Sheets by name, each made when it is first asked for: tests may run in several processes."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder

    def __missing__(self, name: str) -> tuple[Study, dict[str, bytes] | Exception]:
        self[name] = _made(name, self._folder / str(len(self)))
        return self[name]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Sheets:
    """Every sheet's study with its files by their endings, or with what went wrong."""
    return _Sheets(tmp_path_factory.mktemp("sheets"))


def _made(name: str, folder: Path) -> tuple[Study, dict[str, bytes] | Exception]:
    study = study_of(name)
    try:
        files = write_sheets([study], folder, FORMATS).files
    except Exception as error:
        return study, error
    return study, {path.suffix: path.read_bytes() for path in files}


def _printed(sheets: Sheets, name: str) -> tuple[Study, dict[str, bytes]]:
    study, files = sheets[name]
    if isinstance(files, Exception):
        raise files
    return study, files


def _words(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def _minutes(seconds: Fraction) -> str:
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60} s" if whole >= 60 else f"{whole} s"


def test_two_sheets_at_least_of_every_kind_are_printed() -> None:
    assert set(PRINTED) <= set(CASES)
    for kind in KINDS:
        assert f"{kind.name}, easy" in PRINTED
        assert sum(name.startswith(f"{kind.name}, ") for name in PRINTED) >= 2


@every_sheet
def test_lilypond_has_nothing_to_complain_of(name: str, sheets: Sheets) -> None:
    _, files = _printed(sheets, name)
    assert set(files) == {".pdf", ".ly", ".musicxml", ".mid"}
    assert schema().validate(read_sheet(files[".musicxml"]).root), schema().error_log


@every_sheet
def test_the_page_says_what_the_study_says(name: str, sheets: Sheets) -> None:
    study, files = _printed(sheets, name)
    words = _words(files[".pdf"])
    for text in (study.title, study.subtitle, study.instruction, study.caution):
        # The signs are in another font, and the reader gives them back in another order.
        for piece in re.split("[♯♭]", text):
            assert piece.strip() in words
    assert f"= {study.tempo}" in words
    if study.contact_seconds is None:
        assert f"Playing {_minutes(study.playing_seconds)} · resting {_minutes(study.resting_seconds)}" in words
    else:
        assert f"Contact {_minutes(study.contact_seconds)}" in words
    assert ("Swing" in words) == study.feel.swung
    for line in study.lines:
        assert line.heading is None or line.heading in words


@every_sheet
def test_the_engravers_text_has_every_sign_of_the_study(name: str, sheets: Sheets) -> None:
    study, files = _printed(sheets, name)
    text = files[".ly"].decode()
    music = text[text.index(r"\score") :]
    tones = [tone for line in study.lines for tone in line.tones]
    marks = [str(mark) for tone in tones for mark in tone.marks]
    assert len(re.findall(r"\\staccato|\\tenuto|\\accent|-\.|--|->", music)) == len(marks)
    assert music.count(r"\bend-sign") == sum(bool(tone.bent) for tone in tones)
    assert music.count(r"\fingering-digits") == sum(bool(tone.fingering) for tone in tones)
    assert music.count(r"\tongue-syllable") == sum(bool(tone.syllable) for tone in tones)
    assert music.count(r"\partial-number") == sum(bool(tone.partial_number) for tone in tones)
    assert music.count(r"\remark") == sum(bool(tone.remark) for tone in tones)
    assert music.count(r"\<") == music.count(r"\>") == sum(tone.swell for tone in tones)
    assert music.count(r"\breathe") == sum(tone.breath for tone in tones)
    brackets = len(runs([tone.octave_bracket for tone in tones]))
    assert music.count(r"\ottava #-1") == music.count(r"\ottava #0") == brackets
    keys = [line.sharps for line in study.lines]
    changes = 1 + sum(before != after for before, after in pairwise(keys))
    assert music.count(r"\key ") == changes
