"""Tunes written down: bars stay as full as they were, and every file is valid."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from lxml import etree

from etudegen.errors import InputError
from etudegen.export.musicxml import musicxml
from etudegen.instrument.catalogue import instrument
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.repeats import RepeatSigns, playing_order
from etudegen.tunes.keys import KeysWanted, in_keys, study_of
from etudegen.tunes.tune import Tune
from tests.kinds.reading import schema
from tests.tunes.melodies import tunes

WANTED = KeysWanted(instrument("trumpet-bflat"), WrittenPitch.parse("C3"), WrittenPitch.parse("C7"), tempo=90)


@settings(max_examples=8)
@given(tunes())
def test_bars_stay_as_full_as_they_were_in_every_key(tune: Tune) -> None:
    try:
        made = in_keys(tune, WANTED)
    except InputError:
        return
    study = study_of(made, WANTED)
    score = write_score(study)
    root = etree.fromstring(musicxml(score))
    assert schema().validate(root), schema().error_log
    divisions = int(root.findtext("part/measure/attributes/divisions"))
    lengths = [
        sum((Fraction(int(note.findtext("duration")), divisions) for note in bar.findall("note")), Fraction(0))
        for bar in root.findall("part/measure")
    ]
    assert lengths == [measure.length for _ in made.tunes for line in tune.lines for measure in line.measures]
    heard = perform(score)
    assert heard.duration * 60 / 90 == study.whole_seconds
    assert len(heard.lines) == len(made.tunes)


def order(text: str) -> str:
    """Play bars told by letters: ``[`` and ``]`` are repeat signs, digits before a letter its endings."""
    signs, names = [], []
    starts, endings = False, ()
    for sign in text:
        if sign == "[":
            starts = True
        elif sign.isdigit():
            endings = (*endings, int(sign))
        elif sign == "]":
            signs[-1] = RepeatSigns(signs[-1].starts, True, 2, signs[-1].endings)
        else:
            names.append(sign)
            signs.append(RepeatSigns(starts, False, 2, endings))
            starts, endings = False, ()
    return "".join(names[place] for place in playing_order(signs))


@pytest.mark.parametrize(
    ("written", "played"),
    [
        # How repeats and endings are read: common practice, no source.
        ("abc", "abc"),
        ("ab]c", "ababc"),
        ("a[bc]d", "abcbcd"),
        ("[a]b[c]", "aabcc"),
        ("[a1b]2c", "abac"),
        ("[a1b]2cd", "abacd"),
        ("x[a1b]2c[d]e", "xabacdde"),
        ("[a12b]3c", "ababac"),
        ("[a1b1c]2d2e", "abcade"),
        # The last of the endings may have a sign of its own: nothing is left to go back for.
        ("[a1b]2c]d", "abacd"),
        # Behind the endings a piece goes on afresh: the next repeat goes back to there.
        ("[a1b]2cde]f", "abacdedef"),
    ],
)
def test_repeats_and_endings_are_followed(written: str, played: str) -> None:
    assert order(written) == played


@pytest.mark.parametrize(("times", "played"), [(1, 1), (3, 3), (9, 9), (10, 9)])
def test_a_repeat_is_played_as_often_as_it_says_up_to_nine_times(times: int, played: int) -> None:
    assert playing_order([RepeatSigns(starts=True, ends=True, times=times)]) == [0] * played
