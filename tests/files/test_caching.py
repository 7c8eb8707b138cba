"""What was read of a file is kept until the file changes."""

import os
import shutil
import time
from pathlib import Path

import pytest

from etudegen.errors import InputError
from etudegen.files.caching import read_once
from etudegen.files.templates import templates
from etudegen.instrument.catalogue import read_instrument
from etudegen.practice.routines import read_routine
from etudegen.theory import library, symbols
from etudegen.theory.scales import scale_names
from etudegen.theory.symbols import parse_symbol

_LONG_AGO = time.time() - 1000


def _write(file: Path, text: str, at: float = _LONG_AGO) -> None:
    file.write_text(text, encoding="utf-8")
    os.utime(file, (at, at))


def _counting() -> tuple[list[Path], object]:
    read: list[Path] = []

    @read_once
    def reader(path: Path, ending: str = "") -> str:
        read.append(path)
        return path.read_text(encoding="utf-8") + ending

    return read, reader


def test_a_file_is_read_once_and_again_when_it_has_changed(tmp_path: Path) -> None:
    read, reader = _counting()
    file = tmp_path / "a"
    _write(file, "one")
    assert [reader(file), reader(file)] == ["one", "one"]
    assert len(read) == 1
    _write(file, "two", _LONG_AGO + 1)
    assert [reader(file), reader(file)] == ["two", "two"]
    _write(file, "three", _LONG_AGO + 1)
    assert reader(file) == "three"
    assert len(read) == 3


def test_a_file_in_place_of_another_is_read_though_time_and_size_are_the_same(tmp_path: Path) -> None:
    _, reader = _counting()
    file, other = tmp_path / "a", tmp_path / "b"
    _write(file, "one")
    _write(other, "two")
    assert reader(file) == "one"
    other.replace(file)
    assert reader(file) == "two"


def test_what_was_written_just_now_is_read_each_time(tmp_path: Path) -> None:
    """Two changes within a tick of the file system's clock look the same from outside."""
    _, reader = _counting()
    file = tmp_path / "a"
    now = time.time()
    for text in ("one", "two"):
        _write(file, text, now)
        assert reader(file) == text


def test_what_is_asked_for_besides_makes_a_value_of_its_own(tmp_path: Path) -> None:
    _, reader = _counting()
    file = tmp_path / "a"
    _write(file, "one")
    assert [reader(file, "!"), reader(file, ending="?"), reader(file)] == ["one!", "one?", "one"]


def test_ever_new_files_do_not_fill_the_memory(tmp_path: Path) -> None:
    read, reader = _counting()
    for number in range(1100):
        _write(tmp_path / str(number), "x")
        reader(tmp_path / str(number))
    (kept,) = [cell.cell_contents for cell in reader.__closure__ if isinstance(cell.cell_contents, dict)]
    assert len(kept) <= 500
    assert len(read) == 1100


def test_trouble_is_not_kept(tmp_path: Path) -> None:
    read, reader = _counting()
    file = tmp_path / "a"
    with pytest.raises(FileNotFoundError):
        reader(file)
    _write(file, "one")
    assert reader(file) == "one"
    assert len(read) == 2


@pytest.mark.parametrize(
    ("read", "right", "changed"),
    [
        (read_instrument, templates() / "instruments" / "cornet.toml", ("midi_program = 56", "midi_program = 57")),
        (read_routine, templates() / "routines" / "half-hour.toml", ("share = 14", "share = 15")),
        (scale_names, templates() / "theory" / "scales.toml", ("[major]", "[plain]")),
    ],
)
def test_a_change_of_an_own_file_is_seen_in_the_same_process(tmp_path: Path, read, right: Path, changed) -> None:
    file = tmp_path / "own.toml"
    text = right.read_text(encoding="utf-8")
    _write(file, text)
    before = read(file)
    assert read(file) == before
    _write(file, text.replace(*changed), _LONG_AGO + 1)
    assert read(file) != before
    _write(file, "x = ", _LONG_AGO + 2)
    with pytest.raises(InputError):
        read(file)


def test_a_change_of_what_is_packaged_is_seen_in_the_same_process(tmp_path: Path, monkeypatch) -> None:
    shutil.copytree(templates(), tmp_path / "templates")
    theory = tmp_path / "templates" / "theory"
    monkeypatch.setattr(library, "packaged_file", lambda kind: theory / f"{kind}.toml")
    monkeypatch.setattr(symbols, "packaged_file", lambda kind: theory / f"{kind}.toml")
    assert "plain" not in scale_names()
    with pytest.raises(InputError):
        parse_symbol("Cxyz")
    for name, begins in (
        ("scales", "[plain]\ndegrees = '1 5'\n"),
        ("chords", "[plain]\ndegrees = '1 5'\nsymbol = 'xyz'\n"),
    ):
        _write(theory / f"{name}.toml", begins + (theory / f"{name}.toml").read_text(encoding="utf-8"))
    assert "plain" in scale_names()
    assert parse_symbol("Cxyz").quality.name == "plain"
