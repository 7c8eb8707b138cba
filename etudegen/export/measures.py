"""Parts and measures of a score as MusicXML, by music21's exporter without its searches.

music21 writes whatever may be in a stream, and looks through it again and again to find out what is. What
:mod:`etudegen.notation` writes is known: one part at written pitch, whose spanners and instrument stand in the part at
its start, whose measures have no voices and nothing hidden. The elements that are written are the same.
"""

from itertools import groupby
from typing import Any, Self
from xml.etree.ElementTree import Element, SubElement

from music21.bar import Barline
from music21.clef import Clef
from music21.harmony import Harmony
from music21.key import KeySignature
from music21.layout import LayoutBase, SystemLayout
from music21.meter.base import TimeSignatureBase
from music21.musicxml.helpers import synchronizeIdsToXML
from music21.musicxml.m21ToXml import AppendSpanners, MeasureExporter, PartExporter, ScoreExporter
from music21.note import GeneralNote, Rest
from music21.spanner import Spanner, SpannerAnchor, SpannerBundle
from music21.stream import Measure, Part, Stream
from music21.style import Style

_OPENINGS = (KeySignature, TimeSignatureBase, Clef)


class SpannersByElement(SpannerBundle):  # type: ignore[misc]
    """Spanners of a part that knows which of them an element stands in."""

    def __init__(self, spanners: list[Spanner] | None = None) -> None:
        super().__init__(spanners)
        self._by_element: dict[int, list[Spanner]] | None = None
        self._none: SpannerBundle | None = None

    @classmethod
    def of(cls, part: Part) -> Self:
        """Return the spanners of a part."""
        return cls(list(part.getElementsByClass(Spanner)))

    def getBySpannedElement(self, spannedElement: Any) -> SpannerBundle:  # noqa: N802, N803 - music21's names
        """Return the spanners that an element stands in, in their order."""
        if self._by_element is None:
            self._by_element, self._none = {}, SpannerBundle()
            for each in self:
                for name in {id(element) for element in each.getSpannedElements()}:
                    self._by_element.setdefault(name, []).append(each)
        found = self._by_element.get(id(spannedElement))
        return SpannerBundle(found) if found else self._none


class SheetPartExporter(PartExporter):  # type: ignore[misc]
    """The exporter of a part."""

    def __init__(self, part: Part, parent: ScoreExporter, spanners: SpannersByElement) -> None:
        super().__init__(None, parent)
        self.stream, self.spannerBundle = part, spanners
        parent.instrumentsByStream[id(part)] = part.getInstruments(recurse=False)

    def parse(self) -> Any:
        """Return the part as an element."""
        self.spannerBundle.setIdLocals()
        self.instrumentSetup()
        self.xmlRoot.set("id", str(self.firstInstrumentObject.partId))
        for measure in self.stream.getElementsByClass(Measure):
            self.addDividerComment(f"Measure {measure.number}")
            self.xmlRoot.append(_SheetMeasureExporter(measure, self).parse())
        return self.xmlRoot


class _SheetMeasureExporter(MeasureExporter):  # type: ignore[misc]
    def __init__(self, measure: Measure, parent: SheetPartExporter) -> None:
        super().__init__(measure, parent)
        self._elements = [each for each in measure.elements if not isinstance(each, Barline)]
        self._opens = any(isinstance(each, _OPENINGS) for each in self._elements)

    def setTranspose(self) -> None:  # noqa: N802
        if self.parent.lastDivisions is None:
            super().setTranspose()

    def setRbSpanners(self) -> None:  # noqa: N802
        spanners = self.spannerBundle.getBySpannedElement(self.stream)
        self.rbSpanners = spanners.getByClass("RepeatBracket") if spanners else []

    def setPrintStyle(self, mxObject: Element, m21Object: Any) -> None:  # noqa: N802, N803
        if isinstance(m21Object, Style) or m21Object.hasStyleInformation:
            super().setPrintStyle(mxObject, m21Object)

    def keySignatureToXml(self, keyOrKeySignature: KeySignature) -> Any:  # noqa: N802, N803
        if keyOrKeySignature.hasStyleInformation:
            return super().keySignatureToXml(keyOrKeySignature)
        written = Element("key")
        synchronizeIdsToXML(written, keyOrKeySignature)
        SubElement(written, "fifths").text = str(keyOrKeySignature.sharps)
        mode = getattr(keyOrKeySignature, "mode", None)
        if mode is not None:
            SubElement(written, "mode").text = mode
        return written

    def setMxPrint(self) -> None:  # noqa: N802
        layouts = [each for each in self._elements if isinstance(each, LayoutBase)]
        if self.stream.hasStyleInformation or any(type(each) is not SystemLayout for each in layouts):
            super().setMxPrint()
        elif layouts:
            self.xmlRoot.append(self.systemLayoutToXmlPrint(layouts[0]))

    def setMxAttributesObjectForStartOfMeasure(self) -> None:  # noqa: N802
        counted = any(
            spanner.isFirst(each)
            for each in self._elements
            if isinstance(each, Rest)
            for spanner in self.spannerBundle.getBySpannedElement(each)
        )
        if self._opens or counted or self.parent.lastDivisions is None:
            super().setMxAttributesObjectForStartOfMeasure()

    def mainElementsParse(self) -> None:  # noqa: N802
        self.parseFlatElements(self.stream)

    def parseFlatElements(self, m: Stream, *, backupAfterwards: bool = False) -> None:  # noqa: N802, N803
        if any(isinstance(each, SpannerAnchor) for each in self._elements):
            super().parseFlatElements(m, backupAfterwards=backupAfterwards)
            return
        for offset, group in groupby(self._elements, m.elementOffset):
            together = list(group)
            notes = [each for each in together if isinstance(each, GeneralNote) and not isinstance(each, Harmony)]
            if notes and offset > self.offsetInMeasure:
                self.moveForward(offset - self.offsetInMeasure)
            for each in (*(other for other in together if other not in notes), *notes):
                self.parseOneElement(each, AppendSpanners.NORMAL)
