"""Where LilyPond is, and what it complains about."""

import os
import re
import shutil
import sys
from pathlib import Path

from etudegen.errors import MachineError

VARIABLE = "ETUDEGEN_LILYPOND"
# Cairo writes the PDF without a second program: faster on a page or two, and with one date as all that varies.
OPTIONS = ("--loglevel=WARN", "-dbackend=cairo")
# Where LilyPond breaks pages itself it guesses heights; where it guessed too low it squeezes the page and says so.
_OVERFULL = re.compile(
    r"warning: (?:compressing over-full page|page \d+ has been compressed|ragged-bottom was specified, but page must).*"
)
_COMPLAINT = re.compile(r"(?:fatal |programming )?error: .*|warning: .*", re.IGNORECASE)
# What is about the system and not about the music, each with the reason why the page is as good as without it.
_ABOUT_THE_SYSTEM = tuple(
    re.compile(rf"^.*{words}.*$", re.MULTILINE)
    for words in (
        # A text may hold a character that no font on the machine has: its place stays empty.
        "warning: no glyph for character",
        # Fonts are looked for again where they cannot be remembered, and another is taken for one that is missing;
        # those of the music come with LilyPond.
        r"Fontconfig (?:error|warning):",
        r"warning: (?:cannot|could not|failed to) (?:find|load|open|substitute)\b.*\bfont",
        # What sets texts and draws pages tells of the system's fonts and settings in the form of its own library.
        r"\(?[\w./:-]*\)?:? ?(?:Pango|GLib|GLib-GIO|GLib-GObject|Gdk|cairo)\b.*(?:WARNING|CRITICAL|warning|error)",
        r"cairo(?:[ -][\w-]+)*: (?:warning|error):",
        # The collector found memory in pieces, or little of it; where there is not enough LilyPond ends by itself.
        r"GC Warning:",
        # The language or the clock of the system is set to what it does not have.
        r"warning: (?:setlocale|locale)\b",
    )
)


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
            f"LilyPond was not found: {_how_to_install()}, or set {VARIABLE} to its path; without it there is "
            "everything but the printed page"
        )
    return Path(found)


def _how_to_install() -> str:
    """Say what brings LilyPond where the package has no wheel: on Macs with Apple processors, 64-bit ARM Linux, ..."""
    if sys.platform == "darwin":
        return "install it with `brew install lilypond`"
    if sys.platform == "linux":
        return "install it with `sudo apt install lilypond`, or as your system does, so that `lilypond` is on PATH"
    return "install it from lilypond.org so that `lilypond` is on PATH"


def surroundings(folder: Path) -> dict[str, str]:
    """Return what LilyPond needs besides the environment: a cache in a folder, where the user's cannot be written."""
    try:
        usual = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    except RuntimeError:
        return {"XDG_CACHE_HOME": str(folder)}
    nearest = next((place for place in (usual, *usual.parents) if place.exists()), usual)
    return {} if os.access(nearest, os.W_OK | os.X_OK) else {"XDG_CACHE_HOME": str(folder)}


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
    """Return the first error or warning about the music in a log of LilyPond's, or an empty text."""
    for words in _ABOUT_THE_SYSTEM:
        log = words.sub("", log)
    match = _COMPLAINT.search(log if overfull_matters else _OVERFULL.sub("", log))
    return match.group(0).strip() if match else ""
