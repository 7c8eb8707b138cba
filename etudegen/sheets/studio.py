"""A book for every player in a folder: side by side, and only where something has changed since the last time."""

import datetime
import gc
import hashlib
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from etudegen import __version__
from etudegen.deferral import defer
from etudegen.engraving.engraver import PARTS, Engraver
from etudegen.errors import InputError, MachineError
from etudegen.files.writing import unchanged_since_written, write_text_in_place
from etudegen.practice.journal import Journal
from etudegen.practice.profile import Aim, read_profile
from etudegen.practice.routines import routine
from etudegen.practice.session import make_session
from etudegen.sheets.session import make_book
from etudegen.study import Paper

_RECORD = ".etudegen-books.json"


@dataclass(frozen=True, slots=True)
class Order:
    """What a book is made of: a player's file, the day, and what was asked for."""

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

    def fingerprint(self) -> str:
        """Return what tells whether a book made before is still the one asked for."""
        profile = read_profile(self.profile_file)
        retained = Journal(self.journal).retained(profile.label, self.day)
        own_routine = Path(self.routine).read_bytes() if self.routine and self.routine.endswith(".toml") else b""
        tunes = [tune.read_bytes() for tune in profile.tunes if tune.is_file()]
        told = (
            __version__, self.profile_file.read_bytes(), tunes, own_routine, self.day, self.minutes, self.aim,
            self.routine, self.paper, self.level, sorted(retained.items()),
        )  # fmt: skip
        return hashlib.sha256(repr(told).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Made:
    """What became of an order: its files, or why there are none; ``kept`` where nothing had changed."""

    profile_file: Path
    files: tuple[Path, ...] = ()
    kept: bool = False
    trouble: str = ""
    exit_code: int = 0
    left_out: tuple[str, ...] = ()


def carry_out(order: Order, parts: int = PARTS) -> Made:
    """Make the book of one order, engraved in so many parts side by side, and journal the session.

    Trouble is told, not raised.
    """
    try:
        with Engraver(parts=parts) as engraver:
            profile = read_profile(order.profile_file)
            journal = Journal(order.journal)
            session = make_session(
                profile,
                order.day,
                order.minutes if order.minutes is not None else profile.minutes_per_day,
                order.aim,
                routine(order.routine) if order.routine else None,
                journal.retained(profile.label, order.day),
            )
            left_out: list[str] = []
            files = make_book(
                session,
                order.folder,
                engraver,
                paper=order.paper,
                level=order.level,
                force=order.force,
                tell=left_out.append,
            )
            journal.keep_session(profile.label, order.day, session.blocks_with_items)
    except (InputError, MachineError) as error:
        return Made(order.profile_file, trouble=str(error), exit_code=error.exit_code)
    return Made(order.profile_file, tuple(files), left_out=tuple(left_out))


def _recorded(folder: Path) -> dict[str, dict[str, object]]:
    try:
        record = json.loads((folder / _RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return record if isinstance(record, dict) else {}


def _kept(order: Order, record: dict[str, dict[str, object]]) -> Made | None:
    """Return what was made before, if it is still what is asked for and stands there as it was written."""
    before = record.get(order.profile_file.name, {})
    names = before.get("files")
    if not isinstance(names, list) or before.get("fingerprint") != order.fingerprint():
        return None
    files = [str(name) for name in names]
    if not unchanged_since_written(order.folder, files):
        return None
    return Made(order.profile_file, tuple(order.folder / name for name in files), kept=True)


def _begin() -> None:
    """Make a worker quick: it is a program of its own, which ends with its books."""
    # Looking for garbage in between costs a tenth of the time.
    gc.disable()
    # Wanted by the music library for scores on the web, of which there are none here.
    defer("requests")


def _carried_out(orders: list[Order], workers: int) -> Iterator[Made]:
    """Yield what becomes of orders, as it is ready: one is carried out here, several by processes of their own."""
    together = min(workers, len(orders))
    if together == 1:
        yield from map(carry_out, orders)
        return
    with ProcessPoolExecutor(together, mp_context=get_context("spawn"), initializer=_begin) as pool:
        for done in as_completed([pool.submit(carry_out, order, 1) for order in orders]):
            yield done.result()


def make_books(orders: list[Order], workers: int) -> Iterator[Made]:
    """Make the books of orders for one folder, in parallel; yield each as it is ready.

    A player's file that cannot be read is told like any other trouble, and does not stop the others.
    """
    folder = orders[0].folder
    record = _recorded(folder)
    waiting = []
    for order in orders:
        try:
            kept = _kept(order, record)
        except (InputError, MachineError) as error:
            yield Made(order.profile_file, trouble=str(error), exit_code=error.exit_code)
            continue
        if kept:
            yield kept
        else:
            waiting.append(order)
    if not waiting:
        return
    made = []
    for each in _carried_out(waiting, workers):
        made.append(each)
        yield each
    # Written at the end and by one process: the books themselves are on the disk by now.
    orders_by_file = {order.profile_file: order for order in waiting}
    for each in made:
        if each.files:
            record[each.profile_file.name] = {
                "fingerprint": orders_by_file[each.profile_file].fingerprint(),
                "files": [path.name for path in each.files],
            }
    write_text_in_place(folder / _RECORD, json.dumps(record, indent=1, sort_keys=True))
