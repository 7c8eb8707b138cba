"""Names of sheets: plain, readable, and another one for every other order."""

import random
import re
from dataclasses import fields

import pytest

from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.exercises.kinds import KINDS, Kind, kind_named
from etudegen.exercises.naming import sheet_name
from etudegen.exercises.settings import settings_of
from tests.kinds.strategies import SPELLINGS, PlainChance, draw_texts, text_of

every_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
# What another setting only is allowed, or heard, beside.
BESIDE = {
    ("range", "keys"): {"form": "scale"}, ("range", "order"): {"form": "scale"},
    ("changes", "progression"): {}, ("slurs", "stages"): {"ramp": True},
    ("vocabulary", "keys"): {"progression": "| Dm7 | G7 | Cmaj7 | % |"},
}  # fmt: skip


def name_of(kind: str, **asked: object) -> str:
    return sheet_name(kind_named(kind).parameters.of(asked))


def plain(name: str) -> bool:
    return len(name) <= 100 and re.fullmatch(r"[A-Za-z0-9]+(-[A-Za-z0-9]+)*", name) is not None


def values(parameters: Common) -> tuple[object, ...]:
    return tuple(getattr(parameters, each.name) for each in fields(parameters))


def _text(kind: Kind, setting: str, chance: PlainChance, beside: dict[str, str]) -> str:
    if setting in ("low", "high", "reach"):
        return chance.pick(SPELLINGS[chance.whole(54, 84)])
    return text_of(kind, setting, chance, beside)


@every_kind
def test_any_one_setting_changes_the_name(kind: Kind) -> None:
    chance = PlainChance(random.Random(kind.name))
    for setting, known in settings_of(kind.parameters).items():
        beside = BESIDE.get((kind.name, setting), {})
        usual = kind.parameters.of(beside)
        changed: dict[tuple[object, ...], str] = {}
        for _ in range(70):
            text = True if known.is_flag else _text(kind, setting, chance, beside)
            try:
                asked = kind.parameters.of({**beside, setting: text})
            except InputError:
                continue
            if values(asked) != values(usual):
                changed[values(asked)] = sheet_name(asked)
        names = [sheet_name(usual), *changed.values()]
        never = setting == "rests" and kind.name in ("contact", "range")
        assert never or len(names) > 1, setting
        assert all(map(plain, names))
        # Nor are there two on a file system that does not tell capitals from small letters.
        assert len({name.lower() for name in names}) == len(names), setting


@every_kind
def test_orders_that_differ_have_names_that_differ(kind: Kind) -> None:
    chance = PlainChance(random.Random(kind.name))
    names: dict[str, tuple[object, ...]] = {}
    for _ in range(200):
        try:
            asked = draw_texts(kind, chance).parameters()
        except InputError:
            continue
        name = sheet_name(asked)
        assert plain(name)
        assert names.setdefault(name.lower(), values(asked)) == values(asked)
    assert len(names) > 50


@pytest.mark.parametrize(
    ("kind", "asked", "name"),
    [
        ("slurs", {}, "slurs-Fs3-G5-72"),
        ("slurs", {"ramp": True, "high": "Bb5"}, "slurs-ramp-Fs3-Bb5-72"),
        ("slurs", {"positions": "1 12"}, "slurs-positions-1-12-Fs3-G5-72"),
        ("scales", {"keys": "D"}, "scales-keys-D-Fs3-G5-72"),
        ("scales", {"scale": "natural-minor", "keys": "F# Bb"}, "scales-keys-Fs-Bb-scale-natural-minor-Fs3-G5-72"),
        ("patterns", {"pattern": "1 2 3 1"}, "patterns-pattern-1-2-3-1-Fs3-G5-72"),
        ("long-tones", {"instrument": "cornet", "counts": 12}, "long-tones-counts-12-cornet-Fs3-G5-60"),
        ("range", {"reach": "A5", "title": "monday"}, "monday-range-reach-A5-Fs3-G5-72"),
    ],
)
def test_names_can_be_read(kind: str, asked: dict[str, object], name: str) -> None:
    assert name_of(kind, **asked) == name


@pytest.mark.parametrize("title", ["Größe", "港", "a/b", "Monday", "x" * 120, "two-fold", "two  fold", "C#"])
def test_what_a_name_leaves_out_stands_in_its_digest(title: str) -> None:
    name = name_of("slurs", title=title)
    assert plain(name)
    assert re.search("-Fs3-G5-72-[0-9a-f]{8}$", name)
    assert name != name_of("slurs", title=title[:-1] + ".")


def test_a_long_progression_is_shortened_and_told_from_one_that_ends_otherwise() -> None:
    bars = "| Dm7 | G7 | Cmaj7 | % " * 12
    one, other = name_of("changes", progression=f"{bars}| F |"), name_of("changes", progression=f"{bars}| G |")
    assert one.startswith("changes-progression-Dm7-G7-Cmaj7-Dm7")
    assert len(one) <= 100
    assert one != other
    assert one[:-8] == other[:-8]


def test_what_is_typed_in_concert_pitch_has_a_name_of_its_own() -> None:
    changes = kind_named("changes").parameters
    typed = {"progression": "| Dm7 | G7 | Cmaj7 | % |"}
    assert sheet_name(changes.of(typed)) != sheet_name(changes.of(typed, concert=True))
