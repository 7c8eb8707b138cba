"""Reads MusicXML for the tests: every note and sign with the moment at which it stands, in quarter notes."""

import functools
import importlib.util
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from lxml import etree

from etudegen.export.musicxml import musicxml
from etudegen.notation.score import write_score
from etudegen.study import Line, Study, Tone

# The two files that the schema imports stand beside the tests of the export.
_IMPORTED = Path(__file__).parents[1] / "export"
_IMPORT = "{http://www.w3.org/2001/XMLSchema}import"
_NUMBERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@functools.cache
def schema() -> etree.XMLSchema:
    """The MusicXML 4.0 schema as the package `musicxml` ships it, read without a network."""
    (package,) = importlib.util.find_spec("musicxml").submodule_search_locations
    document = etree.parse(Path(package) / "generate_classes" / "musicxml_4_0.xsd")
    for imported in document.getroot().iter(_IMPORT):
        imported.set("schemaLocation", (_IMPORTED / Path(imported.get("schemaLocation")).name).as_uri())
    return etree.XMLSchema(document)


@dataclass
class ReadTone:
    """A note with those that are tied to it; ``notes`` are the elements, the first of them where it begins."""

    at: Fraction
    duration: Fraction
    pitch: tuple[str, int, int]
    notes: list[etree._Element] = field(default_factory=list)

    @property
    def number(self) -> int:
        """The key number of the written note."""
        step, alter, octave = self.pitch
        return 12 * (octave + 1) + _NUMBERS[step] + alter

    def texts(self, path: str) -> list[str]:
        """Return the texts at a path in the first note."""
        return [element.text or "" for element in self.notes[0].findall(path)]

    def tags(self, path: str) -> list[str]:
        """Return the names of the elements at a path in the first note."""
        return [element.tag for element in self.notes[0].findall(path)]


@dataclass
class ReadSheet:
    """A part: its tones, and every other element with the moment at which it stands."""

    root: etree._Element
    tones: list[ReadTone] = field(default_factory=list)
    marks: list[tuple[Fraction, etree._Element]] = field(default_factory=list)
    measures: list[Fraction] = field(default_factory=list)

    def placed(self, tag: str) -> Iterator[tuple[Fraction, etree._Element]]:
        """Yield elements of a name with their moments."""
        for at, mark in self.marks:
            for element in mark.iter(tag):
                yield at, element


def read_sheet(file: bytes) -> ReadSheet:
    """Read a file of one part."""
    sheet = ReadSheet(etree.fromstring(file))
    (part,) = sheet.root.findall("part")
    divisions = int(part.findtext("measure/attributes/divisions"))
    begins, tied = Fraction(0), False
    for measure in part.findall("measure"):
        sheet.measures.append(begins)
        now = ends = begins
        for element in measure:
            length = Fraction(int(element.findtext("duration") or 0), divisions)
            if element.tag == "note":
                if element.find("rest") is None:
                    tied = _add_note(sheet, element, now, length, tied)
                now += length
            elif element.tag in ("forward", "backup"):
                now += length if element.tag == "forward" else -length
            else:
                shift = Fraction(int(element.findtext("offset") or 0), divisions)
                sheet.marks.append((now + shift, element))
            ends = max(ends, now)
        begins = ends
    assert not tied
    return sheet


def _add_note(sheet: ReadSheet, note: etree._Element, at: Fraction, length: Fraction, tied: bool) -> bool:
    ties = [tie.get("type") for tie in note.findall("tie")]
    assert tied == ("stop" in ties), "a tie leads from or to nowhere"
    step, octave = note.findtext("pitch/step"), int(note.findtext("pitch/octave"))
    pitch = (step, int(note.findtext("pitch/alter") or 0), octave)
    if tied:
        last = sheet.tones[-1]
        assert (last.pitch, last.at + last.duration) == (pitch, at), "a tie joins what is not one note"
        last.duration += length
        last.notes.append(note)
    else:
        sheet.tones.append(ReadTone(at, length, pitch, [note]))
    return "start" in ties


def written(study: Study) -> bytes:
    """Return the MusicXML file of a study."""
    return musicxml(write_score(study))


def timed_tones(study: Study) -> list[tuple[Fraction, Tone]]:
    """Return every tone with its start, in quarter notes."""
    return [(at, event) for _, at, event in _events(study) if isinstance(event, Tone)]


def heard_tones(study: Study) -> list[tuple[Fraction, Tone]]:
    """Return every tone that is heard with its start: repeats are played twice, slashes are for the player to fill."""
    found, now = [], Fraction(0)
    for line in study.lines:
        for first, last in passages(line):
            at = Fraction(0)
            for event in line.events:
                if first <= at < last and isinstance(event, Tone) and not event.slash:
                    found.append((now + at - first, event))
                at += event.duration
            now += last - first
    return found


def heard_length(study: Study) -> Fraction:
    """Return how long a study lasts with its repeats, in quarter notes."""
    return sum((last - first for line in study.lines for first, last in passages(line)), Fraction(0))


def repeat_signs(line: Line) -> tuple[tuple[Fraction, str], ...]:
    """Return the repeat signs of a line, ``start`` or ``end``, each with its distance from the beginning."""
    found, at = [], Fraction(0)
    for measure in line.measures:
        found += [(at, "start")] if measure.repeat_starts else []
        at += measure.length
        found += [(at, "end")] if measure.repeat_ends else []
    return tuple(found)


def passages(line: Line) -> list[tuple[Fraction, Fraction]]:
    """Return the stretches of a line in the order in which they are played."""
    found, begins = [], Fraction(0)
    for at, sign in repeat_signs(line):
        found += [(begins, at)] * (2 if sign == "end" else 1)
        begins = at
    return [*found, (begins, line.duration)]


def timed_lines(study: Study) -> list[tuple[Fraction, Line]]:
    """Return every line with its start."""
    found, at = [], Fraction(0)
    for line in study.lines:
        found.append((at, line))
        at += line.duration
    return found


def _events(study: Study) -> Iterator[tuple[Line, Fraction, object]]:
    at = Fraction(0)
    for line in study.lines:
        for event in line.events:
            yield line, at, event
            at += event.duration


def runs(flags: list[bool]) -> list[tuple[int, int]]:
    """Return the first and last place of each row of true flags."""
    found: list[tuple[int, int]] = []
    for place, flag in enumerate(flags):
        if flag and found and found[-1][1] == place - 1:
            found[-1] = (found[-1][0], place)
        elif flag:
            found.append((place, place))
    return found
