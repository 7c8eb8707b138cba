"""Lip slurs: moving between the partials of one tube with the air and the lips alone."""

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise, takewhile
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.common import BAR, HEALTH, Common
from etudegen.exercises.contours import NAMED, Contour, is_contour, parse_contour
from etudegen.exercises.exercise import Choice, Exercise, Occasion, Practice
from etudegen.exercises.ramp import STAGES, Stage, tempo_of
from etudegen.exercises.settings import Values, flag, one_of, setting, several, whole_number
from etudegen.exercises.span import span_of
from etudegen.instrument.fingerings import ordinary
from etudegen.instrument.partials import Resonance, is_near, series
from etudegen.instrument.valves import COMBINATIONS, POSITIONS, Valves, parse_positions, parse_valves
from etudegen.study import Line, Measure, Skipped, Study, Tone
from etudegen.theory.rhythm import Rhythm, running_then_held

_LEAST_HOLD = Fraction(2)
# A named contour runs for at least this many beats, so that a line is worth a breath.
_LEAST_RUN = 8
_MOST_REPEATS = 12
_LEAST_PARTIALS = _FEWEST_SLURRED = 2
_EASY_TO_DEMANDING = "from easy to demanding"
_RAMP = "ramp"
# In which rhythms sessions have slurs, the usual one first.
_DAILY_RHYTHMS = (Rhythm.QUARTERS, Rhythm.EIGHTHS, Rhythm.TRIPLETS, Rhythm.SIXTEENTHS, Rhythm.HALVES)
# Shapes that leave partials out.
_LEAPING = ("skips", "anchor", "leaps")
_SMALLEST_LEAP, _LARGEST_LEAP = 1, 48
# Common practice, no source: how far a named shape leaps, in half steps, where nothing else is asked for: slow notes as
# far as there are partials, eighths a twelfth, faster ones an octave.
_USUAL_LEAPS = {Rhythm.EIGHTHS: 19, Rhythm.TRIPLETS: 12, Rhythm.SIXTEENTHS: 12}
# Shapes of two notes, which are counted in twos.
_IN_TWOS = ("neighbours", "falls", "skips", "anchor", "leaps")
# The longest slur on one breath, in seconds.
_SHORTEST_BREATH, _USUAL_BREATH, _LONGEST_BREATH = 4, 10, 30
# Who knows no more than the easiest has the usual fingering of each note only.
_FIRST_STEPS = 1
# About so long a position is played there, repeats and rests included.
_SECONDS_OF_A_POSITION = 120
_RAMP_CHOOSES = "a ramp chooses contour and rhythm by itself: leave out ramp, or contour and rhythm"

INSTRUCTION = (
    "One line is one valve position: keep the valves still and let the air and the lips move the note. "
    "Tongue only the first note of each slur."
)
CAUTION = f"Rest as long as the rests say. {HEALTH}"


_CONTOURS = Values(
    Contour,
    parse_contour,
    f"choose one of {', '.join(NAMED)}, or give partial numbers like '2 3 4 3 2'",
    is_contour,
    lambda contour: contour.name,
)
_POSITIONS = several(
    Values(Valves, parse_valves, "give a valve combination", COMBINATIONS.__contains__),
    parse_positions,
    f"give valve combinations among {' '.join(map(str, COMBINATIONS))}, each once",
)


class PositionOrder(StrEnum):
    """The order in which the positions follow one another."""

    DOWN = "down"
    UP = "up"
    SHUFFLED = "shuffled"


@dataclass(frozen=True, kw_only=True)
class SlurParameters(Common):
    """What a slur sheet can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "slurs"

    contour: Contour = setting(
        NAMED["sweep"],
        f"shape of each line: {', '.join(NAMED)}, or partial numbers like '2 3 4 3 2'",
        _CONTOURS,
        "SHAPE",
        "sweep",
    )
    rhythm: Rhythm = setting(
        Rhythm.QUARTERS,
        f"rhythm of the moving notes: {', '.join(Rhythm)}",
        one_of(Rhythm, "rhythm"),
        "RHYTHM",
    )
    positions: tuple[Valves, ...] = setting(
        POSITIONS, "valve positions to use", _POSITIONS, "LIST", " ".join(map(str, POSITIONS))
    )
    direction: PositionOrder = setting(
        PositionOrder.DOWN,
        "order of the positions by half steps: down, up or shuffled",
        one_of(PositionOrder, "direction"),
        "ORDER",
    )
    repeats: int | None = setting(
        None,
        "times each line goes through its shape",
        whole_number("repeats", 1, _MOST_REPEATS),
        "TIMES",
        "as often as fills two bars; once for your own partials",
    )
    far_partials: bool = flag("use partials 7, 11, 13 and 14 too, which lie far from equal temperament")
    leap: int | None = setting(
        None,
        "largest leap within a slur, in half steps",
        whole_number("leap", _SMALLEST_LEAP, _LARGEST_LEAP),
        "HALF-STEPS",
        "any; in eighths a twelfth, in faster notes an octave; any for your own partials",
    )
    breath: int = setting(
        _USUAL_BREATH,
        "longest slur of a named shape on one breath, in seconds; a longer one is parted at a bar line",
        whole_number("breath", _SHORTEST_BREATH, _LONGEST_BREATH),
        "SECONDS",
    )
    ramp: bool = flag("stages from easy to demanding, in place of one contour and rhythm")
    stages: int | None = setting(
        None, "how many stages of a ramp", whole_number("stages", 1, len(STAGES)), "NUMBER", "all of a ramp"
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.stages is not None and not self.ramp:
            raise InputError(f"stages {self.stages} is not allowed: only a ramp has stages, so ask for one")
        if self.ramp and (self.contour != NAMED["sweep"] or self.rhythm != Rhythm.QUARTERS):
            raise InputError(_RAMP_CHOOSES)

    @classmethod
    def values_of(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Return values as all exercises do; beside a ramp even the usual contour and rhythm are refused."""
        values = super().values_of(plain)
        if values.get("ramp") and not {"contour", "rhythm"}.isdisjoint(values):
            raise InputError(_RAMP_CHOOSES)
        return values

    @property
    def rhythms(self) -> tuple[Rhythm, ...]:
        """The rhythms that move on the sheet, which its tempo has to allow."""
        return tuple(stage.rhythm for stage in STAGES[: self.stages]) if self.ramp else (self.rhythm,)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the span, the positions, and the shape."""
        positions = list(dict.fromkeys(line.label for line in lines))
        yield span_of(lines, self.low, self.high)
        yield f"{'position' if len(positions) == 1 else 'positions'} {' '.join(positions)}"
        own = "partials " if self.contour.own else ""
        yield _EASY_TO_DEMANDING if self.ramp else f"{own}{self.contour.name} in {self.rhythm}"

    @property
    def ordered(self) -> tuple[Valves, ...]:
        """The positions in the order asked for, half step by half step."""
        falling = sorted(self.positions, key=lambda valves: (valves.half_steps, -len(valves.digits)))
        if self.direction is PositionOrder.UP:
            falling.reverse()
        elif self.direction is PositionOrder.SHUFFLED:
            random.Random(self.seed).shuffle(falling)  # noqa: S311 - an order of practice, not a secret
        return tuple(falling)


def _usable(parameters: SlurParameters, valves: Valves) -> list[Resonance]:
    # Partial numbers that the player typed were asked for, however far from temperament they lie.
    asked = parameters.contour.own
    return [
        resonance
        for resonance in series(valves)[1:]
        if parameters.holds(resonance.written)
        and (is_near(resonance.partial) or parameters.far_partials or resonance.partial in asked)
    ]


def _why_not(parameters: SlurParameters, stage: Stage, valves: Valves) -> str:
    usable = [resonance.partial for resonance in _usable(parameters, valves)]
    for partial in stage.contour.own:
        if partial not in usable:
            note = Resonance(valves, partial).written
            return f"partial {partial} is {note}, outside {parameters.low} to {parameters.high}"
    if len(usable) < _LEAST_PARTIALS:
        return f"fewer than two usable partials between {parameters.low} and {parameters.high}"
    leap = _leap(parameters, stage)
    if leap is not None and _tones(replace(parameters, leap=_LARGEST_LEAP), stage, valves):
        return f"no part of the shape {stage.contour.name} keeps to leaps of {leap} half steps"
    return f"the shape {stage.contour.name} finds no partials for it between {parameters.low} and {parameters.high}"


def _leap(parameters: SlurParameters, stage: Stage) -> int | None:
    """Return the largest leap of a stage in half steps, None for any."""
    if parameters.leap is not None or stage.contour.own:
        return parameters.leap
    return _USUAL_LEAPS.get(stage.rhythm)


def _within_leap(parameters: SlurParameters, stage: Stage, heights: Mapping[int, int]) -> list[int]:
    """Return as many neighbouring partials as there can be, low ones first, without a leap that is too large.

    ``heights`` are the key numbers of the partials at hand.
    """
    partials, most = list(heights), _leap(parameters, stage)
    for count in range(len(partials), _LEAST_PARTIALS - 1, -1):
        for first in range(len(partials) - count + 1):
            some = partials[first : first + count]
            # Gone through twice, so that the way back to the first note counts too.
            groups = stage.contour.groups(some, 2)
            leaps = [abs(heights[one] - heights[other]) for group in groups for one, other in pairwise(group)]
            if most is None or (leaps and max(leaps) <= most):
                return some
    return []


def _tones(parameters: SlurParameters, stage: Stage, valves: Valves) -> tuple[Tone, ...]:
    usable = {resonance.partial: resonance for resonance in _usable(parameters, valves)}
    partials = list(usable)
    if stage.lowest_partials:
        partials = partials[: stage.lowest_partials]
    partials = _within_leap(parameters, stage, {partial: usable[partial].written.number for partial in partials})
    if len(partials) < _LEAST_PARTIALS:
        return ()
    once = sum(map(len, stage.contour.groups(partials, 1))) - 1
    if once < 1:
        return ()
    fills = math.ceil(_LEAST_RUN * stage.rhythm.per_beat / (once * max(Fraction(1), stage.rhythm.note)))
    groups = stage.contour.groups(partials, parameters.repeats or (1 if stage.contour.own else fills))
    durations = iter(running_then_held(sum(map(len, groups)), stage.rhythm, BAR, _LEAST_HOLD))
    tones = (
        Tone(usable[partial].written, next(durations), valves, partial, slurred=place + 1 < len(group))
        for group in groups
        for place, partial in enumerate(group)
    )
    dressed = parameters.dressed(tones)
    # What a player typed is slurred as it was typed.
    return parameters.with_breaths(dressed if stage.contour.own else _parted(parameters, dressed), in_slurs=False)


def _parted(parameters: SlurParameters, tones: Sequence[Tone]) -> list[Tone]:
    """Return the tones of a line with slurs that last longer than a breath parted at bar lines, about evenly."""
    most = parameters.bars_within(parameters.breath) * BAR
    parted: list[Tone] = []
    played = Fraction(0)
    slur: list[tuple[Fraction, Tone]] = []
    for tone in tones:
        played += tone.duration
        slur.append((played, tone))
        if tone.slurred:
            continue
        begins = slur[0][0] - slur[0][1].duration
        parts = math.ceil((played - begins) / most)
        ends = {(begins + (played - begins) * part / parts) // BAR * BAR for part in range(1, parts)}
        since = 0
        for place, (end, each) in enumerate(slur):
            since += 1
            # What is tongued anew is a slur again.
            if end in ends and since >= _FEWEST_SLURRED and len(slur) - place - 1 >= _FEWEST_SLURRED:
                each, since = replace(each, breath=True, slurred=False), 0
            parted.append(each)
        slur = []
    return parted


def study(parameters: SlurParameters) -> Study:
    """Make a study of lip slurs: one line a position (and stage), each on one tube and within the range.

    Positions with fewer than two usable partials are left out and told in ``skipped``; raises
    :class:`InputError` when none is left.
    """
    stages = STAGES[: parameters.stages] if parameters.ramp else (Stage("", parameters.contour, parameters.rhythm),)
    lines: list[Line] = []
    skipped: list[Skipped] = []
    for place, stage in enumerate(stages):
        heading = stage.heading or None
        tempo = tempo_of(place, len(stages), parameters.tempo)
        opening = () if tempo == parameters.tempo else (Measure(parameters.bar, tempo=tempo),)
        at_tempo = replace(parameters, tempo=tempo)
        for valves in parameters.ordered:
            tones = _tones(at_tempo, stage, valves)
            if not tones:
                what = f"position {valves}" + (f", {stage.heading}" if stage.heading else "")
                skipped.append(Skipped(what, _why_not(parameters, stage, valves)))
                continue
            lines.append(Line(str(valves), parameters.with_rest(tones), heading, measures=opening))
            heading = None
    return parameters.study(
        title="Lip slurs",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
    )


def _choices(occasion: Occasion) -> Iterator[Choice]:
    """Yield the ramp, where it is asked for, or the named contours in the rhythms that are known.

    All positions are used, so that a short block has fewer stages and not fewer positions; from day to day they go down
    or up.
    """
    positions = occasion.asked.get("positions") or _positions(occasion)
    way = {"direction": occasion.choices_of("direction", (PositionOrder.DOWN, PositionOrder.UP))[0]}
    if occasion.asked.get("ramp"):
        yield Choice({**_stages(occasion), **way}, _RAMP, "positions", positions, together=True)
        return
    breath = {"breath": occasion.bounds.breath} if "breath" not in occasion.asked else {}
    known = [rhythm for rhythm in _DAILY_RHYTHMS if rhythm in occasion.bounds.rhythms] or _DAILY_RHYTHMS[:1]
    for rhythm in [occasion.asked["rhythm"]] if "rhythm" in occasion.asked else known:
        leap = {"leap": occasion.bounds.leap(rhythm)} if "leap" not in occasion.asked else {}
        in_threes = rhythm is Rhythm.TRIPLETS
        shapes = tuple(each for each in NAMED.values() if not (in_threes and each.name in _IN_TWOS))
        for contour in occasion.choices_of("contour", shapes):
            settings = {"contour": contour, "rhythm": rhythm, **leap, **breath, **way}
            yield Choice(settings, contour.name, "positions", positions, together=True)


def _positions(occasion: Occasion) -> Sequence[Valves]:
    """Return the positions of a day: all, but in the first months those that serve notes as they are fingered else.

    Where these are too few for the time there are others as well.
    """
    if occasion.bounds.difficulty > _FIRST_STEPS:
        return POSITIONS
    player = SlurParameters(**occasion.player)
    usual = [
        valves
        for valves in POSITIONS
        if sum(ordinary(each.written) == each for each in _usable(player, valves)) >= _LEAST_PARTIALS
    ]
    others = [valves for valves in POSITIONS if valves not in usual and len(_usable(player, valves)) >= _LEAST_PARTIALS]
    more = int(occasion.seconds // _SECONDS_OF_A_POSITION) - len(usual)
    return [*usual, *others[: max(0, more)]] or POSITIONS


def _stages(occasion: Occasion) -> dict[str, Any]:
    """Return how many stages of a ramp there is time for, of those that the player can have, and the largest leap."""
    if "stages" in occasion.asked:
        return {}
    known = [*takewhile(lambda stage: stage.rhythm in occasion.bounds.rhythms, STAGES)] or [STAGES[0]]
    leaps = [occasion.bounds.leap(stage.rhythm) for stage in known if stage.contour.name in _LEAPING]
    leap = min((each for each in leaps if each is not None), default=None)
    settings: dict[str, Any] = {} if "leap" in occasion.asked else {"leap": leap}
    if "breath" not in occasion.asked:
        settings["breath"] = occasion.bounds.breath
    stages = 1
    for count, stage in enumerate(known, start=1):
        made = study(SlurParameters(**{**occasion.player, **occasion.asked, **settings, "stages": count}))
        is_there = stage.heading in {line.heading for line in made.lines}
        if count > 1 and (made.whole_seconds > occasion.seconds or not is_there):
            break
        stages = count
    return {**settings, "stages": stages}


def _easier(parameters: SlurParameters) -> SlurParameters:
    """Return a ramp with a stage less, or neighbouring partials in place of another shape."""
    if parameters.ramp:
        return replace(parameters, stages=max(1, (parameters.stages or len(STAGES)) - 1))
    return replace(parameters, contour=NAMED["neighbours"])


def _told(choice: str, units: Sequence[str]) -> str:
    shape = _EASY_TO_DEMANDING if choice == _RAMP else choice
    return f"{shape} in position{'s' if len(units) > 1 else ''} {' '.join(units)}"


EXERCISE = Exercise(
    parameters=SlurParameters,
    study=study,
    page_name="lip slurs",
    practice=Practice(choices=_choices, told=_told, easier=_easier),
)
