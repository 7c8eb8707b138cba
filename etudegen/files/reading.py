"""Reading users' files: never more than they can hold, never from what is no file, and one sentence where it fails."""

import errno
import os
import stat
from pathlib import Path

from etudegen.errors import InputError, MachineError

_WRONG_NAME = (errno.ENAMETOOLONG, errno.ELOOP)


def kind_of_file(path: Path) -> str:
    """Return what stands at a path: ``file``, ``folder``, ``device`` (also a pipe), or nothing where there is none.

    Raises :class:`MachineError` where the system does not tell, such as in a folder that may not be read, and
    :class:`InputError` for what cannot be a path.
    """
    try:
        mode = os.stat(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except (OSError, ValueError) as error:
        if isinstance(error, OSError) and error.errno not in _WRONG_NAME:
            raise MachineError(f"cannot read {_shown(path)}: {error.strerror or error}") from error
        is_loop = isinstance(error, OSError) and error.errno == errno.ELOOP
        why = "it is a link that leads to itself" if is_loop else "no file can be called so"
        raise InputError(f"cannot read {_shown(path)}: {why}") from error
    return "file" if stat.S_ISREG(mode) else "folder" if stat.S_ISDIR(mode) else "device"


def check_is_file(path: Path) -> None:
    """Raise :class:`InputError` where something that is no file stands at a path; opening it might wait for ever."""
    kind = kind_of_file(path)
    if kind not in ("file", ""):
        raise InputError(f"cannot read {_shown(path)}: it is no file but a {kind}")


def read_content(path: Path, most: int) -> bytes:
    """Return what is in a file, at most a byte more than ``most``.

    Raises :class:`InputError` where there is none or what stands there is something else, and :class:`MachineError`
    where the system does not let it be read.
    """
    kind = kind_of_file(path)
    if not kind:
        raise InputError(f"cannot read {_shown(path)}: there is no such file")
    check_is_file(path)
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise MachineError(f"cannot read {_shown(path)}: {error.strerror or error}") from error


def _shown(path: Path) -> str:
    return repr(str(path))
