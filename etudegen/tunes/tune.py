"""A player's own tune: lines of a study at written pitch, with the key that they are in.

Moving it to another key costs nothing and needs no notation library.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from etudegen.study import Line, Measure, Tone
from etudegen.theory.keys import has_signature
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Metre
from etudegen.theory.swing import EVEN, Feel
from etudegen.theory.symbols import ChordSymbol

_Renaming = Callable[[WrittenPitch], WrittenPitch]


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune: ``tonic`` (its octave does not matter) and ``minor`` tell its key, ``tempo`` what it begins at, if said.

    ``lost`` is what of its file could not be kept; ``is_ours`` for a sheet of ours, whose lines have names.
    """

    title: str
    tonic: WrittenPitch
    minor: bool
    lines: tuple[Line, ...]
    metre: Metre = (4, 4)
    tempo: int | None = None
    feel: Feel = EVEN
    lost: tuple[str, ...] = ()
    is_ours: bool = False

    @property
    def tones(self) -> Iterator[Tone]:
        """Every tone."""
        return (tone for line in self.lines for tone in line.tones)

    def numbered(self) -> Iterator[tuple[str, Tone]]:
        """Yield every tone with the number of its measure, as the file has it."""
        for line in self.lines:
            ends, at = list[tuple[Fraction, str]](), Fraction(0)
            for place, measure in enumerate(line.all_measures(self.metre), start=1):
                at += measure.length
                ends.append((at, measure.number or str(place)))
            for moment, event in line.timed():
                if isinstance(event, Tone):
                    yield next((number for end, number in ends if moment < end), ends[-1][1]), event

    @property
    def has_signatures(self) -> bool:
        """Tell whether every key signature in it exists."""
        return all(
            has_signature(sharps)
            for line in self.lines
            for sharps in (line.sharps, *(measure.sharps for measure in line.measures))
            if sharps is not None
        )

    @property
    def doubles(self) -> int:
        """How many of its notes and chord symbols need a double accidental."""
        chords = (chord for line in self.lines for _, chord in line.chords if chord is not None)
        names = (pitch for chord in chords for pitch in (chord.root, chord.bass) if pitch is not None)
        pitches = (*(tone.pitch for tone in self.tones), *names)
        return sum(abs(pitch.alter) > 1 for pitch in pitches)

    def moved(self, staff_steps: int, half_steps: int) -> "Tune":
        """Return the tune so much higher (or lower), every name changed by the same interval.

        Names may then need more accidentals than there are, and signatures more than seven; see :meth:`simplified`.
        """
        # So many fifths lead from a key to the one that lies that interval above it.
        fifths = 7 * half_steps - 12 * staff_steps

        def pitch(given: WrittenPitch) -> WrittenPitch:
            return given.above(staff_steps, half_steps)

        return replace(
            self,
            tonic=pitch(self.tonic),
            lines=tuple(_changed(line, pitch, lambda sharps: sharps + fifths) for line in self.lines),
        )

    def simplified(self) -> "Tune":
        """Return the tune with what still needs a double accidental, or a signature that is none, renamed."""
        if not self.doubles and self.has_signatures:
            return self

        def pitch(given: WrittenPitch) -> WrittenPitch:
            return WrittenPitch.from_number(given.number) if abs(given.alter) > 1 else given

        def sharps(given: int) -> int:
            return given if has_signature(given) else given - 12 if given > 0 else given + 12

        return replace(self, lines=tuple(_changed(line, pitch, sharps) for line in self.lines))

    def at_tempo(self, tempo: int) -> "Tune":
        """Return the tune at a tempo, in quarter notes a minute: where it changes it, in the same proportion."""
        ratio = Fraction(tempo, self.tempo) if self.tempo else Fraction(1)

        def measure(given: Measure) -> Measure:
            return replace(given, tempo=round(given.tempo * ratio)) if given.tempo else given

        lines = tuple(replace(line, measures=tuple(map(measure, line.measures))) for line in self.lines)
        return replace(self, tempo=tempo, lines=lines)


def _changed(line: Line, pitch: _Renaming, sharps: Callable[[int], int]) -> Line:
    """Return a line with every pitch and every key signature renamed."""
    return replace(
        line,
        sharps=sharps(line.sharps),
        events=tuple(
            replace(event, pitch=pitch(event.pitch)) if isinstance(event, Tone) else event for event in line.events
        ),
        measures=tuple(
            measure if measure.sharps is None else replace(measure, sharps=sharps(measure.sharps))
            for measure in line.measures
        ),
        chords=tuple((at, None if chord is None else _renamed(chord, pitch)) for at, chord in line.chords),
    )


def _renamed(chord: ChordSymbol, pitch: _Renaming) -> ChordSymbol:
    return replace(chord, root=pitch(chord.root), bass=None if chord.bass is None else pitch(chord.bass))
