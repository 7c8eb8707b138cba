"""The public face: everything from plain values, as bytes, and no file written."""

import datetime
import doctest
import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from lxml import etree
from mido import MidiFile

import etudegen
from etudegen import public
from tests.kinds.reading import schema

ROOT = Path(__file__).resolve().parents[1]
WALTZ = ROOT / "demo" / "harbour-band" / "quay-waltz.musicxml"
_LIGHT = """
import json, sys
import etudegen
heavy = ("music21", "abjad", "numpy", "typer", "etudegen")
before = sorted(name for name in sys.modules if name.split(".")[0] in heavy)
import etudegen.notation.score
from requests.exceptions import HTTPError
print(json.dumps(before))
"""


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder that one is in."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def test_importing_the_package_loads_nothing_else_and_replaces_no_module() -> None:
    done = subprocess.run([sys.executable, "-c", _LIGHT], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == ["etudegen"]


@pytest.mark.parametrize("module", [etudegen, public])
def test_every_example_in_the_docstrings_comes_out_as_it_says(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]
    assert result.attempted > 0
    assert result.failed == 0


def test_every_public_function_tells_what_it_returns() -> None:
    for name in public.__all__:
        assert getattr(etudegen, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'nothing_of_the_sort'"):
        etudegen.nothing_of_the_sort  # noqa: B018


def test_the_examples_of_the_readme_run(nowhere: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (section,) = re.findall(r"^## From Python\n(.*?)^## ", text, flags=re.MULTILINE | re.DOTALL)
    code = "\n".join(line[4:] for line in section.splitlines() if line.startswith("    "))
    assert "etudegen.book" in code
    exec(compile(code.replace("demo/harbour-band", str(WALTZ.parent)), "README.md", "exec"), {})


def test_a_study_of_every_kind_is_made_of_its_usual_values() -> None:
    for kind in etudegen.kinds():
        made = etudegen.exercise(kind.name)
        assert made.lines
        assert set(etudegen.settings(kind.name)) >= {"low", "high", "tempo"}


def test_a_study_comes_in_every_format_and_no_file_is_written(nowhere: Path) -> None:
    made = etudegen.exercise("scales", keys="D", extent="one", scale="dorian")
    assert schema().validate(etree.fromstring(etudegen.musicxml(made)))
    (nowhere.parent / "sheet.mid").write_bytes(etudegen.midi(made))
    assert any(message.type == "note_on" for message in MidiFile(nowhere.parent / "sheet.mid"))
    assert etudegen.pdf(made).startswith(b"%PDF")
    (page,) = etudegen.svg(made)
    assert b"<svg" in page
    assert etudegen.lilypond(made).startswith(b"\\version")
    assert etudegen.score(made).parts[0].partName == "B♭ trumpet"
    assert list(nowhere.iterdir()) == []


def test_the_notes_of_page_file_and_performance_are_known_by_the_same_names() -> None:
    made = etudegen.exercise("slurs", positions="0 2", tempo=60)
    written = {note.get("id") for note in etree.fromstring(etudegen.musicxml(made)).iter("note")}
    heard = [note.id for note in etudegen.performance(made).notes]
    assert len(set(heard)) == len(heard) == sum(1 for line in made.lines for _ in line.tones)
    assert set(heard) <= written


def test_a_session_is_planned_and_its_book_made_without_a_file(nowhere: Path) -> None:
    player = etudegen.profile(label="fourth chair", low="C4", high="C5", aims={"sound": 1}, minutes_per_day=12)
    session = etudegen.plan(player)
    assert sum(block.minutes for block in session.plan.blocks) == 12
    files = etudegen.book_files(session, name="fourth-chair")
    (first, *others) = files.items()
    assert first[0].endswith(".pdf")
    assert first[1].startswith(b"%PDF")
    assert all(name.endswith(".musicxml") for name, _ in others)
    assert list(nowhere.iterdir()) == []


def test_a_tune_is_read_from_bytes_and_comes_in_keys(nowhere: Path) -> None:
    made = etudegen.in_keys(etudegen.tune(WALTZ.read_bytes()), keys="D Bb", low="C4", high="G5")
    assert [line.label for line in made.lines] == ["D", "B♭"]
    assert list(nowhere.iterdir()) == []


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda: etudegen.exercise("scale"), "unknown kind of exercise 'scale'"),
        (lambda: etudegen.exercise("long-tones", counts=5000), "counts"),
        (lambda: etudegen.exercise("slurs", rests="equl"), "unknown rest 'equl'"),
        (lambda: etudegen.exercise("slurs", repeats=-5), "repeats"),
        (lambda: etudegen.exercise("slurs", loudness="p"), "unknown setting 'loudness'"),
        (lambda: etudegen.profile(label="x", low="H4"), "low"),
        (lambda: etudegen.plan(etudegen.profile(label="x"), minutes=3), "minutes"),
        (lambda: etudegen.plan(etudegen.profile(label="x"), aim="speed"), "unknown aim 'speed'"),
        (lambda: etudegen.tune(b"nothing"), "'tune' is no MusicXML file"),
        (lambda: etudegen.in_keys(etudegen.tune(WALTZ), low="C6", high="C4"), "low C6 lies above high C4"),
        (lambda: etudegen.in_keys(etudegen.tune(WALTZ), low=60), "low 60 is not allowed: give a text"),
        (lambda: etudegen.in_keys(etudegen.tune(WALTZ), tempo="100"), "tempo '100' is not allowed"),
        (lambda: etudegen.plan("fourth chair"), "'fourth chair' is no profile"),
        (lambda: etudegen.plan(etudegen.profile(label="x"), minutes="20"), "minutes '20' is not allowed"),
        (lambda: etudegen.plan(etudegen.profile(label="x"), day=datetime.datetime(2026, 11, 25)), "day datetime"),
        (lambda: etudegen.plan(etudegen.profile(label="x"), history={"x": 2}), "history {'x': 2} is not allowed"),
        (lambda: etudegen.pdf("scales"), "'scales' is no study"),
        (lambda: etudegen.musicxml(None), "None is no study"),
        (lambda: etudegen.book("session"), "'session' is no session"),
        (lambda: etudegen.play_along(etudegen.exercise("slurs"), sounds=["mp3"]), "unknown sound 'mp3'"),
        (lambda: etudegen.Engraver(parts=3), "parts 3 is not allowed"),
    ],
)
def test_what_cannot_be_is_told_in_the_words_of_the_command_line(ask: object, told: str) -> None:
    with pytest.raises(etudegen.InputError, match=re.escape(told)):
        ask()  # type: ignore[operator]


def test_lists_are_taken_where_a_text_is_a_list() -> None:
    assert etudegen.exercise("scales", keys=["D", "G"]) == etudegen.exercise("scales", keys="D G")
    assert etudegen.exercise("slurs", contour=[2, 3, 4, 3, 2]) == etudegen.exercise("slurs", contour="2 3 4 3 2")


def test_an_engraver_engraves_once_and_says_so() -> None:
    made = etudegen.exercise("slurs", positions="0")
    with etudegen.SpareEngravers() as spare:
        engraver = spare.take()
        assert etudegen.pdf(made, engraver=engraver).startswith(b"%PDF")
        with pytest.raises(etudegen.MachineError, match="has been used"):
            etudegen.pdf(made, engraver=engraver)
    with etudegen.Engraver() as fresh, pytest.raises(etudegen.InputError, match="nothing to engrave yet"):
        fresh.pdf()


_PLAYER = etudegen.profile(label="third chair")
_SHEET = etudegen.exercise("slurs", positions="0")
_HUGE = 10**5000


@pytest.mark.parametrize(
    "call",
    [
        lambda wrong: etudegen.tune(wrong),
        lambda wrong: etudegen.in_keys(wrong),
        lambda wrong: etudegen.add_kind(wrong),
        lambda wrong: etudegen.settings(wrong),
        lambda wrong: etudegen.exercise(wrong),
        lambda wrong: etudegen.exercise("slurs", concert=wrong),
        lambda wrong: etudegen.exercise("scales", tempo=wrong or 2.5),
        lambda wrong: etudegen.play_along(_SHEET, wrong or "none"),
        lambda wrong: etudegen.play_along(_SHEET, tempos=wrong or 5),
        lambda wrong: etudegen.play_along(_SHEET, sounds=wrong or 5),
        lambda wrong: etudegen.pdf(_SHEET, engraver=wrong or "none"),
        lambda wrong: etudegen.Engraver(parts=wrong),
        lambda wrong: etudegen.Engraver(pdf=wrong),
        lambda wrong: etudegen.SpareEngravers(wrong),
        lambda wrong: etudegen.Backing(melody=wrong),
        lambda wrong: etudegen.Backing(band=wrong or "none"),
        lambda wrong: etudegen.book_files(etudegen.plan(_PLAYER, minutes=10), audio=wrong),
        lambda wrong: etudegen.plan(_PLAYER, minutes=10, aim=wrong or 0),
        lambda wrong: etudegen.History(days=wrong),
        *(
            lambda wrong, name=name: etudegen.Profile(**{"label": "x", name: wrong if wrong is not None else 3.5})
            for name in etudegen.Profile.__dataclass_fields__
        ),
    ],
)
@pytest.mark.parametrize("wrong", [None, b"x", 2.5, _HUGE, object()], ids=["none", "bytes", "float", "huge", "object"])
def test_a_wrong_value_is_told_in_one_sentence_by_its_name(call: Callable[[Any], object], wrong: object) -> None:
    with pytest.raises(etudegen.InputError) as told:
        call(wrong)
    assert 10 < len(str(told.value)) < 600


def test_a_long_text_is_told_by_its_beginning() -> None:
    with pytest.raises(etudegen.InputError) as told:
        etudegen.exercise("x" * 100_000)
    assert len(str(told.value)) < 600
