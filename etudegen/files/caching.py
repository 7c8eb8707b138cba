"""What was read of a file, kept until the file changes: a program that lives long sees every change."""

import time
from collections.abc import Callable, Hashable
from functools import wraps
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
# Clocks of file systems tick more slowly than a program writes: a file changed just now may change again unseen.
_SECONDS_UNSETTLED = 2.0
# More than are packaged; whoever reads ever new files must not fill the memory with them.
_MOST_KEPT = 500


def read_once(read: Callable[Concatenate[Path, P], T]) -> Callable[Concatenate[Path, P], T]:
    """Make a function that reads a file, or lists a folder, do so again only when that has changed.

    What it returns is shared by all who ask and must not be changed. What it raises is not kept.
    """
    kept: dict[tuple[Hashable, ...], tuple[tuple[int, int, int], Any]] = {}

    @wraps(read)
    def kept_or_read(path: Path, /, *more: P.args, **named: P.kwargs) -> T:
        try:
            status = path.stat()
        except (OSError, ValueError):
            return read(path, *more, **named)
        state = (status.st_mtime_ns, status.st_size, status.st_ino)
        asked = (path, *more, *named.items())
        before = kept.get(asked)
        if before is not None and before[0] == state:
            value: T = before[1]
            return value
        value = read(path, *more, **named)
        if abs(time.time() - status.st_mtime) > _SECONDS_UNSETTLED:
            if len(kept) >= _MOST_KEPT:
                kept.clear()
            kept[asked] = (state, value)
        return value

    return kept_or_read
