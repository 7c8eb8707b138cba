"""What is to be known of a kind of exercise besides its row in the table: one value in its module, ``EXERCISE``.

It says how a study is made, and what practice has to know: which sheets a session draws from and of which units these
consist, what turns from day to day, and how the work is to be treated.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from etudegen.exercises.common import Common
from etudegen.exercises.traversal import Extent
from etudegen.study import Study
from etudegen.theory.rhythm import Rhythm

_OCTAVE_AND_FIFTH = 19
_FEW_ACCIDENTALS = 3


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far sheets go for a player where nothing else is asked for.

    ``rhythms`` are those that the player knows, ``signature`` the most sharps or flats of a key, ``keys`` the key
    numbers of the tonics, 0 to 11, ``counts`` the longest tone in beats, ``difficulty`` the hardest entry of a library
    (1 to 9), ``extent`` how far scales and arpeggios go, ``leaps`` the largest leap of a slur in half steps for each
    rhythm, ``breath`` the longest slur on one breath in seconds, ``articulations`` those that are known; none where it
    stays the usual one.
    """

    rhythms: tuple[Rhythm, ...] = tuple(Rhythm)
    signature: int = 7
    keys: tuple[int, ...] = tuple(range(12))
    counts: int = 32
    difficulty: int = 9
    extent: Extent = Extent.FULL
    leaps: Mapping[Rhythm, int] = field(default_factory=dict)
    breath: int = 10
    articulations: tuple[str, ...] = ()

    @property
    def knows_few_keys(self) -> bool:
        """Whether all keys that are known are easy ones."""
        return self.signature <= _FEW_ACCIDENTALS

    def leap(self, rhythm: Rhythm) -> int | None:
        """Return the largest leap of a slur in a rhythm, in half steps, None for any."""
        return self.leaps.get(rhythm)


@dataclass(frozen=True, slots=True)
class Occasion:
    """A block of a session that is to be filled with sheets of a kind.

    ``player`` are the values of instrument, range and tempo, ``asked`` those that the routine asks for, ``bounds`` how
    far to go otherwise; its sheets last from ``least_seconds`` to ``seconds``. ``turn`` puts what there is to choose
    from in the order of the day; ``seed`` is another number every day.
    """

    player: Mapping[str, Any]
    asked: Mapping[str, Any]
    least_seconds: Fraction
    seconds: Fraction
    turn: Callable[[Sequence[Any]], list[Any]]
    bounds: Bounds = field(default_factory=Bounds)
    seed: int = 1

    def choices_of(
        self, setting: str, pool: Sequence[Any], difficulty: Callable[[Any], int | None] = lambda _: None
    ) -> list[Any]:
        """Return what a setting may be, as it comes today; only that which the routine asks for, if it does.

        What is harder than the player's bounds is left out, but for the first and easiest.
        """
        if setting in self.asked:
            return [self.asked[setting]]
        return self.turn([each for each in pool if (difficulty(each) or 0) <= self.bounds.difficulty] or pool[:1])

    @property
    def extent(self) -> dict[str, Extent]:
        """How far scales and arpeggios go, as a setting: in less than an octave and a fifth all of it is little."""
        low, high = self.player["low"].number, self.player["high"].number
        bounded = self.bounds.extent is not Extent.FULL and high - low >= _OCTAVE_AND_FIFTH
        return {"extent": self.bounds.extent} if bounded and "extent" not in self.asked else {}


@dataclass(frozen=True, slots=True)
class Choice:
    """One sheet that a session may have.

    ``settings`` are the values that make it; ``name`` is what the journal calls it. Its units are the values of
    ``units``, of which any can be given to the setting ``unit_setting``; with no such setting they are its lines. A
    ``whole`` one is played once and in one piece; the units of one ``together`` are all taken where there is time.
    One ``in_rhythms`` can be had in other rhythms and articulations than its usual ones.
    """

    settings: Mapping[str, Any] = field(default_factory=dict)
    name: str = ""
    unit_setting: str = ""
    units: Sequence[Any] = ()
    whole: bool = False
    together: bool = False
    in_rhythms: bool = False


def told_plainly(choice: str, units: Sequence[str]) -> str:
    """Return a choice and its units as a player would say them, such as ``octave``."""
    return " in ".join(filter(None, (choice.replace("-", " "), " ".join(filter(None, units)))))


@dataclass(frozen=True, kw_only=True, slots=True)
class Practice:
    """How sessions practise a kind.

    ``choices`` are the sheets they draw from, in the order of the day; ``told`` says one and its units as a player
    would. ``long_notes`` want a slow tempo; an ``unbroken`` exercise is one set, into which no rest may fall;
    ``pedal_register`` is only for who has experience there. The ``caution`` of a sheet is printed in a book, too, where
    what is true of all exercises is said once; that of strenuous kinds always is. ``easier`` returns parameters with an
    easier shape, for what does not go although it is slow.
    """

    choices: Callable[[Occasion], Iterable[Choice]]
    told: Callable[[str, Sequence[str]], str] = told_plainly
    long_notes: bool = False
    unbroken: bool = False
    pedal_register: bool = False
    caution: bool = False
    easier: Callable[[Any], Common] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Exercise:
    """A kind of exercise: its parameters, the function that makes a study of them, and its name on a page.

    ``practice`` is None for what is made of the player's own material: sessions leave room for it and do not draw it.
    ``over_drone`` exercises can be played over their tonic held; the phrase of one with ``phrase_of_tune`` can come
    from a file.
    """

    parameters: type[Common]
    study: Callable[[Any], Study]
    page_name: str
    practice: Practice | None
    over_drone: bool = False
    phrase_of_tune: bool = False
