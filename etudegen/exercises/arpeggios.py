"""Arpeggios: a chord through the keys, or one key through its own chords."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import CAUTION, NAMES, Keyed, daily_keys, own_file_setting, told_in_keys
from etudegen.exercises.settings import flag, one_of, setting, whole_number
from etudegen.exercises.traversal import Extent, complete, path, within_an_octave
from etudegen.study import Line, Skipped, Study
from etudegen.theory.chords import Quality, chord, chord_names, practised_chords
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.scales import ConcreteScale, scale

INSTRUCTION = "Place every note in the middle of its sound, and let no leap be louder than the note before it."
_MOST_INVERSIONS = 4


class ArpeggioShape(StrEnum):
    """How the notes of a chord follow one another."""

    STRAIGHT = "straight"
    BROKEN = "broken"


@dataclass(frozen=True, kw_only=True)
class ArpeggioParameters(Keyed):
    """What an arpeggio sheet can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "arpeggios"

    chord: str = setting("major", f"one of {', '.join(chord_names())}, or your own", NAMES, "NAME")
    chords: Path | None = own_file_setting("chords")
    inversion: int = setting(
        0,
        "0 for root position, 1 to start on the third, and so on",
        whole_number("inversion", 0, _MOST_INVERSIONS),
        "N",
    )
    shape: ArpeggioShape = setting(
        ArpeggioShape.STRAIGHT,
        "straight up and down, or broken (every other note)",
        one_of(ArpeggioShape, "shape"),
        "SHAPE",
    )
    extent: Extent = setting(
        Extent.FULL, "octaves: one, two, or full for the whole range", one_of(Extent, "extent"), "EXTENT"
    )
    own_chords: bool = flag("the chords on the degrees of each major key, as many notes as the chord asked for")

    def __post_init__(self) -> None:
        super().__post_init__()
        notes = len(self.quality.degrees)
        if self.inversion >= notes:
            raise InputError(
                f"inversion {self.inversion} is not allowed: {self.chord} has {notes} notes, so 0 to {notes - 1}"
            )

    @property
    def quality(self) -> Quality:
        """The chord asked for."""
        return chord(self.chord, self.chords)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the range, the keys, and how it is played."""
        yield self.span
        if self.own_chords:
            yield "in " + ", ".join(line.heading for line in lines if line.heading)
        else:
            yield self.keys_text(lines)
        yield f"{self.shape}, {self.running}, {self.spoken.name}"


def _runs(notes: list[WrittenPitch]) -> Iterator[list[WrittenPitch]]:
    """Yield the rising and falling stretches of a path; the note of a turn belongs to both."""
    run = notes[:1]
    for note in notes[1:]:
        if len(run) > 1 and (note.number > run[-1].number) != (run[-1].number > run[-2].number):
            yield run
            run = run[-1:]
        run.append(note)
    yield run


def _broken(notes: list[WrittenPitch]) -> list[WrittenPitch]:
    """Return a path by leaps to the note after next and back to the one skipped, each stretch to its end."""
    broken: list[WrittenPitch] = []
    for run in _runs(notes):
        leaps = [note for one, other in zip(run, run[2:], strict=False) for note in (one, other)] or run
        broken += leaps[1:] if broken and broken[-1].number == leaps[0].number else leaps
    return broken


def _notes(parameters: ArpeggioParameters, key: ConcreteScale, quality: Quality) -> list[WrittenPitch]:
    lowest = quality.degrees[parameters.inversion].half_steps % 12

    def starts(note: WrittenPitch) -> bool:
        return (note.number - key.tonic.number - lowest) % 12 == 0

    notes = complete(path(key, parameters.low, parameters.high, parameters.extent, starts), key)
    return _broken(notes) if notes and parameters.shape is ArpeggioShape.BROKEN else notes


def _degree_chords(
    parameters: ArpeggioParameters, tonic: WrittenPitch
) -> Iterator[tuple[WrittenPitch, Quality | None]]:
    """Yield the root and quality of the chord on each degree of a major key; None where no quality is known for it."""
    major = scale("major")
    size = len(parameters.quality.degrees)
    ladder = [degree.half_steps + 12 * octave for octave in range(3) for degree in major.up]
    known = {
        tuple(degree.half_steps for degree in quality.degrees): quality
        for quality in (chord(name, parameters.chords) for name in chord_names(parameters.chords))
    }
    for place, degree in enumerate(major.up):
        heights = tuple(ladder[place + 2 * third] - ladder[place] for third in range(size))
        yield degree.above(tonic), known.get(heights)


def _roots(parameters: ArpeggioParameters) -> Iterator[tuple[ConcreteScale, Quality | None, str, int]]:
    """Yield for each line its key, its chord, the heading of a new block and the key signature."""
    for tonic in parameters.tonics:
        if not parameters.own_chords:
            key = parameters.key(tonic, parameters.quality.as_scale())
            yield key, parameters.quality, "", key.sharps
            continue
        home = parameters.key(tonic, scale("major"))
        heading = f"{home.name} major"
        for root, quality in _degree_chords(parameters, home.tonic):
            yield ConcreteScale(root, (quality or parameters.quality).as_scale()), quality, heading, home.sharps
            heading = ""


def study(parameters: ArpeggioParameters) -> Study:
    """Make a study of arpeggios: one line a chord, starting and ending on the lowest note of its inversion."""
    lines: list[Line] = []
    skipped: list[Skipped] = []
    waiting = ""
    for key, quality, heading, sharps in _roots(parameters):
        waiting = heading or waiting
        if quality is None:
            size = len(parameters.quality.degrees)
            skipped.append(Skipped(f"chord on {key.name}", f"no chord of {size} notes is known for that degree"))
            continue
        label = f"{key.name}{quality.pretty_symbol}"
        notes = _notes(parameters, key, quality)
        if notes:
            tones = parameters.with_rest(parameters.run(notes))
            lines.append(Line(label, tones, waiting or None, sharps))
            waiting = ""
        else:
            skipped.append(Skipped(label, f"extent {parameters.extent} does not fit {parameters.span}"))
    place = f", inversion {parameters.inversion}" if parameters.inversion else ""
    kind = "chords of the key" if parameters.own_chords else parameters.chord.replace("-", " ")
    return parameters.study(
        title=f"Arpeggios: {kind}{place}",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the chords that are for daily practice."""
    own = occasion.asked.get("chords")
    for name in occasion.choices_of("chord", practised_chords(own), lambda each: chord(each, own).difficulty):
        settings = {"chord": name, **occasion.extent}
        yield Choice(settings, name, "keys", daily_keys(chord(name, own).as_scale(), occasion), in_rhythms=True)


EXERCISE = Exercise(
    parameters=ArpeggioParameters,
    study=study,
    page_name="arpeggios",
    practice=Practice(choices=_choices, told=told_in_keys, easier=within_an_octave),
    over_drone=True,
)
