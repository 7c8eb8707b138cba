"""TOML files that people write: read safely, and checked key by key in words that name file, key and value.

Libraries that check whole tables at once were tried: they tell the place only within a sentence that speaks of types,
leave the value out, and add a twentieth to the time of a short command.
"""

import datetime
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from etudegen.errors import InputError
from etudegen.files.reading import read_content
from etudegen.plain_text import printable

T = TypeVar("T")
E = TypeVar("E", bound=str)
_PLACE = re.compile(r"at line (\d+), column (\d+)")
_LARGEST = 1_000_000
# The parser needs memory by the square of the dots in a key: 24 GB for one line of 200 kB.
_MOST_DOTS_OR_BRACKETS = 150
_LONGEST_NAME = 60
_LONGEST_TEXT = 2000
_LONGEST_SHOWN, _DEEPEST_SHOWN = 80, 2


def read_toml(path: Path) -> "Table":
    """Read a TOML file; raise :class:`InputError` with its name for one that is missing, too large or no TOML.

    Raises :class:`MachineError` for one that may not be read.
    """
    content = read_content(path, _LARGEST)
    if len(content) > _LARGEST:
        raise InputError(f"{path} is larger than {_LARGEST} bytes: such a file is small")
    return parse_toml(path, content)


def parse_toml(path: Path, content: bytes) -> "Table":
    """Return the content of a TOML file of this name; raise :class:`InputError` for what is no TOML."""
    for number, line in enumerate(content.split(b"\n"), start=1):
        if line.count(b".") > _MOST_DOTS_OR_BRACKETS or line.count(b"[") + line.count(b"{") > _MOST_DOTS_OR_BRACKETS:
            raise InputError(
                f"{path}: line {number} has too many dots or brackets: allowed are {_MOST_DOTS_OR_BRACKETS}"
            )
    try:
        return Table(path, tomllib.loads(content.decode("utf-8-sig")))
    except (ValueError, RecursionError) as error:
        # ValueError covers what is no TOML and no UTF-8, and numbers of thousands of digits.
        raise InputError(f"{path}: not a readable TOML file: {_why_unreadable(error, content)}") from error


def _why_unreadable(error: ValueError | RecursionError, content: bytes) -> str:
    """Say where a file cannot be read, without the words of those who write parsers."""
    if isinstance(error, RecursionError):
        return "it is nested too deeply"
    if isinstance(error, UnicodeDecodeError):
        before = content.count(b"\n", 0, error.start)
        return f"line {before + 1} is not in UTF-8: save the file as UTF-8"
    place = _PLACE.search(str(error))
    if place is None:
        return "a number in it is too long" if "digit" in str(error) else "it breaks off in the middle"
    return f"line {place[1]}, column {place[2]}: write KEY = VALUE, each key once, and texts in quotes"


class Table:
    """A table of a file, read key by key.

    What is asked for raises :class:`InputError` with file, key, value and what is allowed for a value that is not;
    without a default a key must be there.
    """

    def __init__(self, path: Path, values: Mapping[str, Any], place: str = "", joint: str = "") -> None:
        self.path = path
        self._values = values
        self._place = place
        self._joint = joint

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def wrong(self, key: str, why: str) -> InputError:
        """Return the complaint about a key."""
        return self._wrong(key, why, self._values.get(key))

    def _wrong(self, key: str, why: str, value: Any) -> InputError:
        # TOML has no value that means nothing.
        told = "is missing" if value is None else f"is {_shown(value)}"
        return InputError(f"{self.path}: {self._place}{self._joint}{key} {told}: {why}")

    def only(self, *known: str) -> None:
        """Raise :class:`InputError` for a key that means nothing."""
        for key in self._values:
            if key not in known:
                where = self._place or "it"
                raise InputError(f"{self.path}: {where} has the unknown key {key!r}: known are {', '.join(known)}")

    def text(self, key: str, default: str | None = None, *, lines: bool = False) -> str:
        """Return a text that can be printed, with line breaks and tabs only where ``lines`` may be several."""
        return self._text(key, self._values.get(key, default), lines=lines)

    def _text(self, key: str, value: Any, *, lines: bool) -> str:
        if not isinstance(value, str):
            raise self._wrong(key, "it must be a text, in quotes", value)
        if len(value) > _LONGEST_TEXT:
            raise self._wrong(key, f"{len(value)} characters are too many: allowed are {_LONGEST_TEXT}", value)
        for line in value.replace("\t", " ").split("\n") if lines else [value]:
            # Between letters, since what is printable has no spaces at its ends.
            if printable(f"x{line}x") != f"x{line}x":
                allowed = "printable characters and line breaks" if lines else "printable characters in one line"
                raise self._wrong(key, f"it must be of {allowed}", value)
        return value

    def read(self, key: str, reader: Callable[[str], T]) -> T:
        """Return what a reader makes of a text that must be there; its complaint is told with file and key."""
        return self._read(key, self._values.get(key), reader)

    def _read(self, key: str, value: Any, reader: Callable[[str], T]) -> T:
        is_text = isinstance(value, str)
        # What is allowed, the reader knows.
        text = self._text(key, value, lines=False) if is_text or value is None else _shown(value)
        try:
            read = reader(text)
        except InputError as error:
            # Which value it is, is told already.
            head, _, allowed = str(error).partition(": ")
            why = allowed if allowed and repr(text) in head and _says_nothing_else(head) else str(error)
            raise self._wrong(key, why if is_text else f"it must be a text, in quotes: {why}", value) from error
        if not is_text:
            raise self._wrong(key, "it must be a text, in quotes", value)
        return read

    def choice(self, key: str, allowed: Iterable[E]) -> E:
        """Return the one of some texts that is there."""
        choices = list(allowed)
        value = self._values.get(key)
        if not isinstance(value, str) or value not in choices:
            raise self.wrong(key, f"choose one of {', '.join(choices)}")
        return choices[choices.index(value)]

    def day(self, key: str) -> datetime.date:
        """Return a day: a date of TOML."""
        value = self._values.get(key)
        if not isinstance(value, datetime.date) or isinstance(value, datetime.datetime):
            raise self.wrong(key, "give a date such as 2026-11-26, without quotes")
        return value

    def flag(self, key: str) -> bool:
        """Return true or false; false where it is left out."""
        value = self._values.get(key, False)
        if not isinstance(value, bool):
            raise self.wrong(key, "it must be true or false")
        return value

    def whole_number(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """Return a whole number from ``low`` to ``high``."""
        value = self._values.get(key, default)
        # True and false are numbers to Python.
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise self.wrong(key, f"it must be a whole number from {low} to {high}")
        return value

    def whole_numbers(self, key: str, count: int, allowed: str) -> list[int]:
        """Return a list of so many whole numbers; ``allowed`` says what it must be."""
        value = self._values.get(key)
        if not isinstance(value, list) or len(value) != count or any(type(each) is not int for each in value):
            raise self.wrong(key, allowed)
        return value

    def numbers(self, key: str, count: int, allowed: str) -> list[float]:
        """Return a list of so many numbers; ``allowed`` says what it must be."""
        value = self._values.get(key)
        if not isinstance(value, list) or len(value) != count or any(type(each) not in (int, float) for each in value):
            raise self.wrong(key, allowed)
        return value

    def setting(self, key: str) -> str | bool:
        """Return a setting of an exercise as it would be typed: a text or a number, or true or false."""
        value = self._values.get(key)
        if isinstance(value, bool):
            return value
        if isinstance(value, (int, float)):
            return str(value)
        if not isinstance(value, str):
            raise self.wrong(key, "it must be a text, a number, or true or false")
        return self.text(key)

    def texts(self, key: str, most: int, *, lines: bool = False) -> tuple[str, ...]:
        """Return a list of at most so many texts, an empty one where it is left out."""
        return tuple(self._text(key, each, lines=lines) for each in self._list(key, most))

    def read_texts(self, key: str, most: int, reader: Callable[[str], T]) -> tuple[T, ...]:
        """Return what a reader makes of each text of such a list; its complaint is told with file and key."""
        return tuple(self._read(key, each, reader) for each in self._list(key, most))

    def _list(self, key: str, most: int) -> list[Any]:
        value = self._values.get(key, [])
        if not isinstance(value, list) or len(value) > most:
            raise self.wrong(key, f'it must be a list of at most {most} texts, like ["first", "second"]')
        return value

    def table(self, key: str) -> "Table":
        """Return a table in this one, an empty one where it is left out."""
        value = self._values.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong(key, f"it must be a table, like [{key}]")
        return Table(self.path, value, f"{self._place}{self._joint}{key}", ".")

    def tables(self, key: str) -> tuple["Table", ...]:
        """Return the tables of a list of them, one or more."""
        value = self._values.get(key)
        if not isinstance(value, list) or not value or not all(isinstance(each, dict) for each in value):
            raise self.wrong(key, f"give at least one table [[{key}]]")
        return tuple(Table(self.path, each, f"{key} {number}", ": ") for number, each in enumerate(value, start=1))

    def entries(self) -> Iterator[tuple[str, "Table"]]:
        """Yield the tables that this one is made of, each with its name."""
        for name, value in self._values.items():
            if not name.strip() or len(name) > _LONGEST_NAME or printable(name) != name:
                raise InputError(
                    f"{self.path}: the name {_shown(name)} is not allowed: give 1 to {_LONGEST_NAME} printable "
                    "characters"
                )
            if not isinstance(value, dict):
                raise self.wrong(name, f"each entry must be a table, like [{name}]")
            yield name, Table(self.path, value, f"[{name}]", " ")


def _says_nothing_else(complaint: str) -> bool:
    return complaint.startswith("unknown ") or complaint.endswith(" is not allowed")


def _shown(value: Any, depth: int = 0) -> str:
    """Return a value as it stands in a file, cut short where it is long."""
    if isinstance(value, (list, dict)) and depth == _DEEPEST_SHOWN:
        shown = "..."
    elif isinstance(value, list):
        shown = f"[{', '.join(_shown(each, depth + 1) for each in value[:_LONGEST_SHOWN])}]"
    elif isinstance(value, dict):
        pairs = list(value.items())[:_LONGEST_SHOWN]
        shown = f"{{{', '.join(f'{key} = {_shown(each, depth + 1)}' for key, each in pairs)}}}"
    elif isinstance(value, bool):
        shown = str(value).lower()
    elif isinstance(value, (datetime.date, datetime.time)):
        shown = value.isoformat()
    elif isinstance(value, str):
        return repr(value) if len(value) <= _LONGEST_SHOWN else f"{value[: _LONGEST_SHOWN - 3]!r}..."
    else:
        shown = repr(value)
    return shown if len(shown) <= _LONGEST_SHOWN else f"{shown[: _LONGEST_SHOWN - 3]}..."
