"""Chord changes: a progression through keys, as guide tones, chord tones, scales, and a page to improvise on."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import chain, groupby

from etudegen.errors import InputError
from etudegen.exercises.common import ordinary_tone
from etudegen.exercises.exercise import Exercise
from etudegen.exercises.keyed import CAUTION
from etudegen.exercises.over_chords import BARS, OverChords, measures, slashes, symbols
from etudegen.exercises.scale_lines import ChordInReach, Over, line_over, window
from etudegen.exercises.settings import one_of, setting, several
from etudegen.exercises.traversal import to_and_fro
from etudegen.study import Line, Rest, Skipped, Study, Tone
from etudegen.theory.guide_tones import guide_lines, in_octaves
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.progressions import Stretch
from etudegen.theory.symbols import ChordSymbol, readable

INSTRUCTION = (
    "Hear each chord before you play on it: the third and the seventh say where the harmony goes. The line of scales "
    "leads by step from each chord into the next and ends on one of the two."
)
_USUAL = "| Dm7 | G7 | Cmaj7 | % |"
_OCTAVE = 12
_SEVENTH = 7
_PLACES = ("root", "second", "third", "fourth", "fifth", "sixth", "seventh")


class ChangesPart(StrEnum):
    """What is played over the changes."""

    GUIDE_TONES = "guide-tones"
    CHORD_TONES = "chord-tones"
    SCALES = "scales"
    IMPROVISE = "improvise"


def _parts(text: str) -> tuple[ChangesPart, ...]:
    words = text.replace(",", " ").split()
    for word in words:
        if word not in list(ChangesPart):
            raise InputError(f"unknown part {word!r}: choose any of {', '.join(ChangesPart)}")
    if not words:
        raise InputError(f"no part in {text!r}: choose any of {', '.join(ChangesPart)}")
    return tuple(part for part in ChangesPart if part in words)


_PARTS = several(one_of(ChangesPart, "part"), _parts, f"choose any of {', '.join(ChangesPart)}, each once")


@dataclass(frozen=True, kw_only=True)
class ChangesParameters(OverChords):
    """What a sheet of changes can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "changes"

    progression: str | None = setting(
        None, f"chords between barlines, like '{_USUAL}'", BARS, "CHORDS", _USUAL, positional=True
    )
    parts: tuple[ChangesPart, ...] = setting(
        tuple(ChangesPart), f"any of {','.join(ChangesPart)}", _PARTS, "LIST", ",".join(ChangesPart)
    )

    @property
    def text(self) -> str:
        """The progression as it was typed, or the usual one."""
        typed = super().text
        return _USUAL if typed is None else typed

    @property
    def lines_in_a_key(self) -> int:
        """How many lines there are in each key: guide tones have two."""
        return len(self.parts) + (ChangesPart.GUIDE_TONES in self.parts)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the range, the keys, and how it is played."""
        yield self.span
        yield self.keys_text(lines)
        yield f"{self.running}, {self.spoken.name}"


@dataclass(frozen=True, slots=True)
class _Reach:
    """The key numbers that can be played."""

    low: int
    high: int

    def octaves(self, note: WrittenPitch) -> list[WrittenPitch]:
        return in_octaves(note, self.low, self.high)

    def holds(self, notes: Iterable[WrittenPitch]) -> bool:
        return all(self.low <= note.number <= self.high for note in notes)


def _nearest(notes: Iterable[WrittenPitch], near: WrittenPitch) -> WrittenPitch:
    return min(notes, key=lambda note: (abs(note.number - near.number), note.number))


def _arpeggio(chord: ChordSymbol, near: WrittenPitch, count: int, reach: _Reach) -> list[WrittenPitch]:
    """Return so many chord tones from a root near a note, none where the range does not hold the whole chord.

    They rise, and turn back where the chord or the range ends. A chord with a ninth or more goes up to its highest
    note; one within an octave goes on through the octaves. Where no root has the chord above it, the notes of the
    chord in range serve, downwards from the root if there is more room.
    """
    degrees = chord.quality.degrees
    stacks = [[degree.above(root) for degree in degrees] for root in reach.octaves(chord.root)]
    whole = [[readable(note) for note in stack] for stack in stacks if reach.holds(stack)]
    close = [degree for degree in degrees if degree.number <= _SEVENTH]
    if whole and len(close) < len(degrees):
        root = _nearest([stack[0] for stack in whole], near)
        return to_and_fro(next(stack for stack in whole if stack[0] == root), 0, 1, count)
    # The first of two degrees that sound alike gives its name.
    members = {note.number: note for degree in reversed(close) for note in reach.octaves(chord.degree_pitch(degree))}
    rungs = [members[number] for number in sorted(members)]
    if len({number % _OCTAVE for number in members}) < len({degree.half_steps % _OCTAVE for degree in close}):
        return []
    starts = [stack[0] for stack in whole] or reach.octaves(chord.root)
    start = rungs.index(_nearest(starts, near))
    up = bool(whole) or start < len(rungs) - 1 - start
    return to_and_fro(rungs, start, 1 if up else -1, count) if len(rungs) > 1 else []


def _scale_line(
    parameters: ChangesParameters, sounding: Sequence[Stretch], chords: Sequence[ChordSymbol], near: WrittenPitch
) -> list[Over]:
    """Return a line of scales over chords, each entered by step; see :mod:`etudegen.exercises.scale_lines`."""
    low, high = window(near, parameters.lowest_fingered, parameters.high.number)
    return line_over(
        [
            ChordInReach(
                chord,
                parameters.scale_over(chord).members(
                    WrittenPitch.from_number(low), WrittenPitch.from_number(high), rising=True
                ),
                each.duration,
                _value(each.duration, parameters),
            )
            for each, chord in zip(sounding, chords, strict=True)
        ],
        near,
    )


def _value(beats: Fraction, parameters: ChangesParameters) -> Fraction:
    """Return the value that runs over a chord: quarters where no whole number of half notes fills it."""
    note = parameters.running.note
    return note if beats % note == 0 else Fraction(1)


Voice = Sequence[Over]


def _voices(parameters: ChangesParameters, part: ChangesPart, sounding: Sequence[Stretch]) -> dict[str, Voice]:
    """Return the lines of a part by their headings: for each chord its notes, none where they do not fit the range."""
    chords = [each.chord for each in sounding if each.chord is not None]
    reach = _Reach(parameters.lowest_fingered, parameters.high.number)
    guides = guide_lines(chords, reach.low, reach.high)
    if guides is None:
        return {part.replace("-", " "): [Over(())]}
    if part is ChangesPart.GUIDE_TONES:
        lines = (guides.from_third, guides.from_seventh)
        places = (_PLACES[(degree.number - 1) % 7] for degree in chords[0].quality.guide)
        return {
            f"Guide tones from the {place}": [Over([note]) for note in line]
            for place, line in zip(places, lines, strict=True)
        }
    counts = [int(each.duration / _value(each.duration, parameters)) for each in sounding]
    along = list(zip(chords, guides.from_third, counts, strict=True))
    if part is ChangesPart.CHORD_TONES:
        return {"Chord tones": [Over(_arpeggio(chord, near, count, reach)) for chord, near, count in along]}
    return {"Scales": _scale_line(parameters, sounding, chords, guides.from_third[0]) or [Over(())]}


def _played(
    parameters: ChangesParameters, stretches: Sequence[Stretch], voice: Voice, *, spoken: bool
) -> tuple[Tone | Rest, ...]:
    """Return the events of a line: the notes of each chord share its time, and rests stand where there is no chord."""
    events: list[Tone | Rest] = []
    notes = iter(voice)
    for silent, group in groupby(stretches, key=lambda each: each.chord is None):
        together = list(group)
        if silent:
            events.append(Rest(sum((each.duration for each in together), Fraction(0))))
            continue
        tones = [
            ordinary_tone(note, lasts)
            for each in together
            for over in [next(notes)]
            for note, lasts in zip(over.notes, over.durations(each.duration), strict=True)
        ]
        run = parameters.spoken_run(tones) if spoken else parameters.dressed(tones)
        events += parameters.with_breaths(run, begins=together[0].start % parameters.bar)
    return parameters.with_rest(tuple(events))


def _lines(
    parameters: ChangesParameters, stretches: Sequence[Stretch]
) -> Iterator[tuple[str, tuple[Tone | Rest, ...]]]:
    """Yield heading and events of each line in a key, no events where the line does not fit into the range."""
    sounding = [each for each in stretches if each.chord is not None]
    for part in parameters.parts:
        if part is ChangesPart.IMPROVISE:
            improvised = [slashes(each.duration) if each.chord else (Rest(each.duration),) for each in stretches]
            yield "Improvise", tuple(chain.from_iterable(improvised))
            continue
        for heading, voice in _voices(parameters, part, sounding).items():
            # Guide tones are long notes: an articulation is for what runs.
            spoken = part is not ChangesPart.GUIDE_TONES
            fits = all(over.notes for over in voice)
            yield heading, _played(parameters, stretches, voice, spoken=spoken) if fits else ()


def study(parameters: ChangesParameters) -> Study:
    """Make a study of a progression: in each key a line of each part, every bar full."""
    progression = parameters.given
    parameters.checked_length(len(progression.bars) * parameters.lines_in_a_key)
    lines: list[Line] = []
    skipped: list[Skipped] = []
    for key, moved in parameters.in_keys_of(progression):
        stretches = tuple(moved.stretches)
        made = dict(_lines(parameters, stretches))
        unfit = [heading for heading, events in made.items() if not events]
        if unfit:
            skipped.append(Skipped(parameters.label(key), f"{unfit[0].lower()} do not fit {parameters.span}"))
            continue
        label = parameters.label(key)
        for heading, events in made.items():
            lines.append(Line(label, events, heading, key.sharps, symbols(stretches), measures(moved)))
            label = ""
    return parameters.study(
        title="Chord changes",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


EXERCISE = Exercise(parameters=ChangesParameters, study=study, page_name="changes", practice=None)
