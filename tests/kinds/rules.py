"""The rules of each kind of exercise, as functions that raise AssertionError where a study breaks one.

Everything is reckoned in key numbers from definitions of its own: half steps above a tonic from the published tables
in ``tests/reference``, valves from the chart's rule. A study that keeps them is what its specification says.
"""

import math
import re
import tomllib
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

from etudegen.exercises.kinds import KINDS
from etudegen.exercises.settings import settings_of
from etudegen.files.templates import templates
from etudegen.study import Line, Rest, Study, Tone
from tests.kinds.validity import (
    LOWEST_FUNDAMENTAL,
    LOWEST_ORDINARY,
    OPEN_FUNDAMENTAL,
    lowered,
    numbers,
    served,
    starts,
)
from tests.reference.tables import rows

Rule = Callable[[Any, Study], None]
RULES: dict[str, list[Rule]] = {kind.name: [] for kind in KINDS}

POSITIONS = ("0", "2", "1", "12", "23", "13", "123")
# The partials of the fingering charts, and their octave: tests/reference/fingering_chart.csv names the source.
CHART_PARTIALS = (2, 3, 4, 5, 6, 8, 10, 12, 16)
MIDDLE_G = 67
NOTE_VALUES = {
    "halves": Fraction(2), "quarters": Fraction(1), "eighths": Fraction(1, 2), "triplets": Fraction(1, 3),
    "sixteenths": Fraction(1, 4),
}  # fmt: skip
HELD = Fraction(2)


def rule(*kinds: str) -> Callable[[Rule], Rule]:
    """Add a rule to kinds of exercise."""

    def add(each: Rule) -> Rule:
        for kind in kinds:
            RULES[kind].append(each)
        return each

    return add


def ordinary(number: int) -> tuple[str, int]:
    """Return valves and partial of the fingering charts for a key number: the tube that is lowered least."""
    fitting = [
        (valves, partial) for valves in POSITIONS for partial in CHART_PARTIALS if served(valves, partial) == number
    ]
    return min(fitting, key=lambda each: lowered(each[0]))


# Definitions -------------------------------------------------------------------------------------------------------

_PUBLISHED = {row["scale"]: tuple(map(int, row["half_steps"].split())) for row in rows("scales")}
_MINOR_UP = _PUBLISHED.pop("melodic-minor (ascending)")
# Half steps above the tonic on the way up and on the way down. The minors' two forms: common practice, no source.
SCALES: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {
    **{name: (steps, steps) for name, steps in _PUBLISHED.items()},
    "melodic-minor": (_MINOR_UP, _PUBLISHED["natural-minor"]),
    "melodic-minor-both-ways": (_MINOR_UP, _MINOR_UP),
    "aeolian": (_PUBLISHED["natural-minor"], _PUBLISHED["natural-minor"]),
    "chromatic": (tuple(range(12)), tuple(range(12))),
}
# Those of tests/kinds/own/scales.toml.
OWN_SCALES: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {
    "two-notes": ((0, 7), (0, 7)),
    "one-note": ((0,), (0,)),
    "nine-notes": ((0, 1, 2, 3, 5, 6, 7, 9, 10), (0, 2, 4, 7)),
    "double-flats": ((0, 1, 2, 5, 7, 8, 9), (0, 1, 2, 5, 7, 8, 9)),
    "up-by-sharps": ((0, 2, 5, 7, 10), (0, 2, 5, 7, 10)),
    "gamme à moi / nº 1": (_PUBLISHED["major"], _PUBLISHED["major"]),
    "#": ((0, 5), (0, 5)),
}
# Scales whose notes are those of their key signature. Common practice, no source.
IN_THEIR_SIGNATURE = (
    "major", "natural-minor", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian",
    "major-pentatonic", "minor-pentatonic",
)  # fmt: skip
_LETTER_ORDER = "CDEFGAB"
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def _chord_tones(symbol: str) -> tuple[int, ...]:
    (tones,) = [row["tones"] for row in rows("chords") if row["symbol"] == symbol]
    return tuple((_LETTERS[name[0]] + name.count("#") - name.count("b")) % 12 for name in tones.split())


# Half steps above the root within an octave, lowest degree first, with the symbol that is printed.
CHORDS: dict[str, tuple[str, tuple[int, ...]]] = {
    # Triads, minor-major sevenths and ninths by thirds: common practice, no source.
    "major": ("", (0, 4, 7)),
    "minor": ("m", (0, 3, 7)),
    "diminished": ("dim", (0, 3, 6)),
    "augmented": ("aug", (0, 4, 8)),
    "minor-major-seventh": ("m(maj7)", (0, 3, 7, 11)),
    "major-ninth": ("maj9", (0, 4, 7, 11, 2)),
    "minor-ninth": ("m9", (0, 3, 7, 10, 2)),
    # tests/reference/chords.csv names the sources.
    "major-seventh": ("maj7", _chord_tones("maj7")),
    "dominant-seventh": ("7", _chord_tones("7")),
    "minor-seventh": ("m7", _chord_tones("m7")),
    "half-diminished-seventh": ("m7b5", _chord_tones("m7b5")),
    "diminished-seventh": ("dim7", _chord_tones("dim7")),
    "dominant-ninth": ("9", _chord_tones("9")),
    "sixth": ("6", _chord_tones("6")),
    "minor-sixth": ("m6", _chord_tones("m6")),
    "suspended-fourth": ("sus4", _chord_tones("sus4")),
    "dominant-seventh-suspended-fourth": ("7sus4", _chord_tones("7sus4")),
    "dominant-seventh-flat-ninth": ("7b9", _chord_tones("7b9")),
    "dominant-seventh-sharp-ninth": ("7#9", _chord_tones("7#9")),
    "dominant-seventh-sharp-eleventh": ("7#11", _chord_tones("7#11")),
    # The others of lead sheets, a thirteenth without its eleventh: common practice, no source.
    "suspended-second": ("sus2", (0, 2, 7)),
    "added-ninth": ("add9", (0, 4, 7, 2)),
    "minor-added-ninth": ("m(add9)", (0, 3, 7, 2)),
    "sixth-ninth": ("6/9", (0, 4, 7, 9, 2)),
    "minor-sixth-ninth": ("m6/9", (0, 3, 7, 9, 2)),
    "major-seventh-sharp-eleventh": ("maj7#11", (0, 4, 7, 11, 6)),
    "major-thirteenth": ("maj13", (0, 4, 7, 11, 2, 9)),
    "minor-eleventh": ("m11", (0, 3, 7, 10, 2, 5)),
    "dominant-thirteenth": ("13", (0, 4, 7, 10, 2, 9)),
    "dominant-ninth-suspended-fourth": ("9sus4", (0, 5, 7, 10, 2)),
    "dominant-seventh-flat-fifth": ("7b5", (0, 4, 6, 10)),
    "dominant-seventh-sharp-fifth": ("7#5", (0, 4, 8, 10)),
    "dominant-ninth-sharp-eleventh": ("9#11", (0, 4, 7, 10, 2, 6)),
    "dominant-seventh-flat-thirteenth": ("7b13", (0, 4, 7, 10, 8)),
    "dominant-thirteenth-flat-ninth": ("13b9", (0, 4, 7, 10, 1, 9)),
    "altered-dominant": ("7alt", (0, 4, 10, 1, 3, 8)),
    # Those of tests/kinds/own/chords.toml.
    "fifth": ("5", (0, 7)),
    "octave": ("(8)", (0, 7, 0)),
    "cluster": ("", (0, 1, 2, 3)),
    "thirteenth": ("13(#11)", (0, 4, 7, 10, 2, 6, 9)),
    'accord / "à moi" #1': ('\\ "x" {', (0, 4, 9)),
}

_SLURS = {
    # Whether each note of a group runs into the next.
    "tongued": (False,),
    "slur-two-tongue-two": (True, False, False, False),
    "tongue-two-slur-two": (False, False, True, False),
    "slur-three-tongue-one": (True, True, False, False),
    "slur-two": (True, False),
    "staccato": (False,),
    "legato": (False,),
    "accented": (False,),
    "double-tongue": (False,),
    "triple-tongue": (False,),
    # Beginning on the beat: each off-beat is tongued and runs into the beat.
    "swing": (False, True),
    "slurred": (True,),
}
_MARKS = {"staccato": "staccato", "legato": "tenuto", "accented": "accent"}
_SYLLABLES = {"double-tongue": "tk", "triple-tongue": "ttk"}


# Long tones --------------------------------------------------------------------------------------------------------


@rule("long-tones")
def each_chromatic_note_of_the_span_sounds_once(parameters: Any, study: Study) -> None:
    found = [number for line in study.lines for number in numbers(line)]
    top = found[0] if parameters.order == "down" else parameters.high.number
    assert sorted(found) == [number for number in _members(parameters) if number <= top]


def _members(parameters: Any) -> list[int]:
    """The half steps of the range, or those of a major key."""
    span = range(parameters.low.number, parameters.high.number + 1)
    if parameters.key is None:
        return list(span)
    return [number for number in span if (number - parameters.key.number) % 12 in (0, 2, 4, 5, 7, 9, 11)]


@rule("long-tones")
def tones_widen_outwards_below_and_above_in_turn_or_only_descend(parameters: Any, study: Study) -> None:
    found = [number for line in study.lines for number in numbers(line)]
    members = _members(parameters)
    places = [members.index(number) for number in found]
    if parameters.start is not None:
        assert found[0] == parameters.start.number
    elif parameters.low.number <= MIDDLE_G <= parameters.high.number:
        assert abs(found[0] - MIDDLE_G) == min(abs(number - MIDDLE_G) for number in members)
    if parameters.order == "down":
        assert all(after == before - 1 for before, after in pairwise(places))
        return
    bottom = top = places[0]
    side = 1
    for place in places[1:]:
        wanted = -side
        if (wanted < 0 and bottom == 0) or (wanted > 0 and top == len(members) - 1):
            wanted = side
        assert place == (bottom - 1 if wanted < 0 else top + 1)
        bottom, top, side = min(bottom, place), max(top, place), wanted


@rule("long-tones")
def every_tone_lasts_its_counts_and_swells_if_asked(parameters: Any, study: Study) -> None:
    for tone in (tone for line in study.lines for tone in line.tones):
        assert tone.duration == parameters.counts
        assert tone.swell == (parameters.dynamics == "swell")
        assert not tone.slurred


# Slurs -------------------------------------------------------------------------------------------------------------


@rule("slurs")
def a_line_stays_on_the_valves_that_it_is_named_after(parameters: Any, study: Study) -> None:
    for line in study.lines:
        assert {str(tone.valves) for tone in line.tones} == {line.label}
        assert line.label in {str(valves) for valves in parameters.positions}


@rule("slurs")
def positions_come_half_step_by_half_step_and_none_is_lost(parameters: Any, study: Study) -> None:
    stages = parameters.stages or (5 if parameters.ramp else 1)
    assert len(study.lines) + len(study.skipped) == stages * len(parameters.positions)
    step = {"down": 1, "up": -1, "shuffled": 0}[parameters.direction]
    for line, following in pairwise(study.lines):
        if following.heading is None:
            # 12 and 3 stand for the same number of half steps.
            assert (lowered(following.label) - lowered(line.label)) * step >= 0
            assert following.label != line.label


@rule("slurs")
def no_slur_leaps_further_than_asked_for(parameters: Any, study: Study) -> None:
    for line in study.lines:
        for tone, following in pairwise(line.tones):
            if tone.slurred and parameters.leap is not None:
                assert abs(tone.pitch.number - following.pitch.number) <= parameters.leap


@rule("slurs")
def no_slur_of_a_named_shape_lasts_much_longer_than_a_breath(parameters: Any, study: Study) -> None:
    # Two bars more, where no bar line is at the right place.
    if parameters.contour.own:
        return
    for line in study.lines:
        tempo = (line.measures[0].tempo if line.measures else None) or study.tempo
        lasts = Fraction(0)
        for tone in line.tones:
            lasts += tone.duration * 60 / tempo
            assert lasts <= parameters.breath + 2 * study.bar * 60 / tempo
            lasts = lasts if tone.slurred else Fraction(0)


@rule("slurs")
def partials_far_from_temperament_are_there_only_if_asked(parameters: Any, study: Study) -> None:
    # 7, 11, 13 and 14: tests/reference/harmonic_series_cents.csv.
    asked = set(range(17)) if parameters.far_partials else set(range(17)) - {7, 11, 13, 14} | {*parameters.contour.own}
    assert {tone.partial for line in study.lines for tone in line.tones} <= asked


# Bends -------------------------------------------------------------------------------------------------------------


def _bends(study: Study) -> Iterator[tuple[list[Tone], list[Tone]]]:
    for line in study.lines:
        tones = list(line.tones)
        assert len(tones) == 6
        yield tones[:3], tones[3:]


@rule("bends")
def the_interval_is_heard_by_valves_first(parameters: Any, study: Study) -> None:
    for reference, _ in _bends(study):
        note = reference[0].pitch.number
        assert [tone.pitch.number for tone in reference] == [note, note - parameters.half_steps, note]
        for tone in reference:
            assert (str(tone.valves), tone.partial) == ordinary(tone.pitch.number)
            assert tone.bent == 0
        assert [tone.slurred for tone in reference] == [True, True, False]


@rule("bends")
def then_the_lips_bring_the_same_note_down_and_back_on_held_valves(parameters: Any, study: Study) -> None:
    for reference, held in _bends(study):
        assert [tone.pitch for tone in held] == [tone.pitch for tone in reference]
        assert {(tone.valves, tone.partial) for tone in held} == {(reference[0].valves, reference[0].partial)}
        assert [tone.bent for tone in held] == [0, parameters.half_steps, 0]
        assert [tone.slurred for tone in held] == [True, True, False]
        assert held[1].fingering == (None if parameters.fingerings == "none" else str(held[0].valves))


def gives_way(partial: int, half_steps: int) -> bool:
    """Tell whether a note bends so far: the partial below, if there is one, is farther away than the bend.

    Up to the eighth partial: common practice, no source.
    """
    return partial <= 8 and (partial == 1 or 12 * math.log2(partial / (partial - 1)) > half_steps)


@rule("bends")
def only_notes_that_bend_instead_of_slipping_are_bent(parameters: Any, study: Study) -> None:
    for _, held in _bends(study):
        assert held[1].partial is not None
        assert gives_way(held[1].partial, parameters.half_steps)


@rule("bends")
def notes_go_down_by_half_steps_and_up_again_if_asked_and_none_is_lost(parameters: Any, study: Study) -> None:
    # Common practice, no source: from a middle note (G4) downwards, then upwards to C5 at most.
    # What is brought down stays in the range.
    low, top = parameters.low.number + parameters.half_steps, min(parameters.high.number, 72)
    down = list(range(min(top, 67), low - 1, -1))
    up = list(range(low + 1, top + 1)) if parameters.both_ways and down else []
    way = [*down, *up] or list(range(top, low - 1, -1))
    playable = [
        number
        for number in way
        if gives_way(ordinary(number)[1], parameters.half_steps) and number - parameters.half_steps >= LOWEST_ORDINARY
    ]
    assert [reference[0].pitch.number for reference, _ in _bends(study)] == playable
    beyond = 1 if parameters.high.number > 72 else 0
    assert len(study.lines) + len(study.skipped) == len(way) + beyond


@rule("bends")
def the_remark_tells_how_far_below_the_resonance_the_bent_note_lies(parameters: Any, study: Study) -> None:
    half_step = 2 ** (1 / 12)
    # Valve loops by rule: 2 a half step, 1 a whole step, 3 so long that 2 and 3 together are exact.
    loops = {"0": 0.0, "2": half_step - 1, "1": half_step**2 - 1, "3": half_step**4 - half_step}
    for _, held in _bends(study):
        tone = held[1]
        assert tone.partial is not None
        tube = 1 + sum(loops[digit] for digit in str(tone.valves))
        resonance = OPEN_FUNDAMENTAL * 100 + 1200 * math.log2(tone.partial / tube)
        cents = f"{round(tone.pitch.number * 100 - resonance):+d} cents".replace("-", "−")
        assert tone.remark == (cents if parameters.show_cents else "")


# Pedals ------------------------------------------------------------------------------------------------------------

# Half steps above the lowest note of a line: the major triad and scale, falling.
_SINKING = {
    "chromatic": tuple(range(12, -1, -1)),
    "triad": (12, 7, 4, 0),
    "scale": (12, 11, 9, 7, 5, 4, 2, 0),
    "octave": (12, 0, 12),
}


@rule("pedals")
def each_line_starts_on_an_ordinary_note_a_half_step_lower_than_the_last(parameters: Any, study: Study) -> None:
    firsts = [numbers(line)[0] for line in study.lines]
    # Common practice, no source: written C4 is the highest note to sink from.
    top = min(parameters.high.number, 60)
    bottom = max(parameters.low.number, LOWEST_ORDINARY, parameters.lowest.number + 12)
    assert firsts == list(range(top, bottom - 1, -1))


@rule("pedals")
def each_line_sinks_one_octave_in_its_form_or_two_where_that_is_asked_for(parameters: Any, study: Study) -> None:
    for line in study.lines:
        found = numbers(line)
        sunk = tuple(number - found[0] + 12 for number in found)
        one = _SINKING[parameters.form]
        two = (12, 0, -12, 12) if parameters.form == "octave" else (*one, *(height - 12 for height in one[1:]))
        assert sunk == (two if found[0] - 24 >= parameters.lowest.number else one)


def _below_the_range(number: int, bent: str) -> str:
    """Return the valves for a note below F sharp 3. Common practice, no source."""
    if number > OPEN_FUNDAMENTAL:
        return "123" if bent == "longest" else ordinary(number + 12)[0]
    if number >= LOWEST_FUNDAMENTAL:
        return POSITIONS[OPEN_FUNDAMENTAL - number]
    return _below_the_range(number + 12, bent)


@rule("pedals")
def fingerings_follow_the_three_regions(parameters: Any, study: Study) -> None:
    for tone in (tone for line in study.lines for tone in line.tones):
        number = tone.pitch.number
        if number >= LOWEST_ORDINARY:
            assert (str(tone.valves), tone.partial) == ordinary(number)
        else:
            assert str(tone.valves) == _below_the_range(number, parameters.bent_fingering)
            assert tone.partial == (1 if LOWEST_FUNDAMENTAL <= number <= OPEN_FUNDAMENTAL else None)


@rule("pedals")
def brackets_stand_over_the_pedal_notes_and_no_others(parameters: Any, study: Study) -> None:
    for tone in (tone for line in study.lines for tone in line.tones):
        assert tone.octave_bracket == (parameters.brackets and tone.pitch.number < LOWEST_ORDINARY)


# Contact sets ------------------------------------------------------------------------------------------------------

_UNIT = Fraction(8)


def _units(study: Study) -> Iterator[list[Tone]]:
    unit: list[Tone] = []
    for event in (event for line in study.lines for event in line.events):
        if isinstance(event, Rest):
            yield unit
            unit = []
        else:
            unit.append(event)
    assert not unit, "the last unit ends without a breath"


@rule("contact")
def contact_lasts_the_minutes_asked_for_within_a_unit_and_never_over_six(parameters: Any, study: Study) -> None:
    whole = sum((line.duration for line in study.lines), Fraction(0)) * 60 / parameters.tempo
    assert study.contact_seconds == whole
    assert abs(whole - 60 * parameters.minutes) < _UNIT * 60 / parameters.tempo
    assert 2 <= parameters.minutes <= 6
    assert whole <= 360


@rule("contact")
def the_sheet_says_how_long_contact_lasts_and_to_rest_as_long(parameters: Any, study: Study) -> None:
    minutes, left = divmod(round(study.contact_seconds or 0), 60)
    time = f"{minutes} min {left} s" if left else f"{minutes} min"
    assert study.subtitle.endswith(f"contact time {time}")
    assert f"rest at least {time} with the instrument down" in study.instruction
    assert "nose" in study.instruction


@rule("contact")
def notes_rise_by_half_steps_from_the_base_and_come_back_to_it(parameters: Any, study: Study) -> None:
    units = list(_units(study))
    base = units[0][0].pitch.number
    usual = 60 if parameters.low.number <= 60 <= parameters.high.number else parameters.low.number
    assert base == (usual if parameters.start is None else parameters.start.number)
    tops = [unit[-1].pitch.number for unit in units]
    assert tops[-1] <= base + 1
    assert all(abs(after - before) <= 1 for before, after in pairwise(tops))
    # As high as there is time for: up to the top of the range, or until half of the units are played.
    assert max(tops) == min(parameters.high.number, base + (len(units) - 1) // 2)
    for unit, wanted in zip(units, tops, strict=True):
        assert sum(tone.duration for tone in unit) == 6
        if parameters.form == "intervals" and wanted != base:
            assert [tone.pitch.number for tone in unit] == [base, wanted]
            assert unit[0].slurred
        else:
            assert len(unit) == 1
        assert [tone.swell for tone in unit] == [parameters.form == "swells"] * len(unit)


# What goes through keys --------------------------------------------------------------------------------------------


def tonic_of(label: str) -> int:
    """Return the pitch class of the name at the start of a label."""
    bend = {"♯": 1, "♭": -1}.get(label[1:2], 0)
    return (_LETTERS[label[0]] + bend) % 12


def signature(sharps: int) -> dict[str, int]:
    """Return which letters a key signature bends. Common practice, no source."""
    return dict.fromkeys("FCGDAEB"[:sharps], 1) if sharps > 0 else dict.fromkeys("BEADGCF"[:-sharps], -1)


def _in_signature(line: Line) -> bool:
    bent = signature(line.sharps)
    return all(tone.pitch.alter == bent.get(tone.pitch.step, 0) for tone in line.tones)


@rule("scales", "patterns", "arpeggios", "range")
def keys_come_in_the_order_asked_for(parameters: Any, study: Study) -> None:
    if getattr(parameters, "own_chords", False) or getattr(parameters, "form", "") == "climb":
        return
    found = [tonic_of(line.label) for line in study.lines]
    asked = [key.number % 12 for key in parameters.keys] or list(range(12))
    order = parameters.order or ("" if parameters.keys else "fourths")
    steps = {"fourths": 5, "fifths": 7, "chromatic": 1}
    if order in steps:
        asked = [number for number in (place * steps[order] % 12 for place in range(12)) if number in asked]
    if order == "shuffled":
        assert len(set(found)) == len(found)
        assert set(found) <= set(asked)
    else:
        assert found == [number for number in asked if number in found]
    assert len(study.lines) + len(study.skipped) == len(asked)


@rule("scales", "patterns", "arpeggios", "range")
def the_last_note_of_a_line_is_held(parameters: Any, study: Study) -> None:
    value = NOTE_VALUES[parameters.running]
    for line in study.lines:
        *running, last = [tone.duration for tone in line.tones]
        assert last >= HELD
        # The last beat of the run may broaden, where the rhythm has more notes than are left: to two equal notes, or
        # to short ones and a longer one.
        equal = running[-2:] == [Fraction(1, 2)] * 2
        assert all(duration == value for duration in (running[:-2] if equal else running[:-1]))
        assert sum(running) % 1 == 0


def full_way(up: tuple[int, ...], down: tuple[int, ...], tonic: int, low: int, high: int, starts: int) -> list[int]:
    """Return the way from the lowest starting note to the highest member, down to the lowest, and back.

    It turns on notes of both ways: two forms of a degree never meet. Common practice, no source.
    """
    rising = [number for number in range(low, high + 1) if (number - tonic) % 12 in up]
    falling = [number for number in range(low, high + 1) if (number - tonic) % 12 in down]
    first = next((number for number in rising if (number - tonic) % 12 == starts), None)
    if first is None:
        return []
    both = sorted(set(rising) & set(falling))
    top, bottom = both[-1], both[0]
    above = [number for number in rising if first <= number <= top]
    below = [number for number in reversed(falling) if bottom <= number < top]
    home = [number for number in rising if bottom < number <= first] if bottom < first else []
    return [*above, *below, *home] if below else []


def octaves_way(up: tuple[int, ...], down: tuple[int, ...], tonic: int, low: int, high: int, starts: int, octaves: int):
    """Return the way so many octaves up from the lowest starting note, and down."""
    first = next((number for number in range(low, high + 1) if (number - tonic) % 12 == starts), None)
    if first is None or first + 12 * octaves > high:
        return []
    span = range(first, first + 12 * octaves + 1)
    rising = [number for number in span if (number - tonic) % 12 in up]
    return [*rising, *[number for number in reversed(span[:-1]) if (number - tonic) % 12 in down]]


def way(parameters: Any, up: tuple[int, ...], down: tuple[int, ...], tonic: int, starts: int = 0) -> list[int]:
    """Return the way for the extent asked for."""
    low, high = parameters.low.number, parameters.high.number
    if parameters.extent == "full":
        return full_way(up, down, tonic, low, high, starts)
    return octaves_way(up, down, tonic, low, high, starts, {"one": 1, "two": 2}[parameters.extent])


def definition(parameters: Any) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the scale asked for as half steps above the tonic, up and down."""
    return OWN_SCALES[parameters.scale] if parameters.scale in OWN_SCALES else scale_steps(parameters.scale)


def scale_steps(name: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return a packaged scale as half steps, up and down; one that is in no table here as its file says it."""
    if name in SCALES:
        return SCALES[name]
    table = tomllib.loads((templates() / "theory" / "scales.toml").read_text(encoding="utf-8"))[name]
    up = table["degrees"]
    return _half_steps(up), _half_steps(table.get("descending", up))


def _half_steps(degrees: str) -> tuple[int, ...]:
    major = (0, 2, 4, 5, 7, 9, 11)
    words = [(word.count("#") - word.count("b"), int(word.strip("#b"))) for word in degrees.split()]
    return tuple(major[number - 1] + alter for alter, number in words)


def top_of(parameters: Any) -> int:
    """Return the key number of the highest note to play."""
    return int((parameters.reach or parameters.high).number)


@rule("scales")
def the_notes_are_those_of_the_definition_all_the_way(parameters: Any, study: Study) -> None:
    up, down = definition(parameters)
    for line in study.lines:
        assert numbers(line) == way(parameters, up, down, tonic_of(line.label))
    if not study.skipped:
        return
    tonics = {key.number % 12 for key in parameters.keys} or set(range(12))
    for tonic in tonics - {tonic_of(line.label) for line in study.lines}:
        assert way(parameters, up, down, tonic) == []


@rule("scales")
def a_line_goes_from_tonic_to_tonic_and_a_full_one_to_the_limits(parameters: Any, study: Study) -> None:
    up, down = definition(parameters)
    for line in study.lines:
        found, tonic = numbers(line), tonic_of(line.label)
        assert found[0] == found[-1]
        assert found[0] % 12 == tonic
        if parameters.extent == "full":
            inside = range(parameters.low.number, parameters.high.number + 1)
            both = [number for number in inside if (number - tonic) % 12 in up and (number - tonic) % 12 in down]
            assert max(found) == max(both)
            assert min(found) == min(both)


@rule("scales", "patterns")
def seven_notes_have_seven_letters_and_keys_with_a_signature_keep_to_it(parameters: Any, study: Study) -> None:
    up, down = definition(parameters)
    if any(degree.alter for degree in getattr(parameters, "cell", ())):
        return
    for line in study.lines:
        # A tonic of five notes that was named is kept, and may need more accidentals than a signature has.
        if parameters.scale in IN_THEIR_SIGNATURE and (len(up) == 7 or not parameters.keys):
            assert _in_signature(line)
        # A scale with double flats of its own cannot have a letter for each note, one with two forms has more notes.
        # The altered scale keeps the name of its tonic that people use.
        if len(up) == 7 and up == down and parameters.scale not in ("double-flats", "altered"):
            spelled = {(tone.pitch.step, tone.pitch.number % 12) for tone in line.tones}
            assert len({letter for letter, _ in spelled}) == len({number for _, number in spelled}) == len(spelled)


# Patterns ----------------------------------------------------------------------------------------------------------


def _cells(parameters: Any, line: Line) -> tuple[list[int], list[int], list[int]]:
    """Return the rungs of the scale, the rung that each cell of a line starts from, and what is left at the end."""
    up, _ = definition(parameters)
    tonic = tonic_of(line.label)
    inside = range(parameters.low.number, parameters.high.number + 1)
    rungs = [number for number in inside if (number - tonic) % 12 in up]
    cell = [(degree.number - 1, degree.alter) for degree in parameters.cell]
    rest = numbers(line)
    starts = []
    while len(rest) >= len(cell):
        first = rest[0] - cell[0][1]
        assert first in rungs, "a cell starts beside the scale"
        start = rungs.index(first) - cell[0][0]
        assert rest[: len(cell)] == _cell(rungs, cell, start), "a cell is not the cell"
        starts.append(start)
        rest = rest[len(cell) :]
    return rungs, starts, rest


def _cell(rungs: list[int], cell: list[tuple[int, int]], start: int) -> list[int]:
    if any(not 0 <= start + steps < len(rungs) for steps, _ in cell):
        return []
    return [rungs[start + steps] + bend for steps, bend in cell]


@rule("patterns")
def each_repetition_is_the_cell_moved_by_one_scale_step(parameters: Any, study: Study) -> None:
    cell = [(degree.number - 1, degree.alter) for degree in parameters.cell]
    for line in study.lines:
        rungs, starts, _ = _cells(parameters, line)
        turns = 0
        direction = 0
        for before, after in pairwise(starts):
            step = after - before
            turned = direction != 0 and step * direction < 0
            turns += turned
            if abs(step) == 2:
                # Across a turn a cell is left out that would begin on the note the last one ended on.
                assert turned
                assert _cell(rungs, cell, before)[-1] == _cell(rungs, cell, (before + after) // 2)[0]
            else:
                assert abs(step) == 1
            direction = step
        assert turns <= 2


@rule("patterns")
def cells_are_carried_from_the_tonic_to_the_ends_and_back_to_a_held_tonic(parameters: Any, study: Study) -> None:
    cell = [(degree.number - 1, degree.alter) for degree in parameters.cell]
    low, high = parameters.low.number, parameters.high.number
    for line in study.lines:
        rungs, starts, left = _cells(parameters, line)
        tonic = tonic_of(line.label)
        fitting = [
            start
            for start in range(len(rungs))
            if (notes := _cell(rungs, cell, start)) and low <= min(notes) and max(notes) <= high
        ]
        first = next(start for start in fitting if rungs[start] % 12 == tonic)
        assert starts[0] == first
        assert numbers(line)[-1] == rungs[first]
        assert left in ([], [rungs[first]])
        if parameters.extent == "full":
            assert max(starts) == max(fitting)
            assert min(starts) == min(fitting)
        else:
            assert rungs[max(starts)] == rungs[first] + {"one": 12, "two": 24}[parameters.extent]
            assert min(starts) - first in (0, 1)


@rule("patterns")
def no_note_is_repeated_across_a_turn(parameters: Any, study: Study) -> None:
    cell = [(degree.number - 1, degree.alter) for degree in parameters.cell]
    for line in study.lines:
        rungs, starts, _ = _cells(parameters, line)
        for one, other, third in zip(starts, starts[1:], starts[2:], strict=False):
            if (other - one) * (third - other) < 0:
                assert _cell(rungs, cell, other)[-1] != _cell(rungs, cell, third)[0]


@rule("patterns")
def the_rhythm_fits_the_cell(parameters: Any, study: Study) -> None:
    # Notes that last a beat or longer go with any cell.
    per_beat = max(1, int(1 / NOTE_VALUES[parameters.running]))
    assert len(parameters.cell) % per_beat == 0 or per_beat % len(parameters.cell) == 0


# Arpeggios ---------------------------------------------------------------------------------------------------------


def _chords(parameters: Any, study: Study) -> Iterator[tuple[Line, int, tuple[int, ...]]]:
    """Yield each line with its root and its chord's half steps above the root, read from its label."""
    by_symbol = {symbol: tones for name, (symbol, tones) in CHORDS.items() if name != "cluster"}
    for line in study.lines:
        symbol = re.sub("^[A-G][♯♭]?", "", line.label).replace("♭", "b").replace("♯", "#")
        # Only the player's own may have a symbol that another chord has too.
        own = getattr(parameters, "own_chords", False)
        tones = by_symbol[symbol] if own else CHORDS[getattr(parameters, "chord", "major")][1]
        yield line, tonic_of(line.label), tones


@rule("arpeggios")
def only_tones_of_the_chord_sound(parameters: Any, study: Study) -> None:
    for line, root, tones in _chords(parameters, study):
        assert {(number - root) % 12 for number in numbers(line)} <= set(tones)


@rule("arpeggios")
def a_line_goes_from_the_inversions_note_back_to_it(parameters: Any, study: Study) -> None:
    for line, root, tones in _chords(parameters, study):
        found = numbers(line)
        assert (found[0] - root) % 12 == tones[parameters.inversion]
        assert found[0] == found[-1]


_ROOTS = [(letter, bend) for letter in _LETTERS for bend in (-1, 0, 1)]
# Nobody builds a chord on these without need.
_UNUSUAL_ROOTS = [("E", 1), ("B", 1), ("F", -1), ("C", -1)]


IN_THIRDS = (
    "major", "minor", "diminished", "major-seventh", "dominant-seventh", "minor-seventh", "half-diminished-seventh",
    "minor-major-seventh", "major-ninth", "dominant-ninth", "minor-ninth", "minor-eleventh",
    "dominant-seventh-flat-fifth", "dominant-seventh-flat-ninth", "dominant-seventh-sharp-ninth",
)  # fmt: skip


def _in_thirds(root: str, bend: int, tones: tuple[int, ...]) -> list[tuple[str, int]]:
    """Return letters and bends of a chord whose tones lie a third of the staff apart."""
    place = _LETTER_ORDER.index(root)
    found = []
    for thirds, tone in enumerate(tones):
        letter = _LETTER_ORDER[(place + 2 * thirds) % 7]
        away = (_LETTERS[root] + bend + tone - _LETTERS[letter] + 6) % 12 - 6
        found.append((letter, away))
    return found


@rule("arpeggios", "range")
def chords_are_spelled_in_thirds_on_roots_that_allow_it(parameters: Any, study: Study) -> None:
    name = getattr(parameters, "chord", "major")
    # Only these lie in thirds; chords of equal intervals are read in any spelling. Common practice, no source.
    if name not in IN_THIRDS or getattr(parameters, "chords", None) is not None:
        return
    # A root that was named is kept, whatever it needs.
    if getattr(parameters, "form", "arpeggio") != "arpeggio" or parameters.keys:
        return
    for line, root, tones in _chords(parameters, study):
        names = [name for name in _ROOTS if (_LETTERS[name[0]] + name[1]) % 12 == root]
        readable = [name for name in names if all(abs(bend) <= 1 for _, bend in _in_thirds(*name, tones))]
        if set(readable) <= set(_UNUSUAL_ROOTS):
            continue
        spelled = {(tone.pitch.step, tone.pitch.alter) for tone in line.tones}
        assert any(spelled <= set(_in_thirds(*name, tones)) for name in readable), f"{line.label} is spelled {spelled}"


@rule("arpeggios")
def straight_ones_are_every_chord_tone_in_turn(parameters: Any, study: Study) -> None:
    for line, root, tones in _chords(parameters, study):
        straight = way(parameters, tones, tones, root, tones[parameters.inversion])
        if parameters.shape == "straight":
            assert numbers(line) == straight


@rule("arpeggios")
def broken_ones_reach_as_far_and_repeat_no_note(parameters: Any, study: Study) -> None:
    if parameters.shape != "broken":
        return
    for line, root, tones in _chords(parameters, study):
        straight, found = way(parameters, tones, tones, root, tones[parameters.inversion]), numbers(line)
        assert (min(found), max(found)) == (min(straight), max(straight))
        assert all(before != after for before, after in pairwise(found))


@rule("arpeggios")
def the_chords_of_a_key_have_its_signature_and_its_notes(parameters: Any, study: Study) -> None:
    if not parameters.own_chords or parameters.chords is not None:
        return
    home = None
    for line in study.lines:
        if line.heading:
            home = tonic_of(line.heading)
            assert line.heading.endswith(" major")
        assert home is not None
        assert _in_signature(line)
        assert {(number - home) % 12 for number in numbers(line)} <= set(SCALES["major"][0])
        assert (tonic_of(line.label) - home) % 12 in SCALES["major"][0]


@rule("arpeggios")
def each_chord_of_a_key_has_a_line_or_is_told_to_be_left_out(parameters: Any, study: Study) -> None:
    if not parameters.own_chords or parameters.chords is not None:
        return
    assert len(study.lines) + len(study.skipped) == 7 * (len(parameters.keys) or 12)


# Range studies -----------------------------------------------------------------------------------------------------


@rule("range")
def real_rests_as_long_as_the_playing_follow_every_line(parameters: Any, study: Study) -> None:
    for line in study.lines:
        played = sum(tone.duration for tone in line.tones)
        assert isinstance(line.events[-1], Rest)
        assert line.events[-1].duration >= played
    assert study.resting_seconds >= study.playing_seconds


@rule("range")
def a_climb_rises_by_half_steps_to_the_top_note(parameters: Any, study: Study) -> None:
    if parameters.form != "climb":
        return
    tops = [max(numbers(line)) for line in study.lines]
    assert tops[-1] == top_of(parameters)
    assert all(after == before + 1 for before, after in pairwise(tops))
    for line in study.lines:
        found = numbers(line)
        assert [number - found[0] for number in found] == [0, 2, 4, 5, 7, 5, 4, 2, 0]
        assert found[0] % 12 == tonic_of(line.label)
        assert _in_signature(line)


@rule("range")
def scales_and_arpeggios_go_over_the_whole_range_and_the_reach(parameters: Any, study: Study) -> None:
    if parameters.form == "climb":
        return
    steps = SCALES["major"][0] if parameters.form == "scale" else CHORDS["major"][1]
    low, high = parameters.low.number, top_of(parameters)
    for line in study.lines:
        assert numbers(line) == full_way(steps, steps, tonic_of(line.label), low, high, 0)
        # A tonic with more than seven accidentals in its signature carries them at the notes.
        assert line.sharps == 0 or _in_signature(line)


@rule("range")
def the_sheet_warns(parameters: Any, study: Study) -> None:
    assert "only when warmed up" in study.caution
    assert "rest" in study.caution


# Articulation ------------------------------------------------------------------------------------------------------

SPOKEN = tuple(kind.name for kind in KINDS if "articulation" in settings_of(kind.parameters))


@rule(*RULES)
def breaths_are_taken_at_barlines_between_slurs_and_never_where_the_line_ends(parameters: Any, study: Study) -> None:
    for line in study.lines:
        last = list(line.tones)[-1]
        for at, event in starts(line):
            if isinstance(event, Tone) and event.breath:
                assert (at + event.duration) % study.bar == 0
                assert not event.slurred
                assert event is not last


@rule(*SPOKEN)
def no_breath_has_to_last_much_longer_than_ten_seconds(parameters: Any, study: Study) -> None:
    # Ten seconds, then on to the next barline, and a last bar without a breath before the rest. Common practice, no
    # source.
    # In a phrase of the player's own the breaths are the player's too.
    if hasattr(parameters, "phrase"):
        return
    longest = 10 + 2 * study.bar * 60 / study.tempo
    for line in study.lines:
        since = Fraction(0)
        for event in line.events:
            if isinstance(event, Rest) or event.slash:
                since = Fraction(0)
                continue
            since += event.duration * 60 / study.tempo
            assert since <= longest
            since = Fraction(0) if event.breath else since


def runs(parameters: Any, line: Line) -> Iterator[list[Tone]]:
    """Yield the runs of a line: what is played without a rest, guide tones and the player's own beats left out."""
    if (line.heading or "").startswith("Guide tones"):
        return
    if hasattr(parameters, "phrase"):
        yield from _phrases(parameters, line)
        return
    run: list[Tone] = []
    for event in (*line.events, Rest(Fraction(1))):
        if isinstance(event, Tone) and not event.slash:
            run.append(event)
        elif run:
            yield run
            run = []


def _phrases(parameters: Any, line: Line) -> Iterator[list[Tone]]:
    """Yield what is played without a rest in each phrase: one phrase may follow another without any."""
    tones = [tone for tone in line.tones if not tone.slash]
    sounding = [degree is not None for degree, _ in parameters.phrase.notes]
    lengths = [len(list(group)) for sounds, group in groupby(sounding) if sounds]
    while tones:
        for length in lengths:
            yield tones[:length]
            tones = tones[length:]


@rule(*SPOKEN)
def notes_are_slurred_and_marked_and_spoken_as_the_articulation_says(parameters: Any, study: Study) -> None:
    # The character of an etude may say it.
    name = parameters.articulation or parameters.style
    assert study.feel.swung == (name in ("swing", "own-swing"))
    if name not in _SLURS:
        return
    group = _SLURS[name]
    for tones in (run for line in study.lines for run in runs(parameters, line)):
        repeated = [one.pitch.number == other.pitch.number for one, other in pairwise(tones)]
        slurred = [group[place % len(group)] for place in range(len(tones) - 1)]
        # A note that comes again is tongued again.
        wanted = [wish and not again for wish, again in zip(slurred, repeated, strict=True)]
        # Nor does a slur go on over a breath.
        wanted = [wish and not tone.breath for wish, tone in zip(wanted, tones, strict=False)]
        assert [tone.slurred for tone in tones] == [*wanted, False]
        tongued = [True, *[not wish for wish in slurred]]
        for place, tone in enumerate(tones[:-1]):
            marks = (_MARKS[name],) if name in _MARKS and tongued[place] else ()
            assert tuple(map(str, tone.marks)) == marks
            syllables = _SYLLABLES.get(name, "")
            assert tone.syllable == (syllables[place % len(syllables)] if syllables else "")


# They take the tables and the list of rules from here.
from tests.kinds import rules_changes, rules_etudes  # noqa: E402, F401
