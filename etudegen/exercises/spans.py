"""The span of lines: their lowest and their highest note, as a page names them."""

from collections.abc import Iterable

from etudegen.study import Line
from etudegen.theory.pitch import WrittenPitch


def _ends(lines: Iterable[Line]) -> tuple[WrittenPitch, WrittenPitch] | None:
    notes = [tone.pitch for line in lines for tone in line.tones]
    if not notes:
        return None
    return min(notes, key=lambda note: note.number), max(notes, key=lambda note: note.number)


def span_of(lines: Iterable[Line]) -> str:
    """Return the lowest and the highest note that are printed, such as ``C4 to G4``; nothing where there are none."""
    ends = _ends(lines)
    if ends is None:
        return ""
    low, high = ends
    return f"{low.pretty} to {high.pretty}" if low.number < high.number else low.pretty


def retold(text: str, before: Iterable[Line], after: Iterable[Line]) -> str:
    """Return a text that tells the span of some lines, or their lowest note, so that it tells that of other lines."""
    told, tell = list(before), list(after)
    was, becomes = _ends(told), _ends(tell)
    if was is None or becomes is None:
        return text
    if span_of(told) in text:
        return text.replace(span_of(told), span_of(tell))
    return text.replace(f"down to {was[0].pretty}", f"down to {becomes[0].pretty}")
