"""The rules of what is played over chords, as functions that raise AssertionError where a study breaks one.

What was typed is read by the program, whose reading has tests of its own; everything else is reckoned here in key
numbers, from the tables in ``rules``.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from etudegen.study import Line, Rest, Study, Tone
from etudegen.theory.progressions import Progression, Stretch, parse_progression, read_progression
from tests.kinds.reading import repeat_signs
from tests.kinds.rules import (
    CHORDS,
    IN_THEIR_SIGNATURE,
    NOTE_VALUES,
    OWN_SCALES,
    SCALES,
    rule,
    scale_steps,
    signature,
    tonic_of,
)
from tests.kinds.validity import LOWEST_ORDINARY, REST_SHARE, numbers, starts

ALL_PARTS = ("guide-tones", "chord-tones", "scales", "improvise")
USUAL = "| Dm7 | G7 | Cmaj7 | % |"
MIDDLE_LINE = 71
_MAJOR = (0, 2, 4, 5, 7, 9, 11)
# The scale to improvise with and the two guide tones of each chord. Common practice, no source.
PRACTICE: dict[str, tuple[str, tuple[int, int]]] = {
    "major": ("major", (4, 7)),
    "minor": ("dorian", (3, 7)),
    "diminished": ("whole-half-diminished", (3, 6)),
    "augmented": ("whole-tone", (4, 8)),
    "major-seventh": ("major", (4, 11)),
    "dominant-seventh": ("mixolydian", (4, 10)),
    "minor-seventh": ("dorian", (3, 10)),
    "half-diminished-seventh": ("locrian", (3, 10)),
    "diminished-seventh": ("whole-half-diminished", (3, 9)),
    "minor-major-seventh": ("melodic-minor-both-ways", (3, 11)),
    "major-ninth": ("major", (4, 11)),
    "dominant-ninth": ("mixolydian", (4, 10)),
    "minor-ninth": ("dorian", (3, 10)),
    "suspended-second": ("major", (2, 7)),
    "suspended-fourth": ("mixolydian", (5, 7)),
    "added-ninth": ("major", (4, 7)),
    "minor-added-ninth": ("dorian", (3, 7)),
    "sixth": ("major", (4, 9)),
    "minor-sixth": ("dorian", (3, 9)),
    "sixth-ninth": ("major", (4, 9)),
    "minor-sixth-ninth": ("dorian", (3, 9)),
    "major-seventh-sharp-eleventh": ("lydian", (4, 11)),
    "major-thirteenth": ("major", (4, 11)),
    "minor-eleventh": ("dorian", (3, 10)),
    "dominant-thirteenth": ("mixolydian", (4, 10)),
    "dominant-seventh-suspended-fourth": ("mixolydian", (5, 10)),
    "dominant-ninth-suspended-fourth": ("mixolydian", (5, 10)),
    "dominant-seventh-flat-fifth": ("whole-tone", (4, 10)),
    "dominant-seventh-sharp-fifth": ("whole-tone", (4, 10)),
    "dominant-seventh-flat-ninth": ("half-whole-diminished", (4, 10)),
    "dominant-seventh-sharp-ninth": ("half-whole-diminished", (4, 10)),
    "dominant-seventh-sharp-eleventh": ("lydian-dominant", (4, 10)),
    "dominant-ninth-sharp-eleventh": ("lydian-dominant", (4, 10)),
    "dominant-seventh-flat-thirteenth": ("altered", (4, 10)),
    "dominant-thirteenth-flat-ninth": ("half-whole-diminished", (4, 10)),
    "altered-dominant": ("altered", (4, 10)),
    # Those of tests/kinds/own/chords.toml, with the first usual scale that has all of their notes.
    "fifth": ("major", (7, 0)),
    "octave": ("major", (7, 0)),
    "cluster": ("chromatic", (3, 0)),
    "thirteenth": ("lydian-dominant", (4, 10)),
    'accord / "à moi" #1': ("major", (4, 9)),
}


@dataclass(frozen=True)
class Sounding:
    """A chord as it should sound: where, how long, its name, and the pitch classes of its root and bass."""

    start: Fraction
    duration: Fraction
    name: str
    root: int
    bass: int | None
    news: bool


def typed(parameters: Any) -> Progression | None:
    """Return the progression as it was typed, whatever the instrument."""
    text = parameters.progression if parameters.from_file is None else read_progression(parameters.from_file)
    if text is None and parameters.kind == "changes":
        text = USUAL
    return None if text is None else parse_progression(text, parameters.beats, parameters.chords)


def home_of(parameters: Any, progression: Progression) -> tuple[int, bool]:
    """Return the pitch class of the key that was typed, and whether it is minor."""
    if parameters.home is not None:
        return parameters.home.tonic.number % 12, parameters.home.minor
    first, *_, last = [chord for bar in progression.bars for _, chord in bar.chords if chord is not None] * 2
    tones = {name: {number % 12 for number in CHORDS[name][1]} for name in (first.quality.name, last.quality.name)}
    begins, ends = first.root.number % 12, last.root.number % 12
    if {4, 10} <= tones[last.quality.name] and begins != ends:
        # What a dominant leads to lies a fourth above it. Common practice, no source.
        home = (ends + 5) % 12
        return home, begins == home and _is_minor(tones[first.quality.name])
    return ends, _is_minor(tones[last.quality.name])


def _is_minor(tones: set[int]) -> bool:
    return 3 in tones and 4 not in tones


def transposition(parameters: Any) -> int:
    """Return how many half steps above its sound a note is written. Common practice, no source."""
    return 2 if parameters.in_concert and parameters.instrument.key != "trumpet-c" else 0


def in_key(parameters: Any, progression: Progression, key: int) -> list[Sounding | None]:
    """Return what should sound in a key, None for each time without a chord."""
    away = key - home_of(parameters, progression)[0]
    found: list[Sounding | None] = []
    for each in progression.stretches:
        chord = each.chord
        if chord is None:
            found.append(None)
            continue
        bass = None if chord.bass is None else (chord.bass.number + away) % 12
        root = (chord.root.number + away) % 12
        found.append(Sounding(each.start, each.duration, chord.quality.name, root, bass, each.changes))
    return found


def keys_of(parameters: Any, study: Study) -> Iterator[list[Line]]:
    """Yield the lines of each key: the first of them has its name."""
    assert study.lines[0].label
    lines: list[Line] = []
    for line in study.lines:
        if line.label and lines:
            yield lines
            lines = []
        lines.append(line)
    yield lines


def low_and_high(parameters: Any) -> tuple[int, int]:
    return max(parameters.low.number, LOWEST_ORDINARY), parameters.high.number


def scale_over(parameters: Any, name: str) -> tuple[int, ...]:
    """Return the scale over a chord as half steps above its root."""
    chosen = PRACTICE[name][0]
    for suffix, scale in parameters.scale_choices:
        if suffix == CHORDS[name][0]:
            chosen = scale
    return (OWN_SCALES[chosen] if chosen in OWN_SCALES and parameters.scales else scale_steps(chosen))[0]


@rule("changes", "vocabulary")
def keys_come_in_the_order_asked_for_or_there_is_the_one_as_typed(parameters: Any, study: Study) -> None:
    found = [tonic_of(lines[0].label) for lines in keys_of(parameters, study)]
    progression = typed(parameters)
    if parameters.keys is None:
        assert progression is not None
        asked = [(home_of(parameters, progression)[0] + transposition(parameters)) % 12]
    else:
        asked = [key.number % 12 for key in parameters.keys] or list(range(12))
    order = parameters.order or ("" if parameters.keys or parameters.keys is None else "fourths")
    steps = {"fourths": 5, "fifths": 7, "chromatic": 1}
    if order in steps:
        asked = [number for number in (place * steps[order] % 12 for place in range(12)) if number in asked]
    if order == "shuffled":
        assert len(set(found)) == len(found)
        assert set(found) <= set(asked)
    else:
        assert found == [number for number in asked if number in found]
    assert len(found) + len(study.skipped) == len(asked)


@rule("changes", "vocabulary")
def symbols_and_repeats_are_those_that_were_typed_moved_to_the_key(parameters: Any, study: Study) -> None:
    progression = typed(parameters)
    if progression is None:
        return
    for lines in keys_of(parameters, study):
        chords = [each for each in in_key(parameters, progression, tonic_of(lines[0].label)) if each and each.news]
        for line in lines:
            assert [
                (at, symbol.quality.name, symbol.root.number % 12, symbol.bass and symbol.bass.number % 12)
                for at, symbol in line.chords
                if symbol is not None
            ] == [(each.start, each.name, each.root, each.bass) for each in chords]
            assert all(symbol is None or abs(symbol.root.alter) <= 1 for _, symbol in line.chords)
            silent = [each.start for each in progression.stretches if each.chord is None and each.changes]
            assert [at for at, symbol in line.chords if symbol is None] == silent
            assert repeat_signs(line) == progression.repeats


@rule("changes", "vocabulary")
def the_signature_is_that_of_the_key(parameters: Any, study: Study) -> None:
    progression = typed(parameters)
    if progression is None:
        scale = PRACTICE[parameters.quality.name][0]
        for line in study.lines if scale in IN_THEIR_SIGNATURE and not parameters.scale_choices else []:
            bent = signature(line.sharps)
            assert {(_MAJOR["CDEFGAB".index(letter)] + bent.get(letter, 0)) % 12 for letter in "CDEFGAB"} == {
                (tonic_of(line.label) + height) % 12 for height in SCALES[scale][0]
            }
        return
    minor = home_of(parameters, progression)[1]
    for lines in keys_of(parameters, study):
        assert lines[0].label.endswith("m") == minor
        bent = signature(lines[0].sharps)
        letters = "CDEFGAB"
        step = lines[0].label[0]
        # The tonic of a major key, or of a minor one two steps below the relative major. Common practice, no source.
        from_tonic = (0, 2, 3, 5, 7, 8, 10) if minor else _MAJOR
        for place, height in enumerate(from_tonic):
            letter = letters[(letters.index(step) + place) % 7]
            number = _MAJOR[letters.index(letter)] + bent.get(letter, 0)
            assert (number - tonic_of(lines[0].label) - height) % 12 == 0
        assert {line.sharps for line in lines} == {lines[0].sharps}


# Changes -----------------------------------------------------------------------------------------------------------


def _lines_of(parameters: Any, study: Study) -> Iterator[tuple[dict[str, Line], list[Sounding | None]]]:
    """Yield for each key its lines by heading, and its chords."""
    progression = typed(parameters) or parse_progression(USUAL, parameters.beats)
    for lines in keys_of(parameters, study):
        yield {line.heading or "": line for line in lines}, in_key(parameters, progression, tonic_of(lines[0].label))


def _chords_of(line: Line, chords: list[Sounding | None]) -> Iterator[tuple[Sounding, list[Tone]]]:
    """Yield each chord with the tones that begin while it sounds."""
    tones = [(at, event) for at, event in starts(line) if isinstance(event, Tone)]
    for chord in chords:
        if chord is not None:
            yield chord, [tone for at, tone in tones if chord.start <= at < chord.start + chord.duration]


def _guides(lines: dict[str, Line]) -> list[Line]:
    return [line for heading, line in lines.items() if heading.startswith("Guide tones")]


@rule("changes")
def each_key_has_the_parts_asked_for_in_their_order_once(parameters: Any, study: Study) -> None:
    for lines in keys_of(parameters, study):
        headings = [line.heading or "" for line in lines]
        wanted = []
        for part in ALL_PARTS:
            if part in parameters.parts:
                wanted += ["Guide tones from the ", "Guide tones from the "] if part == "guide-tones" else [
                    {"chord-tones": "Chord tones", "scales": "Scales", "improvise": "Improvise"}[part]
                ]  # fmt: skip
        assert len(set(headings)) == len(headings) == len(wanted)
        assert all(heading.startswith(start) for heading, start in zip(headings, wanted, strict=True))


@rule("changes")
def every_line_fills_the_bars_of_the_progression_and_rests_where_there_is_no_chord(
    parameters: Any, study: Study
) -> None:
    for lines, chords in _lines_of(parameters, study):
        progression = typed(parameters) or parse_progression(USUAL, parameters.beats)
        whole = len(progression.bars) * parameters.beats
        assert study.bar == parameters.beats
        for heading, line in lines.items():
            sounding = sum((chord.duration for chord in chords if chord), Fraction(0))
            assert sum((tone.duration for tone in line.tones), Fraction(0)) == sounding
            for chord, tones in _chords_of(line, chords):
                assert sum((tone.duration for tone in tones), Fraction(0)) == chord.duration
            rested = line.duration - whole
            if heading == "Improvise":
                assert rested == 0
            else:
                share = REST_SHARE[str(parameters.rests)]
                assert sounding * share <= rested < sounding * share + study.bar


@rule("changes")
def guide_tones_start_on_third_and_seventh_and_move_to_the_nearest(parameters: Any, study: Study) -> None:
    low, high = low_and_high(parameters)
    for lines, chords in _lines_of(parameters, study):
        guides = _guides(lines)
        if not guides:
            continue
        walks = []
        for line in guides:
            pairs = list(_chords_of(line, chords))
            assert all(len(tones) == 1 for _, tones in pairs)
            walks.append([tones[0].pitch.number for _, tones in pairs])
            assert not any(tone.slurred or tone.marks or tone.syllable for tone in line.tones)
        sounding = [chord for chord in chords if chord]
        assert [walk[0] % 12 for walk in walks] == [
            (sounding[0].root + height) % 12 for height in PRACTICE[sounding[0].name][1]
        ]
        for chord, *pair in zip(sounding, *walks, strict=True):
            heights = PRACTICE[chord.name][1]
            assert sorted(number % 12 for number in pair) == sorted((chord.root + height) % 12 for height in heights)
        for (one, other), (here, there) in pairwise(zip(*walks, strict=True)):
            assert _apart(one, here) + _apart(other, there) <= _apart(one, there) + _apart(other, here)
            for before, number in ((one, here), (other, there)):
                octaves = [each for each in range(low, high + 1) if (each - number) % 12 == 0]
                assert abs(number - before) == min(abs(each - before) for each in octaves)


def _apart(one: int, other: int) -> int:
    return min((one - other) % 12, (other - one) % 12)


def _turns_only_at_the_ends(found: list[int], rungs: list[int]) -> int:
    """Return in which direction notes start (0: no step), which go from rung to rung and turn where no rung is left."""
    places = [rungs.index(number) for number in found]
    steps = [after - before for before, after in pairwise(places)]
    assert all(abs(step) == 1 for step in steps), f"{found} leaps or repeats a note"
    for place, (before, after) in enumerate(pairwise(steps), start=1):
        assert before == after or places[place] in (0, len(rungs) - 1), f"{found} turns too early"
    return steps[0] if steps else 0


def _run(parameters: Any, tones: list[Tone], chord: Sounding) -> list[int]:
    value = NOTE_VALUES[parameters.running]
    # A chord that no whole number of half notes fills is played in quarters.
    value = value if chord.duration % value == 0 else Fraction(1)
    assert [tone.duration for tone in tones] == [value] * int(chord.duration / value)
    return [tone.pitch.number for tone in tones]


@rule("changes")
def chord_tones_go_through_the_whole_chord_from_its_root_and_turn_back_at_the_end(
    parameters: Any, study: Study
) -> None:
    low, high = low_and_high(parameters)
    for lines, chords in _lines_of(parameters, study):
        if "Chord tones" not in lines:
            continue
        guides = _guides(lines)
        guide = [tone.pitch.number for tone in guides[0].tones] if guides else None
        for place, (chord, tones) in enumerate(_chords_of(lines["Chord tones"], chords)):
            found = _run(parameters, tones, chord)
            heights = [0]
            for tone in CHORDS[chord.name][1][1:]:
                heights.append(tone + 12 * max(0, -((tone - heights[-1] - 1) // 12)))
            whole = [number for number in range(low, high - heights[-1] + 1) if (number - chord.root) % 12 == 0]
            assert (found[0] - chord.root) % 12 == 0
            if whole:
                assert found[0] in whole
                if guide:
                    assert abs(found[0] - guide[place]) == min(abs(number - guide[place]) for number in whole)
            close = {height for height in heights if height < 12}
            rungs = [number for number in range(low, high + 1) if (number - chord.root) % 12 in close]
            if whole and len(close) < len(heights):
                rungs = [found[0] + height for height in heights]
            direction = _turns_only_at_the_ends(found, rungs)
            if whole:
                assert direction >= 0
            assert {(number - chord.root) % 12 for number in rungs} >= close


@rule("changes")
def scales_lead_by_step_from_each_chord_into_the_next_and_turn_in_turn(parameters: Any, study: Study) -> None:
    low, high = low_and_high(parameters)
    for lines, chords in _lines_of(parameters, study):
        if "Scales" not in lines:
            continue
        played = list(_chords_of(lines["Scales"], chords))
        numbers = [tone.pitch.number for _, tones in played for tone in tones]
        assert low <= min(numbers) <= max(numbers) <= high
        # An octave and a half.
        assert max(numbers) - min(numbers) <= 18
        before: list[int] = []
        for place, (chord, tones) in enumerate(played):
            found = [tone.pitch.number for tone in tones]
            last = place + 1 == len(played)
            if not last:
                assert _run(parameters, tones, chord) == found
            steps = scale_over(parameters, chord.name)
            rungs = [number for number in range(low, high + 1) if (number - chord.root) % 12 in steps]
            places = [rungs.index(number) for number in found]
            steps_taken = [abs(after - at) for at, after in pairwise(places)]
            # A scale of six or eight notes comes to its guide tones by a third at times.
            if last and steps_taken and steps_taken[-1] == 2:
                steps_taken.pop()
            assert set(steps_taken) <= {1}, f"{found} leaps or repeats a note"
            if before and len(steps) >= 5:
                # By step, or by the smallest interval there is where the line has come to the end of its room.
                assert 1 <= abs(found[0] - before[-1]) <= 4
            elif place == 0 and not parameters.scale_choices:
                assert (found[0] - chord.root) % 12 == 0 or all((each - chord.root) % 12 for each in rungs)
            if len(found) > 2 and not last:
                up = found[1] > found[0]
                at_an_end = found[0] - min(numbers) <= 4 or max(numbers) - found[0] <= 4
                assert up == (place % 2 == 0) or at_an_end or found[0] == before[0]
            if last and len(found) > 1 and tones[-1].duration > tones[0].duration:
                heights = [(chord.root + height) % 12 for height in PRACTICE[chord.name][1]]
                assert found[-1] % 12 in heights
            assert found != before or len(found) < 3 or len(rungs) < 3, "a bar is the same as the one before"
            before = found


@rule("changes")
def a_line_of_scales_ends_on_a_held_note_where_its_last_chord_has_the_time(parameters: Any, study: Study) -> None:
    for lines, chords in _lines_of(parameters, study):
        if "Scales" not in lines:
            continue
        chord, tones = list(_chords_of(lines["Scales"], chords))[-1]
        whole = (chord.duration - 2) % NOTE_VALUES[parameters.running] == 0
        if (
            chord.duration == 4
            and whole
            and not parameters.scale_choices
            and NOTE_VALUES[parameters.running] <= Fraction(1, 2)
        ):
            low, high = low_and_high(parameters)
            assert tones[-1].duration == 2 or high - low < 12


@rule("changes")
def a_slash_stands_for_every_beat_to_improvise_on_and_nowhere_else(parameters: Any, study: Study) -> None:
    for line in study.lines:
        slashes = line.heading == "Improvise"
        for tone in line.tones:
            assert tone.slash == slashes
            if slashes:
                assert (tone.pitch.number, tone.duration) == (MIDDLE_LINE, 1)
                assert not any((tone.slurred, tone.marks, tone.syllable, tone.breath))


# Vocabulary --------------------------------------------------------------------------------------------------------


def _height(degree: Any) -> int:
    return 12 * ((degree.number - 1) // 7) + _MAJOR[(degree.number - 1) % 7] + degree.alter


def _lasting(stretches: Iterator[Stretch]) -> Iterator[tuple[Fraction, Fraction, Any]]:
    """Yield start, duration and chord as long as one goes on; a repeat sign ends it."""
    groups: list[list[Stretch]] = []
    for each in stretches:
        if each.changes or not groups:
            groups.append([])
        groups[-1].append(each)
    for group in groups:
        yield group[0].start, sum((each.duration for each in group), Fraction(0)), group[0].chord


@rule("vocabulary")
def the_phrase_is_played_over_each_chord_it_fits_and_slashes_fill_the_rest(parameters: Any, study: Study) -> None:
    progression = typed(parameters)
    notes = [(degree and _height(degree), duration) for degree, duration in parameters.phrase.notes]
    length = sum((duration for _, duration in notes), Fraction(0))
    for line in study.lines:
        key = tonic_of(line.label)
        events = list(starts(line))
        if progression is None:
            ((at, symbol),) = line.chords
            assert (at, symbol.root.number % 12) == (0, key)
            assert symbol.quality.symbol == parameters.quality.symbol
            _check_phrase(parameters, [each for each in events if each[0] < length], Fraction(0), notes, key)
            assert not any(isinstance(event, Tone) for at, event in events if at >= length)
            continue
        away = key - home_of(parameters, progression)[0]
        placed = 0
        for start, lasts, chord in _lasting(progression.stretches):
            inside = [(at, event) for at, event in events if start <= at < start + lasts]
            if chord is None:
                assert all(isinstance(event, Rest) for _, event in inside)
                continue
            scale = scale_over(parameters, chord.quality.name)
            fits = length <= lasts and all(height % 12 in scale for height, _ in notes if height is not None)
            placed += fits
            if fits:
                own = [(at, event) for at, event in inside if at < start + length]
                _check_phrase(parameters, own, start, notes, (chord.root.number + away) % 12)
                inside = [(at, event) for at, event in inside if at >= start + length and isinstance(event, Tone)]
            beats = int(lasts - length) if fits else int(lasts)
            assert [at for at, _ in inside] == [start + lasts - beat for beat in range(beats, 0, -1)]
            for _, event in inside:
                assert isinstance(event, Tone)
                assert event.slash
                assert (event.pitch.number, event.duration) == (MIDDLE_LINE, 1)
        assert placed


def _check_phrase(
    parameters: Any, events: list[tuple[Fraction, Any]], start: Fraction, notes: list[tuple[Any, Fraction]], root: int
) -> None:
    """Raise AssertionError where events are not the phrase over a root, in the octave nearest to the middle."""
    low, high = low_and_high(parameters)
    wanted, at = [], start
    for height, duration in notes:
        if height is not None:
            wanted.append((at, duration, height))
        at += duration
    tones = [(at, event) for at, event in events if isinstance(event, Tone)]
    assert [(at, tone.duration) for at, tone in tones] == [(at, duration) for at, duration, _ in wanted]
    assert not any(tone.slash for _, tone in tones)
    found = [tone.pitch.number for _, tone in tones]
    first = found[0] - wanted[0][2]
    assert (first - root) % 12 == 0
    assert found == [first + height for _, _, height in wanted]
    octaves = [
        first + 12 * octave for octave in range(-9, 10)
        if low <= min(found) + 12 * octave and max(found) + 12 * octave <= high
    ]  # fmt: skip
    middle = min(abs(min(found) + max(found) + 2 * (each - first) - low - high) for each in octaves)
    assert abs(min(found) + max(found) - low - high) == middle


@rule("vocabulary")
def a_rest_follows_every_line_that_does_not_end_in_the_players_own_beats(parameters: Any, study: Study) -> None:
    share = REST_SHARE[str(parameters.rests)]
    for line in study.lines:
        last = line.events[-1]
        played = sum((tone.duration for tone in line.tones), Fraction(0))
        progression = typed(parameters)
        notes = parameters.phrase.notes
        length = sum((duration for _, duration in notes), Fraction(0))
        whole = length if progression is None else Fraction(len(progression.bars) * parameters.beats)
        if isinstance(last, Tone) and last.slash:
            assert line.duration == whole
        else:
            assert played * share <= line.duration - whole < played * share + study.bar


@rule("vocabulary")
def rests_that_follow_each_other_are_one(parameters: Any, study: Study) -> None:
    for line in study.lines:
        for (_, one), (at, other) in pairwise(starts(line)):
            if isinstance(one, Rest) and isinstance(other, Rest):
                # Rests of a triplet stay inside it, and are one there.
                assert at % 1 == 0
                assert any(rest.duration.denominator % 3 == 0 for rest in (one, other))
        for at, event in starts(line):
            if isinstance(event, Rest) and event.duration.denominator % 3 == 0:
                assert int(at) == int(at + event.duration) or (at + event.duration) % 1 == 0


@rule("vocabulary")
def no_line_is_without_a_note_of_the_phrase(parameters: Any, study: Study) -> None:
    assert all(numbers(line) for line in study.lines)
