"""MusicXML 4.0 from a score, the same bytes for the same score.

The schema and the meaning of its elements: https://www.w3.org/2021/06/musicxml40/ .
"""

from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from music21 import defaults, stream, text
from music21.expressions import TextExpression
from music21.instrument import Instrument
from music21.musicxml.m21ToXml import ScoreExporter
from music21.spanner import Ottava
from music21.tempo import MetronomeMark

from etudegen import __version__
from etudegen.export.measures import SheetPartExporter, SpannersByElement
from etudegen.export.xml_text import xml_text
from etudegen.notation.marks import PageRole, PageText, SwingMark
from etudegen.theory.swing import FINEST_RATIO, soloist_ratio


class _SheetExporter(ScoreExporter):  # type: ignore[misc]
    """music21's exporter with our name on the file, no date, no invented composer, and typed page texts."""

    def parse(self) -> Element:
        part = self.stream.parts[0]
        for bracket in part.getElementsByClass(Ottava):
            # In MusicXML what stands under one is what is heard.
            bracket.performTransposition()
        self.scorePreliminaries()
        self.partExporterList = [SheetPartExporter(part, self, self.spannerBundle)]
        self.parsePartlikeScore()
        self.postPartProcess()
        self.partExporterList.clear()
        root: Element = self.xmlRoot
        return root

    def scorePreliminaries(self) -> None:  # noqa: N802 - music21's names
        self.setScoreLayouts()
        self.textBoxes = list(self.stream.getElementsByClass(text.TextBox))
        self.spannerBundle = SpannersByElement.of(self.stream.parts[0])

    def textBoxToXmlCredit(self, textBox: text.TextBox) -> Element:  # noqa: N802, N803
        credit: Element = super().textBoxToXmlCredit(textBox)
        # The other roles have no usual name, and some readers take any typed text for a subtitle.
        if isinstance(textBox, PageText) and textBox.role in (PageRole.TITLE, PageRole.SUBTITLE):
            kind = Element("credit-type")
            kind.text = str(textBox.role)
            credit.insert(0, kind)
        return credit

    def setEncoding(self) -> Element:  # noqa: N802
        encoding = SubElement(self.mxIdentification, "encoding")
        SubElement(encoding, "software").text = f"etudegen {__version__}"
        for support in self.getSupports():
            encoding.append(support)
        SubElement(encoding, "supports", element="print", attribute="new-system", type="yes", value="yes")
        return encoding

    def setIdentification(self) -> Element:  # noqa: N802
        identification: Element = super().setIdentification()
        for creator in identification.findall("creator"):
            if creator.text == defaults.author:
                identification.remove(creator)
        return identification


def _drop_repeated_title(root: Element) -> None:
    # music21 writes the title of the work again as that of a movement, and readers print both.
    movement, work = root.find("movement-title"), root.find("work/work-title")
    if movement is not None and work is not None and movement.text == work.text:
        root.remove(movement)


def _add_sounds(root: Element, score: stream.Score) -> None:
    sounds = {
        instrument.instrumentId: instrument.instrumentSound
        for part in score.parts
        for instrument in part.getElementsByClass(Instrument)
        if instrument.instrumentSound
    }
    for described in root.iter("score-instrument"):
        if described.get("id") in sounds:
            SubElement(described, "instrument-sound").text = sounds[described.get("id")]


def _add_ids(root: Element, score: stream.Score) -> None:
    """Give words their ids, which music21 writes for notes and measures only."""
    measures = score.parts[0].getElementsByClass(stream.Measure)
    for written, measure in zip(root.iterfind("part/measure"), measures, strict=True):
        waiting = [text for text in measure.elements if isinstance(text, TextExpression) and isinstance(text.id, str)]
        for words in written.iter("words"):
            text = next((each for each in waiting if str(each.content) == words.text), None)
            if text is not None:
                words.set("id", text.id)
                waiting.remove(text)


def _add_swing(root: Element, score: stream.Score) -> None:
    """Say how uneven the eighths under the word are (MusicXML 4.0, element ``swing``)."""
    opening = score.parts[0].getElementsByClass(stream.Measure)[0]
    marks = list(opening.getElementsByClass(SwingMark))
    tempos = list(opening.getElementsByClass(MetronomeMark))
    if not marks or not tempos:
        return
    ratio = (marks[0].ratio or soloist_ratio(Fraction(tempos[0].getQuarterBPM()))).limit_denominator(FINEST_RATIO)
    for direction in root.iter("direction"):
        if direction.findtext("direction-type/words") == marks[0].content:
            swing = SubElement(SubElement(direction, "sound"), "swing")
            SubElement(swing, "first").text = str(ratio.numerator)
            SubElement(swing, "second").text = str(ratio.denominator)
            SubElement(swing, "swing-type").text = "eighth"


def musicxml(score: stream.Score) -> bytes:
    """Return the score as an uncompressed MusicXML 4.0 file in UTF-8; beams and accidentals stay as they are."""
    exporter = _SheetExporter(score, makeNotation=False)
    root = exporter.parse()
    _drop_repeated_title(root)
    _add_sounds(root, score)
    _add_ids(root, score)
    _add_swing(root, score)
    return bytes(exporter.xmlHeader()) + xml_text(root).encode()
