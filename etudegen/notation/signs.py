"""Single signs of a score, made of the values of a study."""

from typing import Any

from music21.base import Music21Object
from music21.duration import Duration
from music21.duration import Tuplet as ScoreTuplet
from music21.dynamics import Dynamic
from music21.expressions import Fermata, RehearsalMark, TextExpression
from music21.key import KeySignature
from music21.tempo import MetronomeMark

from etudegen.study import NoteValue, Text


def placed(mark: Any, placement: str) -> Any:
    """Return a mark that stands above or below the staff."""
    mark.placement = placement
    return mark


def fermata_sign() -> Fermata:
    """Return a fermata that is printed upright."""
    fermata = Fermata()
    fermata.type = "upright"
    return fermata


def tempo_mark(tempo: int) -> MetronomeMark:
    """Return a metronome mark in quarter notes a minute."""
    return MetronomeMark(number=tempo, referent=Duration("quarter"))


def written_duration(value: NoteValue) -> Duration:
    """Return a duration that is written as a file has it."""
    duration = Duration(type=value.name, dots=value.dots)
    if value.tuplet is not None:
        tuplet = ScoreTuplet(value.tuplet.actual, value.tuplet.normal, value.name)
        tuplet.type = {(True, True): "startStop", (True, False): "start", (False, True): "stop"}.get(
            (value.tuplet.starts, value.tuplet.stops)
        )
        tuplet.bracket = value.tuplet.bracket
        duration.appendTuplet(tuplet)
    return duration


def key_signature(sharps: int, mode: str) -> KeySignature:
    """Return a key signature, that of a mode where it is said."""
    return KeySignature(sharps).asKey(mode) if mode else KeySignature(sharps)


def text_mark(text: Text) -> Music21Object:
    """Return words, a rehearsal mark or a dynamic."""
    if text.role == "dynamic":
        return Dynamic(text.text)
    if text.role == "rehearsal":
        return RehearsalMark(text.text)
    return placed(TextExpression(text.text), "above" if text.above else "below")
