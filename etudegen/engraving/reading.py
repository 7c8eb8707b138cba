"""Reads a score for the engraver: nothing is decided here, only looked up."""

from fractions import Fraction

from music21 import stream
from music21.articulations import Fingering
from music21.clef import Clef
from music21.expressions import TextExpression
from music21.key import KeySignature
from music21.layout import ScoreLayout, SystemLayout
from music21.meter import TimeSignature
from music21.note import GeneralNote, Note
from music21.spanner import MultiMeasureRest, Slur
from music21.tempo import MetronomeMark

from etudegen.engraving.page import Measure, Page, Sign, Tuplet
from etudegen.notation.marks import LineLabel, PageText, PartialNumber, StageHeading
from etudegen.notation.page import paper_of
from etudegen.study import Paper

_QUARTERS_IN_WHOLE = 4
_PAPERS = {Paper.A4: "a4", Paper.LETTER: "letter"}


def _tuplet(sign: GeneralNote) -> Tuplet | None:
    if not sign.duration.tuplets:
        return None
    tuplet = sign.duration.tuplets[0]
    return Tuplet(
        actual=tuplet.numberNotesActual,
        normal=tuplet.numberNotesNormal,
        starts=tuplet.type in ("start", "startStop"),
        stops=tuplet.type in ("stop", "startStop"),
        bracket=bool(tuplet.bracket),
    )


def _written_value(sign: GeneralNote) -> Fraction:
    quarters = Fraction(sign.quarterLength)
    for tuplet in sign.duration.tuplets:
        quarters *= Fraction(tuplet.numberNotesActual, tuplet.numberNotesNormal)
    return quarters / _QUARTERS_IN_WHOLE


class _Reader:
    """Reads one part, knowing which notes its slurs and counted rests begin and end on."""

    def __init__(self, part: stream.Part) -> None:
        self._part = part
        slurs = list(part.getElementsByClass(Slur))
        self._slur_starts = {id(slur.getFirst()) for slur in slurs}
        self._slur_stops = {id(slur.getLast()) for slur in slurs}
        self._counted = {
            id(rest): counted for counted in part.getElementsByClass(MultiMeasureRest) for rest in counted
        }

    def measures(self) -> tuple[Measure, ...]:
        return tuple(
            read for measure in self._part.getElementsByClass(stream.Measure) for read in self._read(measure)
        )

    def _read(self, measure: stream.Measure) -> list[Measure]:
        signs = list(measure.getElementsByClass(GeneralNote))
        rest_bars = 0
        barline = measure.rightBarline
        if len(signs) == 1 and signs[0].isRest and signs[0].fullMeasure:
            counted = self._counted.get(id(signs[0]))
            if counted is not None and not counted.isFirst(signs[0]):
                return []
            rest_bars = len(counted) if counted is not None else 1
            if counted is not None:
                barline = counted.getLast().getContextByClass(stream.Measure).rightBarline
        texts = {type(text): str(text.content) for text in measure.getElementsByClass(TextExpression)}
        numbers = {number.offset: number.content for number in measure.getElementsByClass(PartialNumber)}
        tempo = next(iter(measure.getElementsByClass(MetronomeMark)), None)
        return [
            Measure(
                signs=() if rest_bars else tuple(self._sign(sign, numbers) for sign in signs),
                rest_bars=rest_bars,
                new_system=any(layout.isNew for layout in measure.getElementsByClass(SystemLayout)),
                label=texts.get(LineLabel, ""),
                heading=texts.get(StageHeading, ""),
                barline="" if barline is None else str(barline.type),
                clef=next((clef.name for clef in measure.getElementsByClass(Clef)), ""),
                sharps=next((key.sharps for key in measure.getElementsByClass(KeySignature)), None),
                metre=next(
                    ((time.numerator, time.denominator) for time in measure.getElementsByClass(TimeSignature)),
                    None,
                ),
                tempo=None if tempo is None else round(tempo.getQuarterBPM()),
            )
        ]

    def _sign(self, sign: GeneralNote, numbers: dict[float, str]) -> Sign:
        if not isinstance(sign, Note):
            return Sign(None, _written_value(sign), _tuplet(sign))
        beam = sign.beams.getTypes()[0] if sign.beams else ""
        fingerings = (mark.fingerNumber for mark in sign.articulations if isinstance(mark, Fingering))
        return Sign(
            pitch=(sign.pitch.step, int(sign.pitch.alter), sign.pitch.implicitOctave),
            value=_written_value(sign),
            tuplet=_tuplet(sign),
            tied=sign.tie is not None and sign.tie.type in ("start", "continue"),
            slur_starts=id(sign) in self._slur_starts,
            slur_stops=id(sign) in self._slur_stops,
            beam={"start": "[", "stop": "]"}.get(beam, ""),
            fingering=str(next(fingerings, "")),
            partial_number=numbers.get(sign.offset, ""),
        )


def read_page(score: stream.Score) -> Page:
    """Return what a one-part score prints."""
    return Page(
        title=score.metadata.title or "",
        texts={str(text.role): text.content for text in score.getElementsByClass(PageText)},
        paper=_PAPERS[paper_of(score.getElementsByClass(ScoreLayout)[0])],
        measures=_Reader(score.parts[0]).measures(),
    )
