"""The file of a journal: opened so that a change is kept whole or not at all, and reading leaves the folder as it is.

Files of older versions are brought forward when they are first written to, and in a copy when they are only read.
"""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from etudegen.errors import InputError, MachineError
from etudegen.files.reading import check_is_file
from etudegen.files.workshop import Workshop
from etudegen.practice.journal_learning import learn_all
from etudegen.practice.journal_schema import VERSION, make, number_sessions, strange_row, strange_tables

_SECONDS_TO_WAIT = 15
_DAMAGE = {
    sqlite3.SQLITE_NOTADB: "it is no journal",
    sqlite3.SQLITE_CORRUPT: "it is damaged",
    sqlite3.SQLITE_ERROR: "its content makes no sense",
}
_TROUBLE = {
    sqlite3.SQLITE_BUSY: f"another program has had it in use for {_SECONDS_TO_WAIT} seconds: try again later",
    sqlite3.SQLITE_LOCKED: "another program has it in use: try again later",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk cannot be read or written",
    sqlite3.SQLITE_READONLY: "it cannot be written",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened",
    sqlite3.SQLITE_PERM: "it may not be read or written",
}
# https://www.sqlite.org/fileformat.html, "The Database Header"
_HEADER = 100
# The header of a file that is read together with a log beside it.
_FORM_AT, _WITH_LOG = slice(18, 20), b"\2\2"


class JournalFile:
    """The file of a journal, which need not be there before it is first written to."""

    def __init__(self, path: Path) -> None:
        self.path = path
        # Labels of the older form that were found with a change, and whose entries are nobody's.
        self.unclaimed: tuple[str, ...] = ()
        # The states of the file in which a player's rows were found sound: a week asks seven times.
        self._sound: set[tuple[str, int, int, int]] = set()

    def place(self, profile: Path) -> str:
        """Return where a profile lies, seen from the journal: what a player is known by.

        From where the journal really is, or two folders with a link to one journal would mix their players.
        """
        file = profile.absolute().parent.resolve() / profile.name
        folder = Path(os.path.realpath(self.path)).parent
        # On another drive there is no way from one to the other.
        with suppress(ValueError):
            file = Path(os.path.relpath(file, folder))
        # A name of a file may hold bytes that are no text.
        return file.as_posix().encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")

    @contextmanager
    def writing(self, profile: Path) -> Iterator[sqlite3.Connection]:
        """Open the journal for one change, of which all is kept or nothing."""
        with self._trouble_told():
            self.path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(self.path, timeout=_SECONDS_TO_WAIT, isolation_level=None)
            try:
                if _is_with_log(self.path):
                    # Whoever reads a file with a log writes beside it. Not while somebody else has it open: then later.
                    with suppress(sqlite3.OperationalError):
                        connection.execute("pragma journal_mode = delete")
                connection.execute("pragma synchronous = extra")
                connection.execute("begin immediate")
                with connection:
                    self._set_up(connection, profile)
                    yield connection
            finally:
                connection.close()

    @contextmanager
    def reading(self, profile: Path) -> Iterator[sqlite3.Connection]:
        """Open the journal without writing to it or beside it."""
        with self._trouble_told():
            connection = None if _is_with_log(self.path) else self._opened_to_read(profile)
            if connection is not None:
                try:
                    yield connection
                finally:
                    connection.close()
                return
            # What must be changed before it can be read, is changed in a copy.
            with closing(Workshop()) as workshop:
                copy = workshop.folder / "journal.sqlite"
                for ending in ("", "-wal", "-journal"):
                    with suppress(FileNotFoundError):
                        shutil.copyfile(f"{self.path}{ending}", f"{copy}{ending}")
                connection = sqlite3.connect(copy, isolation_level=None)
                try:
                    connection.execute("begin immediate")
                    self._set_up(connection, profile)
                    yield connection
                finally:
                    connection.close()

    def _opened_to_read(self, profile: Path) -> sqlite3.Connection | None:
        """Return the journal open for reading only; None if it is of an older form, or a writer was cut off in it."""
        connection = sqlite3.connect(f"{self.path.absolute().as_uri()}?mode=ro", timeout=_SECONDS_TO_WAIT, uri=True)
        try:
            if self._checked_version(connection, profile) == VERSION and not self._claimable(connection, profile):
                return connection
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_READONLY_ROLLBACK:
                connection.close()
                raise
        except BaseException:
            connection.close()
            raise
        connection.close()
        return None

    def _checked_version(self, connection: sqlite3.Connection, profile: Path) -> int:
        """Return the version of a journal, 0 for an empty one and the older form, after a look at what is in it."""
        (version,) = connection.execute("pragma user_version").fetchone()
        if version > VERSION and {"planned", "rated"} <= {
            name for (name,) in connection.execute("select name from sqlite_master")
        }:
            raise MachineError(f"the journal {str(self.path)!r} was written by a newer etudegen: install that one")
        if version < 1:
            return 0
        if version > VERSION:
            raise self._foreign()
        known_by, status = self.place(profile), self.path.stat()
        state = (known_by, status.st_ino, status.st_size, status.st_mtime_ns)
        strange = strange_tables(connection, version)
        if not strange and state not in self._sound:
            strange = strange_row(connection, known_by, version)
        if strange:
            raise self._damaged(strange)
        self._sound.add(state)
        return int(version)

    def _set_up(self, connection: sqlite3.Connection, profile: Path) -> None:
        """Make the tables of a new journal, and bring what one of an older form has into them, once."""
        version = self._checked_version(connection, profile)
        if version == VERSION and not self._claimable(connection, profile):
            return
        if version == 0:
            self._take_over(connection, profile)
        elif version < VERSION:
            number_sessions(connection, version)
        if self._claimable(connection, profile):
            self._claim(connection, profile)
        for (known_by,) in connection.execute("select distinct profile from rated").fetchall():
            learn_all(connection, known_by)
        connection.execute(f"pragma user_version = {VERSION}")

    def _take_over(self, connection: sqlite3.Connection, profile: Path) -> None:
        # Only an older journal needs it, and the profiles.
        from etudegen.practice.journal_by_label import is_by_label  # noqa: PLC0415

        by_label = is_by_label(connection)
        if not by_label and connection.execute("select 1 from sqlite_master").fetchone():
            raise self._foreign()
        make(connection)
        if by_label:
            self._claim(connection, profile)

    def _claim(self, connection: sqlite3.Connection, profile: Path) -> None:
        from etudegen.practice.journal_by_label import take_over  # noqa: PLC0415 - see above

        self.unclaimed = take_over(connection, self._profiles(profile))

    def _claimable(self, connection: sqlite3.Connection, profile: Path) -> bool:
        """Tell whether something still stands under a label that one profile has by now."""
        from etudegen.practice.journal_by_label import claimable, is_by_label  # noqa: PLC0415 - see above

        return is_by_label(connection) and claimable(connection, self._profiles(profile))

    def _profiles(self, profile: Path) -> dict[str, Path]:
        """Return the profiles beside a profile and beside the journal, by what they are known by."""
        folders = (profile.parent, self.path.parent)
        return {self.place(file): file for folder in folders for file in sorted(folder.glob("*.toml"))}

    @contextmanager
    def _trouble_told(self) -> Iterator[None]:
        check_is_file(self.path)
        try:
            # SQLite takes what is shorter than its own header for an empty file, and writes over it.
            with suppress(FileNotFoundError):
                if 0 < self.path.stat().st_size < _HEADER:
                    raise self._damaged(_DAMAGE[sqlite3.SQLITE_NOTADB])
            yield
        except (InputError, MachineError):
            raise
        except sqlite3.Error as error:
            # The first eight bits tell the kind: https://www.sqlite.org/rescode.html
            code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
            if code in _DAMAGE:
                raise self._damaged(_DAMAGE[code]) from error
            why = _TROUBLE.get(code, str(error))
            raise MachineError(f"cannot use the journal {str(self.path)!r}: {why}") from error
        except OSError as error:
            raise MachineError(f"cannot use the journal {str(self.path)!r}: {error.strerror or error}") from error
        except (ValueError, TypeError) as error:
            raise self._damaged(str(error)) from error

    def _foreign(self) -> InputError:
        return InputError(f"{str(self.path)!r} is no journal, but the database of something else: name another file")

    def _damaged(self, what: str) -> MachineError:
        return MachineError(
            f"cannot use the journal {str(self.path)!r}: {what}: it is left as it is; "
            "put a copy from before in its place, or name another file by --journal"
        )


def _is_with_log(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(_FORM_AT.stop)[_FORM_AT] == _WITH_LOG
    except FileNotFoundError:
        return False
