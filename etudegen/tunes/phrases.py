"""A phrase taken out of a tune, as it would be typed: degrees over its first chord, with note values."""

from fractions import Fraction

from etudegen.errors import InputError
from etudegen.study import Tone
from etudegen.theory.chords import quality_of_kind
from etudegen.theory.degrees import Degree
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.tune import Tune

_BENDS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
# In quarter notes, as they are typed.
_VALUES = {
    Fraction(3): "2.", Fraction(2): "2", Fraction(3, 2): "4.", Fraction(1): "4", Fraction(3, 4): "8.",
    Fraction(1, 2): "8", Fraction(1, 3): "8t", Fraction(1, 4): "16",
}  # fmt: skip


def _typed(root: WrittenPitch, pitch: WrittenPitch) -> str:
    steps = pitch.staff_number - root.staff_number
    bend = pitch.number - root.number - Degree(steps + 1, 0).half_steps
    if bend not in _BENDS:
        raise InputError(f"the phrase has {pitch.pretty}, which is no degree over {root.name}: write it otherwise")
    return f"{_BENDS[bend]}{steps + 1}"


def _durations(tune: Tune) -> list[tuple[WrittenPitch | None, Fraction]]:
    """Return the notes and rests of a tune, tied notes as one, grace notes left out, without rests at its ends."""
    found: list[tuple[WrittenPitch | None, Fraction]] = []
    tied = False
    for event in (event for line in tune.lines for event in line.events):
        if isinstance(event, Tone) and event.grace:
            continue
        pitch = event.pitch if isinstance(event, Tone) else None
        if tied and pitch is not None:
            found[-1] = (pitch, found[-1][1] + event.duration)
        else:
            found.append((pitch, event.duration))
        tied = isinstance(event, Tone) and event.tied
    while found and found[-1][0] is None:
        found.pop()
    return found


def phrase_of(tune: Tune) -> tuple[str, str]:
    """Return a tune as the text of a phrase, and what follows the root of the chord that it begins over.

    Degrees count from the root of its first chord symbol, in the octave below its first note; without one from the
    tonic of its key, over a major or minor triad. Raises :class:`InputError` for what a phrase cannot have.
    """
    first = next((chord for line in tune.lines for _, chord in line.chords if chord is not None), None)
    notes = _durations(tune)
    sounding = [pitch for pitch, _ in notes if pitch is not None]
    root = first.root if first is not None else tune.tonic
    octave = next(
        each for each in range(9, -3, -1) if WrittenPitch(root.step, root.alter, each).number <= sounding[0].number
    )
    root = WrittenPitch(root.step, root.alter, octave)
    words = []
    for pitch, duration in notes:
        if duration not in _VALUES:
            raise InputError(
                f"the phrase has a {'note' if pitch else 'rest'} of {duration} quarter notes: allowed are values from "
                "sixteenths to dotted halves, and triplets of eighths"
            )
        words.append(f"{_typed(root, pitch) if pitch else 'r'}/{_VALUES[duration]}")
    if first is None:
        return " ".join(words), "m" if tune.minor else ""
    known = quality_of_kind(first.quality.kind, first.quality.altered)
    if known is not None:
        return " ".join(words), known.symbol
    raise InputError(f"the phrase begins over {first.text!r}: such a chord is not known, say which with --over")
