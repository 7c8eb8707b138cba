"""One part of a MusicXML file as a melody: a tree of a single part that music21 can read."""

from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element, SubElement

from etudegen.errors import InputError
from etudegen.tunes.archive import read_file, score_of
from etudegen.tunes.one_voice import is_sounding, make_one_voice
from etudegen.tunes.safe_xml import short

# An hour of four-four at a slow tempo has fewer; a melody of this size is read in some seconds.
_MOST_BARS = 2_000
_MOST_NOTES = 20_000
_MOST_LISTED = 20
_LONGEST_TITLE = 120


@dataclass(frozen=True)
class Document:
    """A melody read from a file: ``root`` is a ``score-partwise`` of one part, one voice and one staff."""

    root: Element
    part_name: str
    title: str


@dataclass(frozen=True)
class _Part:
    number: int
    id: str
    name: str
    bars: list[Element]

    @property
    def shown(self) -> str:
        return f"{self.number} {short(self.name)!r}"

    def has_notes(self) -> bool:
        return any(is_sounding(note) for bar in self.bars for note in bar.iterfind("note"))


def read_document(path: Path, part: str | None = None) -> Document:
    """Read one part of a MusicXML file; see :func:`document_of`."""
    return document_of(read_file(path), path.name, part)


def document_of(content: bytes, name: str, part: str | None = None) -> Document:
    """Read one part of what is in a MusicXML file of this name, plain or compressed.

    ``part`` is its number in the file (from 1), its id, or its name in upper or lower case; it may be left out
    where only one part has notes. Raises :class:`InputError` for a file that is not MusicXML, is broken or too large,
    for a part that is not there, and for music that is not a melody.
    """
    score = score_of(content, name)
    file = repr(short(name, 80))
    chosen = _choose(_parts(score), part, file)
    if len(chosen.bars) > _MOST_BARS:
        raise InputError(f"part {chosen.shown} of {file} has {len(chosen.bars)} bars: at most {_MOST_BARS} are allowed")
    notes = sum(1 for bar in chosen.bars for _ in bar.iterfind("note"))
    if notes > _MOST_NOTES:
        raise InputError(f"part {chosen.shown} of {file} has {notes} notes: at most {_MOST_NOTES} are allowed")
    make_one_voice(chosen.bars, file)
    title = _title(score)
    return Document(_single(score, chosen, title), short(chosen.name), title)


def _parts(score: Element) -> list[_Part]:
    names = {listed.get("id"): listed.findtext("part-name") for listed in score.iterfind("part-list/score-part")}
    bars: list[tuple[str | None, list[Element]]]
    if score.tag == "score-partwise":
        bars = [(part.get("id"), part.findall("measure")) for part in score.iterfind("part")]
    else:
        bars = list(_regrouped(score).items())
    return [
        _Part(number, id_ or "", short(names.get(id_), _LONGEST_TITLE) or f"part {number}", measures)
        for number, (id_, measures) in enumerate(bars, start=1)
    ]


def _regrouped(timewise: Element) -> dict[str | None, list[Element]]:
    parts: dict[str | None, list[Element]] = {}
    for measure in timewise.iterfind("measure"):
        for part in measure.iterfind("part"):
            bar = Element("measure", measure.attrib)
            bar.extend(part)
            parts.setdefault(part.get("id"), []).append(bar)
    return parts


def _choose(parts: list[_Part], wanted: str | None, file: str) -> _Part:
    if wanted is None:
        playable = [part for part in parts if part.has_notes()]
        if not playable:
            raise InputError(f"{file} holds no notes: a melody is wanted")
        if len(playable) > 1:
            raise InputError(f"{file} has several parts: choose one with --part: {_listed(playable)}")
        return playable[0]
    fitting = _fitting(parts, wanted.strip())
    if not fitting:
        raise InputError(f"{file} has no part {short(wanted)!r}: choose one of {_listed(parts) or 'none'}")
    if len(fitting) > 1:
        raise InputError(f"{file} has several parts called {short(wanted)!r}: choose by number: {_listed(fitting)}")
    if not fitting[0].has_notes():
        raise InputError(f"part {fitting[0].shown} of {file} holds no notes: a melody is wanted")
    return fitting[0]


def _fitting(parts: list[_Part], wanted: str) -> list[_Part]:
    by_number = [part for part in parts if str(part.number) == wanted]
    by_id = [part for part in parts if part.id == wanted]
    return by_number or by_id or [part for part in parts if part.name.casefold() == short(wanted, 120).casefold()]


def _listed(parts: list[_Part]) -> str:
    listed = ", ".join(part.shown for part in parts[:_MOST_LISTED])
    return listed + (f" and {len(parts) - _MOST_LISTED} more" if len(parts) > _MOST_LISTED else "")


def _title(score: Element) -> str:
    candidates = [score.findtext("work/work-title"), score.findtext("movement-title")]
    candidates += [
        credit.findtext("credit-words")
        for credit in score.iterfind("credit")
        if credit.findtext("credit-type") == "title"
    ]
    return next((title for text in candidates if (title := short(text, _LONGEST_TITLE))), "")


def _single(score: Element, part: _Part, title: str) -> Element:
    """Return a new score of the part, with the names of its authors, and without layout, sounds and other parts."""
    root = Element("score-partwise", version="4.0")
    SubElement(SubElement(root, "work"), "work-title").text = title
    identification = SubElement(root, "identification")
    identification.extend(score.iterfind("identification/creator"))
    identification.extend(score.iterfind("identification/rights"))
    listed = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    SubElement(listed, "part-name").text = part.name
    SubElement(root, "part", id="P1").extend(part.bars)
    return root
