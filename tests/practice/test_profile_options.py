"""What a profile is told by option: levels, lists, notes, names."""

import json
import shutil
from pathlib import Path

import pytest
from pypdf import PdfReader

from etudegen.cli.commands import run
from etudegen.practice.profile import read_profile

_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(_DEMO / "quay-waltz.musicxml", tmp_path)


def _said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = run(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


def test_everything_that_a_profile_holds_can_be_told_by_option_and_taken_back(capsys) -> None:
    asked = [
        "profile", "first", "--level", "elementary", "--keys", "C F Bb", "--rhythm", "halves", "--rhythm", "quarters",
        "--kind", "long-tones", "--kind", "repertoire", "--routine", "half-hour", "--last-played", "2026-11-01",
        "--paper", "Letter", "--private-notes", "Forgets to breathe.", "--reach", "A5", "--json",
    ]  # fmt: skip
    code, out, err = _said(capsys, *asked)
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert told["profile"] == "first.toml"
    assert [told[key] for key in ("level", "keys", "rhythms", "kinds", "routine", "last_played", "paper")] == [
        "elementary", ["C", "F", "Bb"], ["halves", "quarters"], ["long-tones", "repertoire"], "half-hour", "2026-11-01",
        "Letter",
    ]  # fmt: skip
    assert told["private_notes"] == "Forgets to breathe."
    words = ["--unset", "level", "--unset", "keys", "--unset", "kinds", "--unset", "reach", "--unset", "last_played"]
    assert _said(capsys, "profile", "first", *words)[0] == 0
    assert set(Path("first.toml").read_text(encoding="utf-8").split()) & {"level", "keys", "kinds", "reach"} == set()
    code, _, err = _said(capsys, "profile", "first", "--unset", "level")
    assert (code, err.count("\n")) == (2, 1)
    assert "it has label" in err


def test_lists_are_added_to_and_taken_from_and_comments_stay(capsys) -> None:
    Path("first.toml").write_text('# Ours.\nlabel = "first"  # who\n\n[aims]\nsound = 1\njazz = 2\n', encoding="utf-8")
    shutil.copy("quay-waltz.musicxml", "ferry.musicxml")
    for tune in ("quay-waltz.musicxml", "ferry.musicxml", "ferry.musicxml"):
        assert _said(capsys, "profile", "first", "--add-tune", tune)[0] == 0
    assert [tune.name for tune in read_profile(Path("first.toml")).tunes] == ["quay-waltz.musicxml", "ferry.musicxml"]
    assert _said(capsys, "profile", "first", "--remove-tune", "quay-waltz", "--remove-aim", "sound")[0] == 0
    for changes in ("| Dm7 | G7 |", "| C | F |"):
        assert _said(capsys, "profile", "first", "--add-changes", changes)[0] == 0
    assert _said(capsys, "profile", "first", "--remove-changes", "| C | F |")[0] == 0
    now = read_profile(Path("first.toml"))
    assert [tune.name for tune in now.tunes] == ["ferry.musicxml"]
    assert now.progressions == ("| Dm7 | G7 |",)
    assert now.aims == {"jazz": 2}
    assert "# Ours." in Path("first.toml").read_text(encoding="utf-8")
    assert "# who" in Path("first.toml").read_text(encoding="utf-8")
    code, _, err = _said(capsys, "profile", "first", "--remove-tune", "nowhere")
    assert code == 2
    assert "there is 'ferry.musicxml'" in err


def test_a_profile_is_found_by_its_name_and_who_there_is_is_told(capsys) -> None:
    assert _said(capsys, "profile", "third-chair", "--low", "G3")[0] == 0
    assert Path("third-chair.toml").is_file()
    assert _said(capsys, "session", "--profile", "third-chair", "--minutes", "10", "--dry-run")[0] == 0
    assert _said(capsys, "week", "--profile", "third-chair", "--minutes", "10")[0] == 0
    code, _, err = _said(capsys, "session", "--profile", "thrid-chair", "--dry-run")
    assert code == 2
    assert "or take one of third-chair" in err


def test_private_notes_are_in_nothing_that_is_made_and_the_paper_is_the_profiles(capsys) -> None:
    words = ["--notes", "Keep it light.", "--private-notes", "Xylophonist at heart.", "--paper", "Letter"]
    assert _said(capsys, "profile", "first", *words)[0] == 0
    code, out, _ = _said(capsys, "session", "--profile", "first", "--minutes", "10", "--out", "out", "--json")
    assert code == 0
    assert "Xylophonist" not in out
    book = PdfReader(json.loads(out)["files"][0])
    assert [round(side) for side in book.pages[0].mediabox[2:]] == [612, 792]
    assert "Keep it light." in book.pages[0].extract_text()
    for file in Path("out").iterdir():
        assert b"Xylophonist" not in file.read_bytes()
    assert not any("Xylophonist" in page.extract_text() for page in book.pages)


def test_a_session_without_a_profile_can_be_told_the_level(capsys) -> None:
    asked = [
        "session",
        "--low",
        "C4",
        "--high",
        "C6",
        "--minutes",
        "30",
        "--level",
        "first-months",
        "--dry-run",
        "--json",
    ]
    code, out, _ = _said(capsys, *asked)
    assert code == 0
    assert {block["kind"] for block in json.loads(out)["blocks"]} <= {
        "long-tones", "slurs", "scales", "repertoire", "improvising", "rest",
    }  # fmt: skip
