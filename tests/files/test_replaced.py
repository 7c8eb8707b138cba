"""Who makes something again is told which files it replaced, and only those."""

import shutil
from pathlib import Path

import pytest

from etudegen.cli.commands import run

_TUNE = Path(__file__).parents[2] / "demo" / "harbour-band" / "quay-waltz.musicxml"


def _said(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[list[str], list[str]]:
    assert run(list(map(str, arguments))) == 0
    out, err = capsys.readouterr()
    return out.split(), [line for line in err.splitlines() if line.startswith("replaced: ")]


def test_a_sheet_that_was_changed_and_is_made_anew_by_force_is_told(tmp_path: Path, capsys) -> None:
    ask = ["slurs", "--format", "musicxml,midi", "--out", tmp_path]
    files, replaced = _said(capsys, *ask)
    assert (len(files), replaced) == (2, [])
    assert _said(capsys, *ask) == (files, [])
    Path(files[0]).write_text("mine", encoding="utf-8")
    assert _said(capsys, *ask, "--force") == (files, [f"replaced: {files[0]}"])


@pytest.mark.parametrize(
    "ask",
    [
        ["transpose", "tune.musicxml", "--keys", "C", "--format", "midi"],
        ["play-along", "tune.musicxml", "--sound", "none"],
    ],
)
def test_a_tune_that_has_changed_is_told(tmp_path: Path, monkeypatch, capsys, ask) -> None:
    tune = shutil.copy(_TUNE, tmp_path / "tune.musicxml")
    monkeypatch.chdir(tmp_path)
    files, replaced = _said(capsys, *ask)
    assert replaced == []
    assert _said(capsys, *ask) == (files, [])
    text = tune.read_text(encoding="utf-8")
    tune.write_text(text.replace("<step>E</step>", "<step>D</step>", 1), encoding="utf-8")
    assert _said(capsys, *ask) == (files, [f"replaced: {file}" for file in files])
