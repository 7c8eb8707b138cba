"""Books made on the machines of a Dask cluster: what they are made of is sent as values, and comes back as bytes.

Nothing is shared but the network, and whoever asks for the books writes them. A task that a lost machine had is given
to another by the cluster.
"""

import gc
import hashlib
import importlib.metadata
import logging
import re
import socket
import time
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any, Self

from etudegen.engraving.engraver import Engraver
from etudegen.errors import InputError, MachineError
from etudegen.exercises.kinds import Kind, add_kind, added_kinds, all_kinds
from etudegen.files.templates import templates
from etudegen.files.writing import prepare_folder
from etudegen.sheets.studio import BookRequest, BookResult, parts_for, put_down, task_of, troubled
from etudegen.sheets.task import BookTask, MadeBook, make_files

_ADDRESS = re.compile(r"tcp://([A-Za-z0-9._-]{1,250}|\[[0-9A-Fa-f:.]{2,60}\]):([0-9]{1,5})")
_HIGHEST_PORT = 65535
_SECONDS_TO_CONNECT = 4
_SECONDS_FOR_A_WORKER = 10
# How long a cluster may be without any worker, or without an answer, before it is given up.
_SECONDS_WITHOUT = 30.0
_SECONDS_BETWEEN_LOOKS = 2.0
# A book is a few hundred kilobytes.
_SECONDS_TO_FETCH = 20.0
# What pages and MusicXML are made with, beside what is ours.
_MADE_WITH = ("music21", "abjad", "lilypond", "pikepdf")


def checked_address(text: str) -> str:
    """Return the address of a cluster; raise :class:`InputError` for what is none."""
    read = _ADDRESS.fullmatch(text)
    if read is None or not 1 <= int(read[2]) <= _HIGHEST_PORT:
        raise InputError(f"cluster {text!r} is not an address: write it like tcp://10.0.0.5:8786")
    return text


@dataclass(frozen=True, slots=True)
class _Failed:
    """Why there is no book."""

    why: str
    is_ours: bool


def _make_there(task: BookTask, parts: int, stamp: str, added: Sequence[Kind]) -> MadeBook | _Failed:
    """Make a book on a machine of the cluster, which has to have the same etudegen as whoever asks for it."""
    if stamp != _stamp():
        why = f"{socket.gethostname()} has another etudegen, or other templates, than this machine"
        return _Failed(f"{why}: install the same on both, and start its worker again", is_ours=True)
    known = {kind.name for kind in all_kinds()}
    for kind in added:
        if kind.name not in known:
            add_kind(kind)
    try:
        with Engraver(parts=parts) as engraver:
            return make_files(task, engraver)
    except InputError as error:
        return _Failed(str(error), is_ours=False)
    except MachineError as error:
        return _Failed(f"on {socket.gethostname()}: {error}", is_ours=True)
    finally:
        gc.collect()


@cache
def _stamp() -> str:
    """Return what tells whether two machines make the same of the same."""
    told = hashlib.sha256()
    for root, pattern in ((Path(__file__).parents[1], "*.py"), (templates(), "*")):
        for path in sorted(path for path in root.rglob(pattern) if path.is_file()):
            told.update(f"{path.relative_to(root).as_posix()}\0".encode() + path.read_bytes())
    for package in _MADE_WITH:
        try:
            told.update(f"{package} {importlib.metadata.version(package)}\0".encode())
        except importlib.metadata.PackageNotFoundError:
            # LilyPond may be one that was installed otherwise.
            continue
    return told.hexdigest()


class Cluster:
    """A cluster that is connected to; use it in a ``with`` block.

    Raises :class:`MachineError` where nobody answers at the address, or no worker comes.
    """

    def __init__(self, address: str) -> None:
        self._address = checked_address(address)
        try:
            # An extra of this package, and slow to load.
            from distributed import Client  # noqa: PLC0415
        except ImportError as error:
            raise MachineError(
                "--cluster needs Dask, which is not installed: say `pip install '.[cluster]'` in the clone's folder"
            ) from error
        # What it has to tell is told here, in a sentence.
        for name in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        warnings.filterwarnings("ignore", module="distributed")
        try:
            self._client: Any = Client(address, timeout=_SECONDS_TO_CONNECT, set_as_default=False)
        except Exception as error:
            # Of many classes: whatever may answer at such a place.
            raise MachineError(
                f"no cluster answers at {address}: start one with `dask scheduler`, and name the address that it tells"
            ) from error
        try:
            self._client.wait_for_workers(1, timeout=_SECONDS_FOR_A_WORKER)
        except Exception as error:
            self.close()
            raise MachineError(
                f"the cluster at {address} has no workers: start one on each machine with `dask worker {address}`"
            ) from error

    def results(self, requests: Sequence[BookRequest], parts: int) -> Iterator[BookResult]:
        """Yield what becomes of requests, each engraved in so many parts, as it is ready and written here."""
        prepare_folder(requests[0].folder)
        ready: SimpleQueue[Any] = SimpleQueue()
        waiting: dict[Any, tuple[BookRequest, str]] = {}
        try:
            for request in requests:
                try:
                    # Before anything is read for the book: what changes meanwhile makes it an old one.
                    fingerprint = request.fingerprint()
                    task = task_of(request).to_be_sent()
                    more = (parts_for(request, parts), _stamp(), added_kinds())
                except (InputError, MachineError) as error:
                    yield troubled(request, error)
                    continue
                # Not pure: one that was lost with its worker is made again, one that went wrong before is tried again.
                future = self._client.submit(_make_there, task, *more, pure=False)
                waiting[future] = (request, fingerprint)
                future.add_done_callback(ready.put)
            while waiting:
                future = self._next(ready)
                if future is None:
                    yield from (troubled(request, self._lost()) for request, _ in waiting.values())
                    return
                request, fingerprint = waiting[future]
                try:
                    made = self._made(future)
                    if made is None:
                        # It was lost with its machine when it was ready, and is being made again.
                        future.add_done_callback(ready.put)
                        continue
                    result = put_down(request, made, fingerprint)
                except (InputError, MachineError) as error:
                    result = troubled(request, error)
                del waiting[future]
                future.release()
                yield result
        finally:
            # Nobody waits for books that nobody wants any more.
            for future in waiting:
                future.release()

    def _next(self, ready: "SimpleQueue[Any]") -> Any:
        """Return what is ready next; None where there has been nobody to make anything for too long."""
        alone_since: float | None = None
        while True:
            try:
                return ready.get(timeout=_SECONDS_BETWEEN_LOOKS)
            except Empty:
                if self._has_workers():
                    alone_since = None
                    continue
            now = time.monotonic()
            alone_since = now if alone_since is None else alone_since
            if now - alone_since > _SECONDS_WITHOUT:
                return None

    def _has_workers(self) -> bool:
        if self._client.status != "running":
            return False
        try:
            return bool(self._client.nthreads())
        except Exception:
            # Of many classes: the scheduler may just be going.
            return False

    def _lost(self) -> MachineError:
        return MachineError(
            f"the cluster at {self._address} was lost: start it and its workers again, and then say this again"
        )

    def _made(self, future: Any) -> MadeBook | None:
        """Return the book that a task made, or raise why there is none; None where it is no longer to be had."""
        try:
            made = future.result(timeout=_SECONDS_TO_FETCH)
        except TimeoutError as error:
            if not self._has_workers():
                raise self._lost() from error
            return None
        except Exception as error:
            # Of many classes: what was sent may not be understood there, or worker after worker was lost with it.
            if type(error).__name__ == "KilledWorker":
                raise MachineError("the workers that made the book were lost one after another") from error
            if type(error).__name__ in ("CancelledError", "FutureCancelledError"):
                raise self._lost() from error
            raise MachineError(f"the cluster could not make the book ({type(error).__name__}: {error})") from error
        if isinstance(made, _Failed):
            raise (MachineError if made.is_ours else InputError)(made.why)
        assert isinstance(made, MadeBook)
        return made

    def close(self) -> None:
        """Leave the cluster, which stays as it is."""
        self._client.close(timeout=_SECONDS_TO_CONNECT)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
