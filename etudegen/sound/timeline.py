"""Where each stretch of a page is heard: after the count-in, and for call and response twice over."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.errors import InputError
from etudegen.sound.backing import Backing
from etudegen.sound.performance import Performance, SoundingNote
from etudegen.sound.swinging import tempos_played
from etudegen.theory.rhythm import bar_length

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


def _checked(phrases: Sequence[Span], duration: Fraction) -> list[Span]:
    end = Fraction(0)
    for start, length in sorted(phrases):
        if start < end or length <= 0 or start + length > duration:
            raise InputError(
                f"phrase at {start} lasts {length} quarter notes: phrases must follow one another within {duration}"
            )
        end = start + length
    return sorted(phrases)


def lead_in(performance: Performance, backing: Backing) -> Fraction:
    """Return how long the count-in lasts: before a pick-up it goes on until the pick-up's place in its bar."""
    bar = bar_length(performance.metre)
    return backing.count_in * bar + (-performance.pick_up % bar if backing.count_in else 0)


def passages(performance: Performance, backing: Backing) -> tuple[Passage, ...]:
    """Return the stretches of a performance in the order they are heard in, for call and response each phrase twice."""
    heard = lead_in(performance, backing)
    if not backing.answer:
        return (Passage(Fraction(0), performance.duration, heard),)
    found: list[Passage] = []
    written = Fraction(0)
    for start, length in [*_checked(performance.phrases, performance.duration), (performance.duration, Fraction(0))]:
        if start > written:
            found.append(Passage(written, start - written, heard))
            heard += start - written
        if length:
            found += [Passage(start, length, heard), Passage(start, length, heard + length, answer=True)]
            heard += 2 * length
        written = start + length
    return tuple(found)


def tempos_heard(
    performance: Performance, tempo_scale: Fraction, found: Sequence[Passage]
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Return the tempos of what is heard, so many times as fast as written; the count-in has that of the beginning."""
    written = tempos_played(performance)
    heard: list[tuple[Fraction, Fraction]] = [(Fraction(0), performance.tempo * tempo_scale)]
    for passage in found:
        begins = [tempo for start, tempo in written if start <= passage.written][-1]
        changes = [(passage.written, begins)]
        changes += [(start, tempo) for start, tempo in written if 0 < start - passage.written < passage.duration]
        for start, tempo in changes:
            scaled = tempo * tempo_scale
            if scaled == heard[-1][1]:
                continue
            if start - passage.written + passage.heard == heard[-1][0]:
                heard.pop()
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
