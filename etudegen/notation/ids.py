"""The names by which a score knows its lines, notes and rests: stable, and the same in MusicXML and performances.

``line-3`` is the third line of a study, ``line-3-event-7`` its seventh tone or rest; where one of these is written as
several signs, the second is ``line-3-event-7-2``. Words about them end in their role, such as ``line-3-label``.
"""

import re

LABEL, HEADING, PARTIAL, REMARK, TIMES = "label", "heading", "partial", "remark", "times"
SWING = "swing"
TONGUE = "tongue"
_MARK = re.compile(rf"(line-[0-9]+(?:-event-[0-9]+)?)-({LABEL}|{HEADING}|{PARTIAL}|{REMARK}|{TIMES})")
_SIGN = re.compile(r"(line-[0-9]+-event-[0-9]+)(?:-([0-9]+))?")
_LINE = re.compile(r"line-[0-9]+")


def line(number: int) -> str:
    """Return the id of a line by its number from 1."""
    return f"line-{number}"


def event(of_line: int, number: int) -> str:
    """Return the id of a tone or rest by its line and its number in it, both from 1."""
    return f"{line(of_line)}-event-{number}"


def continued(name: str, place: int) -> str:
    """Return the id of the sign at a place, counted from 1, of an event that is written as several."""
    return name if place == 1 else f"{name}-{place}"


def continues(name: str, before: str) -> bool:
    """Tell whether a sign only goes on with the event that another sign begins or goes on with."""
    match, other = _SIGN.fullmatch(name), _SIGN.fullmatch(before)
    return bool(match and other and match[1] == other[1] and int(match[2] or 1) == int(other[2] or 1) + 1)


def mark(name: str, role: str) -> str:
    """Return the id of words about a line or an event."""
    return f"{name}-{role}"


def is_line(name: str | None) -> bool:
    """Tell whether an id is that of a line."""
    return bool(name and _LINE.fullmatch(name))


def role_of(name: str | None) -> str:
    """Return the role of words by their id, an empty text for words of somebody else's."""
    match = _MARK.fullmatch(name or "")
    return match[2] if match else SWING if name == SWING else ""
