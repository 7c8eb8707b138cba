"""Temporary folders; those that killed processes leave behind are cleared away by later ones."""

import os
import re
import shutil
import tempfile
from pathlib import Path
from typing import IO

from etudegen.errors import MachineError

try:
    import fcntl
except ImportError:
    # Where files cannot be locked this way, nobody can tell that a folder is no longer used: it stays.
    fcntl = None  # type: ignore[assignment]

_PREFIX = "etudegen-"
_LOCK = "in-use"
_NAMED_HERE = re.compile(rf"{_PREFIX}[a-z0-9_]{{8}}")


class Workshop:
    """A new folder that is in use until it is closed, or until this process dies."""

    def __init__(self) -> None:
        try:
            made = None
            while made is None:
                made = _locked(Path(tempfile.mkdtemp(prefix=_PREFIX)))
        except OSError as error:
            raise MachineError(f"no room to work in {tempfile.gettempdir()!r}: {error.strerror}") from error
        self._lock = made
        self.folder = Path(made.name).parent

    def close(self, *, keep: bool = False) -> None:
        """Clear the folder away, unless somebody is to look into it: then it stays for good."""
        if keep:
            (self.folder / _LOCK).unlink(missing_ok=True)
        else:
            shutil.rmtree(self.folder, ignore_errors=True)
        self._lock.close()


def _locked(folder: Path) -> IO[bytes] | None:
    """Return the lock of a new folder; None if it was taken for an abandoned one before it could be locked."""
    try:
        lock = (folder / _LOCK).open("wb")
    except FileNotFoundError:
        return None
    if fcntl is not None:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not os.fstat(lock.fileno()).st_nlink:
            lock.close()
            return None
    return lock


def clear_abandoned() -> None:
    """Clear away the folders of this user's processes that were killed before they could do so themselves."""
    if fcntl is None:
        return
    for folder in Path(tempfile.gettempdir()).glob(f"{_PREFIX}*"):
        try:
            if folder.lstat().st_uid != os.getuid() or not _NAMED_HERE.fullmatch(folder.name):
                continue
            if not (folder / _LOCK).exists():
                # One that is kept for somebody has something in it.
                folder.rmdir()
                continue
            with (folder / _LOCK).open("rb") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                shutil.rmtree(folder, ignore_errors=True)
        except OSError:
            # In use, kept for somebody, or cleared away by another process at this moment.
            continue
