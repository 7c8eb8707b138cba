"""Chord progressions as they are typed: bars between barlines, chord symbols sharing a bar.

``| Dm7 | G7 | Cmaj7 | % |`` is four bars. ``|:`` and ``:|`` repeat what is between them, ``%`` is the bar before once
more, ``.`` or ``/`` one more beat of the chord before it, ``N.C.`` no chord.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from etudegen.errors import InputError
from etudegen.files.reading import read_content
from etudegen.theory.symbols import ChordSymbol, symbol_reader

MOST_BARS = 200
LONGEST_TEXT = 20_000
FEWEST_BEATS, MOST_BEATS = 2, 7
_NO_CHORD = ("N.C.", "NC", "N.C")
_SAME_BAR = "%"
_ONE_MORE_BEAT = (".", "/")
# Where one repeat ends and the next begins there is one barline, however it is typed.
_BARLINE = re.compile(r"(:\|[|\s]*:|:\|[|\]]?|\[?\|{1,2}:|\[\||\|\]|\|{1,2})")


@dataclass(frozen=True, slots=True)
class ProgressionMeasure:
    """One bar: its chords with the quarter notes before each (None: no chord), and whether a repeat starts or ends."""

    chords: tuple[tuple[Fraction, ChordSymbol | None], ...]
    repeat_start: bool = False
    repeat_end: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """A chord in a bar, None for no chord: ``start`` and ``duration`` in quarter notes from the first bar on.

    ``changes`` tells that it is news to a reader: another chord than before, or one that a repeat leads to.
    """

    start: Fraction
    duration: Fraction
    chord: ChordSymbol | None
    changes: bool


@dataclass(frozen=True, slots=True)
class Progression:
    """Bars of chords; ``beats`` are the quarter notes of a bar."""

    beats: int
    bars: tuple[ProgressionMeasure, ...]

    @property
    def text(self) -> str:
        """The progression as it can be typed."""
        parts = []
        before: ProgressionMeasure | None = None
        for bar in self.bars:
            parts.append(_barline(before, bar))
            repeated = before is not None and before.chords == bar.chords
            parts.append(_SAME_BAR if repeated else _typed(bar.chords, self.beats))
            before = bar
        return " ".join((*parts, ":|" if before and before.repeat_end else "|"))

    @property
    def stretches(self) -> Iterator[Stretch]:
        """The chords of all bars, one after the other; one that lasts longer than a bar comes in every bar."""
        sounding: ChordSymbol | None = None
        fresh = True
        for number, bar in enumerate(self.bars):
            fresh = fresh or bar.repeat_start
            ends = [*(at for at, _ in bar.chords[1:]), Fraction(self.beats)]
            for (at, chord), end in zip(bar.chords, ends, strict=True):
                same = chord is sounding if chord is None else chord.sounds_like(sounding)
                yield Stretch(number * self.beats + at, end - at, chord, fresh or not same)
                sounding, fresh = chord, False
            fresh = bar.repeat_end

    @property
    def repeats(self) -> tuple[tuple[Fraction, str], ...]:
        """The repeat signs, ``start`` or ``end``, with the quarter notes before each, in turn.

        One that goes back to the first bar has a sign there too: on a page other music may stand before it.
        """
        signs = []
        for number, bar in enumerate(self.bars):
            if bar.repeat_start:
                signs.append((Fraction(number * self.beats), "start"))
            if bar.repeat_end:
                signs.append((Fraction((number + 1) * self.beats), "end"))
        if signs and signs[0][1] == "end":
            signs.insert(0, (Fraction(0), "start"))
        return tuple(signs)

    @property
    def first_chord(self) -> ChordSymbol:
        """The chord that it begins with."""
        return next(chord for bar in self.bars for _, chord in bar.chords if chord is not None)

    @property
    def last_chord(self) -> ChordSymbol:
        """The chord that it ends on."""
        return [chord for bar in self.bars for _, chord in bar.chords if chord is not None][-1]

    def moved(self, staff_steps: int, half_steps: int) -> "Progression":
        """Return the progression moved by an interval."""
        moved = (
            replace(bar, chords=tuple((at, chord and chord.moved(staff_steps, half_steps)) for at, chord in bar.chords))
            for bar in self.bars
        )
        return Progression(self.beats, tuple(moved))


def _barline(before: ProgressionMeasure | None, bar: ProgressionMeasure) -> str:
    ends = before is not None and before.repeat_end
    return ":|:" if ends and bar.repeat_start else ":|" if ends else "|:" if bar.repeat_start else "|"


def _shares(beats: int, chords: int) -> list[Fraction]:
    """Return where chords begin that share a bar: whole beats each, the first ones longer where they do not divide."""
    each, over = divmod(beats, chords)
    return [Fraction(place * each + min(place, over)) for place in range(chords)]


def _typed(chords: Sequence[tuple[Fraction, ChordSymbol | None]], beats: int) -> str:
    words = {at: _NO_CHORD[0] if chord is None else chord.text for at, chord in chords}
    if list(words) == _shares(beats, len(words)):
        return " ".join(words.values())
    return " ".join(words.get(Fraction(beat), _ONE_MORE_BEAT[0]) for beat in range(beats))


def parse_progression(text: str, beats: int, own: Path | None = None) -> Progression:
    """Read a progression with so many quarter notes a bar; ``own`` is a file of the player's own chord qualities.

    Raises :class:`InputError` with the number of the bar, what is wrong in it and what is allowed.
    """
    if len(text) > LONGEST_TEXT:
        raise InputError(f"a progression of {len(text)} characters is too long: allowed are {LONGEST_TEXT}")
    if not FEWEST_BEATS <= beats <= MOST_BEATS:
        raise InputError(f"{beats} beats to a bar are not allowed: give {FEWEST_BEATS} to {MOST_BEATS}")
    bars: list[ProgressionMeasure] = []
    read = symbol_reader(own)
    starts = False
    # Bars and barlines take turns, a bar first and last.
    parts = ["", *_BARLINE.split(text), ""]
    for opening, content, closing in zip(parts[:-1:2], parts[1::2], parts[2::2], strict=True):
        starts = starts or _starts(opening)
        if content.strip():
            if len(bars) == MOST_BARS:
                raise InputError(f"the progression has more than {MOST_BARS} bars: that many are allowed")
            chords = _chords(_words(content), beats, bars, read)
            bars.append(ProgressionMeasure(chords, starts, _ends(closing)))
            starts = False
        elif opening and closing and "\n" not in content and not (_starts(closing) or _ends(opening)):
            raise InputError(f"bar {len(bars) + 1} is empty: write a chord, {_SAME_BAR} or {_NO_CHORD[0]}")
        elif _ends(closing):
            raise InputError(f"a repeat ends in front of bar {len(bars) + 1}: the sign :| follows a bar")
    if starts:
        raise InputError("a repeat begins after the last bar: the sign |: stands before a bar")
    _check(bars)
    return Progression(beats, tuple(bars))


def _starts(barline: str) -> bool:
    return barline.endswith(":")


def _ends(barline: str) -> bool:
    return barline.startswith(":")


def _words(content: str) -> list[str]:
    """Return the words of a bar; what begins no chord belongs to the one before it, as in ``G7 alt``."""
    words: list[str] = []
    for word in content.split():
        goes_on = words and word[0] not in "ABCDEFG%" and word not in _ONE_MORE_BEAT and word.upper() not in _NO_CHORD
        if goes_on and words[-1] not in (*_ONE_MORE_BEAT, _SAME_BAR):
            words[-1] += word
        else:
            words.append(word)
    return words


def _chords(
    words: Sequence[str], beats: int, before: Sequence[ProgressionMeasure], read: Callable[[str], ChordSymbol]
) -> tuple[tuple[Fraction, ChordSymbol | None], ...]:
    where = f"bar {len(before) + 1}"
    if list(words) == [_SAME_BAR]:
        if not before:
            raise InputError(f"{where} is {_SAME_BAR}, but no bar is before it: write its chord")
        return before[-1].chords
    by_beat = any(word in _ONE_MORE_BEAT for word in words)
    if by_beat and (len(words) != beats or words[0] in _ONE_MORE_BEAT):
        raise InputError(
            f"{where}, {' '.join(words)[:60]!r}: with {_ONE_MORE_BEAT[0]} in it there must be one word for each of "
            f"its {beats} beats, the first one a chord"
        )
    if len(words) > beats:
        raise InputError(f"{where} has {len(words)} chords: its {beats} beats have room for {beats}")
    starts = [Fraction(beat) for beat in range(beats)] if by_beat else _shares(beats, len(words))
    chords: list[tuple[Fraction, ChordSymbol | None]] = []
    for at, word in zip(starts, words, strict=True):
        if word not in _ONE_MORE_BEAT:
            try:
                chords.append((at, None if word.upper() in _NO_CHORD else read(word)))
            except InputError as error:
                raise InputError(f"{where}: {error}") from error
    return tuple(chords)


def _check(bars: Sequence[ProgressionMeasure]) -> None:
    """Raise :class:`InputError` for a progression without chords and for repeats that do not go in pairs."""
    if not bars:
        raise InputError("the progression has no bars: write chords between barlines, like '| Dm7 | G7 | Cmaj7 | % |'")
    if all(chord is None for bar in bars for _, chord in bar.chords):
        raise InputError(f"the progression has no chord, only {_NO_CHORD[0]}: write one chord at least")
    signs = [(number, sign) for number, bar in enumerate(bars, start=1) for sign in _signs(bar)]
    # From the first bar on a repeat needs no sign where it begins.
    opened = [(1, "start"), *signs] if signs and signs[0][1] == "end" else signs
    for (_, sign), (number, following) in pairwise(opened):
        if sign == following:
            what = "begins inside a repeat" if sign == "start" else "ends a repeat that has no beginning"
            raise InputError(f"bar {number} {what}: write |: and :| in turn")
    if opened and opened[-1][1] == "start":
        raise InputError(f"bar {opened[-1][0]} begins a repeat that has no end: write :| after its last bar")


def _signs(bar: ProgressionMeasure) -> list[str]:
    return ["start"] * bar.repeat_start + ["end"] * bar.repeat_end


def read_progression(path: Path) -> str:
    """Return the text of a progression in a file, without its comments: lines that begin with ``#`` and a space.

    Raises :class:`InputError` for a file that is missing, too large or no text, :class:`MachineError` for one that may
    not be read.
    """
    content = read_content(path, LONGEST_TEXT)
    if len(content) > LONGEST_TEXT:
        raise InputError(f"{path} is larger than {LONGEST_TEXT} bytes: a progression is shorter")
    try:
        lines = content.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is no text: a progression is written in UTF-8") from error
    return "\n".join(line for line in lines if not line.startswith("# ") and line.strip() != "#")
