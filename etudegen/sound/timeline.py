"""Where each stretch of a page is heard: after the count-in, and for call and response twice over."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.sound.arrangement import Wishes
from etudegen.sound.performance import Performance, SoundingNote
from etudegen.theory.rhythm import bar_length

# What a MIDI file without a tempo is played at (Standard MIDI Files 1.0).
TEMPO_UNSAID = Fraction(120)

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of the page and where it is heard, in quarter notes; an answer is left to the player."""

    written: Fraction
    duration: Fraction
    heard: Fraction
    answer: bool = False

    def part_of(self, start: Fraction, duration: Fraction) -> Span | None:
        """Return where what stands on the page from ``start`` on is heard in here, cut to size, if it is."""
        begin = max(start, self.written)
        end = min(start + duration, self.written + self.duration)
        return (begin - self.written + self.heard, end - begin) if begin < end else None


def beat_length(metre: tuple[int, int]) -> Fraction:
    """Return the length of a beat in quarter notes: three units of 6/8, 9/8 and so on, else one unit."""
    beats, unit = metre
    return Fraction(4, unit) * (3 if unit >= 8 and beats > 3 and beats % 3 == 0 else 1)


def _checked(lines: Sequence[Span], duration: Fraction) -> list[Span]:
    end = Fraction(0)
    for start, length in sorted(lines):
        if start < end or length <= 0 or start + length > duration:
            raise InputError(
                f"line at {start} lasts {length} quarter notes: lines must follow one another within {duration}"
            )
        end = start + length
    return sorted(lines)


def lead_in(performance: Performance, wishes: Wishes) -> Fraction:
    """Return how long the count-in lasts: before a pick-up it goes on until the pick-up's place in its bar."""
    bar = bar_length(performance.metre)
    return wishes.count_in * bar + (-performance.pick_up % bar if wishes.count_in else 0)


def passages(performance: Performance, wishes: Wishes, lines: Sequence[Span]) -> tuple[Passage, ...]:
    """Return the stretches of a performance in the order they are heard in."""
    heard = lead_in(performance, wishes)
    if not wishes.answer:
        return (Passage(Fraction(0), performance.duration, heard),)
    found: list[Passage] = []
    written = Fraction(0)
    for start, length in [*_checked(lines, performance.duration), (performance.duration, Fraction(0))]:
        if start > written:
            found.append(Passage(written, start - written, heard))
            heard += start - written
        if length:
            found += [Passage(start, length, heard), Passage(start, length, heard + length, answer=True)]
            heard += 2 * length
        written = start + length
    return tuple(found)


def tempos_heard(
    performance: Performance, wishes: Wishes, found: Sequence[Passage]
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return the tempos of what is heard, scaled; the count-in has that of the beginning."""
    written = sorted(performance.tempos) or [(Fraction(0), TEMPO_UNSAID)]
    heard: list[tuple[Fraction, Fraction]] = [(Fraction(0), written[0][1] * wishes.tempo_scale)]
    for passage in found:
        before = [tempo for start, tempo in written if start <= passage.written]
        changes = [(passage.written, before[-1])] if before else []
        changes += [(start, tempo) for start, tempo in written if 0 < start - passage.written < passage.duration]
        for start, tempo in changes:
            scaled = tempo * wishes.tempo_scale
            if scaled != heard[-1][1]:
                heard.append((start - passage.written + passage.heard, scaled))
    return tuple(heard)


def notes_heard(notes: Sequence[SoundingNote], found: Sequence[Passage]) -> Iterator[SoundingNote]:
    """Yield the notes where they are heard, those of the answers left out; none sounds into the next passage."""
    for passage in found:
        if not passage.answer:
            for note in notes:
                if 0 <= note.start - passage.written < passage.duration:
                    left = passage.duration - (note.start - passage.written)
                    heard = note.start - passage.written + passage.heard
                    yield replace(note, start=heard, duration=min(note.duration, left))
