"""The one table of the kinds of exercise. A new kind is a new row here and a module of its own.

A kind's module is called like the kind and holds ``Parameters`` and ``study``; it is loaded only when asked for, so
that listing the kinds costs nothing.
"""

import importlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from etudegen.exercises.common import Common
    from etudegen.study import Study


class Kind(NamedTuple):
    """A kind of exercise: its name, as a command and as a module, what it is for, and how strenuous it is."""

    name: str
    purpose: str
    strain: str

    @property
    def parameters(self) -> "type[Common]":
        """The class of its parameters."""
        return self._module().Parameters  # type: ignore[no-any-return]

    @property
    def study(self) -> "Callable[[Any], Study]":
        """The function that makes a study of its parameters."""
        return self._module().study  # type: ignore[no-any-return]

    def _module(self) -> Any:
        return importlib.import_module(f"{__package__}.{self.name.replace('-', '_')}")


# How strenuous each is: common practice, no source.
KINDS = (
    Kind("long-tones", "Steady tone, low and quiet, to open a session and to close it.", "easy"),
    Kind("slurs", "Lip slurs: each line moves between the partials of one valve position.", "moderate"),
    Kind("bends", "Half-step bends: the lips bring a note down and back while the valves stay.", "moderate"),
    Kind("pedals", "Descents from the ordinary range into the pedal register.", "easy"),
    Kind("contact", "Unbroken-contact sets: the mouthpiece stays on, for endurance and steadiness.", "strenuous"),
    Kind("scales", "Scales of every kind in twelve keys, over the full range.", "moderate"),
    Kind("patterns", "A small cell of scale degrees carried up and down a scale, in twelve keys.", "moderate"),
    Kind("arpeggios", "A chord through twelve keys, or one key through its chords.", "moderate"),
    Kind(
        "changes",
        "A progression through keys: guide tones, chord tones, scales, and slashes to improvise on.",
        "moderate",
    ),
    Kind("vocabulary", "A short phrase of your own over the chords that it fits, in twelve keys.", "moderate"),
    Kind("range", "Range studies up to the top note, with as much rest as playing.", "strenuous"),
)
