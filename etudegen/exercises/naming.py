"""Names of sheets: what was asked for, as a name that every file system takes and that no other order has."""

import hashlib
from dataclasses import fields
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from etudegen.exercises.settings import settings_of
from etudegen.plain_text import plain_name

if TYPE_CHECKING:
    from etudegen.exercises.common import Common

_LONGEST = 100
_DIGEST = 8
# The settings that stand in a name without saying which they are, at its beginning or at its end.
_BY_THEMSELVES = ("title", "instrument", "low", "high", "tempo")


def sheet_name(parameters: "Common") -> str:
    """Return the stem of the files of a sheet: the player's title, the kind, what is not as usual, range and tempo.

    ASCII letters, digits and hyphens, at most 100 of them. Where that leaves something out a digest of all parameters
    follows, so that two orders that differ never come to one name.
    """
    texts = _texts(parameters)
    unusual = [each.name for each in fields(parameters) if getattr(parameters, each.name) != each.default]
    words, whole = [], True
    for name in unusual:
        if name not in _BY_THEMSELVES:
            value = getattr(parameters, name)
            # Where a file lies is no name for what is in it.
            text = "" if isinstance(value, bool | Path) else texts[name].replace("#", "s")
            words.append(plain_name(f"{name} {text}", _LONGEST))
            whole = whole and _is_told_by(plain_name(text, _LONGEST), text, value)
    title = plain_name(parameters.title, _LONGEST).lower()
    # Titles with hyphens and titles with spaces are not the same.
    whole = whole and _is_told_by(title, parameters.title, parameters.title) and "-" not in parameters.title
    ending = [texts[name].replace("#", "s") for name in _BY_THEMSELVES[1:] if name != "instrument" or name in unusual]
    stem = "-".join([*filter(None, [title]), parameters.kind, *words])
    name = "-".join([stem, *ending])
    if whole and len(name) <= _LONGEST:
        return name
    end = "-".join([*ending, hashlib.sha256(repr((parameters.kind, texts)).encode()).hexdigest()[:_DIGEST]])
    return f"{stem[: _LONGEST - len(end) - 1].rstrip('-')}-{end}"


def _texts(parameters: "Common") -> dict[str, str]:
    """Return the value of each field as a text."""
    known = settings_of(type(parameters))
    values: dict[str, Any] = {each.name: getattr(parameters, each.name) for each in fields(parameters)}
    return {name: known[name].text(value) if name in known else str(value) for name, value in values.items()}


def _is_told_by(plain: str, text: str, value: object) -> bool:
    """Tell whether a plain name is the text of a value itself, with hyphens for its spaces.

    Some file systems do not tell capitals from small letters, which in what a player types may mean something else.
    """
    typed = isinstance(value, str) and not isinstance(value, StrEnum)
    if isinstance(value, Path) or (typed and text != text.lower()):
        return False
    return plain == text or (plain == text.replace(" ", "-") and "-" not in text)
