"""Where LilyPond is, and what it complains about."""

import os
import re
import shutil
from pathlib import Path

from etudegen.errors import MachineError

VARIABLE = "ETUDEGEN_LILYPOND"
# Cairo writes the PDF without a second program: faster on a page or two, and with one date as all that varies.
OPTIONS = ("--loglevel=WARN", "-dbackend=cairo")
# Where LilyPond breaks pages itself it guesses heights; where it guessed too low it squeezes the page and says so.
_OVERFULL = re.compile(
    r"warning: (?:compressing over-full page|page \d+ has been compressed|ragged-bottom was specified, but page must).*"
)
# A text may hold a character that no font on the machine has: its place stays empty, and the music is none the worse.
_NO_GLYPH = re.compile(r".*warning: no glyph for character.*")
_COMPLAINT = re.compile(r"(?:fatal |programming )?error: .*|warning: .*", re.IGNORECASE)


def find_lilypond() -> Path:
    """Return the LilyPond to run: the one named in the environment, else the package's, else the one on PATH."""
    named = os.environ.get(VARIABLE)
    if named:
        found = shutil.which(named)
        if found is None:
            raise MachineError(f"no LilyPond at {named!r}, which {VARIABLE} names: set it to the program's path")
        return Path(found)
    packaged = _packaged()
    if packaged is not None:
        return packaged
    found = shutil.which("lilypond")
    if found is None:
        raise MachineError(
            f"LilyPond was not found: install it so that `lilypond` is on PATH, or set {VARIABLE} to its path"
        )
    return Path(found)


def _packaged() -> Path | None:
    try:
        from lilypond import executable  # noqa: PLC0415 - the package has no wheel for every machine
    except ImportError:
        return None
    program = Path(executable())
    for candidate in (program, program.with_suffix(".exe")):
        if candidate.is_file():
            return candidate
    return None


def first_complaint(log: str, *, overfull_matters: bool = True) -> str:
    """Return LilyPond's first error or warning in a log, or an empty text."""
    told = _NO_GLYPH.sub("", log)
    match = _COMPLAINT.search(told if overfull_matters else _OVERFULL.sub("", told))
    return match.group(0).strip() if match else ""
