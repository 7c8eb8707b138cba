"""Practice material for trumpet players, from the acoustics of the tube to the printed page.

``import etudegen`` costs nothing heavy: what is used is loaded when it is first asked for. The functions and values of
:mod:`etudegen.public` are found here by their names:

>>> import etudegen
>>> etudegen.exercise("long-tones", low="C4", high="G4").title
'Long tones'
"""

import importlib
from typing import Any

__version__ = "0.1.0"
_PUBLIC = "etudegen.public"


def __getattr__(name: str) -> Any:
    """Return one of the names of the public face, loading it now."""
    if not name.startswith("_"):
        public = importlib.import_module(_PUBLIC)
        if name in public.__all__:
            return getattr(public, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return ["__version__", *importlib.import_module(_PUBLIC).__all__]
