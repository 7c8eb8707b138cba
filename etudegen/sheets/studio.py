"""A book for every player in a folder: side by side, and only where something has changed since the last time."""

import datetime
import gc
import hashlib
import json
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from etudegen import __version__
from etudegen.deferral import OF_MUSIC21, defer
from etudegen.engraving.engraver import PARTS, Engraver
from etudegen.errors import InputError, MachineError
from etudegen.files.templates import templates
from etudegen.files.writing import unchanged_since_written, write_text_in_place
from etudegen.practice.journal import Journal
from etudegen.practice.profile import Aim, read_profile
from etudegen.practice.routines import routine
from etudegen.practice.session import make_session
from etudegen.sheets.session import make_book
from etudegen.study import Paper

_RECORD = ".etudegen-books.json"
_ASIDE = f"{_RECORD}.damaged"
# What is told of books made before: by the name of a profile, what it was made of and its files.
_Record = dict[str, dict[str, str | list[str]]]


@dataclass(frozen=True, slots=True)
class BookRequest:
    """What a book is made of: a player's profile, the day, and what was asked for."""

    profile_file: Path
    day: datetime.date
    minutes: int | None
    aim: Aim | None
    routine: str | None
    paper: Paper
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
        retained = Journal(self.journal).retained(self.profile_file, self.day)
        try:
            told = (
                __version__, self.profile_file.read_bytes(),
                [tune.read_bytes() for tune in profile.tunes if tune.is_file()],
                Path(self.routine).read_bytes() if self.routine and self.routine.endswith(".toml") else b"",
                [path.read_bytes() for path in sorted(templates().rglob("*.toml"))],
                self.day, self.minutes, self.aim, self.routine, self.paper, self.level, sorted(retained.items()),
            )  # fmt: skip
        except OSError as error:
            raise InputError(f"cannot read {str(error.filename)!r}: {error.strerror}") from error
        return hashlib.sha256(repr(told).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class BookResult:
    """What became of a request: the files of the book, or why there are none.

    ``kept`` where nothing had changed, ``replaced`` the files in whose places other content stood, ``left_out`` the
    tunes that could not be had; ``fingerprint`` is that of what the book was made of.
    """

    profile_file: Path
    files: tuple[Path, ...] = ()
    replaced: tuple[Path, ...] = ()
    kept: bool = False
    trouble: str = ""
    exit_code: int = 0
    left_out: tuple[str, ...] = ()
    fingerprint: str = ""


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
            session = make_session(
                profile,
                request.day,
                request.minutes if request.minutes is not None else profile.minutes_per_day,
                request.aim,
                routine(request.routine) if request.routine else None,
                journal.retained(request.profile_file, request.day),
            )
            left_out: list[str] = []
            files, replaced = make_book(
                session,
                request.folder,
                engraver,
                name=request.profile_file.stem,
                paper=request.paper,
                level=request.level,
                force=request.force,
                tell=left_out.append,
            )
            journal.keep_session(request.profile_file, request.day, session.blocks_with_items)
    except (InputError, MachineError) as error:
        return BookResult(request.profile_file, trouble=str(error), exit_code=error.exit_code)
    return BookResult(request.profile_file, files, replaced, left_out=tuple(left_out), fingerprint=fingerprint)


def _recorded(folder: Path, tell: Callable[[str], None]) -> _Record:
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
        return record
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
    return isinstance(files, list) and all(isinstance(name, str) and Path(name).name == name for name in files)


def _kept(request: BookRequest, record: _Record) -> BookResult | None:
    """Return what was made before, if it is still what is asked for and stands there as it was written."""
    before = record.get(request.profile_file.name)
    if before is None or before["fingerprint"] != request.fingerprint():
        return None
    if not unchanged_since_written(request.folder, list(before["files"])):
        return None
    return BookResult(request.profile_file, tuple(request.folder / name for name in before["files"]), kept=True)


def _begin() -> None:
    """Make a worker quick: it is a program of its own, which ends with its books."""
    # Looking for garbage in between costs a tenth of the time.
    gc.disable()
    defer(OF_MUSIC21)
    # The music library warns of bars that hold too much; ours are read as they are, and what is lost is told.
    warnings.filterwarnings("ignore", module="music21")


def _results(requests: Sequence[BookRequest], workers: int) -> Iterator[BookResult]:
    """Yield what becomes of requests, as it is ready: one is made here, several by processes of their own."""
    together = min(workers, len(requests))
    if together == 1:
        yield from map(make_requested_book, requests)
        return
    with ProcessPoolExecutor(together, mp_context=get_context("spawn"), initializer=_begin) as pool:
        waiting = {pool.submit(make_requested_book, request, 1): request for request in requests}
        for done in as_completed(waiting):
            try:
                yield done.result()
            except BrokenProcessPool:
                # One that was killed takes all that were not ready with it.
                why = "the process that made the book was stopped from outside: try again with fewer --workers"
                yield BookResult(waiting[done].profile_file, trouble=why, exit_code=MachineError.exit_code)


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
            if result.files:
                names = [path.name for path in result.files]
                made[result.profile_file.name] = {"fingerprint": result.fingerprint, "files": names}
            yield _named(result, as_named)
    finally:
        # By one process, and also for those that are ready when the rest is called off: their books are on the disk.
        if made:
            write_text_in_place(folder / _RECORD, json.dumps(record | made, indent=1, sort_keys=True))


def _named(result: BookResult, as_named: dict[Path, BookRequest]) -> BookResult:
    """Return a result with its files called as the user calls the folders."""
    request = as_named[result.profile_file]
    return replace(
        result,
        profile_file=request.profile_file,
        files=tuple(request.folder / path.name for path in result.files),
        replaced=tuple(request.folder / path.name for path in result.replaced),
    )
