"""Pitches as music21 holds them, and which of their accidentals are printed."""

from collections.abc import Iterable

from music21.note import Note, Rest
from music21.pitch import Accidental
from music21.pitch import Pitch as ScorePitch

from etudegen.theory.keys import altered_steps
from etudegen.theory.pitch import Pitch

_SIGNS = {-2: "double-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def score_pitch(pitch: Pitch) -> ScorePitch:
    """Return a pitch as music21 holds it, keeping the spelling (music21's own text form has ``-`` for a flat)."""
    if pitch.alter == 0:
        return ScorePitch(step=pitch.step, octave=pitch.octave)
    return ScorePitch(step=pitch.step, accidental=Accidental(_SIGNS[pitch.alter]), octave=pitch.octave)


def show_accidentals(
    signs: Iterable[Note | Rest], sharps: int, before: dict[tuple[str, int], int]
) -> dict[tuple[str, int], int]:
    """Say of each note in a bar whether its accidental is printed; return what then stands on each place of the staff.

    It is where the note is not what the key signature (``sharps``, negative for flats) and the bar so far make of its
    place, and as a reminder where the bar ``before`` left another note there; never on a note that is tied over.
    """
    signature = altered_steps(sharps)
    standing: dict[tuple[str, int], int] = {}
    for sign in signs:
        if sign.isRest or sign.notehead == "slash":
            continue
        pitch = sign.pitch
        place = (pitch.step, pitch.octave)
        expected = standing.get(place, signature.get(pitch.step, 0))
        tied_over = sign.tie is not None and sign.tie.type != "start"
        reminds = place not in standing and before.get(place, pitch.alter) != pitch.alter
        shown = not tied_over and (expected != pitch.alter or reminds)
        if shown and pitch.accidental is None:
            pitch.accidental = Accidental("natural")
        if pitch.accidental is not None:
            pitch.accidental.displayStatus = shown
        if not tied_over:
            standing[place] = int(pitch.alter)
    return standing
