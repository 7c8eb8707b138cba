"""Changes to a profile: of several at once none is lost, and what the file is like otherwise stays so."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from etudegen.practice.profile import change_profile, read_profile
from tests.command_line import run
from tests.tunes.hostile import FULL, bars, score

_CHANGES = """
import sys
from pathlib import Path
from etudegen.practice.profile import change_profile
for number in range(20):
    change_profile(Path(sys.argv[1]), {f"aims.{sys.argv[2]}": number % 10 + 1, "notes": "x" * number}, "x")
"""


@pytest.mark.parametrize("other_way", [False, True])
def test_of_changes_at_once_none_is_lost(tmp_path: Path, other_way: bool) -> None:
    file = tmp_path / "first.toml"
    file.write_text('# mine\nlabel = "First chair"\n', encoding="utf-8")
    (tmp_path / "links").mkdir()
    (tmp_path / "links" / "first.toml").symlink_to(file)
    aims = ["range", "sound", "jazz", "technique"]
    places = [tmp_path / "links" / "first.toml" if other_way and n % 2 else file for n in range(len(aims))]
    changing = [
        subprocess.Popen([sys.executable, "-c", _CHANGES, place, aim]) for place, aim in zip(places, aims, strict=True)
    ]
    assert [each.wait(60) for each in changing] == [0] * len(aims)
    assert dict(read_profile(file).aims) == dict.fromkeys(aims, 10)
    assert file.read_text(encoding="utf-8").startswith("# mine\n")


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "marked"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize("linked", [False, True])
def test_marks_line_ends_modes_and_links_are_kept(tmp_path: Path, mark: bytes, end: bytes, linked: bool) -> None:
    real = tmp_path / "real" / "first.toml"
    real.parent.mkdir()
    real.write_bytes(mark + b"# mine" + end + b'label = "x"' + end)
    real.chmod(0o640)
    file = tmp_path / "linked.toml" if linked else real
    if linked:
        file.symlink_to(real)
    change_profile(file, {"low": "G3", "tempo.eighths": 90}, "unused")
    changed = real.read_bytes()
    assert changed.startswith(mark + b"# mine" + end + b'label = "x"' + end + b'low = "G3"' + end)
    assert changed.count(b"\n") == changed.count(end)
    assert real.stat().st_mode & 0o777 == 0o640
    assert file.is_symlink() == linked
    assert [path.name for path in real.parent.iterdir()] == ["first.toml"]
    assert read_profile(file).tempo == {"eighths": 90}


@pytest.mark.parametrize("encoded", ["utf-8-sig", "utf-8"])
def test_a_profile_with_a_mark_is_shown_as_one_without(tmp_path: Path, encoded: str) -> None:
    file = tmp_path / "first.toml"
    file.write_text('label = "Größe"\n', encoding=encoded)
    shown = run("profile", file)
    assert (shown.returncode, shown.stdout) == (0, f'{file}\nlabel = "Größe"\n')
    assert json.loads(run("profile", file, "--json").stdout)["label"] == "Größe"


NO_TUNES = {
    "text": b"only words",
    "nothing": b"",
    "half": score(bars(FULL)).encode()[:-80],
    "chords": b"\x00" * 100,
    "another": b"<html><body>no music</body></html>",
    "silent": score("").encode(),
}


@pytest.mark.parametrize("name", NO_TUNES)
def test_what_does_not_read_as_a_tune_is_refused_and_the_profile_left(tmp_path: Path, name: str) -> None:
    file, tune = tmp_path / "first.toml", tmp_path / "tune.musicxml"
    file.write_text('label = "x"\n', encoding="utf-8")
    tune.write_bytes(NO_TUNES[name])
    done = run("profile", file, "--tune", tune)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "tune" in done.stderr
    assert file.read_text(encoding="utf-8") == 'label = "x"\n'


def test_what_reads_as_a_tune_is_taken_by_its_place_beside_the_profile(tmp_path: Path) -> None:
    file = tmp_path / "band" / "first.toml"
    tune = tmp_path / "tune.musicxml"
    tune.write_text(score(bars(FULL)), encoding="utf-8")
    assert run("profile", file, "--label", "x", "--tune", tune).returncode == 0
    (taken,) = read_profile(file).tunes
    assert os.path.samefile(taken, tune)
