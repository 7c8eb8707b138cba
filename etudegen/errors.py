"""The two ways in which a request can fail, with the exit code each one earns."""

import re

_LONGEST_SHOWN = 80
_LONG_QUOTED = re.compile(r"'[^']{1000,}'|\"[^\"]{1000,}\"")


def _beginning(quoted: re.Match[str]) -> str:
    text = quoted[0]
    return f"{text[:_LONGEST_SHOWN]}…{text[-1]}"


class InputError(ValueError):
    """The user asked for something that cannot be: one sentence with what, which value, what is allowed."""

    exit_code = 2

    def __init__(self, sentence: str) -> None:
        # A complaint is read by a person: what was given and is long is named by its beginning.
        super().__init__(_LONG_QUOTED.sub(_beginning, sentence))


class MachineError(RuntimeError):
    """The computer let the user down (disk, LilyPond): one sentence with what failed and where to look."""

    exit_code = 1


_MOST_DIGITS = 10**_LONGEST_SHOWN


def shown(value: object) -> str:
    """Return a value as a complaint names it: short, whatever it is."""
    if isinstance(value, int) and abs(value) >= _MOST_DIGITS:
        return "of so many digits"
    try:
        text = repr(value)
    except Exception:
        return f"of type {type(value).__name__}"
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"


def check_type(name: str, value: object, kind: type | tuple[type, ...], give: str) -> None:
    """Raise :class:`InputError` where a value is not of a kind; true and false are no numbers."""
    kinds = kind if isinstance(kind, tuple) else (kind,)
    if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
        raise InputError(f"{name} {shown(value)} is not allowed: give {give}")
