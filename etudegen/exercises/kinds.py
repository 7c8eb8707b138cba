"""The one table of the kinds of exercise. A new kind is a new row here and a module of its own.

A kind's module is called like the kind and holds ``Parameters`` and ``study``; it is loaded only when asked for,
so that listing the kinds costs nothing.
"""

import importlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from etudegen.exercises.common import Common
    from etudegen.study import Study


class Kind(NamedTuple):
    """A kind of exercise: its name, as a command and as a module, and what it is for."""

    name: str
    purpose: str

    @property
    def parameters(self) -> "type[Common]":
        """The class of its parameters."""
        return self._module().Parameters  # type: ignore[no-any-return]

    @property
    def study(self) -> "Callable[[Any], Study]":
        """The function that makes a study of its parameters."""
        return self._module().study  # type: ignore[no-any-return]

    def _module(self) -> Any:
        return importlib.import_module(f"{__package__}.{self.name}")


KINDS = (Kind("slurs", "Lip slurs: each line moves between the partials of one valve position."),)
