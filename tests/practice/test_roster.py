"""A roster: profiles made of a table and written as one."""

import csv
import io
import shutil
from dataclasses import fields
from pathlib import Path

import pytest

from etudegen.cli.commands import run
from etudegen.practice import roster
from etudegen.practice.profile import Aim, Profile, read_profile

_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"


def _said(capsys, *arguments: object) -> tuple[int, str, str]:
    code = run(list(map(str, arguments)))
    out, err = capsys.readouterr()
    return code, out, err


def _csv(place: Path, text: str, encoding: str = "utf-8") -> Path:
    place.write_text(text, encoding=encoding, newline="")
    return place


def _state(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_every_key_of_a_profile_can_be_a_column() -> None:
    known = {key.partition(".")[0] for key in roster._KEYS}
    assert known == {each.name for each in fields(Profile)}


def test_profiles_are_made_of_a_table_and_are_called_by_their_labels(tmp_path, capsys) -> None:
    table = _csv(
        tmp_path / "band.csv",
        "\ufefflabel,instrument,low,high,level,minutes,days,routine,notes,aims.jazz,Tempo.Eighths\r\n"
        'First chair,cornet,G3,Bb5,,60,6,,"Two lines,\r\nand a comma",3,96\r\n'
        "\r\n"
        "Zweite Stimme (süd),,,,elementary,20,,half-hour,,,\r\n",
    )
    band = tmp_path / "band"
    code, out, err = _said(capsys, "studio", band, "--roster", table)
    assert (code, err) == (0, "")
    assert out.splitlines() == [f"{band / 'first-chair.toml'} (made)", f"{band / 'zweite-stimme-sud.toml'} (made)"]
    first, second = (read_profile(band / f"{name}.toml") for name in ("first-chair", "zweite-stimme-sud"))
    assert (first.label, first.instrument.key, str(first.high)) == ("First chair", "cornet", "Bb5")
    assert (first.minutes_per_day, first.days_per_week, first.notes) == (60, 6, "Two lines,\nand a comma")
    assert (first.aims, first.tempo) == ({"jazz": 3}, {"eighths": 96})
    # What is not said is as in any new profile.
    assert (second.level, second.routine, second.high) == ("elementary", "half-hour", Profile(label="x").high)
    before = _state(band)
    code, out, _ = _said(capsys, "studio", band, "--roster", table)
    assert (code, out.count("(unchanged)")) == (0, 2)
    assert _state(band) == before


def test_a_profile_that_exists_is_changed_only_in_what_is_given(tmp_path, capsys) -> None:
    band = tmp_path / "band"
    shutil.copytree(_DEMO, band)
    before = _state(band)
    # Semicolons as some spreadsheets write them; a label that is known finds its profile.
    table = _csv(tmp_path / "band.csv", "file;label;high;days\nfirst-chair.toml;;C#6;\n;Fourth chair;;2\n")
    code, out, _ = _said(capsys, "studio", band, "--roster", table)
    assert code == 0
    assert [line.split()[-1] for line in out.splitlines()] == ["(changed)", "(changed)"]
    after = _state(band)
    assert after.pop("first-chair.toml").decode() == before.pop("first-chair.toml").decode().replace('"C6"', '"C#6"')
    was = before.pop("fourth-chair.toml").decode()
    assert after.pop("fourth-chair.toml").decode() == was.replace("days_per_week = 3", "days_per_week = 2")
    assert after == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("label,low\nA,C4\nB,H9\n", "line 3: "),
        ('label,notes,low\nA,"one\ntwo\nthree",C4\nB,,H9\n', "line 5: "),
        ("label,minutes\nA,many\n", "line 2: minutes_per_day 'many' is not allowed: give a whole number"),
        ("label,minutes\nA,9999\n", "minutes_per_day is 9999"),
        ("label,low,high\nA,C5,C4\n", "they may be swapped"),
        ("label,shoe size\nA,43\n", "line 1: unknown column 'shoe size': known are file, label, instrument"),
        ("label,label\nA,A\n", "line 1: the column 'label' comes twice"),
        ("low,high\nC4,C5\n", "line 1: the column file or label is missing"),
        ("label,low\n,C4\n", "line 2: file and label are empty"),
        ("label,low\nA,C4,C5\n", "line 2: it has 3 cells for 2 columns"),
        ("file,low\n../a,C4\n", "line 2: file '../a' is not allowed"),
        ("file,low\n/etc/a,C4\n", "line 2: file '/etc/a' is not allowed"),
        ("label\nA\na\nA\n", "line 3: a.toml has a row already"),
        ("file,last_played\na,yesterday\n", "line 2: last_played 'yesterday' is not a day"),
        ("file,rhythms\na,eighths; waltz\n", "line 2: unknown rhythm 'waltz'"),
        ("file,tunes\na,none.musicxml\n", "line 2: tunes: there is no file 'none.musicxml' beside the profiles"),
        ("file,aims.jazz\na,11\n", "line 2: "),
        ("label\n", "has no players"),
        ("", "has no players"),
        ('label,low\n"A,C4\n', "no readable CSV"),
        ("label\n" + "A" * 200_000 + "\n", "no readable CSV"),
    ],
)
def test_one_wrong_row_is_told_by_its_line_and_nothing_is_written(tmp_path, capsys, text: str, said: str) -> None:
    table = _csv(tmp_path / "band.csv", text)
    code, out, err = _said(capsys, "studio", tmp_path / "band", "--roster", table)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert said in err
    assert not (tmp_path / "band").exists()


def test_labels_that_do_not_tell_who_is_meant_are_told(tmp_path, capsys) -> None:
    band = tmp_path / "band"
    for name, label in (("one", "Same"), ("two", "Same"), ("new", "Old")):
        assert _said(capsys, "profile", band / f"{name}.toml", "--label", label)[0] == 0
    for label, said in (("Same", "is that of one.toml, two.toml"), ("New", "new.toml has another label than 'New'")):
        code, _, err = _said(capsys, "studio", band, "--roster", _csv(tmp_path / "band.csv", f"label\n{label}\n"))
        assert (code, said in err) == (2, True)


def test_a_file_that_is_no_table_is_told(tmp_path, capsys) -> None:
    table = tmp_path / "band.csv"
    for content, said in ((b"label\nF\xfcnf\n", "line 2: it is not in UTF-8"), (b"x" * 1_000_001, "is larger than")):
        table.write_bytes(content)
        code, _, err = _said(capsys, "studio", tmp_path / "band", "--roster", table)
        assert (code, said in err, err.count("\n")) == (2, True, 1)
    for place in (tmp_path / "nowhere.csv", tmp_path):
        code, _, err = _said(capsys, "studio", tmp_path / "band", "--roster", place)
        assert (code, "cannot read" in err, err.count("\n")) == (2, True, 1)


def test_what_is_written_as_a_table_is_read_back_the_same(tmp_path, capsys) -> None:
    band = tmp_path / "band"
    shutil.copytree(_DEMO, band)
    hostile = ("=1+1", "+a", "-a", "@a", "'=a", "''=a", "'a", " =a", "＝a")
    for number, label in enumerate(hostile):
        notes = f'{label};\nsecond, "line"'
        assert _said(capsys, "profile", band / f"p{number}.toml", f"--label={label}", f"--notes={notes}")[0] == 0
    (band / "lists.toml").write_text(
        'label = "Lists"\nprogressions = ["| Dm7 |\\n| G7 |", "| C |"]\nkinds = ["scales", "slurs"]\n'
        'keys = "D G"\nlast_played = 2026-11-02\n',
        encoding="utf-8",
    )
    before = {path: path.read_bytes() for path in sorted(band.glob("*.toml"))}
    table = tmp_path / "rosters" / "band.csv"
    code, out, _ = _said(capsys, "studio", band, "--write-roster", table)
    assert (code, out.split()) == (0, [str(table)])
    rows = [*csv.reader(io.StringIO(table.read_bytes().decode("utf-8-sig"), newline=""))]
    assert rows[0][:4] == ["file", "label", "instrument", "low"]
    assert all(cell.lstrip()[:1] not in tuple("=+-@＝") for row in rows for cell in row if cell)
    code, out, _ = _said(capsys, "studio", band, "--roster", table)
    assert (code, out.count("(unchanged)")) == (0, len(before))
    assert {path: path.read_bytes() for path in sorted(band.glob("*.toml"))} == before
    # Elsewhere the same players come of it, but for their comments.
    other = tmp_path / "other" / "band"
    other.mkdir(parents=True)
    shutil.copy(_DEMO / "quay-waltz.musicxml", other)
    code, _, err = _said(capsys, "studio", other, "--roster", table)
    assert code == 0, err
    for path in before:
        one, two = read_profile(path), read_profile(other / path.name)
        assert (one.label.strip(), one.notes, one.aims, one.tempo) == (two.label, two.notes, two.aims, two.tempo)
        assert (one.low, one.high, one.reach, one.kinds) == (two.low, two.high, two.reach, two.kinds)


def test_private_notes_can_be_read_and_are_never_written(tmp_path, capsys) -> None:
    table = _csv(tmp_path / "band.csv", "label,private_notes,paper\nA,Worries about her tooth,Letter\n")
    assert _said(capsys, "studio", tmp_path / "band", "--roster", table)[0] == 0
    made = read_profile(tmp_path / "band" / "a.toml")
    assert (made.private_notes, str(made.paper)) == ("Worries about her tooth", "Letter")
    assert _said(capsys, "studio", tmp_path / "band", "--write-roster", tmp_path / "out.csv")[0] == 0
    assert "private" not in (told := (tmp_path / "out.csv").read_text(encoding="utf-8-sig"))
    assert "tooth" not in told
    assert "Letter" in told


def test_a_table_is_never_put_over_something_else(tmp_path, capsys) -> None:
    table = _csv(tmp_path / "band.csv", "mine")
    code, _, err = _said(capsys, "studio", _DEMO, "--write-roster", table)
    assert (code, "was not written here" in err, table.read_text()) == (2, True, "mine")
    assert _said(capsys, "studio", _DEMO, "--write-roster", table, "--force")[0] == 0
    assert Aim.JAZZ in table.read_text(encoding="utf-8-sig")
    assert _said(capsys, "studio", _DEMO, "--write-roster", tmp_path / "band.toml")[0] == 2


@pytest.mark.parametrize(
    "more", [["--days", "3"], ["--one-file", "all.pdf"], ["--minutes", "20"], ["--write-roster", "x.csv"]]
)
def test_a_roster_makes_no_books(tmp_path, capsys, more: list[str]) -> None:
    table = _csv(tmp_path / "band.csv", "label\nA\n")
    code, _, err = _said(capsys, "studio", tmp_path / "band", "--roster", table, *more)
    assert (code, more[0] in err, (tmp_path / "band").exists()) == (2, True, False)
