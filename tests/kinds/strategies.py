"""What a player may type for any kind of exercise: random texts by field name, from the settings that it declares.

``asked`` is the hypothesis strategy and ``draw_texts`` what it is made of, which draws from a plain ``random.Random``
just as well. Most of what is drawn is allowed; now and then one setting gets a text that no player should type.
"""

import functools
import random
import shlex
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

from etudegen.exercises.common import Common
from etudegen.exercises.contours import NAMED
from etudegen.exercises.kinds import Kind
from etudegen.exercises.settings import settings_of
from etudegen.instrument.catalogue import instrument_keys
from etudegen.instrument.valves import COMBINATIONS
from etudegen.study import Study
from etudegen.theory.articulation import articulation_names
from etudegen.theory.chords import chord_names, qualities
from etudegen.theory.patterns import pattern_names
from etudegen.theory.scales import scale_names
from etudegen.theory.styles import styles
from tests.strategies import HIGHEST, LOWEST, NASTY_TITLES

T = TypeVar("T")
OWN = Path(__file__).parent / "own"

_NUMBER_OF = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ALTERATION = {"": 0, "#": 1, "b": -1, "##": 2, "bb": -2}
# All ways to write each key number from written C2 to C7, with up to two accidentals.
SPELLINGS: dict[int, list[str]] = {}
for _octave in range(1, 8):
    for _letter, _above in _NUMBER_OF.items():
        for _sign, _bend in _ALTERATION.items():
            SPELLINGS.setdefault(12 * (_octave + 1) + _above + _bend, []).append(f"{_letter}{_sign}{_octave}")

USUAL_RANGES = (("F#3", "G5"), ("F#3", "C6"), ("C4", "C5"), ("G3", "Bb5"), ("A3", "E5"), ("F#3", "C5"))
ODD_RANGES = (("F#2", "C7"), ("F#3", "C7"), ("C4", "C4"), ("E4", "F4"), ("B#3", "Cb6"), ("Abb4", "F##4"))
ODD_TEXTS = (
    "",
    " ",
    "x",
    "0",
    "-1",
    "1.5",
    "1e3",
    "999999999999",
    "H4",
    "C",
    "♭",
    "A\nB",
    "None",
    "😀",
    "é",
    "--low",
    "²",
)
KEY_NAMES = tuple(f"{letter}{sign}" for letter in _NUMBER_OF for sign in ("", "b", "#"))
DEGREES = (
    "1",
    "2",
    "3",
    "4",
    "5",
    "6",
    "7",
    "8",
    "9",
    "10",
    "12",
    "0",
    "-1",
    "-2",
    "b3",
    "#4",
    "b7",
    "b2",
    "##1",
    "bb7",
)
# Restricted by a rule of the exercise, so that a value drawn freely would nearly always be refused.
_FIXED = {("contact", "rests"), ("range", "rests")}


class Chance(Protocol):
    """Where random choices come from."""

    def pick(self, choices: Sequence[T]) -> T:
        """Return one of the choices."""

    def whole(self, low: int, high: int) -> int:
        """Return a whole number from low to high."""


class PlainChance:
    """Choices of a ``random.Random``."""

    def __init__(self, source: random.Random) -> None:
        self._source = source

    def pick(self, choices: Sequence[T]) -> T:
        return self._source.choice(choices)

    def whole(self, low: int, high: int) -> int:
        return self._source.randint(low, high)


class DrawnChance:
    """Choices of hypothesis, which makes them simpler when a test fails."""

    def __init__(self, draw: st.DrawFn) -> None:
        self._draw = draw

    def pick(self, choices: Sequence[T]) -> T:
        return self._draw(st.sampled_from(choices))

    def whole(self, low: int, high: int) -> int:
        return self._draw(st.integers(low, high))


@dataclass(frozen=True)
class Asked:
    """What was typed for a kind of exercise; ``concert`` reads low and high as sounding."""

    kind: Kind
    texts: Mapping[str, str | bool]
    concert: bool = False

    def parameters(self) -> Common:
        """Return the parameters, or raise what the program raises."""
        return self.kind.parameters.of(self.texts, concert=self.concert)

    def study(self) -> Study:
        """Return the study, or raise what the program raises."""
        return self.kind.study(self.parameters())

    def __str__(self) -> str:
        """Return the command line that asks for the same."""
        words = ["etudegen", self.kind.name, *(["--concert"] if self.concert else [])]
        for name, given in self.texts.items():
            flag = f"--{name.replace('_', '-')}"
            words += [flag] if given is True else [] if given is False else [f"{flag}={given}"]
        return shlex.join(words)


@functools.cache
def choices_of(parameters: type[Common], name: str) -> tuple[str, ...]:
    """Return the values of a setting whose type is an enumeration, or nothing for any other."""
    hint = typing.get_type_hints(parameters)[name]
    for kind in (hint, *typing.get_args(hint)):
        if isinstance(kind, type) and issubclass(kind, StrEnum):
            return tuple(kind)
    return ()


def _low_and_high(chance: Chance) -> dict[str, str]:
    way = chance.whole(0, 9)
    if way == 0:
        return {}
    if way == 1:
        low, high = chance.pick(ODD_RANGES)
    elif way <= 5:
        low, high = chance.pick(USUAL_RANGES)
    else:
        # Sometimes from the pedal register up, sometimes above the top: those are refused, or have little left.
        number = chance.whole(LOWEST, HIGHEST) if way == 6 else chance.whole(54, 72)
        low = chance.pick(SPELLINGS[number])
        high = chance.pick(SPELLINGS[min(HIGHEST, number + chance.whole(0, 40))])
    return {"low": low} if way == 9 else {"low": low, "high": high}


def _just_above(chance: Chance, high: str) -> str:
    number = next(number for number, spellings in SPELLINGS.items() if high in spellings)
    return chance.pick(SPELLINGS[min(HIGHEST, number + chance.whole(0, 3 if chance.whole(0, 3) == 0 else 2))])


def _a_note(low: int, high: int) -> Callable[[Chance, Any], str]:
    return lambda chance, _: chance.pick(SPELLINGS[chance.whole(low, high)])


def _a_name(names: Callable[..., Sequence[str]], file: str) -> Callable[[Chance, Mapping[str, Any]], str]:
    """One of the packaged names, or where the player's own file is given one of those in it."""

    def draw(chance: Chance, given: Mapping[str, Any]) -> str:
        packaged = names()
        if given.get(file) == str(OWN / f"{file}.toml") and chance.whole(0, 3):
            return chance.pick([name for name in names(OWN / f"{file}.toml") if name not in packaged])
        return chance.pick(packaged)

    return draw


def _a_file(what: str) -> Callable[[Chance, Any], str]:
    def draw(chance: Chance, _: Any) -> str:
        return str(OWN / f"{what if chance.whole(0, 19) else chance.pick(('broken', 'wrong', 'missing', ''))}.toml")

    return draw


def _several(chance: Chance, words: Sequence[str], most: int) -> str:
    separator = chance.pick((" ", ",", ", "))
    return separator.join(chance.pick(words) for _ in range(chance.whole(1, most)))


def _keys(chance: Chance, _: Any) -> str:
    way = chance.whole(0, 9)
    if way == 0:
        return "all"
    if way == 1:
        return _several(chance, KEY_NAMES, 4)
    # Each key once, so that the list is allowed.
    names, seen = [], set()
    for _place in range(chance.whole(1, 3)):
        name = chance.pick(KEY_NAMES)
        number = (_NUMBER_OF[name[0]] + _ALTERATION[name[1:]]) % 12
        if number not in seen:
            names.append(name)
            seen.add(number)
    return " ".join(names)


def _contour(chance: Chance, _: Any) -> str:
    if chance.whole(0, 1):
        return chance.pick(tuple(NAMED))
    return _several(chance, [str(number) for number in range(2, 17)], 9)


def _positions(chance: Chance, _: Any) -> str:
    kept = [str(valves) for valves in COMBINATIONS if chance.whole(0, 2) == 0]
    return " ".join(kept or ["0"])


def _pattern(chance: Chance, given: Mapping[str, Any]) -> str:
    if chance.whole(0, 1):
        return _a_name(pattern_names, "patterns")(chance, given)
    if chance.whole(0, 1):
        return " ".join(str(chance.whole(1, 6)) for _ in range(chance.pick((2, 3, 4, 4, 6, 8))))
    return _several(chance, DEGREES, 16 if chance.whole(0, 3) == 0 else 5)


def _chord(chance: Chance, given: Mapping[str, Any]) -> str:
    suffixes = [each for quality in qualities() for each in (quality.symbol, *quality.aliases)]
    if given.get("chords") == str(OWN / "chords.toml") and chance.whole(0, 2) == 0:
        suffixes = ["5", "(8)", "13(#11)"]
    bass = f"/{chance.pick(KEY_NAMES)}" if chance.whole(0, 5) == 0 else ""
    return chance.pick(KEY_NAMES) + chance.pick(suffixes) + bass


def _bar(chance: Chance, given: Mapping[str, Any], beats: int) -> str:
    way = chance.whole(0, 9)
    if way == 0:
        return chance.pick(("%", "N.C.", f"N.C. {_chord(chance, given)}", "% %", "", ". ."))
    if way <= 2:
        beat = chance.whole(1, beats - 1)
        dot = chance.pick((" .", " /"))
        return f"{_chord(chance, given)}{dot * (beat - 1)} {_chord(chance, given)}{dot * (beats - beat - 1)}"
    most = min(beats, 4) if way == 3 else 2
    return " ".join(_chord(chance, given) for _ in range(chance.whole(1, most)))


def _progression(chance: Chance, given: Mapping[str, Any]) -> str:
    if chance.whole(0, 5) == 0:
        return chance.pick(("| Dm7 | G7 | Cmaj7 | % |", "|: Am | F | C | G :|", "| C7 | F7 | C7 | % | F7 | % |"))
    # What is no number of beats is drawn too, and refused by itself.
    beats = int(given["beats"]) if str(given.get("beats")) in "234567" else 4
    bars = [_bar(chance, given, beats) for _ in range(chance.whole(1, 6))]
    barline = chance.pick((" | ", "|", " ||\n| "))
    way = chance.whole(0, 3)
    inside = barline.join(bars)
    return f"|: {inside} :|" if way == 0 else f"| {inside} |" if way == 1 else inside


def _home(chance: Chance, _: Any) -> str:
    return chance.pick(KEY_NAMES) + chance.pick(("", "", "m"))


def _scale_choices(chance: Chance, given: Mapping[str, Any]) -> str:
    suffixes = [quality.symbol for quality in qualities()]
    scale = _a_name(scale_names, "scales")
    # Names with spaces in them cannot be typed here.
    pairs = [(chance.pick(suffixes), scale(chance, given)) for _ in range(chance.whole(1, 3))]
    return " ".join(f"{suffix}={name}" for suffix, name in pairs if " " not in name)


def _parts(chance: Chance, _: Any) -> str:
    return _several(chance, ("guide-tones", "chord-tones", "scales", "improvise"), 4)


def _phrase(chance: Chance, _: Any) -> str:
    words = []
    for _place in range(chance.whole(1, 6)):
        degree = chance.pick(("r", *(str(number) for number in range(1, 9)), "b3", "b7", "5", *DEGREES))
        way = chance.whole(0, 5)
        if way == 0:
            words += [f"{each}/8t" for each in (degree, chance.pick(DEGREES), chance.pick(("1", "5", "r")))]
        else:
            words.append(f"{degree}/{chance.pick(('2', '4', '8', '8', '8', '16', '4.', '8.', '2.'))}")
    return " ".join(words)


def _title(chance: Chance, _: Any) -> str:
    return chance.pick((*NASTY_TITLES, "Größe", "Morning", "x" * 120, "x" * 121))


# How the texts of settings are drawn that are neither a flag, nor one of an enumeration, nor a number within limits.
DRAWN: dict[str, Callable[[Chance, Mapping[str, Any]], str]] = {
    "style": lambda chance, _: chance.pick(tuple(styles())),
    "metre": lambda chance, _: chance.pick(("2/4", "3/4", "4/4", "6/8", "5/4", "7/8", "12/8", "3/2", "4")),
    "cell": lambda chance, given: _pattern(chance, given),
    "bars": lambda chance, _: str(chance.pick((8, 8, 8, 8, 8, 12, 16, 20, 10, 32))),
    "breath": lambda chance, _: chance.pick(("4", "8", "10", "30")),
    "leap": lambda chance, _: chance.pick(("4", "7", "9", "12", "19", "48")),
    "instrument": lambda chance, _: chance.pick(instrument_keys()),
    "title": _title,
    "start": _a_note(57, 70),
    "lowest": lambda chance, _: chance.pick(SPELLINGS[chance.whole(36, 48 if chance.whole(0, 9) else 53)]),
    "keys": _keys,
    "contour": _contour,
    "positions": _positions,
    "scales": _a_file("scales"),
    "chords": _a_file("chords"),
    "patterns": _a_file("patterns"),
    "articulations": _a_file("articulations"),
    "scale": _a_name(scale_names, "scales"),
    "chord": _a_name(chord_names, "chords"),
    "articulation": _a_name(articulation_names, "articulations"),
    "pattern": _pattern,
    "progression": _progression,
    "from_file": lambda chance, _: str(OWN / chance.pick(("changes.txt", "changes.txt", "changes.txt", "wrong.toml"))),
    "home": _home,
    "key": lambda chance, _: chance.pick(KEY_NAMES),
    "scale_choices": _scale_choices,
    "parts": _parts,
    "phrase": _phrase,
    "over": lambda chance, _: chance.pick([quality.symbol for quality in qualities()]),
}
# These are asked for more often than others: they decide which notes there are.
_OFTEN = (
    "keys",
    "progression",
    "phrase",
    "scale",
    "chord",
    "pattern",
    "articulation",
    "rhythm",
    "extent",
    "form",
    "shape",
    "contour",
)
_ALONE_OFTEN = ("scales", "chords", "patterns", "articulations", "beats")


def text_of(kind: Kind, name: str, chance: Chance, given: Mapping[str, Any]) -> str:
    choices = choices_of(kind.parameters, name)
    if name == "keys" and "home" in settings_of(kind.parameters) and chance.whole(0, 3) == 0:
        return "home"
    if choices and name not in DRAWN:
        return chance.pick(choices)
    limits = settings_of(kind.parameters)[name].values.limits
    if limits and name not in DRAWN:
        return str(chance.whole(*limits))
    if name not in DRAWN:
        raise LookupError(f"{kind.name} has the setting {name!r}: say in DRAWN how its texts are drawn")
    return DRAWN[name](chance, given)


def _agreeing(kind: Kind, texts: dict[str, str | bool]) -> dict[str, str | bool]:
    """Return the texts without those that are refused beside the others, by a rule that the settings tell."""
    clashing: set[str] = set()
    if texts.get("ramp"):
        clashing |= {"contour", "rhythm"}
    else:
        clashing |= {"stages"}
    if kind.name == "range" and texts.get("form", "climb") == "climb":
        clashing |= {"keys", "order"}
    if "progression" in texts:
        clashing |= {"from_file"}
    if kind.name == "vocabulary" and texts.get("keys") == "home" and not {"progression", "from_file"} & set(texts):
        clashing |= {"keys"}
    if "swing" in str(texts.get("articulation", "")) or kind.name == "patterns":
        clashing |= {"rhythm"}
    return {name: text for name, text in texts.items() if name not in clashing}


def draw_texts(kind: Kind, chance: Chance) -> Asked:
    """Draw what a player may type for a kind of exercise."""
    texts: dict[str, str | bool] = {}
    known = settings_of(kind.parameters)
    # Files first: names in them can only be asked for together with them. Beats are what bars are filled with.
    for name in sorted(known, key=lambda each: each not in _ALONE_OFTEN):
        if name in ("low", "high", "reach") or (kind.name, name) in _FIXED:
            continue
        if chance.whole(1, 10) > (7 if name in _OFTEN else 3):
            continue
        texts[name] = True if known[name].is_flag else text_of(kind, name, chance, texts)
    texts |= _low_and_high(chance)
    if "reach" in known and chance.whole(0, 1):
        texts["reach"] = _just_above(chance, str(texts.get("high", "G5")))
    if chance.whole(0, 3):
        texts = _agreeing(kind, texts)
    if chance.whole(1, 12) == 12:
        readable = [name for name, each in known.items() if not each.is_flag]
        texts[chance.pick(readable)] = chance.pick(ODD_TEXTS)
    return Asked(kind, texts, concert=chance.whole(1, 10) == 10)


@st.composite
def asked(draw: st.DrawFn, kind: Kind) -> Asked:
    """What a player may type for a kind of exercise."""
    return draw_texts(kind, DrawnChance(draw))
