"""Putting files on the disk: all of a sheet or none of it, and never over somebody else's work."""

import contextlib
import errno
import hashlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from etudegen.errors import InputError, MachineError
from etudegen.files.locking import only_writer

# Remembers what was written into a folder, so that a sheet can be made again in place while a file that the
# player has changed since, or that was never ours, is left alone.
_RECORD = ".etudegen-written.json"
# What is written is first whole under such a name.
_TEMPORARY = ".etudegen-"
_A_TEMPORARY = re.compile(r"\.etudegen-[0-9a-f]{16}(-old)?")
# What is the fault of the name that was given; anything else is the disk's, or the system's, that refuses it.
_WRONG_NAME = (errno.ENOENT, errno.ENOTDIR, errno.EEXIST, errno.ENAMETOOLONG, errno.EINVAL, errno.EILSEQ, errno.ELOOP)


class Written(NamedTuple):
    """Files that were written, and those of them in whose places other content stood before."""

    files: tuple[Path, ...]
    replaced: tuple[Path, ...]


def digest(content: bytes) -> str:
    """Return what tells whether a file still has this content."""
    return hashlib.sha256(content).hexdigest()


def _recorded(folder: Path) -> dict[str, list[str]]:
    """Return for each name the digests that a file of ours may have: two where a writer was perhaps cut off."""
    try:
        record = json.loads((folder / _RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(record, dict):
        return {}
    return {name: digests for name, digests in record.items() if isinstance(digests, list)}


def prepare_folder(folder: Path, instead: str = "name a folder that can be written with --out") -> None:
    """Make the folder if need be; tell what to do instead if files cannot be put there.

    Raises :class:`InputError` for what cannot be a folder, :class:`MachineError` for one that cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with only_writer(folder):
            _clear_left_behind(folder)
            _written_beside(folder, b"").unlink()
    except OSError as error:
        why = f"cannot write into {str(folder)!r}: {error.strerror or error}: {instead}"
        raise (InputError if error.errno in _WRONG_NAME else MachineError)(why) from error


def _clear_left_behind(folder: Path) -> None:
    """Remove what writers left that were cut off: whoever calls this is the only one."""
    for path in folder.glob(f"{_TEMPORARY}*"):
        if _A_TEMPORARY.fullmatch(path.name):
            with contextlib.suppress(OSError):
                path.unlink()


def check_free(folder: Path, names: list[str]) -> None:
    """Raise :class:`InputError` if one of the files exists and is not as we last wrote it."""
    record = _recorded(folder)
    for name in names:
        path = folder / name
        if path.is_symlink() or path.exists():
            try:
                ours = path.is_file() and digest(path.read_bytes()) in record.get(name, ())
            except OSError:
                ours = False
            if not ours:
                raise InputError(
                    f"{str(path)!r} exists and was not written here, or was changed since: "
                    "move it away, give another folder with --out, or replace it with --force"
                )


def write_all(folder: Path, contents: Mapping[str, bytes], *, force: bool = False) -> Written:
    """Write the files beside their places and then rename them all; raise :class:`MachineError` if one fails.

    After a failure no half-written file is left, and files that stood there before stand there still. Without
    ``force`` it raises :class:`InputError` where by now a file stands there that is not as we last wrote it.
    """
    try:
        with only_writer(folder):
            if not force:
                check_free(folder, list(contents))
            replaced = tuple(_of_other_content(folder, contents))
            _put_in_place(folder, contents)
    except OSError as error:
        raise MachineError(f"cannot write into {str(folder)!r}: {error.strerror or error}") from error
    return Written(tuple(folder / name for name in contents), replaced)


def _of_other_content(folder: Path, contents: Mapping[str, bytes]) -> Iterator[Path]:
    for name, content in contents.items():
        path = folder / name
        with contextlib.suppress(FileNotFoundError, IsADirectoryError):
            if path.is_symlink() or path.stat().st_size != len(content) or path.read_bytes() != content:
                yield path


def _put_in_place(folder: Path, contents: Mapping[str, bytes]) -> None:
    record = _recorded(folder)
    # Before anything takes its place, and with what may stand there still: whoever is cut off in between leaves only
    # files that are known to be ours.
    record |= {name: list(dict.fromkeys([digest(new), *record.get(name, [])[:1]])) for name, new in contents.items()}
    everything = {_RECORD: json.dumps(record, indent=1, sort_keys=True).encode(), **contents}
    waiting: dict[Path, Path] = {}
    kept: dict[Path, Path] = {}
    try:
        for name, content in everything.items():
            waiting[folder / name] = _written_beside(folder, content)
        try:
            for place, temporary in waiting.items():
                _keep_old(place, temporary, kept)
                temporary.replace(place)
        except BaseException:
            for place, old in kept.items():
                old.replace(place)
            for place in waiting.keys() - kept.keys():
                if not waiting[place].exists():
                    place.unlink(missing_ok=True)
            raise
    finally:
        for temporary in (*waiting.values(), *kept.values()):
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)


def _keep_old(place: Path, temporary: Path, kept: dict[Path, Path]) -> None:
    """Keep the file that stands in a place under another name, so that it can be put back if a later one fails."""
    if place.is_dir() and not place.is_symlink():
        raise IsADirectoryError(errno.EISDIR, f"{place.name!r} is a folder")
    if place.is_symlink() or place.exists():
        old = temporary.with_name(f"{temporary.name}-old")
        try:
            # A second name, so that there is no moment without a file.
            os.link(place, old, follow_symlinks=False)
        except (OSError, NotImplementedError):
            # Not every file system has these.
            place.replace(old)
        kept[place] = old


def write_in_place(path: Path, content: bytes) -> None:
    """Put a content in place of a file's, or make the file: whole or not at all, also if the power fails meanwhile.

    To be called by the :func:`~etudegen.files.locking.only_writer` of its folder. The file keeps who may read it, and
    a link to it stays one.
    """
    place = Path(os.path.realpath(path))
    temporary: Path | None = None
    try:
        temporary = _written_beside(place.parent, content, lasting=True)
        if place.exists():
            shutil.copymode(place, temporary)
        temporary.replace(place)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise MachineError(f"cannot write {str(path)!r}: {error.strerror or error}") from error


def _written_beside(folder: Path, content: bytes, *, lasting: bool = False) -> Path:
    path = folder / f"{_TEMPORARY}{secrets.token_hex(8)}"
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
