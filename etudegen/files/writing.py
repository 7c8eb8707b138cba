"""Putting files on the disk: all of a sheet or none of it, and never over somebody else's work."""

import contextlib
import errno
import hashlib
import json
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from etudegen.errors import InputError, MachineError

# Remembers what was written into a folder, so that a sheet can be made again in place while a file that the
# player has changed since, or that was never ours, is left alone.
_RECORD = ".etudegen-written.json"
_SECONDS_A_LOCK_HOLDS = 30.0
_SECONDS_TO_WAIT = 0.02
# What is no fault of the folder that was named: the disk is full or broken, or too many files are open.
_MACHINE_TROUBLE = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EMFILE, errno.ENFILE)


class Written(NamedTuple):
    """Files that were written, and those of them in whose places other content stood before."""

    files: tuple[Path, ...]
    replaced: tuple[Path, ...]


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _recorded(folder: Path) -> dict[str, str]:
    try:
        record = json.loads((folder / _RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return record if isinstance(record, dict) else {}


def prepare_folder(folder: Path, instead: str = "name a folder that can be written with --out") -> None:
    """Make the folder if need be; raise :class:`InputError`, with what to do instead, if files cannot be put there."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".etudegen-"):
            pass
    except OSError as error:
        why = f"cannot write into {str(folder)!r}: {error.strerror or error}"
        if error.errno in _MACHINE_TROUBLE:
            raise MachineError(why) from error
        raise InputError(f"{why}: {instead}") from error


def check_free(folder: Path, names: list[str]) -> None:
    """Raise :class:`InputError` if one of the files exists and is not as we last wrote it."""
    record = _recorded(folder)
    for name in names:
        path = folder / name
        if path.is_symlink() or path.exists():
            try:
                ours = path.is_file() and record.get(name) == _digest(path.read_bytes())
            except OSError:
                ours = False
            if not ours:
                raise InputError(
                    f"{str(path)!r} exists and was not written here, or was changed since: "
                    "move it away, give another --title or --out, or replace it with --force"
                )


def unchanged_since_written(folder: Path, names: list[str]) -> bool:
    """Tell whether all these files stand in the folder as we last wrote them."""
    record = _recorded(folder)
    try:
        return all(record.get(name) == _digest((folder / name).read_bytes()) for name in names)
    except OSError:
        return False


def write_all(folder: Path, contents: Mapping[str, bytes]) -> Written:
    """Write the files beside their places and then rename them all; raise :class:`MachineError` if one fails.

    After a failure no half-written file is left, and files that stood there before stand there still.
    """
    with _only_writer(folder):
        replaced = tuple(_of_other_content(folder, contents))
        _put_in_place(folder, contents)
    return Written(tuple(folder / name for name in contents), replaced)


def _of_other_content(folder: Path, contents: Mapping[str, bytes]) -> Iterator[Path]:
    for name, content in contents.items():
        path = folder / name
        with contextlib.suppress(FileNotFoundError, IsADirectoryError):
            if path.is_symlink() or path.stat().st_size != len(content) or path.read_bytes() != content:
                yield path


@contextlib.contextmanager
def _only_writer(folder: Path) -> Iterator[None]:
    """Keep other processes of ours from writing into the folder meanwhile: the record must not lose their entries."""
    lock = folder / f"{_RECORD}.lock"
    while True:
        try:
            lock.touch(exist_ok=False)
            break
        except FileExistsError:
            # A lock this old was left behind by a process that was killed.
            with contextlib.suppress(OSError):
                if time.time() - lock.stat().st_mtime > _SECONDS_A_LOCK_HOLDS:
                    lock.unlink(missing_ok=True)
            time.sleep(_SECONDS_TO_WAIT)
        except OSError as error:
            raise MachineError(f"cannot write into {str(folder)!r}: {error.strerror or error}") from error
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            lock.unlink(missing_ok=True)


def _put_in_place(folder: Path, contents: Mapping[str, bytes]) -> None:
    record = _recorded(folder) | {name: _digest(content) for name, content in contents.items()}
    everything = {**contents, _RECORD: json.dumps(record, indent=1, sort_keys=True).encode()}
    waiting: dict[Path, Path] = {}
    moved_aside: dict[Path, Path] = {}
    try:
        for name, content in everything.items():
            waiting[folder / name] = _written_beside(folder, content)
        try:
            for place, temporary in waiting.items():
                _move_aside(place, temporary, moved_aside)
                temporary.replace(place)
        except OSError:
            for place, old in moved_aside.items():
                old.replace(place)
            for place in waiting.keys() - moved_aside.keys():
                if not waiting[place].exists():
                    place.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise MachineError(f"cannot write into {str(folder)!r}: {error.strerror or error}") from error
    finally:
        for temporary in (*waiting.values(), *moved_aside.values()):
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)


def _move_aside(place: Path, temporary: Path, moved_aside: dict[Path, Path]) -> None:
    """Put the file that stands in a place out of the way, so that it can be put back if a later one fails."""
    if place.is_dir() and not place.is_symlink():
        raise IsADirectoryError(errno.EISDIR, f"{place.name!r} is a folder")
    if place.is_symlink() or place.exists():
        old = temporary.with_name(f"{temporary.name}-old")
        place.replace(old)
        moved_aside[place] = old


def write_text_in_place(path: Path, text: str) -> None:
    """Put a text in place of a file's, or make the file: whole or not at all, also if the power fails meanwhile."""
    prepare_folder(path.parent, "name a file in another folder")
    temporary: Path | None = None
    try:
        temporary = _written_beside(path.parent, text.encode(), lasting=True)
        if path.exists():
            shutil.copymode(path, temporary)
        temporary.replace(path)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise MachineError(f"cannot write {str(path)!r}: {error.strerror or error}") from error


def _written_beside(folder: Path, content: bytes, *, lasting: bool = False) -> Path:
    path = folder / f".etudegen-{secrets.token_hex(8)}"
    # Opened and not made by `tempfile`: the system applies the user's mask, which cannot be asked for without changing
    # it for all threads. A sheet is as readable as any other file of its owner.
    handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            if lasting:
                file.flush()
                os.fsync(handle)
    except OSError:
        path.unlink(missing_ok=True)
        raise
    return path
