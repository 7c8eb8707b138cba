"""A phrase taken from a file is the phrase that would be typed."""

from pathlib import Path

import pytest
from music21 import converter, harmony, note

from etudegen.errors import InputError
from etudegen.exercises.vocabulary import parse_phrase
from etudegen.instrument.catalogue import instrument
from etudegen.tunes.keys import read_tune
from etudegen.tunes.phrases import phrase_of
from tests.command_line import run

TRUMPET = instrument("trumpet-c")


def file_of(tmp_path: Path, melody: str, symbol: str = "") -> Path:
    score = converter.parse(f"tinynotation: 4/4 {melody}")
    if symbol:
        score.recurse().getElementsByClass("Measure").first().insert(0, harmony.ChordSymbol(symbol))
    path = tmp_path / "phrase.musicxml"
    score.write("musicxml", path)
    return path


@pytest.mark.parametrize(
    ("melody", "symbol", "phrase", "over"),
    [
        # Worked out by hand from the degrees of the major scale on the root.
        ("d8 e8 f8 a8 c'2", "Dm7", "1/8 2/8 b3/8 5/8 b7/2", "m7"),
        ("f#4 a4 c'4. d'8", "D7", "3/4 5/4 b7/4. 8/8", "7"),
        ("r4 g4 trip{f8 e8 d8} c4", "", "r/4 5/4 4/8t 3/8t 2/8t 1/4", ""),
        ("B4 c4 d2", "Cmaj7", "7/4 8/4 9/2", "maj7"),
        ("a4~ a4 b-2", "Gm7", "2/2 b3/2", "m7"),
        ("e4 a-4 g2", "G7b9", "6/4 b9/4 8/2", "7b9"),
        ("c8. d16 e4 f2", "C7", "1/8. 2/16 3/4 4/2", "7"),
        ("c2. d4", "C7", "1/2. 2/4", "7"),
    ],
)
def test_degrees_count_from_the_root_of_the_first_chord(
    melody: str, symbol: str, phrase: str, over: str, tmp_path: Path
) -> None:
    text, found = phrase_of(read_tune(file_of(tmp_path, melody, symbol), None, TRUMPET))
    assert (text, found) == (phrase, over)
    assert parse_phrase(text).text == phrase


def test_a_value_that_cannot_be_typed_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"a note of 4 quarter notes: allowed are"):
        phrase_of(read_tune(file_of(tmp_path, "c1"), None, TRUMPET))


def test_the_command_takes_phrase_and_chord_from_a_file(tmp_path: Path) -> None:
    path = file_of(tmp_path, "d8 e8 f8 a8 c'2", "Dm7")
    done = run("vocabulary", "--tune", path, "--keys", "D G", "--format", "musicxml", "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    (made,) = (tmp_path / "out").glob("*.musicxml")
    score = converter.parse(made)
    symbols = [(each.root().name, each.chordKind) for each in score.recurse().getElementsByClass(harmony.ChordSymbol)]
    assert symbols == [("D", "minor-seventh"), ("G", "minor-seventh")]
    heard = [each.pitch.pitchClass for each in score.recurse().getElementsByClass(note.Note)]
    assert [(each - heard[0]) % 12 for each in heard[:5]] == [0, 2, 3, 7, 10]
    assert [(each - heard[5]) % 12 for each in heard[5:10]] == [0, 2, 3, 7, 10]


def test_a_phrase_given_twice_is_refused(tmp_path: Path) -> None:
    path = file_of(tmp_path, "d8 e8 f8 a8 c'2", "Dm7")
    done = run("vocabulary", "1/8 2/8", "--tune", path)
    assert done.returncode == 2
    assert "the phrase is given twice" in done.stderr
