"""What a newcomer may add without touching anything else: a kind of exercise, and a scale."""

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from etudegen.cli.commands import run
from etudegen.errors import InputError
from etudegen.exercises import kinds
from etudegen.exercises.kinds import KINDS, add_kind, all_kinds
from tests import long_check
from tests.kinds.made_up import ECHOES, each_note_is_heard_with_its_echoes
from tests.kinds.rules import RULES

ROOT = Path(__file__).parents[2]
OUTLINE = """
about = "Echoes first."
minutes = [10, 40]
aims = ["any"]

[[block]]
part = "warm-up"
kind = "long-tones"
share = 10
why = "Warm up."

[[block]]
part = "technique"
kind = "echoes"
share = 20
why = "The wall answers."
settings = { echoes = 3 }
"""


@pytest.fixture
def echoes(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(kinds, "_ADDED", {})
    add_kind(ECHOES)
    monkeypatch.setitem(RULES, "echoes", [each_note_is_heard_with_its_echoes])
    yield
    assert all_kinds() == (*KINDS, ECHOES)


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert run(list(arguments)) == 0
    return capsys.readouterr().out


@pytest.mark.usefixtures("echoes")
def test_a_kind_that_is_added_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert "echoes     easy       Notes that come back" in said(capsys, "kinds")
    assert json.loads(said(capsys, "kinds", "--json"))[-1]["kind"] == "echoes"
    assert re.search("^  echoes +Notes that come back", said(capsys, "--help"), re.MULTILINE)


@pytest.mark.usefixtures("echoes")
def test_a_kind_that_is_added_has_its_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = said(
        capsys, "echoes", "--echoes", "3", "--high", "C4", "--format", "midi,musicxml", "--out", str(tmp_path)
    ).split()
    assert [Path(file).name for file in files] == [
        "echoes-echoes-3-Fs3-C4-72.mid",
        "echoes-echoes-3-Fs3-C4-72.musicxml",
    ]
    assert all(Path(file).stat().st_size for file in files)
    assert run(["echoes", "--echoes", "4"]) == 2
    assert "echoes '4' is not allowed: give a whole number from 1 to 3" in capsys.readouterr().err


@pytest.mark.usefixtures("echoes")
def test_sessions_draw_from_a_kind_that_is_added(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    outline = tmp_path / "echoes.toml"
    outline.write_text(OUTLINE, encoding="utf-8")
    ask = ["session", "--routine", str(outline), "--minutes", "20", "--date", "2026-11-25", "--dry-run"]
    assert "technique: echoes far away" in said(capsys, *ask)
    made = json.loads(said(capsys, *ask, "--json"))
    (block,) = [block for block in made["blocks"] if block["kind"] == "echoes"]
    assert {item["choice"] for item in block["items"]} <= {"rising", "falling"}
    outline.write_text(OUTLINE.replace("echoes = 3", "echoes = 5"), encoding="utf-8")
    assert run(ask) == 2
    assert "give a whole number from 1 to 3" in capsys.readouterr().err


@pytest.mark.usefixtures("echoes")
def test_the_long_check_draws_a_kind_that_is_added() -> None:
    valid, refused = long_check.check_studies(12 * len(all_kinds()), 1)
    assert valid["echoes"] + refused["echoes"] == 12
    assert valid["echoes"]


@pytest.mark.usefixtures("echoes")
def test_a_kind_whose_name_is_taken_is_refused() -> None:
    for taken in ("echoes", "scales"):
        with pytest.raises(InputError, match=f"there is a kind '{taken}' already"):
            add_kind(ECHOES._replace(name=taken))


def test_a_scale_that_is_added_to_the_list_comes_up_in_sessions_by_itself(tmp_path: Path) -> None:
    for folder in ("etudegen", "templates"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / "templates" / "theory" / "scales.toml").open("a", encoding="utf-8") as file:
        file.write('\n[harbour]\ndegrees = "1 2 b3 #4 5 6 b7"\ndifficulty = 9\n')
    program = (
        "import datetime; from etudegen.practice.session import make_session; "
        "from etudegen.practice.profile import Aim, Profile\n"
        "for day in range(8):\n"
        "    who, date = Profile(label='x', level='professional'), datetime.date(2026, 11, 1 + day)\n"
        "    made = make_session(who, date, 60, Aim.TECHNIQUE)\n"
        "    print(*(item.choice for items in made.blocks_with_items for item in items if item.kind == 'scales'))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, env={"PYTHONPATH": str(tmp_path)}, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    chosen = done.stdout.split()
    # The seven that were there, and the new one: in eight days each comes first once.
    assert "harbour" in chosen
    assert {"major", "natural-minor", "chromatic"} <= set(chosen)
