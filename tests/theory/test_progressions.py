"""Progressions: bars, shared bars, repeats, what is printed back, and every mistake with the number of its bar."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.theory.keys import tonic
from etudegen.theory.pitch import STEPS
from etudegen.theory.progressions import (
    LONGEST_TEXT,
    MOST_BARS,
    Progression,
    ProgressionMeasure,
    parse_progression,
    read_progression,
)
from etudegen.theory.symbols import ChordSymbol, parse_symbol
from tests.theory.test_symbols import NAMES, symbols


def heard(text: str, beats: int = 4) -> list[tuple[float, float, str]]:
    """Start, duration and name of every chord."""
    stretches = parse_progression(text, beats).stretches
    return [(float(each.start), float(each.duration), each.chord.text if each.chord else "-") for each in stretches]


@st.composite
def progressions(draw: st.DrawFn, most_bars: int = 12) -> Progression:
    """Any progression that can be typed: chords on beats, repeats in turn, at least one chord."""
    beats = draw(st.integers(2, 7))
    count = draw(st.integers(1, most_bars))
    chords = []
    for _ in range(count):
        if chords and draw(st.booleans()) and draw(st.booleans()):
            chords.append(chords[-1])
            continue
        starts = [0, *sorted(draw(st.sets(st.integers(1, beats - 1), max_size=beats - 1)))]
        chords.append(tuple((Fraction(at), draw(st.none() | symbols())) for at in starts))
    if all(chord is None for bar in chords for _, chord in bar):
        chords[0] = ((Fraction(0), draw(symbols())), *chords[0][1:])
    marks = [[False, False] for _ in range(count)]
    for first, last in draw(st.lists(st.tuples(st.integers(0, count - 1), st.integers(0, 3)), max_size=3)):
        end = min(count - 1, first + last)
        if not any(any(mark) for mark in marks[first : end + 1]) and not _inside(marks, first):
            marks[first][0] = marks[end][1] = True
    return Progression(beats, tuple(ProgressionMeasure(bar, *mark) for bar, mark in zip(chords, marks, strict=True)))


def _inside(marks: list[list[bool]], place: int) -> bool:
    """Tell whether a bar is inside a repeat."""
    open_ = False
    for starts, ends in marks[:place]:
        open_ = (open_ or starts) and not ends
    return open_


@settings(max_examples=70)
@given(progressions())
def test_what_is_printed_back_is_read_as_the_same_progression(progression):
    assert parse_progression(progression.text, progression.beats) == progression


@given(progressions())
def test_barlines_may_be_double_and_bars_on_lines_of_their_own(progression):
    other = progression.text.replace(" | ", " ||\n| ").replace(":|:", ":|\n|:").replace("N.C.", "n.c.")
    assert parse_progression(f"\n{other}\n", progression.beats) == progression


@given(progressions())
def test_chords_fill_every_bar_without_gaps(progression):
    at = Fraction(0)
    for stretch in progression.stretches:
        assert stretch.start == at
        assert stretch.duration >= 1
        assert stretch.start // progression.beats == (stretch.start + stretch.duration - 1) // progression.beats
        at += stretch.duration
    assert at == len(progression.bars) * progression.beats


@given(progressions(), st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_a_moved_progression_has_its_form_and_every_chord_moved(progression, one, other):
    interval = STEPS.index(other[0]) - STEPS.index(one[0]), tonic(other).number - tonic(one).number
    moved = progression.moved(*interval)
    assert (moved.beats, moved.repeats) == (progression.beats, progression.repeats)
    for before, after in zip(progression.bars, moved.bars, strict=True):
        assert after.chords == tuple((at, chord and chord.moved(*interval)) for at, chord in before.chords)
    assert parse_progression(moved.text, moved.beats) == moved


@pytest.mark.parametrize(
    ("text", "beats", "chords"),
    [
        ("| Dm7 | G7 |", 4, [(0, 4, "Dm7"), (4, 4, "G7")]),
        ("Dm7 | G7", 4, [(0, 4, "Dm7"), (4, 4, "G7")]),
        # Chords share a bar in whole beats, the first ones longer.
        ("| Dm7 G7 |", 4, [(0, 2, "Dm7"), (2, 2, "G7")]),
        ("| Dm7 G7 |", 3, [(0, 2, "Dm7"), (2, 1, "G7")]),
        ("| C F G |", 4, [(0, 2, "C"), (2, 1, "F"), (3, 1, "G")]),
        ("| C F G C |", 4, [(0, 1, "C"), (1, 1, "F"), (2, 1, "G"), (3, 1, "C")]),
        ("| C F |", 5, [(0, 3, "C"), (3, 2, "F")]),
        ("| C F G |", 7, [(0, 3, "C"), (3, 2, "F"), (5, 2, "G")]),
        ("| Dm7 . . G7 |", 4, [(0, 3, "Dm7"), (3, 1, "G7")]),
        ("| Dm7 / G7 / |", 4, [(0, 2, "Dm7"), (2, 2, "G7")]),
        ("| Dm7 / / |", 3, [(0, 3, "Dm7")]),
        ("| C F | % |", 4, [(0, 2, "C"), (2, 2, "F"), (4, 2, "C"), (6, 2, "F")]),
        ("| N.C. C |", 4, [(0, 2, "-"), (2, 2, "C")]),
        ("| C/E F6/9 |]", 4, [(0, 2, "C/E"), (2, 2, "F6/9")]),
        ("|C|F||\n||G|C|]", 4, [(0, 4, "C"), (4, 4, "F"), (8, 4, "G"), (12, 4, "C")]),
    ],
)
def test_bars_are_shared_as_musicians_write_them(text, beats, chords):
    """Worked out by hand. Common practice, no source."""
    assert heard(text, beats) == chords


@pytest.mark.parametrize(
    ("text", "repeats"),
    [
        ("|: C | F :|", [(0, "start"), (8, "end")]),
        ("C | F :| G", [(0, "start"), (8, "end")]),
        ("|: C :|: F :|", [(0, "start"), (4, "end"), (4, "start"), (8, "end")]),
        ("|: C :||: F :|", [(0, "start"), (4, "end"), (4, "start"), (8, "end")]),
        ("|: C :| |: F :|", [(0, "start"), (4, "end"), (4, "start"), (8, "end")]),
        ("|: C :|\n|: F :|", [(0, "start"), (4, "end"), (4, "start"), (8, "end")]),
        ("| C |: F :| G |", [(4, "start"), (8, "end")]),
        ("| C ||: F :|| G |]", [(4, "start"), (8, "end")]),
        ("| C | F |", []),
    ],
)
def test_repeats_stand_where_they_are_typed(text, repeats):
    assert [(int(at), sign) for at, sign in parse_progression(text, 4).repeats] == repeats


def test_a_chord_is_news_where_it_changes_and_where_a_repeat_leads():
    stretches = parse_progression("| C | % | F C |: C | % :| C | N.C. | C C |", 4).stretches
    assert [each.changes for each in stretches] == [
        True, False, True, True, True, False, True, True, True, False,
    ]  # fmt: skip


def test_the_last_chord_is_the_last_that_sounds():
    assert parse_progression("| C | F N.C. | N.C. |", 4).last_chord == parse_symbol("F")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("| Dm7 | G7 | Hm7 |", "bar 3: cannot read the chord 'Hm7': write a root from A to G"),
        ("| C | Cfoo |", "bar 2: cannot read the chord 'Cfoo': unknown quality 'foo'"),
        ("| C | | F |", "bar 2 is empty: write a chord, % or N.C."),
        ("| % |", "bar 1 is %, but no bar is before it"),
        ("| C | % F |", "bar 2: cannot read the chord '%'"),
        ("| C D E F G |", "bar 1 has 5 chords: its 4 beats have room for 4"),
        ("| C . |", "bar 1, 'C .': with . in it there must be one word for each of its 4 beats"),
        ("| . C C C |", "bar 1, '. C C C': with . in it"),
        ("|: C | F |", "bar 1 begins a repeat that has no end: write :| after its last bar"),
        ("| C :| F :|", "bar 2 ends a repeat that has no beginning: write |: and :| in turn"),
        ("|: C |: F :|", "bar 2 begins inside a repeat: write |: and :| in turn"),
        ("| C |:", "a repeat begins after the last bar"),
        (":| C |", "a repeat ends in front of bar 1"),
        ("", "the progression has no bars"),
        (" | \n |", "the progression has no bars"),
        ("| N.C. |", "the progression has no chord, only N.C."),
        ("C|" * (MOST_BARS + 1), f"the progression has more than {MOST_BARS} bars"),
        (" " * (LONGEST_TEXT + 1), f"a progression of {LONGEST_TEXT + 1} characters is too long"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_the_bar(text, told):
    with pytest.raises(InputError) as refusal:
        parse_progression(text, 4)
    assert told in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("beats", [1, 0, -1, 8])
def test_bars_of_other_lengths_are_refused(beats):
    with pytest.raises(InputError, match=f"{beats} beats to a bar are not allowed: give 2 to 7"):
        parse_progression("| C |", beats)


def test_two_hundred_bars_are_allowed():
    assert len(parse_progression("C|" * MOST_BARS, 4).bars) == MOST_BARS


@given(st.text("ACGm7b#|:%. /N\n]", max_size=40), st.integers(2, 7))
def test_any_text_is_read_or_refused(text, beats):
    try:
        progression = parse_progression(text, beats)
    except InputError:
        return
    assert parse_progression(progression.text, beats) == progression


def test_a_players_own_chords_are_read(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[mine]\ndegrees = "1 4 b7"\nsymbol = "q4"\n', encoding="utf-8")
    progression = parse_progression("| Dq4 | Dm7 |", 4, own)
    assert [chord.quality.name for bar in progression.bars for _, chord in bar.chords if chord] == [
        "mine", "minor-seventh",
    ]  # fmt: skip


def test_a_file_is_read_without_its_comments(tmp_path):
    file = tmp_path / "tune.txt"
    file.write_bytes("\ufeff# A tune of our own\n#\n| F#m7 | B♭7 |\r\n# the end\n| C |\n".encode())
    progression = parse_progression(read_progression(file), 4)
    assert [chord for bar in progression.bars for _, chord in bar.chords] == [
        ChordSymbol(tonic("F#"), parse_symbol("Cm7").quality), parse_symbol("Bb7"), parse_symbol("C"),
    ]  # fmt: skip


def test_files_that_cannot_be_read_are_told(tmp_path):
    large, odd = tmp_path / "large.txt", tmp_path / "odd.txt"
    large.write_text("C|" * LONGEST_TEXT, encoding="utf-8")
    odd.write_bytes(b"\xff\xfe\x00")
    for path, told in (
        (tmp_path / "missing.txt", "there is no such file"),
        (tmp_path, "it is no file but a folder"),
        (large, f"is larger than {LONGEST_TEXT} bytes"),
        (odd, "is no text"),
    ):
        with pytest.raises(InputError) as refusal:
            read_progression(path)
        assert told in str(refusal.value)
        assert str(path) in str(refusal.value)


def test_what_begins_no_chord_belongs_to_the_chord_before_it() -> None:
    assert parse_progression("| Dm7 | G7 alt | C maj7 | % |", 4) == parse_progression("| Dm7 | G7alt | Cmaj7 | % |", 4)
    assert (
        parse_progression("| Dm7 G7 sus4 . . |", 4).bars[0].chords[1][1]
        == parse_progression("| G7sus4 |", 4).last_chord
    )
