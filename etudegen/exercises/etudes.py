"""Etudes: melodies made for one player, in a form one can hear, from a character, a key and a difficulty."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from random import Random

from etudegen.errors import InputError
from etudegen.exercises.common import (
    HEALTH,
    Common,
    Fingerings,
    Rests,
    fingerings_setting,
    ordinary_tone,
    tempo_setting,
)
from etudegen.exercises.composing.forms import PHRASE_BARS
from etudegen.exercises.composing.harmony import DOMINANT, Harmony
from etudegen.exercises.composing.ladder import Ladder, key_of, ladder, stretches
from etudegen.exercises.composing.notes import Taste
from etudegen.exercises.composing.phrasing import dynamics, phrased
from etudegen.exercises.composing.piece import Piece, Wish, compose
from etudegen.exercises.composing.rhythms import beat_of
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.keyed import KEYS, NAMES, daily_keys, told_in_keys
from etudegen.exercises.settings import any_text, flag, one_of, setting, whole_number
from etudegen.exercises.span import span_of
from etudegen.study import Line, Skipped, Study
from etudegen.theory.articulation import Articulation, articulation, articulation_names
from etudegen.theory.chords import qualities
from etudegen.theory.keys import KeyOrder, all_tonics, in_order, tonic
from etudegen.theory.patterns import pattern
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Metre, Rhythm, bar_length
from etudegen.theory.scales import ConcreteScale, scale
from etudegen.theory.styles import METRES, Difficulty, Slurs, Style, difficulties, styles
from etudegen.theory.symbols import ChordSymbol

FEWEST_BARS, MOST_BARS = 8, 64
_HARDEST = len(difficulties())
_LEAST_WIDEST, _MOST_WIDEST = 4, 24
_FEWEST_NOTES = 4
_COMMON_TIME = (4, 4)
_MOST_PIECES, _USUAL_PIECES, _BARS_OF_A_PIECE = 12, 6, 8
# With a look before it and a rest after it.
_SECONDS_OF_A_PIECE = 60
_CAUTION = f"Rest when the phrase is over and the lips ask for it. {HEALTH}"
_QUALITIES = {
    "major": ("", "m", "m", "", "7", "m", "m7b5"),
    "minor": ("m", "m7b5", "", "m", "7", "", ""),
}
# The most sharps or flats of what is read at sight, by its difficulty.
_SIGNATURES = (1, 2, 3, 5, 6)


class Mode(StrEnum):
    """Major or minor."""

    MAJOR = "major"
    MINOR = "minor"


class Shortest(StrEnum):
    """The shortest notes that a melody moves in."""

    QUARTERS = "quarters"
    EIGHTHS = "eighths"
    SIXTEENTHS = "sixteenths"


class About(StrEnum):
    """What an etude is about: what it has more of than other melodies."""

    MELODY = "melody"
    SCALE = "scale"
    ARPEGGIO = "arpeggio"
    SLURS = "slurs"


_TASTES = {
    About.MELODY: (1.0, 1.0, 1.0, 1.0),
    About.SCALE: (2.2, 0.6, 0.4, 1.0),
    About.ARPEGGIO: (0.35, 2.5, 1.8, 1.0),
    # Moves between partials of one tube, which the lips make.
    About.SLURS: (0.7, 1.3, 1.6, 6.0),
}


@dataclass(frozen=True, kw_only=True)
class EtudeParameters(Common):
    """What an etude can be asked for. Checked when made: raises :class:`~etudegen.errors.InputError`.

    ``rhythm`` (the shortest value), ``widest`` and ``metre`` follow from the difficulty and the style where they are
    left out. Each key has a piece of its own.
    """

    kind = "etudes"

    tempo: int = tempo_setting(80)
    fingerings: Fingerings = fingerings_setting(Fingerings.NONE)
    rests: Rests = setting(
        Rests.HALF,
        "rest after each piece, against its playing time: none, half or equal",
        one_of(Rests, "rest"),
        "REST",
    )
    keys: tuple[WrittenPitch, ...] = setting((tonic("C"),), "keys by their written tonic, or all", KEYS, "LIST", "C")
    order: KeyOrder | None = setting(
        None,
        f"order of the keys: {', '.join(KeyOrder)}",
        one_of(KeyOrder, "order"),
        "ORDER",
        "fourths; keys of your own as you list them",
    )
    mode: Mode = setting(Mode.MAJOR, "major or minor", one_of(Mode, "mode"), "MODE")
    style: str = setting("lyrical", f"one of {', '.join(styles())}", NAMES, "NAME")
    metre: str = setting("", f"one of {', '.join(METRES)}", any_text("give a metre", 10), "METRE", "the style's")
    bars: int = setting(
        16, f"bars of each piece, a multiple of {PHRASE_BARS}", whole_number("bars", FEWEST_BARS, MOST_BARS), "BARS"
    )
    difficulty: int = setting(3, f"how hard it is, 1 to {_HARDEST}", whole_number("difficulty", 1, _HARDEST), "NUMBER")
    rhythm: Shortest | None = setting(
        None,
        f"the shortest notes: {', '.join(Shortest)}",
        one_of(Shortest, "rhythm"),
        "RHYTHM",
        "as the difficulty has them",
    )
    widest: int | None = setting(
        None,
        "widest interval in half steps",
        whole_number("widest", _LEAST_WIDEST, _MOST_WIDEST),
        "NUMBER",
        "as the difficulty has it",
    )
    articulation: str = setting("", f"one of {', '.join(articulation_names())}", NAMES, "NAME", "the style's")
    subject: About = setting(About.MELODY, f"what it is about: {', '.join(About)}", one_of(About, "subject"), "WHAT")
    cell: str = setting(
        "", "cell of degrees that it begins with, such as '1 2 3 5', or a pattern's name", NAMES, "CELL", "none"
    )
    chords: bool = flag("print the chords that are behind it")
    sight_reading: bool = flag("a page of short pieces to be read at sight, harder by small steps")
    pieces: int = setting(
        _USUAL_PIECES, "pieces of a page to be read at sight", whole_number("pieces", 1, _MOST_PIECES), "NUMBER"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.style not in styles():
            raise InputError(f"unknown style {self.style!r}: choose one of {', '.join(styles())}")
        if self.bars % PHRASE_BARS:
            raise InputError(f"bars {self.bars} is not allowed: give a multiple of {PHRASE_BARS}")
        if self.metre and self.metre not in METRES:
            raise InputError(f"metre {self.metre!r} is not allowed: choose one of {', '.join(METRES)}")
        if self.metre and METRES[self.metre] not in self.level.metres:
            known = ", ".join(name for name, metre in METRES.items() if metre in self.level.metres)
            raise InputError(f"metre {self.metre} is too hard for difficulty {self.difficulty}: choose one of {known}")
        if self.articulation:
            articulation(self.articulation)
        spoken = self.spoken
        if spoken is not None and spoken.swing and (self.rhythm is Shortest.SIXTEENTHS or self.time != _COMMON_TIME):
            raise InputError(f"style {self.style} swings eighths in 4/4: leave out sixteenths and other metres")
        if self.cell:
            self.steps_of_cell  # noqa: B018 - read, so that what is wrong is told now

    @property
    def manner(self) -> Style:
        """The style."""
        return styles()[self.style]

    @property
    def level(self) -> Difficulty:
        """What its difficulty is made of."""
        return difficulties()[self.difficulty - 1]

    @property
    def time(self) -> Metre:
        """The metre: the one asked for, else the style's first that the difficulty has."""
        if self.metre:
            return METRES[self.metre]
        return next((each for each in self.manner.metres if each in self.level.metres), _COMMON_TIME)

    @property
    def bar(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return bar_length(self.time)

    @property
    def running(self) -> Rhythm:
        """The shortest notes there may be; six eighths need eighths, and what swings has no shorter ones."""
        wanted = Rhythm(self.rhythm or self.level.rhythm)
        spoken = self.spoken
        if wanted is Rhythm.SIXTEENTHS and spoken is not None and spoken.swing:
            return Rhythm.EIGHTHS
        if self.time[1] == 8 and wanted is Rhythm.QUARTERS:
            return Rhythm.EIGHTHS
        return wanted

    @property
    def rhythms(self) -> tuple[Rhythm, ...]:
        """The rhythms that move on the sheet, which its tempo has to allow."""
        return (self.running,)

    @property
    def spoken(self) -> Articulation | None:
        """The articulation that is laid over it, None where slurs follow its phrases."""
        name = self.articulation or self.manner.slurs
        return None if name in (*Slurs,) else articulation(name)

    @property
    def steps_of_cell(self) -> tuple[int, ...]:
        """The cell as steps of the scale, from 0 for the tonic."""
        return tuple(degree.number - 1 for degree in pattern(self.cell)) if self.cell else ()

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span, the keys, and how long and how hard it is."""
        yield span_of(lines, self.low, self.high)
        if len(lines) == 1:
            yield f"{lines[0].label} {self.mode}" if self.mode is Mode.MINOR else f"{lines[0].label} major"
        yield f"{_BARS_OF_A_PIECE if self.sight_reading else self.bars} bars"
        if self.subject is not About.MELODY:
            yield f"about {str(self.subject).removesuffix('s')}s"

    def wish(self, bars: int, harder: float = 1.0) -> Wish:
        """Return what a piece of so many bars is to be like, with so many more notes than usual."""
        style, level = self.manner, self.level
        steps, thirds, wide, same_valves = _TASTES[self.subject]
        beats = float(beat_of(self.time))
        return Wish(
            bars=bars,
            metre=self.time,
            shortest=self.running.note,
            # Notes a beat are counted in quarters.
            density=max(0.6, level.density * style.density * harder * beats),
            taste=Taste(
                steps=style.steps * steps,
                thirds=style.thirds * thirds,
                wide=style.wide * wide,
                largest=self.widest or level.widest,
                same_valves=same_valves,
            ),
            chords=self.subject is About.ARPEGGIO,
            cell=self.steps_of_cell,
        )

    def ladder(self, key: ConcreteScale, chance: Random) -> Ladder | None:
        """Return the notes of a piece in a key: a stretch of the range as wide as its difficulty has; None without any.

        A hard one goes up to the top of the range, an easy one lies where it is comfortable.
        """
        whole = ladder(key, self.mode, self.low, self.high)
        if not whole.notes:
            return None
        found = []
        for first, last in stretches(whole.notes, self.level.range):
            part = replace(whole, notes=whole.notes[first : last + 1])
            # There must be somewhere to end.
            if 0 in part.steps[:-1] and len(part.notes) >= _FEWEST_NOTES:
                found.append(part)
        if not found:
            return None
        if self.difficulty >= _HARDEST - 1:
            return found[-1]
        middle = (len(found) - 1) / 2
        return chance.choices(found, [1 / (1 + abs(place - middle)) for place in range(len(found))])[0]


def study(parameters: EtudeParameters) -> Study:
    """Make a study of etudes: one line a key, each a piece of its own; or a page of short ones to be read at sight.

    Raises :class:`~etudegen.errors.InputError` where the range is too small for any of them.
    """
    lines, skipped = [], []
    for number, (key, bars, harder) in enumerate(_asked(parameters)):
        seed = parameters.seed * 1000 + number * 12 + key.tonic.number % 12
        chance = Random(seed)  # noqa: S311 - music, no secret
        made = parameters.ladder(key, chance)
        piece = compose(made, parameters.wish(bars, harder), seed) if made is not None else None
        if piece is None:
            skipped.append(Skipped(key.name, f"{parameters.span} has too few notes of {key.name} {parameters.mode}"))
            continue
        label = f"{number + 1} · {key.name}" if parameters.sight_reading else key.name
        lines.append(_line(parameters, piece, key, label))
    style = parameters.manner
    made_study = parameters.study(
        title="Sight reading" if parameters.sight_reading else style.title,
        instruction=_READING if parameters.sight_reading else style.about,
        caution=_CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken is not None and parameters.spoken.swing,
    )
    return replace(made_study, metre=parameters.time)


_READING = (
    "Look it through for half a minute: key, metre, the hardest bar. Then play without stopping, whatever happens."
)


def _asked(parameters: EtudeParameters) -> Iterator[tuple[ConcreteScale, int, float]]:
    """Yield the pieces that are asked for: the key of each, its bars, and how much harder than usual it is."""
    if not parameters.sight_reading:
        tonics = parameters.keys or all_tonics()
        if parameters.order or not parameters.keys:
            tonics = in_order(tonics, parameters.order or KeyOrder.FOURTHS, parameters.seed)
        for each in tonics:
            yield key_of(each, parameters.mode), parameters.bars, 1.0
        return
    chance = Random(parameters.seed)  # noqa: S311 - music, no secret
    most = _SIGNATURES[parameters.difficulty - 1]
    keys = [key_of(each, parameters.mode) for each in all_tonics()]
    easy = sorted((key for key in keys if abs(key.sharps) <= most), key=lambda key: abs(key.sharps))
    had: list[ConcreteScale] = []
    for number in range(parameters.pieces):
        way = number / max(1, parameters.pieces - 1)
        # Keys with more accidentals come later.
        upto = easy[: max(2, round((0.4 + 0.6 * way) * len(easy)))]
        # Each is new as long as there are new ones.
        key = chance.choice([each for each in upto if each not in had] or upto)
        had.append(key)
        yield key, _BARS_OF_A_PIECE, 0.8 + 0.4 * way


def _line(parameters: EtudeParameters, piece: Piece, key: ConcreteScale, label: str) -> Line:
    bar = parameters.bar
    tones = parameters.dressed([ordinary_tone(note.pitch, note.value) for note in piece.notes])
    played = phrased(piece, tones, parameters.manner, parameters.time, parameters.tempo, parameters.spoken)
    texts, hairpins = dynamics(piece, parameters.manner, parameters.time)
    chords = tuple(
        (number * bar + chord.at, _symbol(piece, key, chord))
        for number, chords in enumerate(piece.chords if parameters.chords else ())
        for chord in chords
    )
    return Line(
        label,
        parameters.with_rest(played),
        sharps=key.sharps,
        mode=piece.ladder.mode,
        chords=chords,
        texts=texts,
        hairpins=hairpins,
    )


def _symbol(piece: Piece, key: ConcreteScale, chord: Harmony) -> ChordSymbol:
    """Return the symbol of a chord of the key."""
    root = key.scale.up[chord.root - 1].above(key.tonic)
    quality = _QUALITIES[piece.ladder.mode][chord.root - 1]
    assert chord.root != DOMINANT or quality == "7"
    return ChordSymbol(root, next(each for each in qualities() if each.symbol == quality))


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield an etude in each style, new every day, as long as there is time for."""
    bounds = occasion.bounds
    difficulty = max(1, min(_HARDEST, (bounds.difficulty + 1) // 2))
    if occasion.asked.get("sight_reading"):
        style = occasion.choices_of("style", tuple(styles()))[0]
        settings = {"style": style, "difficulty": difficulty, "seed": occasion.seed, **occasion.asked}
        pieces = max(2, min(_MOST_PIECES, int(occasion.seconds / _SECONDS_OF_A_PIECE)))
        # Once, and not again: then it would not be at sight.
        yield Choice({"pieces": pieces, **settings}, "sight-reading", whole=True)
        return
    for name in occasion.choices_of("style", tuple(styles())):
        for bars in (32, 16, FEWEST_BARS):
            settings = {"style": name, "bars": bars, "difficulty": difficulty, "seed": occasion.seed, **occasion.asked}
            made = EtudeParameters(**{**occasion.player, **settings})
            if made.bars * made.bar * 60 / made.tempo <= occasion.seconds or bars == FEWEST_BARS:
                break
        yield Choice({**settings}, name, "keys", daily_keys(scale("major"), occasion))


EXERCISE = Exercise(
    parameters=EtudeParameters,
    study=study,
    page_name="etudes",
    practice=Practice(choices=_choices, told=told_in_keys),
    over_drone=False,
)
