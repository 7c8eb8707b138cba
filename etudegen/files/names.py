"""Names of files: plain on every file system, and never the same for two texts."""

import hashlib
import re
import unicodedata
from pathlib import Path

_DIGEST = 8
_PLAIN = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_LIKE_A_DIGEST = re.compile(rf"(.*-)?[0-9a-f]{{{_DIGEST}}}")
# Windows keeps these for devices, whatever ending follows.
_DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))})


def player_name(profile: Path, routine: str | None = None) -> str:
    """Return how the books of a player are called: by the folder and the name of the profile, and an own routine."""
    words = [profile.absolute().parent.name, profile.stem, *([Path(routine).stem] if routine else [])]
    return "-".join(distinct_name(word) for word in words if word)


def distinct_name(text: str, longest: int = 60) -> str:
    """Return a name for a text, of at most ``longest`` (16 or more) small ASCII letters, digits and hyphens.

    A text that is such a name already is kept. Of any other as much as can be read is kept, and a digest of the whole
    text follows, so that different texts have different names, even where capitals are not told from small letters.
    """
    if len(text) <= longest and _PLAIN.fullmatch(text) and not _LIKE_A_DIGEST.fullmatch(text) and text not in _DEVICES:
        return text
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_DIGEST]
    unaccented = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    readable = re.sub(r"[^a-z0-9]+", "-", unaccented.lower())[: longest - _DIGEST - 1].strip("-")
    return f"{readable}-{digest}" if readable else digest
