"""Routines said in lines: what is said is what comes, to the minute; slips are told with the right line."""

import json
from pathlib import Path

import pytest

from etudegen.errors import InputError
from etudegen.practice.literal import departures, pieces_of
from etudegen.practice.plan import make_plan
from etudegen.practice.profile import Profile
from etudegen.practice.routine_lines import read_lines
from etudegen.practice.routines import Routine, RoutineBlock, find_tune, routine
from etudegen.theory.rhythm import Rhythm
from tests.command_line import run

_TUNE = Path(__file__).parents[2] / "demo" / "harbour-band" / "quay-waltz.musicxml"
_MORNING = (
    "slurs 20 ramp", "scales 15 full", "patterns 15 '1 2 3 5'", "transpose quay-waltz 20 all",
    "improvising 20 '| Dm7 | G7 | Cmaj7 | % |'", "writing-down 20", "pedals 5",
)  # fmt: skip


def _tune(name: str) -> Path:
    if name == "quay-waltz":
        return _TUNE
    raise InputError(f"there is no tune {name!r}")


def _one(line: str) -> RoutineBlock:
    (block,) = read_lines([line], _tune)
    return block


def test_a_morning_said_in_one_line_is_those_seven_blocks_at_those_minutes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "quay-waltz.musicxml").write_bytes(_TUNE.read_bytes())
    done = run("routine", "morning", *_MORNING)
    assert (done.returncode, done.stdout.strip()) == (0, str(Path("routines", "morning.toml")))
    assert "90 minutes are played without a rest, not 25: say --with-rests" in done.stderr
    done = run("session", "--low", "F#3", "--high", "C6", "--routine", "morning", "--dry-run", "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert [(block["kind"], block["minutes"]) for block in told["blocks"]] == [
        ("slurs", 20), ("scales", 15), ("patterns", 15), ("transpose", 20), ("improvising", 20), ("writing-down", 20),
        ("pedals", 5),
    ]  # fmt: skip
    assert all(block["part"] for block in told["blocks"])
    assert all(block["high"] == "C6" for block in told["blocks"])
    assert told["minutes"] == 115
    done = run("session", "--low", "F#3", "--high", "C6", "--routine", "morning", "--dry-run", "--minutes", "60")
    assert (done.returncode, "115 minutes long" in done.stderr) == (2, True)


def test_a_player_has_a_routine_of_their_own_beside_the_profile(tmp_path: Path) -> None:
    profile = tmp_path / "band" / "first-chair.toml"
    assert run("profile", profile, "--low", "F#3", "--high", "C6").returncode == 0
    assert run("routine", "lunch", "slurs 10", "rest 5", "scales 10", "--profile", profile).returncode == 0
    profile.write_text(f'routine = "lunch"\n{profile.read_text(encoding="utf-8")}', encoding="utf-8")
    done = run("session", "--profile", profile, "--dry-run", "--json")
    assert [block["kind"] for block in json.loads(done.stdout)["blocks"]] == ["slurs", "rest", "scales"]
    assert "lunch" in run("routine", "--profile", profile).stdout
    done = run("routine", "noon", "--copy", "lunch", "--profile", profile)
    assert done.returncode == 0
    assert run("routine", "noon", "--profile", profile).stdout.splitlines()[1:] == [
        " 1  10 min    conditioning: slurs", " 2  5 min     rest: rest", " 3  10 min    technique: scales",
    ]  # fmt: skip
    # What somebody else wrote is not replaced.
    (profile.parent / "routines" / "noon.toml").write_text("mine", encoding="utf-8")
    assert run("routine", "noon", "slurs 10", "--profile", profile).returncode == 2
    assert (profile.parent / "routines" / "noon.toml").read_text(encoding="utf-8") == "mine"


def test_blocks_can_be_taken_from_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.txt").write_text("# by the harbour\nslurs 20 ramp\n\nimprovising 20 '| Dm7 | % |'\n", encoding="utf-8")
    assert run("routine", "evening", "--from-file", "mine.txt", "--about", "By the harbour.").returncode == 0
    assert run("routine", "evening").stdout.splitlines()[0] == "evening: By the harbour."
    assert [block.minutes for block in routine("evening").blocks] == [20, 20]


@pytest.mark.parametrize(
    ("line", "kind", "minutes", "settings"),
    [
        ("slurs 20 ramp", "slurs", 20, {"ramp": True}),
        ("slurs ramp 20m", "slurs", 20, {"ramp": True}),
        ("slurs 20 min triplets 72bpm", "slurs", 20, {"rhythm": Rhythm.TRIPLETS, "tempo": 72}),
        ("slurs 10 =60", "slurs", 10, {"tempo": 60}),
        ("rest 5", "rest", 5, {}),
        ("etudes 10 march minor", "etudes", 10, {"style": "march", "mode": "minor"}),
        ("etudes 5 sight-reading", "etudes", 5, {"sight_reading": True}),
        ("etudes 10 '1 2 3 5' scale", "etudes", 10, {"cell": "1 2 3 5", "subject": "scale"}),
        ("writing-down 20", "writing-down", 20, {}),
    ],
)
def test_the_words_of_a_line_stand_in_any_order(
    line: str, kind: str, minutes: int, settings: dict[str, object]
) -> None:
    block = _one(line)
    assert (block.kind, block.minutes, dict(block.settings)) == (kind, minutes, settings)


def test_keys_tunes_cells_and_changes_are_what_was_said() -> None:
    assert [str(key.name) for key in _one("scales 10 C,F").settings["keys"]] == ["C", "F"]
    assert len(_one("transpose quay-waltz 20 all").settings["keys"]) == 12
    assert _one("transpose quay-waltz 20 A").own == str(_TUNE)
    assert _one("repertoire quay-waltz 20 through").settings == {"manner": "through"}
    assert _one("improvising 20 '| Dm7 | G7 |'").settings == {"changes": "| Dm7 | G7 |"}
    assert _one("vocabulary 10 '| Dm7 | G7 | Cmaj7 | % |' all").minutes == 10


SLIPS = {
    "20 slurs": "say 'slurs 20'",
    "slur 20": "say 'slurs 20'",
    "Slurs 20": "say 'slurs 20'",
    "xyzzy 20": "choose one of long-tones, slurs",
    "slurs": "how long it is is missing: say 'slurs 20'",
    "slurs 20 72": "a tempo is written like 72bpm: say 'slurs 20 72bpm'",
    "slurs 0": "0 minutes are not allowed: give 1 to 240",
    "slurs 300": "300 minutes are not allowed: give 1 to 240",
    "slurs 7.5": "'7.5' is not whole minutes",
    "slurs 1h": "'1h' is not whole minutes",
    "patterns 15 1 2 3 5": "a cell stands in quotes: say \"patterns 15 '1 2 3 5'\"",
    "patterns 15 'do re mi'": "do re mi",
    "improvising 20 Dm7 G7": "chord changes stand in quotes",
    "improvising 20 | Dm7 |": "chord changes stand in quotes",
    "improvising 20 '| Dm7": "a quotation mark is open",
    "improvising 20 '| H7 | zz |'": "cannot read the chord 'H7'",
    "transpose 20 all": "which tune it is is missing: say 'transpose quay-waltz 20 all'",
    "transpose quay-walz 20": "there is no tune 'quay-walz'",
    "scales 15 bb": "'bb' is no key: keys are written like C, Bb or F#",
    "scales 15 H": "'H' is no key: keys are written like C, Bb or F#",
    "pedals 5 all": "pedals has no keys",
    "bends 5 ramp": "bends has no 'ramp'",
    "writing-down 20 full": "writing-down has no 'full'",
    "writing down 20": "say 'writing-down 20'",
    "pedals 5 'x'": "pedals takes nothing in quotes",
    "": "it is empty: say 'slurs 20'",
    "rest 5 C": "a rest has minutes and nothing else: say 'rest 5'",
    "slurs 20 triplets triplets": "says again what rhythm is",
    "slurs 20 remp": "slurs has no 'remp'",
    "etudes 10 sight-readin": "say 'etudes 10 sight-reading'",
    "scales 15 exten=full": "scales has no 'exten': say 'scales 15 extent=full'",
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_told_by_block_and_words_with_the_line_as_it_should_read(slip: str) -> None:
    with pytest.raises(InputError) as told:
        read_lines(["long-tones 5", slip], _tune)
    assert str(told.value).startswith(f"block 2 ({slip!r}): ")
    assert SLIPS[slip] in str(told.value)
    assert len(str(told.value)) < 400


def test_a_slip_in_a_routine_costs_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for words in (["20 slurs"], ["slurs 5"], ["slurs 200", "scales 200"], ["slurs 20", "zz 3"]):
        done = run("routine", "wrong", *words)
        assert (done.returncode, done.stdout) == (2, "")
        assert len(done.stderr.splitlines()) == 1
    assert run("routine", "../wrong", "slurs 20").returncode == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ('lines = "slurs 20"', "lines is 'slurs 20': it must be a list"),
        ('lines = ["slurs 20"]\nshare = 3', "unknown key 'share'"),
        ('lines = ["20 slurs"]', "block 1 ('20 slurs'): the kind comes first"),
        ('lines = ["slurs 5"]', "its blocks add up to 5 minutes"),
    ],
)
def test_a_file_that_makes_no_sense_is_named_once(content: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(content, encoding="utf-8")
    with pytest.raises(InputError) as error:
        routine(str(tmp_path / "mine.toml"))
    assert told in str(error.value)
    assert str(error.value).count("mine.toml") == 1


@pytest.mark.parametrize("lines", [_MORNING, ("slurs 60 ramp",), ("contact 10", "range 10"), ("scales 30", "bends 30")])
def test_rests_are_put_in_only_where_they_are_asked_for_and_nothing_else_changes(lines: tuple[str, ...]) -> None:
    made = Routine("x", "", None, read_lines(list(lines), _tune))
    plain, rested = (pieces_of(made, 20, with_rests=wanted) for wanted in (False, True))
    assert [(block, minutes) for block, minutes, _ in plain] == [(block, block.minutes) for block in made.blocks]
    for block in made.blocks:
        assert sum(minutes for each, minutes, _ in rested if each is block) == block.minutes
    run_of, most = 0, 0
    for block, minutes, _ in rested:
        run_of = 0 if block.kind in ("rest", "writing-down") else run_of + minutes
        most = max(most, run_of)
    assert most <= 20
    assert not any("without a rest" in told for told in departures([each[:2] for each in rested], 20, 240))


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (["scales 20"], "no warm-up"), (["slurs 30"], "without a rest"),
        (["slurs 20", "contact 10", "scales 5"], "strains"),
        (["slurs 20", "rest 5", "slurs 20", "rest 5", "scales 20"], "It ends with scales"),
        (["slurs 20", "rest 5", "slurs 20"], "no music"), (["long-tones 5", "writing-down 10"], ""),
        (["slurs 10 ramp", "etudes 10 waltz", "long-tones 5", "writing-down 5", "pedals 5"], ""),
    ],
)  # fmt: skip
def test_what_departs_from_the_rules_is_told_with_the_remedy(lines: list[str], told: str) -> None:
    found = list(departures([(block, block.minutes) for block in read_lines(lines, _tune)], 25, 240))
    assert any(told in each for each in found) if told else found == []


def test_a_plan_by_lines_keeps_the_whole_range_and_says_what_it_departs_from() -> None:
    made = Routine("x", "", None, read_lines(["slurs 30 ramp", "scales 20"], _tune))
    plan = make_plan(Profile(label="x"), made.minutes, None, made)
    assert [(block.kind, block.minutes) for block in plan.blocks] == [("slurs", 30), ("scales", 20)]
    assert {str(block.high) for block in plan.blocks} == {"G5"}
    assert any("without a rest" in remark for remark in plan.remarks)


def test_a_tune_is_found_by_its_name_in_the_folder_beside_the_profile_and_nowhere_else(tmp_path: Path) -> None:
    (tmp_path / "tunes").mkdir()
    file = tmp_path / "tunes" / "harbour.musicxml"
    file.write_bytes(_TUNE.read_bytes())
    assert find_tune("harbour", (tmp_path / "routines",)) == file
    with pytest.raises(InputError, match="no tune 'nothing'"):
        find_tune("nothing", (tmp_path,))
