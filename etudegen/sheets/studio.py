"""A book for every player in a folder: side by side, and only where something has changed since the last time."""

import gc
import hashlib
import json
import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import date
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread

from etudegen import __version__
from etudegen.deferral import be_quick
from etudegen.engraving.engraver import PARTS, Engraver, cancel_all
from etudegen.engraving.joining import bound
from etudegen.errors import InputError, MachineError
from etudegen.exercises.kinds import Kind, add_kind, added_kinds, all_kinds
from etudegen.files.locking import only_writer
from etudegen.files.names import player_name
from etudegen.files.templates import templates
from etudegen.files.writing import Written, check_free, digest, prepare_folder, write_all, write_in_place
from etudegen.practice.days import DaysAsked, known_days
from etudegen.practice.journal import Journal
from etudegen.practice.profile import Aim, Profile, read_profile
from etudegen.practice.routines import Routine, asked_for, routine_file
from etudegen.sheets.task import BookTask, MadeBook, make_files
from etudegen.study import Paper
from etudegen.tunes.archive import read_file

_RECORD = ".etudegen-books.json"
_ASIDE = f"{_RECORD}.damaged"


@dataclass(frozen=True, slots=True)
class _Made:
    """What is recorded of a book: what it was made of, and its files by name with what tells whether they changed."""

    fingerprint: str
    files: Mapping[str, str]


# What makes the books of requests, each engraved in so many parts, and yields each as it is ready.
Elsewhere = Callable[[Sequence["BookRequest"], int], Iterator["BookResult"]]
# By the name of a profile.
_Record = dict[str, _Made]


@dataclass(frozen=True, slots=True)
class BookRequest:
    """What a book is made of: a player's profile, the days, and what was asked for."""

    profile_file: Path
    days: DaysAsked
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

    def days_asked(self) -> tuple[date, ...]:
        """Return the days that the book is for."""
        return self.days.of(read_profile(self.profile_file).days_per_week)

    def fingerprint(self) -> str:
        """Return what tells whether a book made before is still the one asked for."""
        profile = read_profile(self.profile_file)
        days = self.days.of(profile.days_per_week)
        # What is known of the others follows: of this, of what is planned before them, and of what was known when they
        # were made, where they were.
        history = Journal(self.journal).history(self.profile_file, days[0])
        name = profile.routine if self.routine is None else self.routine
        try:
            told = (
                __version__, self.profile_file.read_bytes(),
                [tune.read_bytes() for tune in profile.tunes if tune.is_file()],
                routine_file(name, self.profile_file).read_bytes() if name else b"",
                [path.read_bytes() for path in sorted(templates().rglob("*.toml"))],
                days, self.minutes, self.aim, self.routine, self.paper, self.level, history,
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
    """Make the book of one request, engraved in so many parts side by side, and journal its sessions.

    Trouble is told, not raised.
    """

    def check(names: list[str]) -> None:
        prepare_folder(request.folder)
        if not request.force:
            check_free(request.folder, names)

    try:
        # Before anything is read for the book: what changes meanwhile makes it an old one.
        fingerprint = request.fingerprint()
        with Engraver(parts=parts_for(request, parts)) as engraver:
            made = make_files(task_of(request), engraver, check)
        return put_down(request, made, fingerprint)
    except (InputError, MachineError) as error:
        return troubled(request, error)
    finally:
        # A process that makes many books must not keep what all of them were made of.
        gc.collect()


def parts_for(request: BookRequest, parts: int) -> int:
    """Return how many parts a book is engraved in side by side: one of several days in two, each a day at a time."""
    return PARTS if len(request.days_asked()) > 1 else parts


def task_of(request: BookRequest) -> BookTask:
    """Read all that a book is made of."""
    profile = read_profile(request.profile_file)
    chosen, length = asked_for(
        request.routine, request.minutes, (profile.routine, profile.minutes_per_day), request.profile_file
    )
    days = known_days(Journal(request.journal), request.profile_file, request.days.of(profile.days_per_week))
    return BookTask(
        name=player_name(request.profile_file, request.routine),
        profile=profile,
        days=days,
        minutes=length,
        aim=request.aim,
        routine=chosen,
        paper=request.paper or profile.paper,
        level=request.level,
        tunes={path: _content(path) for path in _tunes(profile, chosen)},
    )


def _tunes(profile: Profile, chosen: Routine | None) -> Iterator[Path]:
    yield from profile.tunes
    yield from (Path(block.own) for block in (chosen.blocks if chosen else ()) if block.own)


def _content(path: Path) -> bytes | str:
    try:
        return read_file(path)
    except InputError as error:
        # Told when a session asks for it.
        return str(error)


def put_down(request: BookRequest, made: MadeBook, fingerprint: str) -> BookResult:
    """Write a book that was made of what had this fingerprint, and journal its sessions.

    Raises :class:`InputError` or :class:`MachineError` where it cannot be written.
    """
    files, replaced = write_all(request.folder, made.files, force=request.force)
    result = BookResult(request.profile_file, files, replaced, left_out=made.left_out)
    journal = Journal(request.journal)
    try:
        for day, blocks in made.days.items():
            journal.keep_session(request.profile_file, day, blocks)
        fingerprint = _fingerprint(request, fingerprint, tuple(made.days))
    except (InputError, MachineError, OSError) as error:
        trouble = f"the book was made but cannot be recorded: {error}"
        return replace(result, trouble=trouble, exit_code=MachineError.exit_code)
    digests = {name: digest(content) for name, content in made.files.items()}
    return replace(result, fingerprint=fingerprint, digests=digests)


def troubled(request: BookRequest, error: InputError | MachineError) -> BookResult:
    """Return that there is no book, and why."""
    return BookResult(request.profile_file, trouble=str(error), exit_code=error.exit_code)


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
    # What the journal knows of the days has to be this book, too.
    if before is None or before.fingerprint != _fingerprint(request, request.fingerprint(), request.days_asked()):
        return None
    try:
        if any(digest((request.folder / name).read_bytes()) != told for name, told in before.files.items()):
            return None
    except OSError:
        return None
    # The book itself comes first.
    names = sorted(before.files, key=lambda name: (not name.endswith(".pdf"), name))
    return BookResult(request.profile_file, tuple(request.folder / name for name in names), kept=True)


def _fingerprint(request: BookRequest, made_of: str, days: Sequence[date]) -> str:
    """Return what tells a book from another: by what it was made of, and by what the journal has of its days."""
    journal = Journal(request.journal)
    return ":".join((made_of, *(journal.planned(request.profile_file, day) for day in days)))


def _begin(called_off: Connection, added: Sequence[Kind]) -> None:
    """Make a worker quick: it is a program of its own, which ends with its books, or with whoever wants them."""
    # The keyboard interrupts whoever wants the books.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_when, args=(called_off,), daemon=True).start()
    # By a thread: this one may be ending an engraver right now.
    signal.signal(signal.SIGTERM, lambda *_: Thread(target=_end, daemon=True).start())
    be_quick()
    known = {kind.name for kind in all_kinds()}
    for kind in added:
        if kind.name not in known:
            add_kind(kind)


def _end_when(called_off: Connection) -> None:
    """End this process when the other end closes: also by the death of who holds it."""
    # Nothing is ever sent.
    with suppress(EOFError, OSError):
        called_off.recv_bytes()
    _end()


def _end() -> None:
    """End this process, which leaves nothing behind then."""
    cancel_all()
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
    requests: Sequence[BookRequest],
    workers: int,
    tell: Callable[[str], None] = lambda said: None,
    elsewhere: Elsewhere | None = None,
) -> Iterator[BookResult]:
    """Make the books of requests for one folder, in parallel; yield each as it is ready.

    A profile that cannot be read, or vanishes, is told like any other trouble, and does not stop the others.
    ``tell`` is called with what else there is to say. ``elsewhere`` makes them on other machines, if they are to be;
    how many ``workers`` there would be here tells in how many parts each is engraved, so that the files are the same.
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
        parts = PARTS if min(workers, len(waiting)) == 1 else 1
        for result in elsewhere(waiting, parts) if elsewhere else _results(waiting, workers):
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


def bind_books(books: Sequence[BookResult], folder: Path, name: str, *, force: bool = False) -> Written:
    """Put the books that there are behind one another into one file, to print for all; return it.

    Each player is in the outline by the label, and by the name of the profile where others have the same.
    """
    there = [book for book in books if book.files]
    if any(name in {file.name for file in book.files} for book in there):
        raise InputError(f"one-file {name!r} is the name of a player's own file: give another name")
    labels = [read_profile(book.profile_file).label for book in there]
    shown = [
        label if labels.count(label) == 1 else f"{label} ({book.profile_file.stem})"
        for label, book in zip(labels, there, strict=True)
    ]
    try:
        printed = [book.files[0].read_bytes() for book in there]
    except OSError as error:
        raise MachineError(f"cannot read {str(error.filename)!r}: {error.strerror}") from error
    return write_all(folder, {name: bound([*zip(shown, printed, strict=True)], "Practice")}, force=force)
