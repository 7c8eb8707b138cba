"""From even time to the time in which music is played: off-beats of swung eighths come late, fermatas take longer."""

from bisect import bisect_left
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction

from etudegen.sound.performance import Performance, SoundingNote
from etudegen.theory.swing import Feel, swung
from etudegen.theory.tempo import FERMATA

_HALF = Fraction(1, 2)


class SwungTime:
    """Moments of even time, in quarter notes, to where they fall when some off-beats come late.

    ``off_beats`` are the middles of the beats that swing; ``ratio_at`` tells the ratio at each of them.
    """

    def __init__(self, off_beats: Iterable[Fraction], ratio_at: Callable[[Fraction], Fraction]) -> None:
        self._off_beats = sorted(off_beats)
        self._ratio_at = ratio_at

    def moment(self, quarters: Fraction) -> Fraction:
        """Return where a moment falls."""
        index = bisect_left(self._off_beats, quarters - _HALF)
        if index == len(self._off_beats) or self._off_beats[index] - _HALF > quarters:
            return quarters
        beat = self._off_beats[index] - _HALF
        return beat + swung(quarters - beat, self._ratio_at(self._off_beats[index]))

    def note(self, note: SoundingNote) -> SoundingNote:
        """Return a note where it falls, with all that happens in it."""
        start = self.moment(note.start)
        return replace(
            note,
            start=start,
            duration=self.moment(note.start + note.duration) - start,
            glide=tuple((self.moment(note.start + after) - start, cents) for after, cents in note.glide),
        )


def notes_played(performance: Performance, feel: Feel, tempo_scale: Fraction = Fraction(1)) -> list[SoundingNote]:
    """Return the notes of a performance as a soloist plays them with a feel, so many times as fast as written."""
    time = SwungTime(
        performance.off_beats, lambda moment: feel.soloist_ratio(performance.tempo_at(moment) * tempo_scale)
    )
    return [time.note(note) for note in performance.notes]


def tempos_played(performance: Performance) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return (quarter notes from the start, quarter notes a minute) of a performance, slower under fermatas."""
    changes = {Fraction(0), *(start for start, _ in performance.tempos)}
    for start, duration in performance.fermatas:
        changes |= {start, start + duration}
    tempos: list[tuple[Fraction, Fraction]] = []
    for moment in sorted(changes):
        held = any(start <= moment < start + duration for start, duration in performance.fermatas)
        tempo = performance.tempo_at(moment) / (FERMATA if held else 1)
        if not tempos or tempo != tempos[-1][1]:
            tempos.append((moment, tempo))
    return tuple(tempos)
