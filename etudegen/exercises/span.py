"""The span of lines: their lowest and their highest note, as a page names them."""

from collections.abc import Iterable

from etudegen.study import Line
from etudegen.theory.pitch import WrittenPitch


def span_of(lines: Iterable[Line], *names: WrittenPitch) -> str:
    """Return the lowest and the highest note that are printed, such as ``C4 to G4``; nothing where there are none.

    ``names`` tell how notes are called that have two names, whichever stands in the lines.
    """
    called = {name.number: name for name in names}
    notes = [tone.pitch for line in lines for tone in line.tones]
    if not notes:
        return ""
    ends = min(notes, key=lambda note: note.number), max(notes, key=lambda note: note.number)
    low, high = (called.get(note.number, note) for note in ends)
    if low.alter * high.alter < 0:
        # Flat here and sharp there reads as two notes where it is one: both are called as on a fingering chart.
        low, high = (called.get(note.number, WrittenPitch.from_number(note.number)) for note in (low, high))
    return f"{low.pretty} to {high.pretty}" if low.number < high.number else low.pretty
