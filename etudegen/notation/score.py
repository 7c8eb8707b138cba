"""A study written down as a music21 score: one part, measure by measure, at written pitch."""

from fractions import Fraction

from music21 import stream
from music21.bar import Barline, Repeat
from music21.clef import TrebleClef
from music21.common import opFrac
from music21.layout import SystemLayout
from music21.metadata import Metadata
from music21.meter import TimeSignature

from etudegen.notation import ids
from etudegen.notation.instrument import played_on
from etudegen.notation.line_writer import LineWriter
from etudegen.notation.marks import (
    LineLabel,
    StageHeading,
    SwingMark,
)
from etudegen.notation.page import page_texts, score_layout, study_texts
from etudegen.notation.signs import key_signature, placed, tempo_mark
from etudegen.study import Line, Measure, Study
from etudegen.theory.rhythm import Metre


class _PartWriter:
    """Writes the lines of one study into a part, one after the other."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._part = stream.Part(id="P1")
        self._measures: list[stream.Measure] = []
        self._offset = Fraction(0)
        self._metre: Metre | None = None
        self._sharps: tuple[int, str] | None = None
        self._tempo: int | None = None

    def written(self) -> stream.Part:
        """Return the part, with everything that opens and closes it."""
        for number, line in enumerate(self._study.lines, start=1):
            self._write_line(number, line)
        self._part.coreElementsChanged()
        played = played_on(self._study.instrument)
        self._part.partName, self._part.partAbbreviation = played.partName, played.instrumentAbbreviation
        first = self._measures[0]
        first.insert(0, TrebleClef())
        if self._study.feel.swung:
            swing = placed(SwingMark(ratio=self._study.feel.ratio), "above")
            swing.id = ids.SWING
            first.insert(0, swing)
        if not isinstance(self._measures[-1].rightBarline, Repeat):
            self._measures[-1].rightBarline = Barline("final")
        self._part.insert(0, played)
        self._part.atSoundingPitch = False
        return self._part

    def _write_line(self, number: int, line: Line) -> None:
        opening = line.measures[0] if line.measures else Measure(Fraction(0))
        metre = opening.metre or self._study.metre
        tempo = opening.tempo or self._study.tempo
        writer = LineWriter(line, number, metre, self._part, len(self._measures))
        writer.write()
        first = writer.measures[0]
        first.id = ids.line(number)
        for text, kind, role in ((line.heading, StageHeading, ids.HEADING), (line.label, LineLabel, ids.LABEL)):
            if text:
                mark = placed(kind(text), "above")
                mark.id = ids.mark(ids.line(number), role)
                mark.style.fontWeight = "bold"
                first.insert(0, mark)
        if self._sharps != (line.sharps, line.mode):
            first.insert(0, key_signature(line.sharps, line.mode))
        if metre != self._metre:
            first.insert(0, TimeSignature("{}/{}".format(*metre)))
        if tempo != self._tempo:
            first.insert(0, tempo_mark(tempo))
        if self._measures:
            first.insert(0, SystemLayout(isNew=True))
        if not isinstance(writer.measures[-1].rightBarline, Repeat):
            writer.measures[-1].rightBarline = Barline("double")
        self._metre = writer.metre
        changes = [measure for measure in line.measures if measure.sharps is not None]
        self._sharps = (changes[-1].sharps or 0, line.mode) if changes else (line.sharps, line.mode)
        self._tempo = next((measure.tempo for measure in reversed(line.measures) if measure.tempo), tempo)
        for measure, plan in zip(writer.measures, writer.plan, strict=True):
            self._part.coreInsert(opFrac(self._offset), measure)
            self._offset += plan.length
        self._measures += writer.measures


def write_score(study: Study) -> stream.Score:
    """Write a study down: everything that its page shows is in the score, at written pitch.

    Notes, rests, the first measure of each line and the words about them have the ids of :mod:`etudegen.notation.ids`.
    """
    score = stream.Score(id="score")
    score.metadata = Metadata()
    score.metadata.title = study.title
    score.insert(0, score_layout(study.paper))
    for text in page_texts(study_texts(study), study.paper):
        score.insert(0, text)
    score.insert(0, _PartWriter(study).written())
    score.atSoundingPitch = False
    return score
