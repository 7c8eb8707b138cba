"""What every study keeps to, whatever its kind, and what was asked for.

The figures are reckoned here once more, from the rules and not with the functions under test.
"""

import functools
import math
import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.study import Line, Rest, Study, Tone
from tests.kinds.reading import passages, repeat_signs
from tests.kinds.strategies import Asked

# Common practice, no source: valve 1 lowers by a whole step, 2 by a half step, 3 by three half steps.
LOWERS = {"0": 0, "1": 2, "2": 1, "3": 3}
COMBINATIONS = {"0", "1", "2", "3", "12", "13", "23", "123"}
# Written C3 is the fundamental of the open tube, and C4 has the key number 60 (MIDI 1.0: middle C).
OPEN_FUNDAMENTAL = 48
LOWEST_ORDINARY = 54
LOWEST_FUNDAMENTAL = 42
# How long to rest, against the playing time.
# Their rules know when to rest: inside a line too, where there is no chord, and not after beats of the player's own.
OVER_CHORDS = ("changes", "vocabulary")
REST_SHARE = {"none": Fraction(0), "half": Fraction(1, 2), "equal": Fraction(1)}


@functools.cache
def lowered(valves: str) -> int:
    """Return by how many half steps valves lower the open tube."""
    return sum(LOWERS[digit] for digit in valves)


@functools.cache
def served(valves: str, partial: int) -> int:
    """Return the key number of the written note nearest to a partial of the tube."""
    return OPEN_FUNDAMENTAL - lowered(valves) + round(12 * math.log2(partial))


def numbers(line: Line) -> list[int]:
    """Return the key numbers of a line's tones, slashes left out."""
    return [tone.pitch.number for tone in line.tones if not tone.slash]


def starts(line: Line) -> Iterator[tuple[Fraction, Tone | Rest]]:
    """Yield each event with its start in the line, in quarter notes."""
    at = Fraction(0)
    for event in line.events:
        yield at, event
        at += event.duration


def made(asked: Asked) -> tuple[Common, Study] | None:
    """Return what was asked for and its study, or None where it is refused; any other exception is passed on."""
    try:
        parameters = asked.parameters()
        return parameters, asked.kind.study(parameters)
    except InputError as refusal:
        if not str(refusal).strip():
            raise AssertionError("a refusal says why") from refusal
        return None


def check(asked: Asked) -> Study | None:
    """Return the study of what was asked, checked, or None where it is refused; raise AssertionError if it is wrong."""
    found = made(asked)
    again = made(asked)
    assert again == found, "the same texts gave another study"
    if found is None:
        return None
    examine(asked.kind.name, *found)
    return found[1]


def examine(kind: str, parameters: Common, study: Study) -> None:
    """Raise AssertionError where a study breaks a rule that all kinds share."""
    _check_texts(study)
    _check_times(study)
    for line in study.lines:
        _check_line(kind, line, study.bar)
        _check_range(parameters, line)
        _check_fingerings(parameters, line)
        for tone in line.tones:
            _check_tone(kind, parameters, tone)
    _check_rests(kind, parameters, study)


def _check_texts(study: Study) -> None:
    assert re.fullmatch(r"[A-Za-z0-9]+(-+[A-Za-z0-9]+)*", study.name), f"the name {study.name!r} is not plain"
    assert len(study.name) <= 100
    for text in (study.title, study.subtitle, study.instruction, study.caution):
        assert text
    assert study.lines
    for skipped in study.skipped:
        assert skipped.what.strip()
        assert skipped.why.strip()
    for line in study.lines:
        assert line.heading is None or line.heading.strip()
        assert -7 <= line.sharps <= 7


def _check_times(study: Study) -> None:
    all_played, all_rested = Fraction(0), Fraction(0)
    for line in study.lines:
        played, rested = Fraction(0), Fraction(0)
        stretches = passages(line)
        # Of what is in stages each has a tempo.
        tempo = (line.measures[0].tempo if line.measures else None) or study.tempo
        for at, event in starts(line):
            if isinstance(event, Tone):
                played += event.duration * times_through(line, at)
            else:
                # A rest may lead out of a repeat.
                ends = at + event.duration
                rested += sum(max(Fraction(0), min(last, ends) - max(first, at)) for first, last in stretches)
        all_played += played * 60 / tempo
        all_rested += rested * 60 / tempo
    assert study.playing_seconds == all_played
    assert study.resting_seconds == all_rested
    assert study.bars * study.bar == sum((line.duration for line in study.lines), Fraction(0))


def times_through(line: Line, at: Fraction) -> int:
    """Return how often a moment of a line is played: twice between repeat signs."""
    begins = Fraction(0)
    for sign_at, sign in repeat_signs(line):
        if sign == "end" and begins <= at < sign_at:
            return 2
        begins = sign_at
    return 1


def _check_line(kind: str, line: Line, bar: Fraction) -> None:
    assert all(event.duration > 0 for event in line.events)
    whole = sum((event.duration for event in line.events), Fraction(0))
    assert whole > 0
    assert whole % bar == 0, f"{whole} quarter notes are not whole bars"
    assert isinstance(line.events[0], Tone) or kind in OVER_CHORDS
    assert any(line.tones)
    for at, _ in (*line.chords, *repeat_signs(line)):
        assert 0 <= at <= whole
    assert not list(line.tones)[-1].slurred, "the last tone of a line is slurred"
    for event, following in pairwise(line.events):
        if isinstance(event, Tone) and event.slurred:
            assert isinstance(following, Tone), "a slur leads into a rest"
            assert event.pitch.number != following.pitch.number, f"{event.pitch} is repeated under a slur"


def _check_range(parameters: Common, line: Line) -> None:
    lowest = getattr(parameters, "lowest", None)
    floor = parameters.low.number if lowest is None else lowest.number
    ceiling = (getattr(parameters, "reach", None) or parameters.high).number
    found = numbers(line)
    if not found:
        return
    assert floor <= min(found), f"{min(found)} is below {floor}"
    assert max(found) <= ceiling, f"{max(found)} is above {ceiling}"
    if lowest is not None:
        assert found[0] >= parameters.low.number


def _check_fingerings(parameters: Common, line: Line) -> None:
    before = None
    for tone in line.tones:
        if tone.slash:
            assert not tone.fingering
            assert not tone.partial_number
            continue
        changes = tone.valves != before
        before = tone.valves
        assert tone.fingering in (None, str(tone.valves)), f"{tone.valves} is printed as {tone.fingering}"
        if parameters.fingerings == "every" or (parameters.fingerings == "changes" and changes):
            assert tone.fingering is not None
        if parameters.fingerings == "none":
            assert tone.fingering is None
        wanted = str(tone.partial) if parameters.partial_numbers and tone.partial is not None else None
        assert tone.partial_number == wanted


def _check_tone(kind: str, parameters: Common, tone: Tone) -> None:
    number = tone.pitch.number
    assert str(tone.valves) in COMBINATIONS
    if tone.partial is None:
        assert kind == "pedals", "only in the pedal register are there notes without a partial"
        assert number < LOWEST_ORDINARY
        assert not LOWEST_FUNDAMENTAL <= number <= OPEN_FUNDAMENTAL
    else:
        assert served(str(tone.valves), tone.partial) == number + tone.bent, (
            f"partial {tone.partial} of {tone.valves} does not serve {tone.pitch}"
        )
    assert tone.bent == 0 or kind == "bends"
    assert not tone.slash or kind in OVER_CHORDS
    assert not tone.octave_bracket or kind == "pedals"
    typed = getattr(parameters, "start", None)
    # A note to start on may be printed as the player typed it.
    assert abs(tone.pitch.alter) <= 1 or tone.pitch == typed, f"{tone.pitch} is hard to read"


def _check_rests(kind: str, parameters: Common, study: Study) -> None:
    """Rest as long as was asked, and no longer than to the next barline after it."""
    if kind == "contact" or kind in OVER_CHORDS:
        return
    share = REST_SHARE[str(parameters.rests)]
    for line in study.lines:
        for played, rested in breaths(line) if kind == "long-tones" else [_sums(line.events)]:
            assert played * share <= rested < played * share + study.bar, f"{rested} of rest after {played}"


def _sums(events: tuple[Tone | Rest, ...]) -> tuple[Fraction, Fraction]:
    played = sum((event.duration for event in events if isinstance(event, Tone)), Fraction(0))
    return played, sum((event.duration for event in events), Fraction(0)) - played


def breaths(line: Line) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield the length of each tone and that of the rests after it."""
    played, rested = Fraction(0), Fraction(0)
    for event in line.events:
        if isinstance(event, Rest):
            rested += event.duration
            continue
        if played:
            yield played, rested
        played, rested = event.duration, Fraction(0)
    yield played, rested
