"""How a piece is played: where one breathes, what is slurred and marked, and how loud it is on its way."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from etudegen.exercises.composing.forms import PHRASE_BARS
from etudegen.exercises.composing.piece import Note, Piece
from etudegen.exercises.composing.rhythms import beat_of
from etudegen.exercises.keyed import laid_over
from etudegen.study import Hairpin, Text, Tone
from etudegen.theory.articulation import Articulation, Mark
from etudegen.theory.rhythm import Metre, bar_length
from etudegen.theory.styles import Slurs, Staccato, Style

_THIRD, _MOST_IN_A_SLUR = 4, 8
_SHORT, _SECONDS_IN_A_BREATH = Fraction(1), 10


def phrased(
    piece: Piece, tones: Sequence[Tone], style: Style, metre: Metre, tempo: int, spoken: Articulation | None
) -> tuple[Tone, ...]:
    """Return the tones of a piece with breaths, slurs and marks; ``spoken`` is an articulation in place of slurs."""
    breaths = _breaths(piece, metre, tempo)
    if spoken is not None:
        dressed = list(laid_over(spoken, tones))
    else:
        joined = [not breath for breath in breaths[:-1]]
        slurred = [_slurred(one, other, style, metre) for one, other in pairwise(piece.notes)]
        joined = [between and slur for between, slur in zip(joined, slurred, strict=True)]
        if style.slurs == Slurs.PHRASES:
            joined = _no_longer(joined)
        dressed = [replace(tone, slurred=slur) for tone, slur in zip(tones, [*joined, False], strict=True)]
    dressed = [
        replace(tone, breath=True, slurred=False) if breath else tone
        for tone, breath in zip(dressed, breaths, strict=True)
    ]
    return tuple(_marked(piece, dressed, style, metre)) if spoken is None else tuple(dressed)


def _breaths(piece: Piece, metre: Metre, tempo: int) -> list[bool]:
    """Tell after which notes one breathes: where phrases end, and in the middle of those that are long."""
    length = bar_length(metre)
    every = PHRASE_BARS if PHRASE_BARS * length * 60 / tempo <= _SECONDS_IN_A_BREATH else PHRASE_BARS // 2
    return [note.bar != later.bar and later.bar % every == 0 for note, later in pairwise(piece.notes)] + [False]


def _slurred(one: Note, other: Note, style: Style, metre: Metre) -> bool:
    """Tell whether two notes next to each other are slurred."""
    half_steps = abs(one.pitch.number - other.pitch.number)
    if half_steps == 0:
        return False
    if style.slurs == Slurs.BEATS:
        beat = beat_of(metre)
        return one.bar == other.bar and one.at // beat == other.at // beat
    if style.slurs == Slurs.PHRASES:
        return one.bar == other.bar and (half_steps <= _THIRD or one.at > 0)
    return False


def _no_longer(joined: Sequence[bool]) -> list[bool]:
    """Return slurs of not too many notes: a longer one is parted in its middle."""
    kept, run = [], 0
    for slur in joined:
        run = run + 1 if slur else 0
        kept.append(slur and run < _MOST_IN_A_SLUR)
        run = run if kept[-1] else 0
    return kept


def _marked(piece: Piece, tones: Sequence[Tone], style: Style, metre: Metre) -> list[Tone]:
    marked, joined = [], False
    beat = beat_of(metre)
    last_of_phrase = [False] * len(tones)
    for place, (note, later) in enumerate(pairwise(piece.notes)):
        last_of_phrase[place] = note.bar // PHRASE_BARS != later.bar // PHRASE_BARS
    last_of_phrase[-1] = True
    for note, tone, last in zip(piece.notes, tones, last_of_phrase, strict=True):
        marks = tone.marks
        if not (joined or tone.slurred or last) and _is_short(note, style, beat):
            marks = (*marks, Mark.STACCATO)
        if style.accents and note.at == 0 and not joined and note.value >= _SHORT and note.bar % 2 == 0:
            marks = (*marks, Mark.ACCENT)
        marked.append(replace(tone, marks=marks))
        joined = tone.slurred
    return marked


def _is_short(note: Note, style: Style, beat: Fraction) -> bool:
    """Tell whether a note that is by itself is played short."""
    if note.value > min(_SHORT, beat):
        return False
    if style.staccato is Staccato.SHORT:
        return note.at > 0 and note.value == _SHORT
    return style.staccato is Staccato.AFTER and note.at >= beat


def dynamics(piece: Piece, style: Style, metre: Metre) -> tuple[tuple[Text, ...], tuple[Hairpin, ...]]:
    """Return the dynamics of a piece and its hairpins: up to its height, down from it, and home."""
    length = bar_length(metre)
    begin, height, end = style.dynamics
    moments = [note.bar * length + note.at for note in piece.notes]
    top = max(range(len(piece.notes)), key=lambda place: (piece.notes[place].pitch.number, -place))
    whole = len(piece.chords) * length
    phrase_start = (piece.notes[top].bar // PHRASE_BARS) * PHRASE_BARS * length
    texts = [Text(Fraction(0), begin, "dynamic", above=False)]
    hairpins: list[Hairpin] = []
    if begin != height and top > 0:
        at = next((moment for moment in moments if moment >= phrase_start), moments[0])
        if at < moments[top]:
            hairpins.append(Hairpin(at, moments[top], grows=True))
        texts.append(Text(moments[top], height, "dynamic", above=False))
    last_two = whole - 2 * length
    home = next((moment for moment in moments if moment >= last_two), None)
    if end != height and home is not None and home > moments[top]:
        if home < moments[-1]:
            hairpins.append(Hairpin(home, moments[-1], grows=False))
        back = next(
            (moment for moment in moments if moment > moments[top] and moment % (PHRASE_BARS * length) == 0), None
        )
        if back is not None and back < home and begin != height:
            texts.append(Text(back, begin, "dynamic", above=False))
        texts.append(Text(moments[-1], end, "dynamic", above=False))
    return tuple(texts), tuple(hairpins)
