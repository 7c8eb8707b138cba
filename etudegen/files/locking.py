"""Taking turns: of all processes of ours one at a time changes what is in a folder."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from etudegen.errors import MachineError

LOCK = ".etudegen.lock"
# Whoever has the lock writes files that are ready, which takes a moment.
SECONDS_TO_WAIT = 15.0


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Be the only process that changes a folder; raise :class:`MachineError` if 15 seconds of waiting are not enough.

    The system keeps the lock, and frees it where its process dies, so that a file left behind holds up nobody.
    Raises :class:`OSError` where the folder cannot be written.
    """
    # Loaded when there is something to write: a short command must not wait for it at its start.
    from filelock import FileLock, Timeout  # noqa: PLC0415

    lock = FileLock(folder / LOCK)
    try:
        lock.acquire(timeout=SECONDS_TO_WAIT)
    except Timeout as error:
        raise MachineError(
            f"another etudegen has been writing into {str(folder)!r} for {SECONDS_TO_WAIT:g} seconds: "
            "wait until it has ended, or end it"
        ) from error
    except OSError as error:
        place = folder / LOCK
        if place.is_symlink() or place.is_dir():
            raise MachineError(
                f"{str(place)!r} is no file, so that nobody can tell whether another etudegen writes there: remove it"
            ) from error
        raise
    try:
        yield
    finally:
        # Whoever waits for this one notices that it is gone, and makes another.
        with suppress(OSError):
            os.unlink(lock.lock_file)
        lock.release()
