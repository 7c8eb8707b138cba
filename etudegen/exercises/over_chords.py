"""What exercises over a progression share: its text, the keys it is moved to, and the scale of each chord."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any, Self

from etudegen.errors import InputError
from etudegen.exercises.common import ordinary_tone
from etudegen.exercises.keyed import KEYS, Keyed, file_path, laid_over, own_file_setting
from etudegen.exercises.settings import Values, any_text, is_pitch, setting, whole_number
from etudegen.instrument.pedals import LOWEST_ORDINARY
from etudegen.study import Line, Measure, Tone
from etudegen.theory.degrees import Degree
from etudegen.theory.keys import parse_keys, tonic
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.progressions import (
    FEWEST_BEATS,
    LONGEST_TEXT,
    MOST_BEATS,
    Progression,
    Stretch,
    parse_progression,
    read_progression,
)
from etudegen.theory.scales import ConcreteScale, Scale, scale, well_spelled
from etudegen.theory.symbols import ChordSymbol, parse_quality

_HOME = "home"
_MOST_BARS = 4_000
_MINOR_THIRD, _MAJOR_THIRD, _MINOR_SEVENTH = Degree(3, -1), Degree(3, 0), Degree(7, -1)
# The middle of the staff, where slashes stand.
_SLASHES_ON = WrittenPitch("B", 0, 4)


@dataclass(frozen=True, slots=True)
class Home:
    """The key a progression is typed in."""

    tonic: WrittenPitch
    minor: bool

    def __str__(self) -> str:
        return self.tonic.name + "m" * self.minor


def _likely_home(progression: Progression) -> Home:
    """Return the key that a progression seems to be in: its last chord's, or what leads back to its beginning.

    A dominant at the end points a fourth up, unless the first chord stands on the same root, as in a blues. Common
    practice, no source.
    """

    def same(one: WrittenPitch, other: WrittenPitch) -> bool:
        return (one.number - other.number) % 12 == 0

    first, last = progression.first_chord, progression.last_chord
    if {_MAJOR_THIRD, _MINOR_SEVENTH} <= set(last.quality.degrees) and not same(first.root, last.root):
        goal = last.root.above(3, 5)
        minor = same(first.root, goal) and _MINOR_THIRD in first.quality.degrees
        return Home(goal, minor)
    return Home(last.root, _MINOR_THIRD in last.quality.degrees)


def _home(text: str) -> Home:
    match = re.fullmatch(r"\s*([A-Ga-g][#b♯♭]?)(m?)\s*", text)
    if match is None:
        raise InputError(f"cannot read the home key {text!r}: write a key like Bb, or Dm for a minor one")
    return Home(tonic(match[1]), bool(match[2]))


def _keys(text: str) -> tuple[WrittenPitch, ...] | None:
    return None if text.strip() == _HOME else parse_keys(text)


def _choices(text: str) -> tuple[tuple[str, str], ...]:
    pairs = []
    for word in text.replace(",", " ").split():
        suffix, sign, name = word.rpartition("=")
        if not sign or not name:
            raise InputError(f"cannot read the choice of a scale {word!r}: write chord=scale, like m7=aeolian")
        pairs.append((suffix, name))
    return tuple(pairs)


def _are_choices(pairs: tuple[tuple[str, str], ...]) -> bool:
    return all(
        isinstance(pair, tuple) and len(pair) == len(("chord", "scale")) and all(isinstance(word, str) for word in pair)
        for pair in pairs
    )


# Bars are read once the player's own chords are known.
BARS = any_text("give chords between barlines, like '| Dm7 | G7 | Cmaj7 | % |'", LONGEST_TEXT)
_KEYS_OR_HOME: Values[tuple[WrittenPitch, ...] | None] = Values(
    (tuple, type(None)),
    _keys,
    f"{KEYS.only}, or {_HOME}",
    lambda keys: keys is None or KEYS.holds(keys),
    lambda keys: _HOME if keys is None else KEYS.text(keys),
)
_HOMES = Values(
    Home, _home, "give a key like Bb or Dm", lambda home: is_pitch(home.tonic) and isinstance(home.minor, bool)
)
_SCALE_CHOICES = Values(
    tuple,
    _choices,
    "give pairs chord=scale, like m7=aeolian",
    _are_choices,
    lambda pairs: " ".join("=".join(pair) for pair in pairs),
)


@dataclass(frozen=True, kw_only=True)
class OverChords(Keyed):
    """An exercise over a progression that is moved through keys.

    ``in_concert`` tells that the progression and its home key were typed as they sound.
    """

    keys: tuple[WrittenPitch, ...] | None = setting(  # type: ignore[assignment]
        (), f"keys by their written tonic, all, or {_HOME}: as the progression is typed", _KEYS_OR_HOME, "LIST", "all"
    )
    progression: str | None = setting(
        None, "chords between barlines, like '| Dm7 | G7 | Cmaj7 | % |'", BARS, "CHORDS", "none"
    )
    from_file: Path | None = setting(None, "text file with the progression", file_path("text"), "FILE", "none")
    home: Home | None = setting(
        None,
        "key that the progression is typed in, like Bb or Dm",
        _HOMES,
        "KEY",
        "where its last chord stands or, if a dominant, leads",
    )
    beats: int = setting(
        4,
        f"quarter notes to a bar, {FEWEST_BEATS} to {MOST_BEATS}",
        whole_number("beats", FEWEST_BEATS, MOST_BEATS),
        "NUMBER",
    )
    scale_choices: tuple[tuple[str, str], ...] = setting(
        (),
        "other scales over chords, by what follows the root: m7=aeolian 7=lydian-dominant",
        _SCALE_CHOICES,
        "LIST",
        "none",
    )
    chords: Path | None = own_file_setting("chords")
    scales: Path | None = own_file_setting("scales")
    in_concert: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.progression is not None and self.from_file is not None:
            raise InputError(f"the progression is given twice, as text and in {self.from_file}: give one of them")
        self.scales_by_chord  # noqa: B018 - read here, so that what is wrong is told early
        if self.typed is None and self.keys is None:
            raise InputError(f"keys {_HOME} is the key of a progression, and there is none: give keys by name")

    @classmethod
    def of(cls, plain: Mapping[str, Any] | None = None, /, *, concert: bool = False, **more: Any) -> Self:
        """Make parameters of plain values; ``concert`` reads the range, the progression and its home as sounding."""
        made = super().of(plain, concert=concert, **more)
        return replace(made, in_concert=True) if concert else made

    @property
    def bar(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return Fraction(self.beats)

    @property
    def text(self) -> str | None:
        """The progression as it was typed, None where none is given."""
        return self.progression if self.from_file is None else read_progression(self.from_file)

    @cached_property
    def typed(self) -> Progression | None:
        """The progression as it is written for the instrument, None where none is given."""
        text = self.text
        if text is None:
            return None
        progression = parse_progression(text, self.beats, self.chords)
        return progression.moved(*self._to_written) if self.in_concert else progression

    @property
    def given(self) -> Progression:
        """The progression, which is known to be given."""
        if self.typed is None:
            raise InputError("there is no progression: write chords between barlines, or name a file that has them")
        return self.typed

    @property
    def _to_written(self) -> tuple[int, int]:
        return -self.instrument.staff_steps, -self.instrument.half_steps

    @cached_property
    def home_key(self) -> Home:
        """The key of the progression, as it is written for the instrument."""
        if self.home is None:
            return _likely_home(self.typed) if self.typed else Home(tonic("C"), minor=False)
        if not self.in_concert:
            return self.home
        return Home(self.home.tonic.above(*self._to_written), self.home.minor)

    @property
    def tonics(self) -> tuple[WrittenPitch, ...]:
        """The tonics in the order asked for."""
        return (self.home_key.tonic,) if self.keys is None else super().tonics

    @cached_property
    def scales_by_chord(self) -> Mapping[str, Scale]:
        """The scales that the player chose, by the names of chord qualities."""
        return {
            parse_quality(suffix, self.chords).name: scale(name, self.scales) for suffix, name in self.scale_choices
        }

    @property
    def lowest_fingered(self) -> int:
        """The key number of the lowest note in range that has an ordinary fingering."""
        return max(self.low.number, LOWEST_ORDINARY.number)

    def key(self, tonic: WrittenPitch, scale: Scale) -> ConcreteScale:
        """Return a scale on a tonic, spelled the way the player named it if that reads well."""
        return well_spelled(tonic, scale, keep=self.keys is None or bool(self.keys))

    def scale_over(self, chord: ChordSymbol) -> ConcreteScale:
        """Return the scale to improvise with over a chord, each note with the letter of its degree."""
        of = self.scales_by_chord.get(chord.quality.name) or scale(chord.quality.scale, self.scales)
        return ConcreteScale(chord.root, replace(of, by_direction=False))

    def in_keys_of(self, progression: Progression) -> Iterator[tuple[ConcreteScale, Progression]]:
        """Yield each key with the progression moved to it."""
        home = self.home_key
        of = scale("natural-minor" if home.minor else "major")
        for each in self.tonics:
            key = self.key(each, of)
            steps = STEPS.index(key.tonic.step) - STEPS.index(home.tonic.step)
            at_home = WrittenPitch(home.tonic.step, home.tonic.alter, key.tonic.octave)
            yield key, progression.moved(steps, key.tonic.number - at_home.number)

    def label(self, key: ConcreteScale) -> str:
        """Return the name of a key as a page has it at the edge."""
        return key.name + "m" * self.home_key.minor

    def spoken_run(self, tones: Sequence[Tone]) -> tuple[Tone, ...]:
        """Return the tones of one run articulated and with the fingerings that are to be printed."""
        return self.dressed(laid_over(self.spoken, tones))

    def keys_text(self, lines: Sequence[Line]) -> str:
        """Return the keys that are played as a page names them; only the first line in a key has a label."""
        return super().keys_text([line for line in lines if line.label])

    def checked_length(self, bars: int) -> None:
        """Raise :class:`InputError` where a sheet would have more bars to play than anybody wants to turn."""
        if bars * len(self.tonics) > _MOST_BARS:
            raise InputError(
                f"{bars} bars in {len(self.tonics)} keys are too long for a sheet: allowed are {_MOST_BARS} in all, so "
                f"ask for fewer keys or parts"
            )


def slashes(beats: Fraction) -> tuple[Tone, ...]:
    """Return so many beats for the player to fill."""
    return (replace(ordinary_tone(_SLASHES_ON, Fraction(1)), slash=True),) * int(beats)


def measures(progression: Progression) -> tuple[Measure, ...]:
    """Return the measures of a progression with its repeat signs; none where it has no repeats."""
    signs = set(progression.repeats)
    if not signs:
        return ()
    length = Fraction(progression.beats)
    return tuple(
        Measure(
            length,
            repeat_starts=(place * length, "start") in signs,
            repeat_ends=((place + 1) * length, "end") in signs,
        )
        for place in range(len(progression.bars))
    )


def symbols(stretches: Iterable[Stretch]) -> tuple[tuple[Fraction, ChordSymbol | None], ...]:
    """Return the chord symbols that are printed, None for no chord, each with the quarter notes before it."""
    return tuple((each.start, each.chord) for each in stretches if each.changes)
