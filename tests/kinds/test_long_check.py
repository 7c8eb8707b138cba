"""The long check, tried with small numbers."""

import re

import pytest

from etudegen.exercises.kinds import KINDS
from tests import long_check
from tests.kinds.strategies import Asked

SCALES = next(kind for kind in KINDS if kind.name == "scales")


def test_a_short_long_check_has_no_surprise_and_counts_every_kind(capsys: pytest.CaptureFixture[str]) -> None:
    assert long_check.main(["66", "2", "--seed", "12"]) == 0
    told = capsys.readouterr().out
    rows = {kind.name: re.search(rf"^{kind.name} +(\d+) +(\d+) +(\d+)$", told, re.MULTILINE) for kind in KINDS}
    assert all(int(row[1]) > 0 for row in rows.values())
    assert sum(int(row[1]) + int(row[2]) for row in rows.values()) == 66
    assert sum(int(row[3]) for row in rows.values()) == 2


def test_the_same_seed_draws_the_same_texts_and_another_seed_others() -> None:
    drawn = [[str(asked) for asked, _ in zip(long_check.in_turn(seed), range(60), strict=False)] for seed in (1, 1, 2)]
    assert drawn[0] == drawn[1]
    assert drawn[0] != drawn[2]


def test_the_seed_is_told_first_and_is_another_each_time_unless_it_is_given(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for arguments in ([], [], ["--seed", "7"]):
        assert long_check.main(["0", "0", *arguments]) == 0
    taken = re.findall(r"^seed ([0-9]+)$", capsys.readouterr().out, re.MULTILINE)
    assert taken[2] == "7"
    assert taken[0] != taken[1]


def test_a_surprise_ends_the_check_with_what_was_typed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_parameters: object, _study: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setitem(long_check.RULES, "scales", [broken])
    monkeypatch.setattr(long_check, "draw_texts", lambda _kind, _chance: Asked(SCALES, {"keys": "F# Bb"}))
    assert long_check.main(["1", "0"]) == 1
    told = capsys.readouterr()
    assert "etudegen scales '--keys=F# Bb'" in told.out
    assert "ZeroDivisionError" in told.err


def test_a_refusal_is_no_surprise() -> None:
    assert long_check.checked(Asked(SCALES, {"keys": "H"})) is None
