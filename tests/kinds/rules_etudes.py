"""The rules of etudes, as functions that raise AssertionError where a study breaks one.

Everything is reckoned here in key numbers: major and natural minor as the tables in ``rules`` have them, a raised
leading note in minor over the dominant alone.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

from etudegen.study import Line, Study, Tone
from tests.kinds.rules import NOTE_VALUES, SCALES, rule, signature, tonic_of
from tests.kinds.validity import starts

PHRASE = 4
FIVE_NOTES, SIGHT_READING_BARS = 7, 8
# templates/etudes/styles.toml: the range, the widest interval and the shortest notes of each difficulty.
DIFFICULTIES = {
    1: (9, 7, "quarters"), 2: (12, 8, "eighths"), 3: (16, 12, "eighths"), 4: (20, 12, "sixteenths"),
    5: (26, 15, "sixteenths"),
}  # fmt: skip
METRES = {
    "2/4": Fraction(2), "3/4": Fraction(3), "4/4": Fraction(4), "6/8": Fraction(3), "5/4": Fraction(5),
    "7/8": Fraction(7, 2), "12/8": Fraction(6),
}  # fmt: skip


def _scale(parameters: Any) -> tuple[int, ...]:
    return SCALES["major" if parameters.mode == "major" else "natural-minor"][0]


def _tonic(line: Line) -> int:
    return tonic_of(line.label.split(" · ")[-1])


def _phrases(parameters: Any, study: Study, line: Line) -> Iterator[list[tuple[Fraction, Tone]]]:
    """Yield the tones of each phrase of four bars, each with its start."""
    length = PHRASE * study.bar
    tones = [(at, event) for at, event in starts(line) if isinstance(event, Tone)]
    for first in range(0, _bars(parameters), PHRASE):
        yield [(at, tone) for at, tone in tones if first * study.bar <= at < first * study.bar + length]


def _bars(parameters: Any) -> int:
    return SIGHT_READING_BARS if parameters.sight_reading else int(parameters.bars)


@rule("etudes")
def each_key_that_was_asked_for_has_its_piece_or_a_reason(parameters: Any, study: Study) -> None:
    labels = [line.label for line in study.lines]
    if parameters.sight_reading:
        assert len(labels) + len(study.skipped) == parameters.pieces
        numbered = [int(label.split(" · ")[0]) for label in labels]
        assert numbered == sorted(numbered)
        return
    had = [tonic_of(label) for label in labels] + [tonic_of(skipped.what) for skipped in study.skipped]
    asked = [key.number % 12 for key in parameters.keys] or list(range(12))
    assert sorted(had) == sorted(asked)
    if parameters.order is None and parameters.keys:
        assert [key for key in asked if key in had[: len(labels)]] == had[: len(labels)]
    if parameters.order is None and not parameters.keys:
        # By fourths from C. Common practice, no source.
        rounds = [5 * place % 12 for place in range(12)]
        assert [rounds.index(each) for each in had[: len(labels)]] == sorted(map(rounds.index, had[: len(labels)]))


@rule("etudes")
def each_piece_is_in_its_key(parameters: Any, study: Study) -> None:
    for line in study.lines:
        tonic, steps = _tonic(line), _scale(parameters)
        bent = signature(line.sharps)
        assert line.mode == parameters.mode
        for tone in line.tones:
            above = (tone.pitch.number - tonic) % 12
            assert tone.pitch.alter == bent.get(tone.pitch.step, 0) or above == 11
            assert above in steps or (parameters.mode == "minor" and above == 11), f"{tone.pitch} is not in the key"


@rule("etudes")
def pieces_are_as_long_as_was_asked_in_their_metre(parameters: Any, study: Study) -> None:
    if parameters.metre:
        assert study.bar == METRES[parameters.metre]
        assert "/".join(map(str, study.metre)) == parameters.metre
    for line in study.lines:
        played = sum((tone.duration for tone in line.tones), Fraction(0))
        assert played == _bars(parameters) * study.bar
        assert str(_bars(parameters)) in study.subtitle


@rule("etudes")
def the_last_note_is_the_tonic_and_phrases_end_on_chords(parameters: Any, study: Study) -> None:
    for line in study.lines:
        tonic, steps = _tonic(line), _scale(parameters)
        raised = [*steps, 11]
        *phrases, last = _phrases(parameters, study, line)
        assert (last[-1][1].pitch.number - tonic) % 12 == 0
        for number, phrase in enumerate(phrases, start=1):
            above = (phrase[-1][1].pitch.number - tonic) % 12
            # On the dominant's root, fifth or third, or on the third or fifth of the tonic.
            assert above in {steps[4], steps[1], raised[-1], steps[6], steps[2]}
            if 2 * number == len(phrases) + 1:
                assert above in {steps[4], steps[1], raised[-1]}, "the middle is a half cadence"


@rule("etudes")
def the_highest_note_comes_once(parameters: Any, study: Study) -> None:
    for line in study.lines:
        heights = [tone.pitch.number for tone in line.tones]
        if max(heights) - min(heights) > FIVE_NOTES:
            assert heights.count(max(heights)) == 1
            bar = next(at for at, tone in starts(line) if isinstance(tone, Tone) and tone.pitch.number == max(heights))
            # Not where a phrase begins or ends, and so not in the last breath.
            assert bar // study.bar % PHRASE in (1, 2)


@rule("etudes")
def no_interval_is_wider_than_was_asked_or_an_augmented_second(parameters: Any, study: Study) -> None:
    span, widest, _ = DIFFICULTIES[parameters.difficulty]
    for line in study.lines:
        heights = [tone.pitch.number for tone in line.tones]
        assert max(heights) - min(heights) <= span + 1
        for one, other in pairwise(line.tones):
            half_steps = abs(one.pitch.number - other.pitch.number)
            assert half_steps <= (parameters.widest or widest)
            letters = abs("CDEFGAB".index(one.pitch.step) - "CDEFGAB".index(other.pitch.step))
            assert half_steps != 3 or letters not in (1, 6), "an augmented second"


@rule("etudes")
def no_note_is_shorter_than_was_asked(parameters: Any, study: Study) -> None:
    shortest = NOTE_VALUES[str(parameters.rhythm or DIFFICULTIES[parameters.difficulty][2])]
    if study.metre[1] == 8:
        shortest = min(shortest, NOTE_VALUES["eighths"])
    for line in study.lines:
        assert all(tone.duration >= shortest for tone in line.tones)


@rule("etudes")
def one_breathes_at_bar_lines_and_where_phrases_end(parameters: Any, study: Study) -> None:
    for line in study.lines:
        *_, (last, _) = [(at, event) for at, event in starts(line) if isinstance(event, Tone)]
        for at, event in starts(line):
            if not isinstance(event, Tone):
                continue
            ends = at + event.duration
            if event.breath:
                assert ends % study.bar == 0
                assert not event.slurred
                assert at != last
            if ends % (PHRASE * study.bar) == 0 and at != last:
                assert event.breath


@rule("etudes")
def loudness_is_told_at_the_beginning_and_the_end(_: Any, study: Study) -> None:
    for line in study.lines:
        dynamics = [text for text in line.texts if text.role == "dynamic"]
        assert dynamics
        assert dynamics[0].at == 0
        whole = sum((tone.duration for tone in line.tones), Fraction(0))
        for hairpin in line.hairpins:
            assert 0 <= hairpin.at < hairpin.until <= whole
        for one, other in pairwise(sorted(line.hairpins, key=lambda each: each.at)):
            assert one.until <= other.at


@rule("etudes")
def chords_are_printed_where_they_were_asked_for(parameters: Any, study: Study) -> None:
    for line in study.lines:
        assert bool(line.chords) == parameters.chords
        if parameters.chords:
            bars = {at // study.bar for at, _ in line.chords}
            assert bars == set(range(_bars(parameters)))
            chord = line.chords[-1][1]
            assert chord is not None
            assert chord.root.number % 12 == _tonic(line)


@rule("etudes")
def swing_is_of_what_swings(parameters: Any, study: Study) -> None:
    swings = (parameters.articulation or parameters.style) == "swing"
    assert study.feel.swung == swings
