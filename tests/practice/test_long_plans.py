"""The check of plans by the ten thousand, tried with a few."""

import re

from etudegen.practice.levels import levels
from etudegen.practice.plan import Plan
from tests import long_plans


def test_a_short_run_breaks_no_rule(capsys) -> None:
    assert long_plans.main(["116", "12", "--seed", "5"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"^seed 5$", told, re.MULTILINE)
    assert int(re.search(r"^(\d+) orders", told, re.MULTILINE)[1]) > 280


def test_a_breach_is_counted_and_told(monkeypatch, capsys) -> None:
    def broken(_: Plan) -> list[str]:
        return ["it does not end low and easy"]

    monkeypatch.setattr(long_plans, "broken", broken)
    monkeypatch.setattr(long_plans, "levels", lambda: levels()[:1])
    assert long_plans.main(["231", "0", "--seed", "5"]) == 1
    assert re.search(r"28 it does not end low and easy", capsys.readouterr().out)
