"""Bars of a MusicXML part made into those of a melody: one staff, one voice, one note at a time."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from xml.etree.ElementTree import Element, SubElement

from etudegen.errors import InputError
from etudegen.tunes.allowed_values import check_values, number
from etudegen.tunes.safe_xml import short

# The longest note value there is, the maxima, lasts 32 quarter notes; a bar of rest can be somewhat longer.
_LONGEST = 64
_END = Decimal(10**12)
# How signs look and where they stand on the page; music21 fails on values it does not know.
_LOOKS = {
    *("default-x", "default-y", "relative-x", "relative-y", "halign", "valign", "justify", "color", "enclosure"),
    *("font-family", "font-size", "font-style", "font-weight", "letter-spacing", "line-height", "rotation"),
}


def is_sounding(note: Element) -> bool:
    """Tell whether a note is played: no rest and no cue."""
    return note.find("rest") is None and note.find("cue") is None


def bar_name(bar: Element) -> str:
    """Return how messages call a bar, by the number in the file."""
    return f"bar {short(bar.get('number'), 12) or 'without number'}"


def make_one_voice(bars: Sequence[Element], file: str) -> None:
    """Change the bars of a part into those of a melody.

    Cue notes become rests; voices and staves that only rest go; gaps in the voice become rests; what tells of layout
    goes. Raises :class:`InputError` with the bar for chords, several voices or staves, notes without pitch, and values
    that no music has.
    """
    divisions = Decimal(1)
    staff: str | None = None
    for bar in bars:
        place = f"{bar_name(bar)} of {file}"
        _drop_looks(bar)
        check_values(bar, place)
        _silence_cues(bar)
        divisions = _divisions(bar, divisions, place)
        staff = _sounding_staff(bar, staff, place)
        _check_notes(bar, divisions, place)
        if bar.find("backup") is not None or bar.find("forward") is not None:
            bar[:] = _in_one_voice(bar, place)
    for bar in bars:
        _drop_numbers(bar, staff or "1")


def _drop_looks(bar: Element) -> None:
    for layout in bar.findall("print"):
        bar.remove(layout)
    for note in bar.iterfind("note"):
        for stem in note.findall("stem"):
            note.remove(stem)
    for element in bar.iter():
        for look in element.attrib.keys() & _LOOKS:
            del element.attrib[look]


def _silence_cues(bar: Element) -> None:
    for note in bar.findall("note"):
        if note.find("cue") is None:
            continue
        if note.find("grace") is not None or note.find("chord") is not None:
            bar.remove(note)
            continue
        kept = [note.find(tag) for tag in ("duration", "voice", "type", "dot", "time-modification", "staff")]
        note[:] = [Element("rest"), *(child for child in kept if child is not None)]


def _divisions(bar: Element, before: Decimal, place: str) -> Decimal:
    """Return how many parts of a quarter note the durations in a bar are counted in."""
    now = before
    counted = False
    for child in bar:
        counted = counted or child.find("duration") is not None
        for given in child.iterfind("divisions"):
            after = number(given.text or "")
            if counted and after != now:
                raise InputError(f"{place} changes its divisions in the middle: export the score once more")
            now = after
    return now


def _sounding_staff(bar: Element, before: str | None, place: str) -> str | None:
    for note in bar.iterfind("note"):
        if is_sounding(note):
            staff = _voice(note)[0]
            if before is not None and staff != before:
                raise InputError(f"{place} has notes on a second staff: a melody has one staff")
            before = staff
    return before


def _check_notes(bar: Element, divisions: Decimal, place: str) -> None:
    for note in bar.iterfind("note"):
        if note.find("chord") is not None:
            raise InputError(f"{place} holds a chord: a melody has one note at a time")
        if note.find("rest") is None and note.find("pitch") is None:
            raise InputError(f"{place} holds a note without pitch: a melody has pitches only")
        if note.find("grace") is None and note.find("duration") is None:
            raise InputError(f"{place} holds a note without duration: export the score once more")
    for child in bar:
        if _duration(child) > _LONGEST * divisions:
            raise InputError(f"{place} holds a duration of more than {_LONGEST} quarter notes: no note is that long")


def _duration(child: Element) -> Decimal:
    """Return how far an element moves the time on, in divisions."""
    if child.tag not in ("note", "backup", "forward") or child.find("grace") is not None:
        return Decimal(0)
    return number(child.findtext("duration") or "0")


def _placed(bar: Element, place: str) -> tuple[list[tuple[Decimal, Element]], Decimal]:
    """Return each element of a bar with where it starts, in divisions from the bar line, and how far the bar goes."""
    placed = []
    at = furthest = Decimal(0)
    for child in bar:
        if child.tag == "backup":
            at -= _duration(child)
            if at < 0:
                raise InputError(f"{place} goes back before its beginning: export the score once more")
            continue
        if child.tag == "barline" and child.get("location", "right") != "middle":
            placed.append((Decimal(0) if child.get("location") == "left" else _END, child))
        elif child.tag != "forward":
            placed.append((at, child))
        at += _duration(child)
        furthest = max(furthest, at)
    return placed, furthest


def _in_one_voice(bar: Element, place: str) -> list[Element]:
    """Return the elements of a bar in order of time, of the voice that sounds only, with rests in its gaps."""
    placed, end = _placed(bar, place)
    voice = _sounding_voice([child for _, child in placed if child.tag == "note"], place)
    kept = [(start, child) for start, child in placed if child.tag != "note" or _voice(child) == voice]
    # What stands at a note, like a dynamic, is written before it.
    kept.sort(key=lambda pair: (pair[0], pair[1].tag == "note"))
    return list(_filled(kept, end, place))


def _filled(kept: list[tuple[Decimal, Element]], end: Decimal, place: str) -> Iterator[Element]:
    at = Decimal(0)
    for start, child in kept:
        due = min(start, end)
        if due > at:
            yield _rest(due - at)
            at = due
        if child.tag == "note":
            if start < at:
                raise InputError(f"{place} has two notes at once: a melody has one note at a time")
            at += _duration(child)
        elif child.tag in ("direction", "harmony") and start < at:
            _move(child, start - at)
        yield child
    if at < end:
        yield _rest(end - at)


def _voice(note: Element) -> tuple[str, str]:
    """Return staff and voice of a note: some programs count the voices of each staff from one."""
    return (note.findtext("staff") or "1").strip(), (note.findtext("voice") or "1").strip()


def _sounding_voice(notes: list[Element], place: str) -> tuple[str, str]:
    sounding = list(dict.fromkeys(_voice(note) for note in notes if is_sounding(note)))
    if len(sounding) > 1:
        raise InputError(f"{place} has notes in {len(sounding)} voices: a melody is one voice")
    return next(iter(sounding or [_voice(note) for note in notes]), ("1", "1"))


def _rest(duration: Decimal) -> Element:
    rest = Element("note")
    SubElement(rest, "rest")
    SubElement(rest, "duration").text = f"{duration.normalize():f}"
    return rest


def _move(child: Element, by: Decimal) -> None:
    """Let a direction start before where it is written."""
    offset = child.find("offset")
    if offset is None:
        offset = SubElement(child, "offset")
    offset.text = f"{number(offset.text or '0') + by:f}"


def _drop_numbers(bar: Element, staff: str) -> None:
    """Take the numbers of voices and staves away, and what belongs to another staff.

    music21 makes a stream of each voice, and another part of each staff.
    """
    for child in bar:
        for gone in [*child.findall("voice"), *child.findall("staff"), *child.findall("staves")]:
            child.remove(gone)
        if child.tag == "attributes":
            for attribute in list(child):
                if attribute.get("number", staff) == staff:
                    attribute.attrib.pop("number", None)
                else:
                    child.remove(attribute)
