"""Files on the disk: all of a sheet or none of it, and never over somebody else's work."""

import errno
import io
import os
from pathlib import Path

import pytest

from etudegen.errors import InputError, MachineError
from etudegen.files import writing as files
from etudegen.files.writing import check_free, prepare_folder, write_all, write_in_place

OLD = {"a.txt": b"old a", "b.txt": b"old b"}
NEW = {"a.txt": b"new a", "b.txt": b"new b"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def written(tmp_path: Path) -> Path:
    write_all(tmp_path, OLD)
    return tmp_path


def fill_disk_at(monkeypatch: pytest.MonkeyPatch, number: int) -> list[int]:
    """Let writing into the so many-th file fail as on a full disk, half-way through; return a count of the files."""
    opened: list[int] = []
    real = os.fdopen

    class Full(io.BytesIO):
        def write(self, content: bytes) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def fdopen(handle: int, *rest: object, **named: object) -> object:
        opened.append(handle)
        if len(opened) == number:
            os.write(handle, b"half")
            os.close(handle)
            return Full()
        return real(handle, *rest, **named)

    monkeypatch.setattr(files.os, "fdopen", fdopen)
    return opened


def test_files_are_written_with_their_content_and_returned_in_order(tmp_path: Path) -> None:
    assert write_all(tmp_path, NEW, force=True) == ((tmp_path / "a.txt", tmp_path / "b.txt"), ())
    assert {name: (tmp_path / name).read_bytes() for name in NEW} == NEW


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_disk_that_fills_up_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    opened = fill_disk_at(monkeypatch, number)
    with pytest.raises(MachineError, match=r"cannot write into .*No space left"):
        write_all(tmp_path, NEW, force=True)
    assert len(opened) == number
    assert contents(tmp_path) == {}


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_disk_that_fills_up_leaves_old_files_as_they_were(
    written: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    before = contents(written)
    fill_disk_at(monkeypatch, number)
    with pytest.raises(MachineError):
        write_all(written, NEW, force=True)
    monkeypatch.undo()
    assert contents(written) == before
    check_free(written, list(OLD))


def test_a_file_that_cannot_take_its_place_leaves_the_others_as_they_were(written: Path) -> None:
    (written / "b.txt").unlink()
    (written / "b.txt").mkdir()
    (written / "b.txt" / "diary").write_text("mine")
    with pytest.raises(MachineError, match="cannot write into"):
        write_all(written, NEW, force=True)
    assert (written / "b.txt" / "diary").read_text() == "mine"
    assert (written / "a.txt").read_bytes() == OLD["a.txt"]
    assert not list(written.glob(".etudegen-*[!n]")), "no temporary file is left"


def test_a_folder_with_our_own_unchanged_files_is_free(written: Path) -> None:
    check_free(written, list(OLD))
    write_all(written, NEW, force=True)
    check_free(written, list(NEW))


def test_an_empty_folder_is_free(tmp_path: Path) -> None:
    check_free(tmp_path, list(NEW))


def test_a_foreign_file_is_not_free(tmp_path: Path) -> None:
    (tmp_path / "b.txt").write_bytes(b"mine")
    with pytest.raises(InputError, match=r"b\.txt.* exists .*--force"):
        check_free(tmp_path, list(NEW))


def test_a_file_that_was_edited_since_is_not_free(written: Path) -> None:
    with (written / "a.txt").open("ab") as file:
        file.write(b" and a remark")
    with pytest.raises(InputError, match=r"a\.txt.* exists .*changed"):
        check_free(written, list(OLD))


def test_our_file_under_another_name_is_not_free(written: Path) -> None:
    (written / "c.txt").write_bytes(OLD["a.txt"])
    with pytest.raises(InputError, match=r"c\.txt"):
        check_free(written, ["c.txt"])


@pytest.mark.parametrize("target", ["nowhere", "elsewhere.txt"])
def test_a_link_to_another_file_is_not_free(tmp_path: Path, target: str) -> None:
    (tmp_path / "elsewhere.txt").write_bytes(b"mine")
    (tmp_path / "a.txt").symlink_to(tmp_path / target)
    with pytest.raises(InputError, match=r"a\.txt"):
        check_free(tmp_path, ["a.txt"])


def test_a_folder_of_the_files_name_is_not_free(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(InputError, match=r"a\.txt"):
        check_free(tmp_path, ["a.txt"])


def test_files_of_several_sheets_in_one_folder_are_all_remembered(written: Path) -> None:
    write_all(written, {"c.txt": b"c"}, force=True)
    check_free(written, ["a.txt", "b.txt", "c.txt"])


@pytest.mark.parametrize("record", [b"", b"[1, 2]", b"{\xff", b'{"a.txt": 3}', b"null"])
def test_a_damaged_memory_of_what_was_written_protects_everything(written: Path, record: bytes) -> None:
    (memory,) = written.glob(".etudegen-*")
    memory.write_bytes(record)
    with pytest.raises(InputError):
        check_free(written, list(OLD))
    write_all(written, NEW, force=True)
    check_free(written, list(NEW))


def test_a_link_is_replaced_and_what_it_leads_to_is_left(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_bytes(b"mine")
    (tmp_path / "a.txt").symlink_to(tmp_path / "mine.txt")
    write_all(tmp_path, {"a.txt": b"new"}, force=True)
    assert (tmp_path / "mine.txt").read_bytes() == b"mine"
    assert (tmp_path / "a.txt").read_bytes() == b"new"


def test_files_can_be_read_by_others_as_the_users_mask_says(tmp_path: Path) -> None:
    mask = os.umask(0o027)
    try:
        write_all(tmp_path, {"a.txt": b"new"}, force=True)
    finally:
        os.umask(mask)
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("before", [OLD["a.txt"], b"edited", b""])
def test_what_is_replaced_by_other_content_is_told(written: Path, before: bytes) -> None:
    (written / "a.txt").write_bytes(before)
    assert write_all(written, {"a.txt": NEW["a.txt"], "b.txt": OLD["b.txt"]}, force=True).replaced == (
        written / "a.txt",
    )
    assert write_all(written, {"a.txt": NEW["a.txt"]}, force=True).replaced == ()


def test_a_link_that_is_replaced_is_told(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_bytes(b"new")
    (tmp_path / "a.txt").symlink_to(tmp_path / "mine.txt")
    assert write_all(tmp_path, {"a.txt": b"new"}, force=True).replaced == (tmp_path / "a.txt",)


def test_writing_never_touches_the_mask_of_the_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files.os, "umask", lambda mask: pytest.fail("the mask is the whole process's"))
    write_all(tmp_path, NEW, force=True)
    write_in_place(tmp_path / "c.toml", b"x")


def test_a_file_that_its_owner_keeps_to_himself_stays_so_when_it_is_changed(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    file.write_text("old")
    file.chmod(0o600)
    write_in_place(file, b"new")
    assert (file.read_text(), file.stat().st_mode & 0o777) == ("new", 0o600)
    assert [path.name for path in tmp_path.iterdir()] == ["a.toml"]


def test_a_folder_is_made_with_those_above_it_and_nothing_in_it(tmp_path: Path) -> None:
    prepare_folder(tmp_path / "one" / "two")
    assert contents(tmp_path / "one" / "two") == {}
    prepare_folder(tmp_path / "one" / "two")


def test_a_file_in_place_of_the_folder_is_the_users_mistake(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    for place in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(InputError, match=r"cannot write into .*file.*--out"):
            prepare_folder(place)
    assert (tmp_path / "file").read_text() == "mine"


def test_a_full_disk_is_the_machines_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(files.os, "open", full)
    with pytest.raises(MachineError, match=r"cannot write into .*No space left"):
        prepare_folder(tmp_path)


def test_a_file_of_somebodys_that_came_meanwhile_is_not_replaced_without_force(written: Path) -> None:
    check_free(written, list(NEW))
    (written / "a.txt").write_bytes(b"my own")
    with pytest.raises(InputError, match="was not written here, or was changed since"):
        write_all(written, NEW)
    assert (written / "a.txt").read_bytes() == b"my own"
    assert (written / "b.txt").read_bytes() == OLD["b.txt"]
    assert write_all(written, NEW, force=True).replaced == (written / "a.txt", written / "b.txt")
