"""Settings: what can be asked of an exercise, described once, for a command line, a file, a form or Python alike.

A parameter object is a frozen dataclass whose fields are declared with :func:`setting` or :func:`flag`. Each field
knows how to read itself from a text, which values it allows and what it means, so nothing outside repeats that.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, fields
from enum import StrEnum
from functools import cache
from typing import Any, Generic, TypeVar

from etudegen.errors import InputError, shown
from etudegen.theory.pitch import STEPS, WrittenPitch

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)
_KEY = "setting"
_MOST_ALTER, _MOST_OCTAVE = 2, 9
_LONGEST_SHOWN = 100
_LARGEST = 10**18
# No number that is asked for has more digits; thousands of them take long to read.
_WHOLE = re.compile(r"-?[0-9]{1,18}")
_DECIMAL = re.compile(r"-?([0-9]{1,18}(\.[0-9]{0,18})?|\.[0-9]{1,18})")


@dataclass(frozen=True, slots=True)
class Values(Generic[T]):
    """The values that something can have: of a ``python_type``, and among those the ones that are ``allowed``.

    ``read`` makes one of a text or raises :class:`InputError`, ``text`` is the way back; ``only`` says in words what
    is allowed. ``limits`` are the least and the most of whole numbers.
    """

    python_type: type | tuple[type, ...]
    read: Callable[[str], T]
    only: str
    allowed: Callable[[T], bool] = lambda _: True
    text: Callable[[T], str] = str
    limits: tuple[int, int] | None = None

    def __call__(self, text: str) -> T:
        """Return the value of a text, or raise :class:`InputError`."""
        return self.read(text)

    def of_type(self, value: object) -> bool:
        """Tell whether a value is of the type; true and false are no numbers."""
        return isinstance(value, self.python_type) and isinstance(value, bool) == (self.python_type is bool)

    def holds(self, value: Any) -> bool:
        """Tell whether a value is of the type and allowed."""
        return self.of_type(value) and self.allowed(value)


def _yes_or_no(text: str) -> bool:
    if text not in ("true", "false"):
        raise InputError(f"{text!r} is not allowed: give true or false")
    return text == "true"


_FLAG = Values(bool, _yes_or_no, "give true or false", text=lambda value: str(value).lower())


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing that can be asked for.

    ``meaning`` is its help text, ``values`` what it can be besides its ``default``, ``placeholder`` stands for the
    text in help, ``shown_default`` tells the default; ``positional`` ones may be typed without their name.
    """

    meaning: str
    values: Values[Any]
    default: Any
    placeholder: str = ""
    shown_default: str = ""
    positional: bool = False

    @property
    def is_flag(self) -> bool:
        """Tell whether it is on or off."""
        return self.values is _FLAG

    def value(self, name: str, given: Any) -> Any:
        """Return the value of what was given under a name: a value as it is, a text or a number read."""
        if self.values.of_type(given):
            return given
        if not self.is_flag and isinstance(given, list | tuple) and all(isinstance(each, str | int) for each in given):
            given = " ".join(map(str, given))
        # A number that is no text is not what a text was asked for, and one of very many digits cannot be written.
        readable = str if self.values.python_type is str else (str, int, float)
        is_huge = isinstance(given, int) and abs(given) > _LARGEST
        if not self.is_flag and isinstance(given, readable) and not isinstance(given, bool) and not is_huge:
            return self.values.read(str(given))
        raise self.refusal(name, given)

    def check(self, name: str, value: Any) -> None:
        """Raise :class:`InputError` where a value under a name is not allowed."""
        if not self.values.holds(value) and not (value is None and self.default is None):
            raise self.refusal(name, value)

    def text(self, value: Any) -> str:
        """Return a value as the text that it can be read from; nothing for one that is left open."""
        return "" if value is None and self.default is None else self.values.text(value)

    def refusal(self, name: str, value: Any) -> InputError:
        """Return the complaint about a value."""
        told = shown(value)
        if self.values.of_type(value) and not isinstance(value, str | int):
            # What is made of parts of the wrong type cannot be told as a text.
            with suppress(AttributeError, KeyError, TypeError):
                told = str(self.values.text(value))
        if isinstance(value, str) and len(value) > _LONGEST_SHOWN:
            told = f"of {len(value)} characters"
        of = " (the constructor takes values; `of` reads texts)" if self._is_text_for_another_type(value) else ""
        return InputError(f"{name} {told} is not allowed: {self.values.only}{of}")

    def _is_text_for_another_type(self, value: Any) -> bool:
        return isinstance(value, str) and not self.values.of_type(value)


def setting(
    default: Any,
    meaning: str,
    values: Values[Any],
    placeholder: str,
    shown_default: str | None = None,
    *,
    positional: bool = False,
) -> Any:
    """Declare a dataclass field whose value can be read from a text."""
    told = str(default) if shown_default is None else shown_default
    return field(default=default, metadata={_KEY: Setting(meaning, values, default, placeholder, told, positional)})


def flag(meaning: str) -> Any:
    """Declare a dataclass field that is off unless asked for."""
    return field(default=False, metadata={_KEY: Setting(meaning, _FLAG, default=False)})


@cache
def settings_of(parameters: type) -> dict[str, Setting]:
    """Return the settings of a parameter class by field name, in the order in which they are declared."""
    return {each.name: each.metadata[_KEY] for each in fields(parameters) if _KEY in each.metadata}


def one_of(kind: type[E], what: str) -> Values[E]:
    """Return the values of an enumeration, named ``what`` where a text is none of them."""
    only = f"choose one of {', '.join(kind)}"

    def read(text: str) -> E:
        try:
            return kind(text.strip())
        except ValueError:
            raise InputError(f"unknown {what} {text!r}: {only}") from None

    return Values(kind, read, only)


def whole_number_in(text: str) -> int | None:
    """Return the whole number that a text is, as it is written by hand: ASCII digits, perhaps a minus; else None."""
    return int(text) if _WHOLE.fullmatch(text.strip()) else None


def number_in(text: str) -> float | None:
    """Return the number that a text is, as it is written by hand: digits, perhaps a minus and a point; else None."""
    return float(text) if _DECIMAL.fullmatch(text.strip()) else None


def whole_number(what: str, low: int, high: int) -> Values[int]:
    """Return the whole numbers from ``low`` to ``high``, named ``what`` where a text is none of them."""
    only = f"give a whole number from {low} to {high}"

    def read(text: str) -> int:
        number = whole_number_in(text)
        if number is None or not low <= number <= high:
            raise InputError(f"{what} {text!r} is not allowed: {only}")
        return number

    return Values(int, read, only, lambda number: low <= number <= high, limits=(low, high))


def any_text(only: str, longest: int) -> Values[str]:
    """Return the texts of at most so many characters; which of them mean something is told where they are used."""

    def read(text: str) -> str:
        if len(text) > longest:
            raise InputError(f"a text of {len(text)} characters is too long: allowed are {longest}")
        return text

    return Values(str, read, f"{only}, at most {longest} characters", lambda text: len(text) <= longest)


def is_pitch(value: Any) -> bool:
    """Tell whether something is a written pitch that can be: a known step, at most two accidentals, an octave."""
    return (
        isinstance(value, WrittenPitch)
        and value.step in tuple(STEPS)
        and _is_whole(value.alter, -_MOST_ALTER, _MOST_ALTER)
        and _is_whole(value.octave, -_MOST_OCTAVE, _MOST_OCTAVE)
    )


def _is_whole(number: object, low: int, high: int) -> bool:
    return isinstance(number, int) and not isinstance(number, bool) and low <= number <= high


def note_between(low: WrittenPitch, high: WrittenPitch) -> Values[WrittenPitch]:
    """Return the written notes between two, both included, however they are spelled."""
    return Values(
        WrittenPitch,
        WrittenPitch.parse,
        f"give a written note from {low} to {high}",
        lambda note: is_pitch(note) and low.number <= note.number <= high.number,
    )


def several(
    each: Values[T],
    read: Callable[[str], tuple[T, ...]],
    only: str,
    *,
    least: int = 1,
    none: str = "",
    alike: Callable[[T], object] = lambda value: value,
) -> Values[tuple[T, ...]]:
    """Return tuples of so many values or more, no two of them ``alike``; ``none`` is the text of no value."""

    def allowed(values: tuple[T, ...]) -> bool:
        return len(values) >= least and all(map(each.holds, values)) and len(set(map(alike, values))) == len(values)

    return Values(tuple, read, only, allowed, lambda values: " ".join(map(each.text, values)) or none)
