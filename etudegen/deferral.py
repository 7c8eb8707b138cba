"""Heavy modules that libraries load at import and that we never use, put off until something asks for them.

A command that makes one page spends most of its own time on imports. music21 loads its tests and readers of a dozen
formats, and ``requests`` for scores on the web; abjad, through ``uqbar``, all of Sphinx for its own manual: more than
half of both.
Only for programs of our own, in their ``main``, which have one thread: whoever imports a package of ours has everything
loaded as usual.
"""

import gc
import sys
import warnings
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from types import ModuleType

_FORMATS = (
    "abcFormat", "braille", "capella", "corpus", "converter", "features", "graph", "humdrum", "lily", "mei", "midi",
    "musedata", "noteworthy", "omr", "romanText", "tinyNotation", "vexflow", "volpiano",
)  # fmt: skip
_STUDIES_OF_MUSIC = (
    "alpha", "analysis", "audioSearch", "configure", "figuredBass", "freezeThaw", "ipython21", "languageExcerpts",
    "roman", "search", "serial", "sieve", "tablature", "variant", "voiceLeading",
)  # fmt: skip
# Its package of tests holds what every module of music21 asks for, and is loaded; the tests in it are not.
_TESTS = tuple(
    f"test.test_{of}"
    for of in ("base", "chord", "clef", "expressions", "interval", "metadata", "note", "pitch", "repeat")
)
_MUSICXML = tuple(
    f"musicxml.{name}"
    for name in ("lilypondTestSuite", "m21ToXml", "partStaffExporter", "test_m21ToXml", "test_xmlToM21", "xmlToM21")
)
OF_MUSIC21 = (
    *(f"music21.{name}" for name in (*_FORMATS, *_STUDIES_OF_MUSIC, *_TESTS, *_MUSICXML)),
    "requests", "urllib.request", "webcolors", "more_itertools",
)  # fmt: skip
OF_ABJAD = ("uqbar.apis", "cProfile", "pstats", "roman")


class _LaterLoader(SourceFileLoader):
    """Makes a module without running it; it is run when one of its names is first read."""

    def exec_module(self, module: ModuleType) -> None:
        # A package is run before the modules in it, which are found by its path.
        path = module.__dict__.pop("__path__", None)

        def run(name: str) -> object:
            if name.startswith("__") and (name != "__path__" or path is None):
                # Asked for by tools that look through all loaded modules, not by somebody who wants to use it.
                raise AttributeError(name)
            del module.__dict__["__getattr__"]
            if path is not None:
                module.__path__ = path
            super(_LaterLoader, self).exec_module(module)
            return getattr(module, name)

        module.__dict__["__getattr__"] = run


class _LaterFinder:
    """Finds modules by their names, to be run later."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = frozenset(names)

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        spec = PathFinder.find_spec(fullname, path, target) if fullname in self._names else None
        if spec is None or not isinstance(spec.loader, SourceFileLoader):
            return None
        spec.loader = _LaterLoader(fullname, spec.loader.path)
        return spec


def be_quick() -> None:
    """Make a program of ours that writes music quick: for its own ``main``, before anything heavy is loaded."""
    # It is short: looking for garbage costs a tenth of it and finds none worth the while.
    gc.disable()
    defer(OF_MUSIC21)
    # The music library warns of bars that hold too much; ours are read as they are, and what is lost is told.
    warnings.filterwarnings("ignore", module="music21")
    # Where a program is stopped among its workers, their locks are cleared by a process of Python's own: in silence.
    sys.warnoptions.append("ignore::UserWarning:multiprocessing.resource_tracker")


def defer(names: Sequence[str]) -> None:
    """Let ``import name`` succeed at once for each of the names; the module is run when a name in it is first read.

    Nothing changes for those that are loaded already or are not installed.
    """
    sys.meta_path.insert(0, _LaterFinder(names))
