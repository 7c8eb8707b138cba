"""The one table of the kinds of exercise. A new kind is a new row here and a module of its own.

A row is cheap: the module, which holds all else that is to be known of the kind as ``EXERCISE``, is loaded only when
it is asked for, so that listing the kinds costs nothing.
"""

import importlib
from collections.abc import Callable
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from etudegen.errors import InputError, check_type

if TYPE_CHECKING:
    from etudegen.exercises.common import Common
    from etudegen.exercises.exercise import Exercise, Practice
    from etudegen.study import Study


class Strain(StrEnum):
    """How strenuous an exercise is for the lips."""

    EASY = "easy"
    MODERATE = "moderate"
    STRENUOUS = "strenuous"


class Kind(NamedTuple):
    """A kind of exercise: its name, as a command, what it is for, how strenuous it is, and the name of its module."""

    name: str
    purpose: str
    strain: Strain
    module: str

    @property
    def exercise(self) -> "Exercise":
        """All else that is to be known of it."""
        return importlib.import_module(self.module).EXERCISE  # type: ignore[no-any-return]

    @property
    def parameters(self) -> "type[Common]":
        """The class of its parameters."""
        return self.exercise.parameters

    @property
    def study(self) -> "Callable[[Any], Study]":
        """The function that makes a study of its parameters."""
        return self.exercise.study


def _own(name: str, strain: Strain, purpose: str) -> Kind:
    return Kind(name, purpose, strain, f"{__package__}.{name.replace('-', '_')}")


# How strenuous each is: common practice, no source.
KINDS = (
    _own("long-tones", Strain.EASY, "Steady tone, low and quiet, to open a session and to close it."),
    _own("slurs", Strain.MODERATE, "Lip slurs: each line moves between the partials of one valve position."),
    _own("bends", Strain.MODERATE, "Half-step bends: the lips bring a note down and back while the valves stay."),
    _own("pedals", Strain.EASY, "Descents from the ordinary range into the pedal register."),
    _own(
        "contact",
        Strain.STRENUOUS,
        "Unbroken-contact sets: the mouthpiece stays on, for endurance and steadiness.",
    ),
    _own("scales", Strain.MODERATE, "Scales of every kind in twelve keys, over the full range."),
    _own("patterns", Strain.MODERATE, "A small cell of scale degrees carried up and down a scale, in twelve keys."),
    _own("arpeggios", Strain.MODERATE, "A chord through twelve keys, or one key through its chords."),
    _own(
        "changes",
        Strain.MODERATE,
        "A progression through keys: guide tones, chord tones, scales, and slashes to improvise on.",
    ),
    _own(
        "vocabulary",
        Strain.MODERATE,
        "A short phrase of your own over the chords that it fits, in twelve keys.",
    ),
    _own("etudes", Strain.MODERATE, "Melodies of 8 to 64 bars made for this player, in any key; sight reading."),
    _own("range", Strain.STRENUOUS, "Range studies up to the top note, with as much rest as playing."),
)
_ADDED: dict[str, Kind] = {}


def add_kind(kind: Kind) -> None:
    """Add a kind from outside this package to the table; raise :class:`InputError` where its name is taken."""
    check_type("kind", kind, Kind, "an etudegen.Kind")
    if kind.name in {each.name for each in all_kinds()}:
        raise InputError(f"there is a kind {kind.name!r} already: give the new one another name")
    _ADDED[kind.name] = kind


def all_kinds() -> tuple[Kind, ...]:
    """Return all kinds: those of this package, then those that were added."""
    return (*KINDS, *_ADDED.values())


def added_kinds() -> tuple[Kind, ...]:
    """Return the kinds that were added, for another process to add as well."""
    return tuple(_ADDED.values())


def kind_named(name: str) -> Kind:
    """Return a kind by name, or raise :class:`InputError` with the names there are."""
    for kind in all_kinds():
        if kind.name == name:
            return kind
    names = ", ".join(kind.name for kind in all_kinds())
    raise InputError(f"unknown kind of exercise {name!r}: choose one of {names}")


def practice_of(name: str) -> "Practice | None":
    """Return how sessions practise a kind; None for a name that is no kind, and for the player's own material."""
    return next((kind.exercise.practice for kind in all_kinds() if kind.name == name), None)
