"""A block of a routine said in one line, as a musician would say it: ``slurs 20 ramp``.

    kind [own] minutes {word} ['quoted']

The words stand in any order after the kind. The one bare number is minutes, a tempo is ``72bpm``; a word is the value
of a setting, ``name=value``, a rhythm, keys (``C,F`` or ``all``) or what the kind can be switched on to do; what is
quoted is a cell, a chord progression or a contour. A tune comes directly after the kind.
"""

import re
import shlex
from collections.abc import Callable, Mapping
from contextlib import suppress
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.kinds import all_kinds, kind_named
from etudegen.exercises.settings import Setting, settings_of
from etudegen.practice.planning.materials import own_settings
from etudegen.practice.routines import RoutineBlock
from etudegen.practice.rules import LONGEST_SESSION, OWN_MATERIAL, Manner, Part
from etudegen.theory.keys import KeyOrder, all_tonics, in_order, parse_keys
from etudegen.theory.progressions import parse_progression

REST = "rest"
_TEMPO = re.compile(r"=?(\d+)bpm|=(\d+)")
_MINUTES = re.compile(r"(\d+)(?:m|min)?")
# What is quoted, by kind: the setting that it is.
_QUOTED = {"patterns": "pattern", "improvising": "changes", "changes": "progression", "vocabulary": "progression",
           "slurs": "contour", "etudes": "cell"}  # fmt: skip
_WITH_TUNE = ("transpose", "repertoire")
_WITH_KEYS = ("transpose", "improvising")
# Settings that no bare word is taken for.
_BY_NAME_ONLY = {
    "instrument", "low", "high", "tempo", "fingerings", "partial_numbers", "seed", "paper", "title", "counts",
    "repeats", "minutes",
    "start", "from_file", "progression", "own_chords", "lowest", "pattern", "patterns", "order", "beats",
    "home", "keys", "reach", "positions", "scale_choices", "phrase", "over",
}  # fmt: skip
_PART_OF = {
    "range": Part.RANGE, "scales": Part.TECHNIQUE, "patterns": Part.TECHNIQUE, "arpeggios": Part.TECHNIQUE,
    "vocabulary": Part.TECHNIQUE, "changes": Part.CHANGES, "improvising": Part.CHANGES, "repertoire": Part.MUSIC,
    "transpose": Part.MUSIC, "etudes": Part.MUSIC, "writing-down": Part.MUSIC, REST: Part.REST,
}  # fmt: skip
_WHY = "As you asked for it."
_BEATS = 4
_ALL_KEYS = tuple(in_order(all_tonics(), KeyOrder.FOURTHS, 0))


def kinds_of_block() -> tuple[str, ...]:
    """Return what a block can be: the kinds of exercise, work on own material, and rest."""
    exercises = tuple(kind.name for kind in all_kinds() if kind.name not in OWN_MATERIAL)
    return (*exercises, *OWN_MATERIAL, REST)


def part_of(kind: str) -> Part:
    """Return the part of a session that a kind belongs to where nothing else is said."""
    return _PART_OF.get(kind, Part.CONDITIONING)


class _Line:
    """A line that is being read; whatever is wrong with it is told with its number and with how it should read."""

    def __init__(self, number: int, text: str) -> None:
        self.number, self.text = number, text

    def wrong(self, why: str, instead: str = "") -> InputError:
        say = f": say {instead!r}" if instead else ""
        return InputError(f"block {self.number} ({self.text!r}): {why}{say}")


def read_lines(lines: list[str], find_tune: Callable[[str], Path]) -> tuple[RoutineBlock, ...]:
    """Read blocks; ``find_tune`` returns the file of a tune by its name, or raises :class:`InputError`.

    Raises :class:`InputError` with the number of the block, its words, and the line as it should read.
    """
    if not lines:
        raise InputError("a routine has at least one block: say it like 'slurs 20 ramp'")
    return tuple(_read(_Line(number, line), find_tune) for number, line in enumerate(lines, start=1))


def _words(line: _Line) -> list[tuple[str, bool]]:
    """Return the words of a line, each with whether it was quoted."""
    if line.text.count("'") % 2 or line.text.count('"') % 2:
        raise line.wrong("a quotation mark is open", f"{line.text}'")
    quoted = {each for pair in re.findall(r"'([^']*)'|\"([^\"]*)\"", line.text) for each in pair if each}
    return [(word, word in quoted) for word in shlex.split(line.text)]


def _read(line: _Line, find_tune: Callable[[str], Path]) -> RoutineBlock:
    words = _words(line)
    if not words:
        raise line.wrong("it is empty", "slurs 20")
    (kind, _), *others = words
    kinds = kinds_of_block()
    if kind not in kinds:
        raise _no_kind(line, kind, others, kinds)
    minutes, others = _minutes(line, kind, others)
    own = ""
    if kind in _WITH_TUNE and others and not others[0][1] and "=" not in others[0][0]:
        name = others[0][0]
        if name != "all" and not _is_manner(name):
            try:
                own = str(find_tune(name))
            except InputError as error:
                raise line.wrong(str(error)) from error
            others = others[1:]
    if kind == "transpose" and not own:
        raise line.wrong("which tune it is is missing", f"transpose quay-waltz {minutes} all")
    settings = _settings(line, kind, minutes, others)
    return RoutineBlock(part_of(kind), kind, 0, _WHY, 0, settings, minutes, own)


def _is_manner(word: str) -> bool:
    return word in [*Manner]


def _no_kind(line: _Line, kind: str, others: list[tuple[str, bool]], kinds: tuple[str, ...]) -> InputError:
    if _MINUTES.fullmatch(kind) and others:
        return line.wrong("the kind comes first", " ".join([others[0][0], kind, *(word for word, _ in others[1:])]))
    if others and f"{kind}-{others[0][0]}" in kinds:
        rest = " ".join(word for word, _ in others[1:])
        return line.wrong("it is written with a hyphen", f"{kind}-{others[0][0]} {rest}".strip())
    nearest = get_close_matches(kind.lower(), kinds, n=1)
    if nearest:
        return line.wrong(f"unknown kind {kind!r}", " ".join([nearest[0], *(word for word, _ in others)]))
    return line.wrong(f"unknown kind {kind!r}: choose one of {', '.join(kinds)}")


def _minutes(line: _Line, kind: str, words: list[tuple[str, bool]]) -> tuple[int, list[tuple[str, bool]]]:
    """Return the one bare number of a line, and the other words."""
    joined = " ".join(word for word, _ in words)
    numbers = [place for place, (word, quoted) in enumerate(words) if not quoted and _MINUTES.fullmatch(word)]
    bare = [words[place][0] for place in numbers]
    if kind == "patterns" and len(bare) > 2:
        raise line.wrong("a cell stands in quotes", f"patterns {bare[0]} '{' '.join(bare[1:])}'")
    if not numbers:
        half = next((word for word, _ in words if re.fullmatch(r"\d+[.,]\d+|\d+h", word)), "")
        if half:
            raise line.wrong(f"{half!r} is not whole minutes", f"{kind} {joined.replace(half, '20')}")
        if kind not in _WITH_TUNE:
            # A line that is offered must be one that is taken.
            _settings(line, kind, LONGEST_SESSION, words)
        raise line.wrong("how long it is is missing", f"{kind} 20 {joined}".strip())
    if len(numbers) > 1:
        raise line.wrong("two numbers: a tempo is written like 72bpm", f"{kind} {bare[0]} {bare[1]}bpm")
    read = _MINUTES.fullmatch(bare[0])
    minutes = int(read[1]) if read and len(read[1]) < 6 else 0
    if not 1 <= minutes <= LONGEST_SESSION:
        raise line.wrong(f"{bare[0]} minutes are not allowed: give 1 to {LONGEST_SESSION}")
    left = [word for place, word in enumerate(words) if place != numbers[0]]
    # "20 min" is two words.
    if numbers[0] < len(left) and left[numbers[0]] in (("min", False), ("minutes", False)):
        del left[numbers[0]]
    return minutes, left


def _settings(line: _Line, kind: str, minutes: int, words: list[tuple[str, bool]]) -> Mapping[str, Any]:
    said: dict[str, Any] = {}

    def put(name: str, value: Any, word: str) -> None:
        if name in said:
            raise line.wrong(f"{word!r} says again what {name} is: say it once")
        said[name] = value

    for word, quoted in words:
        name, value = _setting(line, kind, minutes, word, quoted=quoted)
        put(name, value, word)
    try:
        if kind in OWN_MATERIAL:
            others = {name: value for name, value in said.items() if name not in ("keys", "changes")}
            return own_settings(kind, others) | {name: said[name] for name in ("keys", "changes") if name in said}
        return kind_named(kind).parameters.checked_values(said) if said else {}
    except InputError as error:
        raise line.wrong(str(error)) from error


def _setting(line: _Line, kind: str, minutes: int, word: str, *, quoted: bool) -> tuple[str, Any]:
    """Return which setting a word is, and its value."""
    if quoted and kind in _QUOTED:
        if kind in OWN_MATERIAL:
            # What no exercise looks at is looked at here.
            try:
                parse_progression(word, _BEATS)
            except InputError as error:
                raise line.wrong(str(error)) from error
        return _QUOTED[kind], word
    if quoted:
        raise line.wrong(f"{kind} takes nothing in quotes: {', '.join(_QUOTED)} do", line.text.replace("'", ""))
    if kind == REST:
        raise line.wrong("a rest has minutes and nothing else", f"rest {minutes}")
    if "|" in word or re.fullmatch(r"[A-G][b#]?(maj|m|7|dim|sus|aug)\S*", word):
        raise line.wrong("chord changes stand in quotes", f"{kind} {minutes} '| Dm7 | G7 | Cmaj7 | % |'")
    if kind in OWN_MATERIAL:
        return _of_own(line, kind, word)
    settings = settings_of(kind_named(kind).parameters)
    tempo = _TEMPO.fullmatch(word)
    if tempo:
        return "tempo", tempo[1] or tempo[2]
    name, equals, value = word.partition("=")
    if equals:
        if name.replace("-", "_") not in settings:
            nearest = get_close_matches(name, settings, n=1)
            raise line.wrong(f"{kind} has no {name!r}", line.text.replace(name, nearest[0]) if nearest else "")
        return name.replace("-", "_"), value
    flag = word.replace("-", "_")
    if flag in settings and settings[flag].is_flag:
        return flag, True
    if word == "all" or _are_keys(word):
        if "keys" in settings:
            return "keys", "all" if word == "all" else word.replace(",", " ")
        raise line.wrong(f"{kind} has no keys: scales, patterns, arpeggios and tunes do")
    found = _value(kind, settings, word)
    if found:
        return found
    raise _no_word(line, kind, settings, word)


def _value(kind: str, settings: Mapping[str, Setting], word: str) -> tuple[str, Any] | None:
    """Return the first setting that has a word among its values, in the order in which they are declared."""
    for name, setting in settings.items():
        if name in _BY_NAME_ONLY or setting.is_flag:
            continue
        with suppress(InputError):
            kind_named(kind).parameters.checked_values({name: word})
            return name, word
    return None


def _of_own(line: _Line, kind: str, word: str) -> tuple[str, Any]:
    if kind == "repertoire" and _is_manner(word.removeprefix("manner=")):
        return "manner", word.removeprefix("manner=")
    if kind in _WITH_KEYS and (word == "all" or _are_keys(word)):
        return "keys", _ALL_KEYS if word == "all" else parse_keys(word.replace(",", " "))
    has = {
        "repertoire": f"it has {', '.join(Manner)}", "transpose": "it has keys, such as C,F or all",
        "improvising": "it has keys and chord changes in quotes",
    }  # fmt: skip
    raise line.wrong(f"{kind} has no {word!r}: {has.get(kind, 'it has minutes and nothing else')}")


def _are_keys(word: str) -> bool:
    return re.fullmatch(r"[A-G][b#♭♯]?(,[A-G][b#♭♯]?)*", word) is not None


def _no_word(line: _Line, kind: str, settings: Mapping[str, Setting], word: str) -> InputError:
    if re.fullmatch(r"[a-gh][b#]?", word, re.IGNORECASE):
        return line.wrong(f"{word!r} is no key: keys are written like C, Bb or F#")
    flags = [
        name.replace("_", "-") for name, setting in settings.items() if setting.is_flag and name not in _BY_NAME_ONLY
    ]
    known = [name.replace("_", "-") for name in settings if name not in _BY_NAME_ONLY or name in ("tempo", "keys")]
    nearest = get_close_matches(word, flags, n=1)
    instead = line.text.replace(word, nearest[0]) if nearest else ""
    return line.wrong(f"{kind} has no {word!r}: it has {', '.join(known)}", instead)
