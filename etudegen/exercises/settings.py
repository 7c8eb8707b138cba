"""Settings: what can be asked of an exercise, described once, for a command line, a file or a form alike.

A parameter object is a frozen dataclass whose fields are declared with :func:`setting` or :func:`flag`. Each
field knows how to read itself from text, what it means and what it allows, so nothing outside repeats that.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any, TypeVar

from etudegen.errors import InputError

E = TypeVar("E", bound=StrEnum)
_KEY = "setting"


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing that can be asked for.

    ``meaning`` is its help text, ``read`` makes its value of a text (None for a yes-or-no flag) or raises
    :class:`InputError`, ``placeholder`` stands for the text in help, ``shown_default`` tells the default;
    ``positional`` ones may be typed without their name.
    """

    meaning: str
    read: Callable[[str], Any] | None
    placeholder: str = ""
    shown_default: str = ""
    positional: bool = False

    def value(self, name: str, given: str | bool) -> Any:
        """Return the value of what was given under a name, or raise :class:`InputError`."""
        if (self.read is None) != isinstance(given, bool):
            wanted = "true or false" if self.read is None else "a text"
            raise InputError(f"{name} {given!r} is not allowed: give {wanted}")
        return given if self.read is None else self.read(str(given))


def setting(
    default: Any,
    meaning: str,
    read: Callable[[str], Any],
    placeholder: str,
    shown_default: str | None = None,
    *,
    positional: bool = False,
) -> Any:
    """Declare a dataclass field whose value can be read from a text."""
    shown = str(default) if shown_default is None else shown_default
    return field(default=default, metadata={_KEY: Setting(meaning, read, placeholder, shown, positional)})


def flag(meaning: str) -> Any:
    """Declare a dataclass field that is off unless asked for."""
    return field(default=False, metadata={_KEY: Setting(meaning, None)})


def settings_of(parameters: type) -> dict[str, Setting]:
    """Return the settings of a parameter class by field name, in the order in which they are declared."""
    return {each.name: each.metadata[_KEY] for each in fields(parameters) if _KEY in each.metadata}


def one_of(kind: type[E], what: str) -> Callable[[str], E]:
    """Return a reader for the values of an enumeration, named ``what`` in its complaint."""

    def read(text: str) -> E:
        try:
            return kind(text.strip())
        except ValueError:
            raise InputError(f"unknown {what} {text!r}: choose one of {', '.join(kind)}") from None

    return read


def whole_number(what: str, low: int, high: int) -> Callable[[str], int]:
    """Return a reader for whole numbers from ``low`` to ``high``, named ``what`` in its complaint."""

    def read(text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            number = None
        if number is None or not low <= number <= high:
            raise InputError(f"{what} {text!r} is not allowed: give a whole number from {low} to {high}")
        return number

    return read
