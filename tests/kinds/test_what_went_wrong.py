"""Requests that once gave a wrong sheet, or an error of the program's own: the smallest ones that did."""

from pathlib import Path

import pytest

from etudegen.errors import InputError
from etudegen.exercises.kinds import KINDS
from etudegen.study import Rest
from tests.kinds.rules import RULES, numbers
from tests.kinds.strategies import OWN, Asked
from tests.kinds.validity import check

KIND = {kind.name: kind for kind in KINDS}


@pytest.mark.parametrize(
    "asked",
    [
        pytest.param(Asked(KIND[kind], texts, concert="concert" in why), id=why)
        for why, kind, texts in (
            ("broken chords where two octaves do not fit", "arpeggios", {"shape": "broken", "extent": "two"}),
            ("broken chords at the turns", "arpeggios", {"shape": "broken", "articulation": "slurred", "keys": "C"}),
            ("broken chords of two notes", "arpeggios", {"shape": "broken", "keys": "C", "high": "E4"}),
            ("a minor triad on G flat", "arpeggios", {"chord": "minor"}),
            ("a diminished triad on E flat", "arpeggios", {"chord": "diminished"}),
            ("a chord with its own octave", "arpeggios", {"chords": str(OWN / "chords.toml"), "chord": "octave"}),
            ("every chord of a key has a line or is told", "arpeggios", {"chord": "major-ninth", "own_chords": True}),
            ("cells that meet on a note under a slur", "patterns", {"pattern": "1 2", "articulation": "slurred"}),
            ("a turn that goes down under a slur", "patterns", {"pattern": "turn", "articulation": "slurred"}),
            ("a partial twice under a slur", "slurs", {"contour": "2 2 3"}),
            ("a sounding E double sharp in concert pitch", "slurs", {"low": "E##4"}),
            ("a sounding B double sharp in concert pitch", "bends", {"high": "B##4"}),
            ("a base that is hard to read", "contact", {"form": "intervals", "low": "Ebb4"}),
            ("two rests at the beginning of a triplet", "vocabulary", {"phrase": "r/8t r/8t 1/8t 5/4"}),
            ("two rests at the end of a triplet", "vocabulary", {"phrase": "1/8t r/8t r/8t r/8t 2/8t 3/8t"}),
            ("a triplet of rests after a rest", "vocabulary", {"phrase": "1/4 r/4 r/8t r/8t r/8t 5/4"}),
        )
    ],
)
def test_what_once_went_wrong_is_right_or_refused(asked: Asked) -> None:
    study = check(asked)
    if study is not None:
        for rule in RULES[asked.kind.name]:
            rule(asked.parameters(), study)


@pytest.mark.parametrize(
    ("kind", "setting"),
    [("scales", "scale"), ("patterns", "scale"), ("arpeggios", "chord"), ("range", "articulation")],
)
@pytest.mark.parametrize("name", ["", " ", "../up", "a/b", "a\\b", "nul.", "ß", "-o", "#", "x" * 300])
def test_a_name_in_a_players_file_never_becomes_a_name_of_a_file(
    kind: str, setting: str, name: str, tmp_path: Path
) -> None:
    entry = {"scale": 'degrees = "1 2 3 5"', "chord": 'degrees = "1 3 5"\nsymbol = ""', "articulation": 'mask = "."'}
    file = tmp_path / "own.toml"
    quoted = name.replace("\\", "\\\\")
    file.write_text(f'["{quoted}"]\n{entry[setting]}\n', encoding="utf-8")
    asked = Asked(KIND[kind], {f"{setting}s": str(file), setting: name, "low": "F#3", "high": "G5"})
    # The rules know only the packaged scales and chords.
    check(asked)


@pytest.mark.parametrize("setting", ["scales", "chords", "patterns", "articulations"])
@pytest.mark.parametrize(
    "text", ["a = " + "[" * 50_000, "a = 1", "[a]\nb = 1", "[a]", "a.b.c = 1", "[[a]]", "\0", "[a]\ndegrees = ''"]
)
def test_a_players_file_that_makes_no_sense_is_refused(setting: str, text: str, tmp_path: Path) -> None:
    (kind,) = [kind for kind in KINDS if kind.name == {"scales": "scales", "articulations": "range"}.get(
        setting, "arpeggios" if setting == "chords" else "patterns"
    )]  # fmt: skip
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError):
        Asked(kind, {setting: str(file)}).study()


@pytest.mark.parametrize(
    ("phrase", "rests"),
    [
        # A beat's worth of triplet rests: two of three are a quarter note's rest in the triplet, three a plain beat.
        ("r/8t r/8t 1/8t 5/4", ["2/3", "2"]),
        ("1/8t r/8t r/8t 5/4", ["2/3", "2"]),
        ("r/8t 1/8t r/8t 5/4", ["1/3", "1/3", "2"]),
        # Over the border of two triplets they stay apart.
        ("1/8t 2/8t r/8t r/8t 3/8t 4/8t", ["1/3", "1/3", "2"]),
        ("1/4 r/4 r/8t r/8t r/8t 5/4", ["2"]),
    ],
)
def test_rests_of_a_triplet_are_one_rest_inside_it(phrase: str, rests: list[str]) -> None:
    (line,) = Asked(KIND["vocabulary"], {"phrase": phrase, "keys": "C", "rests": "none"}).study().lines
    written = [str(event.duration) for event in line.events if isinstance(event, Rest)]
    assert written == rests


def test_an_arpeggio_is_broken_in_every_octave() -> None:
    # Up by every other note, and down the same way: common practice, no source.
    study = Asked(KIND["arpeggios"], {"shape": "broken", "keys": "C", "low": "C4", "high": "C6"}).study()
    assert numbers(study.lines[0])[:8] == [60, 67, 64, 72, 67, 76, 72, 79]
