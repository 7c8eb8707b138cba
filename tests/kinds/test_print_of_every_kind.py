"""Easy and hard sheets of every kind on paper: LilyPond does not complain, and the page says what it should."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import pytest

from etudegen.engraving.lilypond_text import lilypond_text
from etudegen.engraving.reading import read_page
from etudegen.exercises.kinds import KINDS
from etudegen.export.musicxml import musicxml
from etudegen.notation.score import write_score
from etudegen.study import Study
from tests.kinds.cases import CASES, study_of
from tests.kinds.reading import read_sheet, runs, schema
from tests.printing import printed_together

# Two or three of each kind: all would take too long.
PRINTED = (
    "long-tones, easy", "long-tones, swells over barlines",
    "slurs, easy", "slurs, sixteenths", "slurs, triplets of their own",
    "bends, easy", "bends, whole steps", "bends, with cents",
    "pedals, easy", "pedals, under brackets", "pedals, brackets without rests",
    "contact, easy", "contact, swells",
    "scales, easy", "scales, swing", "scales, triple tongue", "scales, slurred triplets",
    "patterns, easy", "patterns, triplets bent", "patterns, sixteenths",
    "arpeggios, easy", "arpeggios, broken ninths",
    "changes, easy", "changes, repeats and no chord", "changes, swing in flats", "changes, triplets in five",
    "vocabulary, easy", "vocabulary, placed",
    "etudes, easy", "etudes, hard keys in minor, with everything", "etudes, swing",
    "range, easy", "range, scales with a reach", "range, arpeggios slurred",
)  # fmt: skip
_TOGETHER = 8
GROUPS = [PRINTED[first : first + _TOGETHER] for first in range(0, len(PRINTED), _TOGETHER)]


@dataclass(frozen=True)
class Sheet:
    """A study with what is made of it; ``words`` are those of the pages that it stands on."""

    study: Study
    words: str
    text: str
    musicxml: bytes


def _made(names: Sequence[str]) -> dict[str, Sheet]:
    """Return sheets by name, engraved together."""
    studies = {name: study_of(name) for name in names}
    scores = {name: write_score(study) for name, study in studies.items()}
    pages = {name: read_page(score) for name, score in scores.items()}
    printed = printed_together(pages)
    return {
        name: Sheet(
            studies[name],
            " ".join(printed[name]),
            lilypond_text(pages[name]),
            musicxml(scores[name]),
        )
        for name in names
    }


def _minutes(seconds: Fraction) -> str:
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60} s" if whole >= 60 else f"{whole} s"


def test_two_sheets_at_least_of_every_kind_are_printed() -> None:
    assert set(PRINTED) <= set(CASES)
    for kind in KINDS:
        assert f"{kind.name}, easy" in PRINTED
        assert sum(name.startswith(f"{kind.name}, ") for name in PRINTED) >= 2


@pytest.mark.parametrize("names", GROUPS, ids=lambda names: f"{names[0]} to {names[-1]}")
def test_lilypond_has_nothing_to_complain_of_and_the_page_says_what_the_study_says(names: Sequence[str]) -> None:
    for name, sheet in _made(names).items():
        assert schema().validate(read_sheet(sheet.musicxml).root), (name, schema().error_log)
        _check_words(name, sheet.study, sheet.words)
        _check_signs(name, sheet.study, sheet.text)


def _check_words(name: str, study: Study, words: str) -> None:
    for text in (study.title, study.subtitle, study.instruction, study.caution):
        # The signs are in another font, and the reader gives them back in another order.
        for piece in re.split("[♯♭]", text):
            assert piece.strip() in words, name
    assert f"= {study.tempo}" in words, name
    if study.contact_seconds is None:
        assert f"Playing {_minutes(study.playing_seconds)} · resting {_minutes(study.resting_seconds)}" in words, name
    else:
        assert f"Contact {_minutes(study.contact_seconds)}" in words, name
    if study.feel.swung:
        assert "Swing" in words, name
    for line in study.lines:
        assert line.heading is None or line.heading in words, name


def _check_signs(name: str, study: Study, text: str) -> None:
    """Look for every sign of a study in the engraver's text."""
    music = text[text.index(r"\score") :]
    tones = [tone for line in study.lines for tone in line.tones]
    marks = [str(mark) for tone in tones for mark in tone.marks]
    found = {
        "marks": len(re.findall(r"\\staccato|\\tenuto|\\accent|-\.|--|->", music)),
        "bends": music.count(r"\bend-sign"),
        "fingerings": music.count(r"\fingering-digits"),
        "syllables": music.count(r"\tongue-syllable"),
        "partials": music.count(r"\partial-number"),
        "remarks": music.count(r"\remark"),
        "crescendi": music.count(r"\<"),
        "diminuendi": music.count(r"\>"),
        "breaths": music.count(r"\breathe"),
        "brackets begun": music.count(r"\ottava #-1"),
        "brackets ended": music.count(r"\ottava #0"),
        "keys": music.count(r"\key "),
        "swing": r"\swing-tempo" in music,
    }
    brackets = len(runs([tone.octave_bracket for tone in tones]))
    keys = [line.sharps for line in study.lines]
    swells = sum(tone.swell for tone in tones)
    assert found == {
        "marks": len(marks),
        "bends": sum(bool(tone.bent) for tone in tones),
        "fingerings": sum(bool(tone.fingering) for tone in tones),
        "syllables": sum(bool(tone.syllable) for tone in tones),
        "partials": sum(bool(tone.partial_number) for tone in tones),
        "remarks": sum(bool(tone.remark) for tone in tones),
        "crescendi": swells + sum(each.grows for line in study.lines for each in line.hairpins),
        "diminuendi": swells + sum(not each.grows for line in study.lines for each in line.hairpins),
        "breaths": sum(tone.breath for tone in tones),
        "brackets begun": brackets,
        "brackets ended": brackets,
        "keys": 1 + sum(before != after for before, after in pairwise(keys)),
        "swing": study.feel.swung,
    }, name
