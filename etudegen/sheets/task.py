"""What a book is made of, as values, and the book as bytes: the part of the work that any process can do anywhere."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from etudegen.engraving.engraver import Engraver
from etudegen.errors import InputError
from etudegen.practice.days import KnownDay, sessions_ahead
from etudegen.practice.entries import KeptBlock
from etudegen.practice.items import Item
from etudegen.practice.profile import Aim, Profile
from etudegen.practice.routines import Routine
from etudegen.practice.session import Session, make_session
from etudegen.practice.spacing import History
from etudegen.sheets.session import days_files
from etudegen.study import Paper


@dataclass(frozen=True, slots=True)
class BookTask:
    """All that a book is made of.

    ``name`` is how its files are called. ``tunes`` are the files that sessions may ask for: what is in them, or as a
    text why that cannot be had. ``sessions`` stand there where they had to be made before, of files that are here.
    """

    name: str
    profile: Profile
    days: tuple[KnownDay, ...]
    minutes: int
    aim: Mapping[Aim, int] | None
    routine: Routine | None
    paper: Paper
    level: float | None
    tunes: Mapping[Path, bytes | str]
    sessions: tuple[Session, ...] = ()

    def planned(self) -> tuple[Session, ...]:
        """Return the sessions of its days, each as if those before had been practised."""

        def make(day: date, history: History[Item]) -> Session:
            return make_session(self.profile, day, self.minutes, self.aim, self.routine, history)

        return self.sessions or tuple(sessions_ahead(self.days, make))

    def to_be_sent(self) -> "BookTask":
        """Return the same for another machine, without what is private: what needs files of this one is done here."""
        blocks = self.routine.blocks if self.routine else ()
        own_files = any(isinstance(value, Path) for block in blocks for value in block.settings.values())
        sent = replace(self, profile=replace(self.profile, private_notes=""))
        return replace(sent, sessions=sent.planned()) if own_files else sent

    def tune(self, path: Path) -> bytes:
        """Return what is in the file of a tune, or raise :class:`InputError` where that cannot be had."""
        content = self.tunes.get(path, f"cannot read {str(path)!r}: it was not sent along")
        if isinstance(content, str):
            raise InputError(content)
        return content


@dataclass(frozen=True, slots=True)
class MadeBook:
    """A book: its files by their names, the PDF first, what the journal keeps of each day, and what was left out."""

    files: Mapping[str, bytes]
    days: Mapping[date, tuple[KeptBlock, ...]]
    left_out: tuple[str, ...]


def make_files(task: BookTask, engraver: Engraver, check: Callable[[list[str]], None] = lambda names: None) -> MadeBook:
    """Make a book; ``check`` is called with the names of all files before anything is engraved."""
    sessions = task.planned()
    left_out: list[str] = []
    files = days_files(
        sessions,
        engraver,
        name=task.name,
        paper=task.paper,
        level=task.level,
        aims=task.aim,
        tell=left_out.append,
        check=check,
        read=task.tune,
    )
    return MadeBook(files, {each.day: each.kept_blocks for each in sessions}, tuple(dict.fromkeys(left_out)))
