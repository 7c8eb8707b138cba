"""Ways through a key inside a range: whole, by neighbours, and home to where they started."""

from itertools import groupby, pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from etudegen.exercises.traversal import Extent, path
from etudegen.theory.chords import chord, chord_names
from etudegen.theory.keys import tonic
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.scales import ConcreteScale, scale, scale_names, well_spelled
from tests.strategies import ranges

NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]

holds = settings(max_examples=60)


def keys() -> st.SearchStrategy[ConcreteScale]:
    """A scale or a chord on any tonic, under the name that reads best or under the player's."""
    kinds = [*(scale(name) for name in scale_names()), *(chord(name).as_scale() for name in chord_names())]
    tonics_named = st.sampled_from([tonic(name) for name in NAMES])
    return st.builds(
        lambda asked, of, keep: well_spelled(asked, of, keep=keep), tonics_named, st.sampled_from(kinds), st.booleans()
    )


def ladder(key: ConcreteScale, low: WrittenPitch, high: WrittenPitch, *, rising: bool = True) -> list[int]:
    """The key numbers of the members of a key in a range, worked out from its half steps."""
    heights = {degree.half_steps % 12 for degree in (key.scale.up if rising else key.scale.down)}
    return [n for n in range(low.number, high.number + 1) if (n - key.tonic.number) % 12 in heights]


def turns(key: ConcreteScale, low: WrittenPitch, high: WrittenPitch) -> list[int]:
    """The key numbers that belong to the way up and to the way down, where a path may turn."""
    return sorted({*ladder(key, low, high)} & {*ladder(key, low, high, rising=False)})


def tonics(key: ConcreteScale, low: WrittenPitch, high: WrittenPitch) -> list[int]:
    return [n for n in range(low.number, high.number + 1) if (n - key.tonic.number) % 12 == 0]


def numbers(notes: list[WrittenPitch]) -> list[int]:
    return [note.number for note in notes]


def text(notes: list[WrittenPitch]) -> str:
    return " ".join(map(str, notes))


def walk(key_name: str, scale_name: str, low: str, high: str, extent: Extent) -> str:
    key = ConcreteScale(tonic(key_name), scale(scale_name))
    return text(path(key, WrittenPitch.parse(low), WrittenPitch.parse(high), extent))


@pytest.mark.parametrize(
    ("key_name", "scale_name", "low", "high", "expected"),
    [
        # From the lowest tonic to the highest scale note, down to the lowest, and home.
        ("F", "major", "A3", "D5", "F4 G4 A4 Bb4 C5 D5 C5 Bb4 A4 G4 F4 E4 D4 C4 Bb3 A3 Bb3 C4 D4 E4 F4"),
        # The lowest tonic is the lowest note.
        ("G", "major", "G3", "D4", "G3 A3 B3 C4 D4 C4 B3 A3 G3"),
        # The highest note is the lowest tonic.
        ("C", "major", "A3", "C4", "C4 B3 A3 B3 C4"),
        # B and B flat are forms of one degree: it turns before them.
        ("C", "melodic-minor", "G3", "B4", "C4 D4 Eb4 F4 G4 F4 Eb4 D4 C4 Bb3 Ab3 G3 A3 B3 C4"),
        ("C", "melodic-minor", "Bb3", "C5", "C4 D4 Eb4 F4 G4 A4 B4 C5 Bb4 Ab4 G4 F4 Eb4 D4 C4"),
        ("C", "whole-tone", "Bb3", "F#4", "C4 D4 E4 F#4 E4 D4 C4 Bb3 C4"),
        ("D", "chromatic", "C4", "F4", "D4 D#4 E4 F4 E4 Eb4 D4 Db4 C4 C#4 D4"),
    ],
)
def test_the_full_range_is_walked_as_worked_out_by_hand(key_name, scale_name, low, high, expected):
    assert walk(key_name, scale_name, low, high, Extent.FULL) == expected


@pytest.mark.parametrize(
    ("key_name", "scale_name", "extent", "expected"),
    [
        ("A", "major-pentatonic", Extent.ONE, "A3 B3 C#4 E4 F#4 A4 F#4 E4 C#4 B3 A3"),
        ("Bb", "melodic-minor", Extent.ONE, "Bb3 C4 Db4 Eb4 F4 G4 A4 Bb4 Ab4 Gb4 F4 Eb4 Db4 C4 Bb3"),
        ("F#", "augmented", Extent.ONE, "F#3 A3 A#3 C#4 D4 F4 F#4 F4 D4 C#4 A#3 A3 F#3"),
        (
            "G",
            "whole-tone",
            Extent.TWO,
            "G3 A3 B3 C#4 D#4 F4 G4 A4 B4 C#5 D#5 F5 G5 F5 Eb5 Db5 B4 A4 G4 F4 Eb4 Db4 B3 A3 G3",
        ),
    ],
)
def test_one_and_two_octaves_are_walked_as_worked_out_by_hand(key_name, scale_name, extent, expected):
    assert walk(key_name, scale_name, "F#3", "G5", extent) == expected


@holds
@given(keys(), ranges())
def test_the_full_path_starts_and_ends_on_the_lowest_tonic_in_range(key, low_high):
    notes = path(key, *low_high, Extent.FULL)
    assume(notes)
    lowest = tonics(key, *low_high)[0]
    assert notes[0] == notes[-1]
    assert notes[0].number == lowest


@holds
@given(keys(), ranges())
def test_the_full_path_reaches_the_highest_and_the_lowest_member_in_range(key, low_high):
    """Of a scale that descends otherwise, the highest and the lowest that both ways have."""
    notes = path(key, *low_high, Extent.FULL)
    assume(notes)
    assert max(numbers(notes)) == turns(key, *low_high)[-1]
    assert min(numbers(notes)) == turns(key, *low_high)[0]


@holds
@given(keys(), ranges(), st.sampled_from(Extent))
def test_no_step_of_a_path_is_in_neither_form_of_its_scale(key, low_high, extent):
    """Two forms of one degree never meet: what rises stays among the members of the way up, and the other way round."""
    for here, there in pairwise(numbers(path(key, *low_high, extent))):
        assert {here, there} <= {*ladder(key, *low_high, rising=there > here)}


def test_no_melodic_minor_turns_through_both_forms_of_a_degree():
    """In C the sixth is A flat or A, the seventh B flat or B; common practice, no source."""
    for name in NAMES:
        key = well_spelled(tonic(name), scale("melodic-minor"), keep=False)
        for high in range(66, 90):
            notes = numbers(path(key, WrittenPitch.parse("F#3"), WrittenPitch.from_number(high), Extent.FULL))
            forms = [{(number - key.tonic.number) % 12 for number in pair} for pair in pairwise(notes)]
            assert not any(both in forms for both in ({8, 9}, {10, 11}, {9, 10}))


@holds
@given(keys(), ranges(), st.sampled_from(Extent))
def test_a_path_moves_to_the_next_member_up_or_down_and_repeats_no_note(key, low_high, extent):
    notes = numbers(path(key, *low_high, extent))
    up, down = ladder(key, *low_high), ladder(key, *low_high, rising=False)
    for here, there in pairwise(notes):
        nearest = min(n for n in up if n > here) if there > here else max(n for n in down if n < here)
        assert there == nearest


@holds
@given(keys(), ranges())
def test_the_full_path_rises_once_falls_once_and_comes_home(key, low_high):
    notes = numbers(path(key, *low_high, Extent.FULL))
    assume(notes)
    directions = [rising for rising, _ in groupby(there > here for here, there in pairwise(notes))]
    lowest, highest = notes[0] == min(notes), notes[0] == max(notes)
    assert directions == [True] * (not highest) + [False] + [True] * (not lowest)


@holds
@given(keys(), ranges())
def test_there_is_no_full_path_only_where_there_is_no_tonic_or_nothing_besides_it(key, low_high):
    found = tonics(key, *low_high)
    possible = bool(found) and len(turns(key, *low_high)) > 1
    assert bool(path(key, *low_high, Extent.FULL)) is possible


@holds
@given(keys(), ranges(), st.sampled_from([Extent.ONE, Extent.TWO]))
def test_one_or_two_octaves_are_exactly_that_from_the_lowest_tonic_and_back(key, low_high, extent):
    notes = numbers(path(key, *low_high, extent))
    found = tonics(key, *low_high)
    octaves = {Extent.ONE: 1, Extent.TWO: 2}[extent]
    if not found or found[0] + 12 * octaves > low_high[1].number:
        assert notes == []
        return
    bottom, top = found[0], found[0] + 12 * octaves
    up = [n for n in ladder(key, *low_high) if bottom <= n <= top]
    down = [n for n in reversed(ladder(key, *low_high, rising=False)) if bottom <= n < top]
    assert notes == [*up, *down]
    assert len(notes) == octaves * (len(key.scale.up) + len(key.scale.down)) + 1


@holds
@given(keys(), ranges(), st.sampled_from(Extent))
def test_the_notes_of_a_path_are_spelled_as_the_members_of_the_key_in_the_direction_they_lead(key, low_high, extent):
    notes = path(key, *low_high, extent)
    rising, falling = (key.members(*low_high, rising=each) for each in (True, False))
    for here, there in pairwise(notes):
        assert there in (rising if there.number > here.number else falling)
    assert all(low_high[0].number <= note.number <= low_high[1].number for note in notes)


@holds
@given(st.data(), st.sampled_from(chord_names()), st.sampled_from(NAMES), ranges(), st.sampled_from(Extent))
def test_a_path_starts_and_ends_on_the_lowest_note_it_may_start_on(data, name, root, low_high, extent):
    """As an inversion does: on the third, the fifth and so on."""
    key = well_spelled(tonic(root), chord(name).as_scale(), keep=True)
    start = data.draw(st.sampled_from(key.scale.half_steps))

    def starts(note: WrittenPitch) -> bool:
        return (note.number - key.tonic.number - start) % 12 == 0

    notes = path(key, *low_high, extent, starts)
    members = ladder(key, *low_high)
    allowed = [n for n in members if starts(WrittenPitch.from_number(n))]
    reach = {Extent.ONE: 12, Extent.TWO: 24, Extent.FULL: 0}[extent]
    possible = bool(allowed) and len(members) > 1 and allowed[0] + reach <= low_high[1].number
    assert bool(notes) is possible
    if notes:
        assert notes[0] == notes[-1]
        assert notes[0].number == allowed[0]


@pytest.mark.parametrize("extent", Extent)
def test_a_range_without_a_tonic_has_no_path(extent):
    assert walk("C", "major", "D4", "B4", extent) == ""


@pytest.mark.parametrize(("extent", "high"), [(Extent.ONE, "B4"), (Extent.TWO, "B5")])
def test_a_range_that_is_a_half_step_too_small_has_no_path_and_one_that_just_fits_has(extent, high):
    assert walk("C", "major", "C4", high, extent) == ""
    just = WrittenPitch.parse(high).above(1, 1)
    assert walk("C", "major", "C4", str(just), extent).startswith("C4 D4 E4")


def test_the_lowest_tonic_alone_decides_where_an_octave_begins():
    assert walk("C", "major", "C4", "C7", Extent.ONE) == walk("C", "major", "C4", "C5", Extent.ONE)


def test_an_extent_tells_its_half_steps_and_the_whole_range_none():
    assert [extent.half_steps for extent in (Extent.ONE, Extent.TWO, Extent.FULL)] == [12, 24, None]
