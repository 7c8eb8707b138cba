"""Heavy modules that libraries load at import and that we never use, put off until something asks for them.

A command that makes one page spends most of its own time on imports. music21 loads ``requests`` (for scores on
the web) and abjad, through ``uqbar.apis``, all of Sphinx (for its own manual): together about a third of both.
Only for programs of our own, in their ``main``: whoever imports a package of ours gets no stand-ins.
"""

import importlib
import importlib.util
import sys
from types import ModuleType


def defer(name: str) -> None:
    """Let ``import name`` succeed at once; the module is really loaded when one of its attributes is first read.

    Nothing happens where the module is loaded already or is not installed.
    """
    if name in sys.modules:
        return
    parent, _, child = name.rpartition(".")
    try:
        spec = importlib.util.find_spec(name)
    except ModuleNotFoundError:
        spec = None
    if spec is None:
        return
    stand_in = ModuleType(name)
    stand_in.__spec__ = spec

    def load(attribute: str) -> object:
        if attribute.startswith("__"):
            # Asked for by tools that look through all loaded modules, not by somebody who wants to use it.
            raise AttributeError(attribute)
        if sys.modules.get(name) is stand_in:
            del sys.modules[name]
        module = importlib.import_module(name)
        if parent:
            setattr(sys.modules[parent], child, module)
        return getattr(module, attribute)

    stand_in.__getattr__ = load  # type: ignore[method-assign]
    sys.modules[name] = stand_in
    if parent:
        setattr(sys.modules[parent], child, stand_in)
