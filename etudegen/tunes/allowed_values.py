"""The values in a bar that music is reckoned with, checked before anybody reckons."""

import re
from dataclasses import dataclass
from decimal import Decimal
from xml.etree.ElementTree import Element

from etudegen.errors import InputError
from etudegen.tunes.safe_xml import short

_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})", re.ASCII)


@dataclass(frozen=True)
class _Range:
    """The numbers from ``low`` to ``high``, the ends included."""

    low: float
    high: float
    whole: bool = True

    def holds(self, text: str) -> bool:
        if not _NUMBER.fullmatch(text):
            return False
        value = Decimal(text)
        return self.low <= value <= self.high and not (self.whole and value % 1)

    def __str__(self) -> str:
        return f"a {'whole ' if self.whole else ''}number from {self.low:g} to {self.high:g}"


@dataclass(frozen=True)
class _Words:
    """One of a few words."""

    words: tuple[str, ...]

    def holds(self, text: str) -> bool:
        return text in self.words

    def __str__(self) -> str:
        return f"one of {', '.join(self.words)}"


@dataclass(frozen=True)
class _Form:
    """A text of a certain form."""

    pattern: str
    meaning: str

    def holds(self, text: str) -> bool:
        return re.fullmatch(self.pattern, text, re.ASCII) is not None

    def __str__(self) -> str:
        return self.meaning


_Allowed = _Range | _Words | _Form

# MusicXML 4.0, data type note-type-value.
_NOTE_TYPES = _Words(
    (
        *("1024th", "512th", "256th", "128th", "64th", "32nd", "16th"),
        *("eighth", "quarter", "half", "whole", "breve", "long", "maxima"),
    )
)
_STEPS = _Words(tuple("ABCDEFG"))
_ALTER = _Range(-3, 3, whole=False)
_COUNT = _Range(1, 99)
# A hundredth of a quarter note is far below what divisions of 16,383, the most in a MIDI file, can tell apart.
_TIME = _Range(0, 10_000_000, whole=False)

# The words and ranges of MusicXML 4.0 where it has them (octave 0 to 9), else what a bar of music can need.
_TEXTS: dict[str, _Allowed] = {
    "divisions": _Range(0.01, 1_000_000, whole=False),
    "duration": _TIME,
    "offset": _Range(-10_000_000, 10_000_000, whole=False),
    "step": _STEPS,
    "alter": _ALTER,
    "octave": _Range(0, 9),
    "type": _NOTE_TYPES,
    "normal-type": _NOTE_TYPES,
    "beat-unit": _NOTE_TYPES,
    "actual-notes": _COUNT,
    "first": _COUNT,
    "second": _COUNT,
    "normal-notes": _COUNT,
    "fifths": _Range(-7, 7),
    "beats": _Form(r"[1-9][0-9]?( *\+ *[1-9][0-9]?)*", "a number of beats, like 3 or 3+2"),
    "beat-type": _Words(("1", "2", "4", "8", "16", "32", "64")),
    "staves": _COUNT,
    "staff": _COUNT,
    "chromatic": _Range(-48, 48, whole=False),
    "diatonic": _Range(-28, 28),
    "octave-change": _Range(-4, 4),
    "clef-octave-change": _Range(-3, 3),
    "line": _Range(1, 5),
    "display-step": _STEPS,
    "display-octave": _Range(0, 9),
    "root-step": _STEPS,
    "root-alter": _ALTER,
    "bass-step": _STEPS,
    "bass-alter": _ALTER,
    "degree-value": _COUNT,
    "degree-alter": _ALTER,
    "inversion": _Range(0, 9),
    "beam": _Words(("begin", "continue", "end", "forward hook", "backward hook")),
    "syllabic": _Words(("single", "begin", "end", "middle")),
    "sign": _Words(("G", "F", "C", "percussion", "TAB", "jianpu", "none")),
    "bar-style": _Words(
        (
            *("regular", "dotted", "dashed", "heavy", "light-light", "light-heavy", "heavy-light", "heavy-heavy"),
            *("tick", "short", "none"),
        )
    ),
}
_ATTRIBUTES: dict[tuple[str, str], _Allowed] = {
    ("sound", "tempo"): _Range(1, 2_000, whole=False),
    ("repeat", "times"): _COUNT,
    ("ending", "number"): _Form(r"[ ]*|[0-9]{1,3}( *, *[0-9]{1,3})*", "numbers of endings, like 1 or 1, 2"),
    ("repeat", "direction"): _Words(("forward", "backward")),
    ("ending", "type"): _Words(("start", "stop", "discontinue")),
    ("beam", "number"): _Range(1, 8),
    ("tie", "type"): _Words(("start", "stop")),
    ("tied", "type"): _Words(("start", "stop", "continue", "let-ring")),
    ("slur", "type"): _Words(("start", "stop", "continue")),
    ("tuplet", "type"): _Words(("start", "stop")),
    ("wedge", "type"): _Words(("crescendo", "diminuendo", "stop", "continue")),
}
# What these cannot be without.
_NEEDED = {"pitch": ("step", "octave"), "clef": ("sign",), "root": ("root-step",), "bass": ("bass-step",)}


def number(text: str) -> Decimal:
    """Return a number that :func:`check_values` let pass."""
    return Decimal(text.strip())


def check_values(bar: Element, place: str) -> None:
    """Raise :class:`InputError` for the first value in a bar that no music has; ``place`` names the bar."""
    for element in bar.iter():
        needed = _NEEDED.get(element.tag, ())
        if element.tag == "time" and element.find("senza-misura") is None:
            needed = ("beats", "beat-type")
        for tag in needed:
            if element.find(tag) is None:
                raise InputError(f"{place} has a {element.tag} without {tag}: export the score once more")
        allowed = _TEXTS.get(element.tag)
        if allowed is not None:
            _check(element.tag, (element.text or "").strip(), allowed, place)
        for attribute, value in element.attrib.items():
            allowed = _ATTRIBUTES.get((element.tag, attribute))
            if allowed is not None:
                _check(f"{attribute} of {element.tag}", value.strip(), allowed, place)


def _check(name: str, value: str, allowed: _Allowed, place: str) -> None:
    if not allowed.holds(value):
        raise InputError(f"{place} has the {name} {short(value, 20)!r}: it must be {allowed}")
