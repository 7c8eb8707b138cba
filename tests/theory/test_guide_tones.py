"""Guide tones: two lines through thirds and sevenths, inside a range, each going to the nearest."""

from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.theory.guide_tones import guide_lines, in_octaves
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.symbols import parse_symbol
from tests.theory.test_symbols import symbols

LOW, HIGH = WrittenPitch.parse("F#3").number, WrittenPitch.parse("G5").number


def walked(text: str, low: int = LOW, high: int = HIGH) -> tuple[str, str]:
    lines = guide_lines([parse_symbol(word) for word in text.split()], low, high)
    assert lines is not None
    return " ".join(map(str, lines.from_third)), " ".join(map(str, lines.from_seventh))


def apart(one: int, other: int) -> int:
    """Half steps between two pitch classes, the shorter way."""
    return min((one - other) % 12, (other - one) % 12)


def test_two_five_one_is_the_worked_example():
    """Dm7 F C, G7 F B, Cmaj7 E B: "Voice leading with guide tones", musictheorymanual.com."""
    assert walked("Dm7 G7 Cmaj7") == ("F4 F4 E4", "C5 B4 B4")


@pytest.mark.parametrize(
    ("chords", "from_third", "from_seventh"),
    [
        # Down by half steps through dominants a fifth apart, and the common tone of a tritone substitute under another
        # name. Common practice, no source.
        ("A7 D7 G7 C7", "C#4 C4 B3 Bb3", "G4 F#4 F4 E4"),
        ("G7 Db7 Cmaj7", "B4 Cb5 B4", "F4 F4 E4"),
        ("Dm7b5 G7b9 Cm6", "F4 F4 Eb4", "C5 B4 A4"),
        ("C F G C", "E4 C4 D4 E4", "G4 A4 B4 G4"),
        ("Cmaj7", "E4", "B4"),
    ],
)
def test_lines_go_to_the_nearest_guide_tone(chords, from_third, from_seventh):
    """Worked out by hand."""
    assert walked(chords) == (from_third, from_seventh)


chords = st.lists(symbols(), min_size=1, max_size=12)


@given(chords, st.integers(54, 80), st.integers(11, 24))
def test_both_lines_stay_in_range_on_different_guide_tones_and_together_move_least(chords, low, span):
    lines = guide_lines(chords, low, low + span)
    # Eleven half steps hold every pitch class.
    assert lines is not None
    walks = [[note.number for note in line] for line in (lines.from_third, lines.from_seventh)]
    first = [tone.number % 12 for tone in chords[0].guide_tones]
    assert [walk[0] % 12 for walk in walks] == first
    for chord, *pair in zip(chords, *walks, strict=True):
        assert all(low <= number <= low + span for number in pair)
        assert sorted(number % 12 for number in pair) == sorted(tone.number % 12 for tone in chord.guide_tones)
    steps = list(zip(*walks, strict=True))
    for (one, other), (after, other_after) in pairwise(steps):
        moved = apart(one, after) + apart(other, other_after)
        assert moved == min(
            apart(one, here) + apart(other, there) for here, there in permutations((after, other_after))
        )
        for before, number in ((one, after), (other, other_after)):
            reachable = [each for each in range(low, low + span + 1) if (each - number) % 12 == 0]
            assert abs(number - before) == min(abs(each - before) for each in reachable)


@given(chords)
def test_in_a_wide_range_no_line_leaps_where_it_has_room(chords):
    """Two octaves and more above and below the middle: every step is the shortest."""
    lines = guide_lines(chords, 66 - 72, 66 + 72)
    assert lines is not None
    for line in (lines.from_third, lines.from_seventh):
        assert all(abs(after.number - before.number) <= 6 for before, after in pairwise(line))


@pytest.mark.parametrize(
    ("chords", "from_third", "from_seventh"),
    [
        # Three and three half steps, or two and four.
        ("Cmaj7 Ebmaj7", "E4 D4", "B4 G4"),
        ("C6 Bb", "E4 F4", "A4 D5"),
        # One and five, or two and four.
        ("Cm7 Bb", "Eb4 D4", "Bb4 F4"),
        # Three and three either way.
        ("C7 Eb7", "E4 G4", "Bb4 Db5"),
    ],
)
def test_of_two_ways_that_move_as_little_the_line_from_the_third_takes_the_smaller_step(
    chords, from_third, from_seventh
):
    """And stays on thirds where that is the same too. Worked out by hand."""
    assert walked(chords) == (from_third, from_seventh)


def test_a_line_starts_in_the_middle_of_the_range():
    assert walked("Cmaj7", 60, 84) == ("E5", "B4")
    assert walked("Cmaj7", 60, 71) == ("E4", "B4")


def test_a_line_folds_by_an_octave_only_where_the_range_ends():
    # Down by half steps, more of them than the range has.
    falling = " ".join(f"{root}7" for root in ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G") * 2)
    from_third, from_seventh = walked(falling, 60, 72)
    for line in (from_third, from_seventh):
        numbers = [WrittenPitch.parse(name).number for name in line.split()]
        leaps = [after - before for before, after in pairwise(numbers) if after - before != -1]
        assert leaps
        assert all(leap == 11 for leap in leaps)


@given(chords, st.integers(54, 80), st.integers(0, 10))
def test_a_range_without_one_of_the_guide_tones_has_no_lines(chords, low, span):
    there = {number % 12 for number in range(low, low + span + 1)}
    needed = {tone.number % 12 for chord in chords for tone in chord.guide_tones}
    assert (guide_lines(chords, low, low + span) is None) == (not needed <= there)


def test_no_chords_have_no_guide_tones():
    lines = guide_lines([], LOW, HIGH)
    assert lines is not None
    assert lines.from_third == lines.from_seventh == ()


@given(st.integers(0, 127), st.integers(0, 127), st.integers(-5, 40))
def test_a_note_is_found_in_each_octave_of_a_range(number, low, span):
    note = WrittenPitch.from_number(number)
    found = in_octaves(note, low, low + span)
    assert [each.number for each in found] == [each for each in range(low, low + span + 1) if (each - number) % 12 == 0]
    assert {each.name for each in found} <= {note.name}
