"""The span of lines: their lowest and their highest note, as a page names them."""

from collections.abc import Iterable

from etudegen.study import Line
from etudegen.theory.pitch import WrittenPitch


def _ends(lines: Iterable[Line], names: Iterable[WrittenPitch] = ()) -> tuple[WrittenPitch, WrittenPitch] | None:
    called = {name.number: name for name in names}
    notes = [tone.pitch for line in lines for tone in line.tones]
    if not notes:
        return None
    low, high = min(notes, key=lambda note: note.number), max(notes, key=lambda note: note.number)
    return called.get(low.number, low), called.get(high.number, high)


def span_of(lines: Iterable[Line], *names: WrittenPitch) -> str:
    """Return the lowest and the highest note that are printed, such as ``C4 to G4``; nothing where there are none.

    ``names`` tell how notes are called that have two names, whichever stands in the lines.
    """
    ends = _ends(lines, names)
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
