"""Where the editable data of the package (instruments, page styles) lies, installed or in a checkout."""

from functools import cache
from pathlib import Path


@cache
def templates() -> Path:
    """Return the folder ``templates``: inside the installed package, or beside it in a source checkout."""
    package = Path(__file__).parents[1]
    installed = package / "templates"
    return installed if installed.is_dir() else package.parent / "templates"
