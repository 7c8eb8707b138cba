"""What music21 does not read of MusicXML, taken out of a document before it is read: bends, tonguing, 8vb, swing.

Also what a sheet of ours says in ordinary words, known by their ids: labels, headings, partial numbers, remarks.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from etudegen.notation import ids

# How MusicXML says 8vb: what is heard was shifted up to be printed.
OCTAVE_DOWN = ("up", "8")


@dataclass(slots=True)
class NoteMarks:
    """What one note has; ``name`` is its id, ``texts`` are words by their role."""

    name: str = ""
    fingering: str = ""
    bent: bool = False
    octave_bracket: bool = False
    syllable: str = ""
    texts: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class MeasureMarks:
    """What one measure has: whether a line begins with it, the words about that line, and marks note by note."""

    begins_line: bool
    texts: dict[str, str]
    notes: list[NoteMarks]


@dataclass(frozen=True, slots=True)
class OwnMarks:
    """The marks of a part, measure by measure; ``swing`` is the ratio of its eighths where they are to be swung."""

    measures: tuple[MeasureMarks, ...]
    swing: Fraction | None

    @property
    def is_ours(self) -> bool:
        """Tell whether the part says its lines, as sheets of ours do."""
        return bool(self.measures) and self.measures[0].begins_line


def take_own_marks(root: Element) -> OwnMarks:
    """Take the marks out of a ``score-partwise`` of one part, and return them."""
    measures, under_bracket = [], False
    swing: Fraction | None = None
    for measure in root.iterfind("part/measure"):
        marks = MeasureMarks(ids.is_line(measure.get("id")), {}, [])
        waiting: dict[str, str] = {}
        for child in list(measure):
            if child.tag == "direction":
                swing = swing or _swing(child, measure)
                under_bracket = _under_bracket(child, under_bracket)
                _take_words(child, marks.texts, waiting)
                if child.find("direction-type") is None and child in list(measure):
                    measure.remove(child)
            elif child.tag == "note":
                note = _note_marks(child)
                note.octave_bracket = under_bracket and child.find("rest") is None
                note.texts, waiting = waiting, {}
                marks.notes.append(note)
        measures.append(marks)
    return OwnMarks(tuple(measures), swing)


def _swing(direction: Element, measure: Element) -> Fraction | None:
    """Return the ratio of swung eighths that a direction asks for; that is taken out, with its word."""
    sound = direction.find("sound")
    swing = direction.find("sound/swing")
    if sound is None or swing is None:
        return None
    sound.remove(swing)
    words = direction.find("direction-type/words")
    ours = words is not None and ids.role_of(words.get("id")) == ids.SWING
    if ours:
        measure.remove(direction)
    first, second = (int(swing.findtext(tag) or 1) for tag in ("first", "second"))
    of_eighths = (swing.findtext("swing-type") or "eighth").strip() == "eighth"
    return Fraction(first, second) if of_eighths and (ours or first != second) else None


def _under_bracket(direction: Element, before: bool) -> bool:
    """Tell whether an 8vb bracket stands over what follows a direction; brackets are taken out of it."""
    for kind in direction.findall("direction-type"):
        shift = kind.find("octave-shift")
        if shift is not None:
            before = (shift.get("type"), shift.get("size", "8")) == OCTAVE_DOWN
            direction.remove(kind)
    return before


def _take_words(direction: Element, of_line: dict[str, str], of_note: dict[str, str]) -> None:
    """Take words of ours out of a direction: those about a line, and those about the note that follows."""
    for kind in direction.findall("direction-type"):
        words = kind.find("words")
        role = ids.role_of(words.get("id")) if words is not None else ""
        if words is None or not role or role == ids.SWING:
            continue
        (of_line if role in (ids.LABEL, ids.HEADING, ids.TIMES) else of_note)[role] = words.text or ""
        direction.remove(kind)


def _note_marks(note: Element) -> NoteMarks:
    marks = NoteMarks(note.get("id") or "")
    for lyric in list(_tonguing(note)):
        marks.syllable = (lyric.findtext("text") or "").strip()
        note.remove(lyric)
    marks.fingering = (note.findtext("notations/technical/fingering") or "").strip()
    for technical in note.iterfind("notations/technical"):
        for bend in technical.findall("brass-bend"):
            marks.bent = True
            technical.remove(bend)
    return marks


def _tonguing(note: Element) -> Iterator[Element]:
    return (lyric for lyric in note.iterfind("lyric") if lyric.get("name") == ids.TONGUE)
