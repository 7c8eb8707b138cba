"""A book for every player in a folder: side by side, and only where something has changed since the last time."""

import datetime
import gc
import hashlib
import json
import os
import signal
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread

from etudegen import __version__
from etudegen.deferral import OF_MUSIC21, defer
from etudegen.engraving.engraver import PARTS, Engraver
from etudegen.errors import InputError, MachineError
from etudegen.exercises.kinds import Kind, add_kind, added_kinds, all_kinds
from etudegen.files.locking import only_writer
from etudegen.files.names import player_name
from etudegen.files.templates import templates
from etudegen.files.writing import digest, write_in_place
from etudegen.practice.journal import Journal
from etudegen.practice.profile import Aim, read_profile
from etudegen.practice.routines import asked_for, routine_file
from etudegen.practice.session import make_session
from etudegen.sheets.session import make_book
from etudegen.study import Paper

_RECORD = ".etudegen-books.json"
_ASIDE = f"{_RECORD}.damaged"


@dataclass(frozen=True, slots=True)
class _Made:
    """What is recorded of a book: what it was made of, and its files by name with what tells whether they changed."""

    fingerprint: str
    files: Mapping[str, str]


# By the name of a profile.
_Record = dict[str, _Made]


@dataclass(frozen=True, slots=True)
class BookRequest:
    """What a book is made of: a player's profile, the day, and what was asked for."""

    profile_file: Path
    day: datetime.date
    minutes: int | None
    aim: Mapping[Aim, int] | None
    routine: str | None
    paper: Paper | None
    level: float | None
    folder: Path
    journal: Path
    force: bool

    def absolute(self) -> "BookRequest":
        """Return the same request with absolute paths, for a process that may run in another folder."""
        own_routine = self.routine is not None and self.routine.endswith(".toml")
        return replace(
            self,
            profile_file=self.profile_file.absolute(),
            folder=self.folder.absolute(),
            journal=self.journal.absolute(),
            routine=str(Path(str(self.routine)).absolute()) if own_routine else self.routine,
        )

    def fingerprint(self) -> str:
        """Return what tells whether a book made before is still the one asked for."""
        profile = read_profile(self.profile_file)
        history = Journal(self.journal).history(self.profile_file, self.day)
        name = profile.routine if self.routine is None else self.routine
        try:
            told = (
                __version__, self.profile_file.read_bytes(),
                [tune.read_bytes() for tune in profile.tunes if tune.is_file()],
                routine_file(name, self.profile_file).read_bytes() if name else b"",
                [path.read_bytes() for path in sorted(templates().rglob("*.toml"))],
                self.day, self.minutes, self.aim, self.routine, self.paper, self.level, history,
            )  # fmt: skip
        except OSError as error:
            raise InputError(f"cannot read {str(error.filename)!r}: {error.strerror}") from error
        return hashlib.sha256(repr(told).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class BookResult:
    """What became of a request: the files of the book, or why there are none.

    There may be both where the book could not be recorded. ``kept`` where nothing had changed, ``replaced`` the files
    in whose places other content stood, ``left_out`` the tunes that could not be had; ``fingerprint`` is that of what
    the book was made of, and ``digests`` those of its files by name, empty where it is to be made again the next time.
    """

    profile_file: Path
    files: tuple[Path, ...] = ()
    replaced: tuple[Path, ...] = ()
    kept: bool = False
    trouble: str = ""
    exit_code: int = 0
    left_out: tuple[str, ...] = ()
    fingerprint: str = ""
    digests: Mapping[str, str] = field(default_factory=dict)


def make_requested_book(request: BookRequest, parts: int = PARTS) -> BookResult:
    """Make the book of one request, engraved in so many parts side by side, and journal the session.

    Trouble is told, not raised.
    """
    try:
        # Before anything is read for the book: what changes meanwhile makes it an old one.
        fingerprint = request.fingerprint()
        with Engraver(parts=parts) as engraver:
            profile = read_profile(request.profile_file)
            journal = Journal(request.journal)
            chosen, length = asked_for(
                request.routine, request.minutes, (profile.routine, profile.minutes_per_day), request.profile_file
            )
            session = make_session(
                profile,
                request.day,
                length,
                request.aim,
                chosen,
                journal.history(request.profile_file, request.day),
            )
            left_out: list[str] = []
            files, replaced = make_book(
                session,
                request.folder,
                engraver,
                name=player_name(request.profile_file, request.routine),
                paper=request.paper or session.profile.paper,
                level=request.level,
                force=request.force,
                tell=left_out.append,
            )
    except (InputError, MachineError) as error:
        return BookResult(request.profile_file, trouble=str(error), exit_code=error.exit_code)
    finally:
        # A process that makes many books must not keep what all of them were made of.
        gc.collect()
    result = BookResult(request.profile_file, files, replaced, left_out=tuple(left_out))
    try:
        journal.keep_session(request.profile_file, request.day, session.kept_blocks)
        digests = {path.name: digest(path.read_bytes()) for path in files}
    except (InputError, MachineError, OSError) as error:
        trouble = f"the book was made but cannot be recorded: {error}"
        return replace(result, trouble=trouble, exit_code=MachineError.exit_code)
    return replace(result, fingerprint=_fingerprint(request, fingerprint), digests=digests)


def _recorded(folder: Path, tell: Callable[[str], None] = lambda said: None) -> _Record:
    """Return what was made before; a record that makes no sense is put aside, since it may be somebody's."""
    path = folder / _RECORD
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise MachineError(f"cannot read {str(path)!r}: {error.strerror}") from error
    except (ValueError, RecursionError):
        record = None
    if isinstance(record, dict) and all(map(_is_of_a_book, record.values())):
        return {name: _Made(made["fingerprint"], made["files"]) for name, made in record.items()}
    try:
        path.replace(folder / _ASIDE)
    except OSError as error:
        raise MachineError(f"cannot put {str(path)!r} aside: {error.strerror}") from error
    tell(f"{path} makes no sense: it is put aside as {_ASIDE}, and all books are made again")
    return {}


def _is_of_a_book(value: object) -> bool:
    if not isinstance(value, dict) or not isinstance(value.get("fingerprint"), str):
        return False
    files = value.get("files")
    return isinstance(files, dict) and all(
        Path(name).name == name and isinstance(told, str) for name, told in files.items()
    )


def _record(folder: Path, made: _Record) -> None:
    """Add books to what is recorded in a folder, to which others may have added meanwhile."""
    with only_writer(folder):
        record = {
            name: {"fingerprint": each.fingerprint, "files": each.files}
            for name, each in (_recorded(folder) | made).items()
        }
        write_in_place(folder / _RECORD, json.dumps(record, indent=1, sort_keys=True).encode())


def _kept(request: BookRequest, record: _Record) -> BookResult | None:
    """Return what was made before, if it is still what is asked for and stands there as it was written."""
    before = record.get(request.profile_file.name)
    # What the journal knows of the day has to be this book, too.
    if before is None or before.fingerprint != _fingerprint(request, request.fingerprint()):
        return None
    try:
        if any(digest((request.folder / name).read_bytes()) != told for name, told in before.files.items()):
            return None
    except OSError:
        return None
    return BookResult(request.profile_file, tuple(request.folder / name for name in before.files), kept=True)


def _fingerprint(request: BookRequest, made_of: str) -> str:
    return f"{made_of}:{Journal(request.journal).planned(request.profile_file, request.day)}"


def _begin(called_off: Connection, added: Sequence[Kind]) -> None:
    """Make a worker quick: it is a program of its own, which ends with its books, or with whoever wants them."""
    # The keyboard interrupts whoever wants the books.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_when, args=(called_off,), daemon=True).start()
    # Looking for garbage in between costs a tenth of the time.
    gc.disable()
    defer(OF_MUSIC21)
    # The music library warns of bars that hold too much; ours are read as they are, and what is lost is told.
    warnings.filterwarnings("ignore", module="music21")
    known = {kind.name for kind in all_kinds()}
    for kind in added:
        if kind.name not in known:
            add_kind(kind)


def _end_when(called_off: Connection) -> None:
    """End this process, and with it its engraver, when the other end closes: also by the death of who holds it."""
    # Nothing is ever sent.
    with suppress(EOFError, OSError):
        called_off.recv_bytes()
    os._exit(1)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Keep the keyboard from interrupting processes that are started here, before they can say so themselves."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _results(requests: Sequence[BookRequest], workers: int) -> Iterator[BookResult]:
    """Yield what becomes of requests, as it is ready: one is made here, several by processes of their own."""
    together = min(workers, len(requests))
    if together == 1:
        yield from map(make_requested_book, requests)
        return
    context = get_context("spawn")
    called_off, wanted = context.Pipe(duplex=False)
    with (
        wanted,
        called_off,
        ProcessPoolExecutor(together, context, initializer=_begin, initargs=(called_off, added_kinds())) as pool,
    ):
        try:
            with _uninterrupted():
                waiting = {pool.submit(make_requested_book, request, 1): request for request in requests}
            for done in as_completed(waiting):
                try:
                    yield done.result()
                except BrokenProcessPool:
                    # One that was killed takes all that were not ready with it.
                    why = "the process that made the book was stopped from outside: try again with fewer --workers"
                    yield BookResult(waiting[done].profile_file, trouble=why, exit_code=MachineError.exit_code)
        except BaseException:
            # Nobody waits for books that nobody wants any more.
            wanted.close()
            raise


def make_books(
    requests: Sequence[BookRequest], workers: int, tell: Callable[[str], None] = lambda said: None
) -> Iterator[BookResult]:
    """Make the books of requests for one folder, in parallel; yield each as it is ready.

    A profile that cannot be read, or vanishes, is told like any other trouble, and does not stop the others.
    ``tell`` is called with what else there is to say.
    """
    folder = requests[0].folder.absolute()
    as_named = {request.profile_file.absolute(): request for request in requests}
    record = _recorded(folder, tell)
    waiting = []
    for request in map(BookRequest.absolute, requests):
        try:
            result = _kept(request, record)
        except (InputError, MachineError) as error:
            result = BookResult(request.profile_file, trouble=str(error), exit_code=error.exit_code)
        if result is None:
            waiting.append(request)
        else:
            yield _named(result, as_named)
    if not waiting:
        return
    made: _Record = {}
    try:
        for result in _results(waiting, workers):
            if result.digests:
                made[result.profile_file.name] = _Made(result.fingerprint, result.digests)
            yield _named(result, as_named)
    finally:
        # By one process, and also for those that are ready when the rest is called off: their books are on the disk.
        if made:
            try:
                _record(folder, made)
            except (MachineError, OSError) as error:
                tell(f"the books cannot be noted as made, so that they will be made again the next time: {error}")


def _named(result: BookResult, as_named: dict[Path, BookRequest]) -> BookResult:
    """Return a result with its files called as the user calls the folders."""
    request = as_named[result.profile_file]
    return replace(
        result,
        profile_file=request.profile_file,
        files=tuple(request.folder / path.name for path in result.files),
        replaced=tuple(request.folder / path.name for path in result.replaced),
    )
