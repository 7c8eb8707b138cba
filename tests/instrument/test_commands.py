"""The two tables through the command line, run in process: what it prints and what it refuses."""

import json
import math

import pytest

from etudegen.cli.commands import run
from etudegen.theory.pitch import Pitch
from tests.reference.tables import rows


@pytest.fixture
def answer(capsys):
    """Run a command that must succeed and return what it printed."""

    def _answer(*arguments: str) -> str:
        code = run(list(arguments))
        printed = capsys.readouterr()
        assert (code, printed.err) == (0, "")
        return printed.out

    return _answer


@pytest.fixture
def table(answer):
    """Run a command that must succeed with ``--json`` and return its rows."""
    return lambda *arguments: json.loads(answer(*arguments, "--json"))


def test_fingerings_as_json_have_these_keys_and_no_others(table):
    for row in table("fingerings"):
        assert list(row) == ["written", "valves", "alternates"]


def test_fingerings_as_json_are_the_published_chart(table):
    """Source: "Trumpet Fingering Chart", https://thewholehorn.com/fingering-charts/trumpet/"""
    printed = [{"written": row["written"], "valves": row["valves"]} for row in table("fingerings")]
    assert printed == rows("fingering_chart")


def test_fingerings_between_two_notes_show_those_notes_and_their_alternates(table):
    assert table("fingerings", "--low", "G#3", "--high", "A3") == [
        {"written": "Ab3", "valves": "23", "alternates": []},
        {"written": "A3", "valves": "12", "alternates": ["3"]},
    ]


def test_a_note_out_of_reach_of_the_tube_has_no_valves_in_json(table):
    (row,) = table("fingerings", "--low", "F3", "--high", "F3")
    assert row == {"written": "F3", "valves": None, "alternates": []}


def test_fingerings_in_print_have_a_line_for_every_note(answer):
    lines = answer("fingerings", "--low", "E♭4", "--high", "F4").splitlines()
    assert lines[0] == "Fingerings of the B♭ trumpet, written E♭4 to F4"
    assert [line.split() for line in lines[3:]] == [["E♭4", "23"], ["E4", "12", "3"], ["F4", "1"]]


def test_fingerings_in_print_mark_a_note_out_of_reach_with_a_dash(answer):
    assert answer("fingerings", "--low", "F3", "--high", "F3").splitlines()[-1].split() == ["F3", "-"]


def test_tuning_as_json_has_these_keys_and_no_others(table):
    for row in table("tuning"):
        assert list(row) == ["partial", "valves", "written", "sounding", "hertz", "cents", "slide_mm"]


def test_tuning_as_json_has_the_published_hertz_where_a_note_is_in_tune(table):
    """B. H. Suits, Physics of Music - Notes, Michigan Technological University: octaves of the open tube."""
    table_of_hertz = rows("equal_temperament_hz")
    published = {Pitch.parse(row["sounding"]).number: float(row["hz"]) for row in table_of_hertz}
    octaves = [row for row in table("tuning") if row["valves"] == "0" and row["partial"] in (2, 4, 8)]
    assert [row["sounding"] for row in octaves] == ["Bb3", "Bb4", "Bb5"]
    for row in octaves:
        assert round(row["hertz"], 2) == published[Pitch.parse(row["sounding"]).number]
        assert row["cents"] == 0


def test_tuning_as_json_has_the_published_cents_of_the_harmonics(table):
    """Source: "Harmonic Series Deviation from Equal Temperament", the3rdhalf.com."""
    printed = [round(row["cents"], 1) for row in table("tuning") if row["valves"] == "0"]
    assert printed == [float(row["cents"]) for row in rows("harmonic_series_cents")[:16]]


def test_another_reference_pitch_scales_every_frequency_and_moves_no_cents(table):
    for usual, other in zip(table("tuning"), table("tuning", "--a4", "442"), strict=True):
        assert other["hertz"] == pytest.approx(usual["hertz"] * 442 / 440, abs=1e-3)
        assert other["cents"] == pytest.approx(usual["cents"], abs=2e-3)


@pytest.mark.parametrize("given_loops", ["12.5,6.6667,20", "12.5 6.6667 20", " 12.5, 6.6667, 20 "])
def test_just_loops_on_the_command_line_give_the_published_cents(table, given_loops):
    """J. L. Monzo, "Intonation of the valve trumpet", 2003: each combination against the open tube."""
    tuning = table("tuning", "--loops", given_loops)
    hertz = {row["valves"]: row["hertz"] for row in tuning if row["partial"] == 4}
    for row in rows("valve_loops_just"):
        assert round(1200 * math.log2(hertz[row["combination"]] / hertz["0"])) == int(row["cents"])


def test_the_slide_is_drawn_for_13_and_123_stays_in_for_3_and_23_and_is_null_elsewhere(table):
    slides = {row["valves"]: row["slide_mm"] for row in table("tuning")}
    assert {valves for valves, slide in slides.items() if slide is None} == {"0", "1", "2", "12"}
    assert slides["3"] == slides["23"] == 0
    assert 0 < slides["13"] < slides["123"]


def test_the_flugelhorn_is_as_long_as_the_trumpet_in_b_flat_and_the_c_trumpet_a_whole_step_higher(table):
    flugelhorn, trumpet, higher = (
        table("tuning", "--instrument", key) for key in ("flugelhorn", "trumpet-bflat", "trumpet-c")
    )
    assert flugelhorn == trumpet
    for low, high in zip(trumpet, higher, strict=True):
        assert low["written"] == high["written"]
        assert high["hertz"] / low["hertz"] == pytest.approx(2 ** (2 / 12), rel=1e-5)


def test_the_flugelhorn_is_named_in_print(answer):
    assert answer("fingerings", "--instrument", "flugelhorn").startswith("Fingerings of the B♭ flugelhorn,")
    assert answer("tuning", "--instrument", "flugelhorn").startswith("Tuning of the B♭ flugelhorn,")


def test_tuning_in_print_has_a_block_for_each_combination_with_its_slide(answer):
    printed = answer("tuning", "--a4", "442").splitlines()
    assert "A4 = 442 Hz" in printed[0]
    headings = [line for line in printed if line.startswith("valves ")]
    assert " ".join(heading.split()[1].rstrip(",") for heading in headings) == "0 2 1 12 3 23 13 123"
    assert ["draw the third slide" in heading for heading in headings] == [False] * 6 + [True] * 2
    assert sum(line.lstrip()[:1].isdigit() for line in printed) == 8 * 16


def test_tuning_in_print_and_as_json_tell_the_same(answer, table):
    lines = [line.split() for line in answer("tuning").splitlines() if line.lstrip()[:1].isdigit()]
    for words, row in zip(lines, table("tuning"), strict=True):
        assert int(words[0]) == row["partial"]
        assert Pitch.parse(words[1]) == Pitch.parse(row["written"])
        assert Pitch.parse(words[2]) == Pitch.parse(row["sounding"])
        assert float(words[3]) == pytest.approx(row["hertz"], abs=0.0051)
        assert float(words[4]) == pytest.approx(row["cents"], abs=0.051)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("tuning --a4 10", "380 to 500"),
        ("tuning --a4 1e9", "380 to 500"),
        ("tuning --a4 nan", "380 to 500"),
        ("tuning --a4 x", "'x'"),
        ("tuning --a4", "--a4"),
        ("tuning --loops 1,2", "'1,2'"),
        ("tuning --loops 1,2,3,4", "'1,2,3,4'"),
        ("tuning --loops a,b,c", "'a,b,c'"),
        ("tuning --loops 0,5,5", "valve 1 adds 0 per cent"),
        ("tuning --loops 5,-5,5", "valve 2 adds -5 per cent"),
        ("tuning --loops 5,5,51", "valve 3 adds 51 per cent"),
        ("tuning --loops nan,5,5", "cannot read the loops 'nan,5,5'"),
        ("tuning --instrument tuba", "cornet, flugelhorn, trumpet-bflat, trumpet-c"),
        ("tuning --low C4", "--low"),
        ("fingerings --instrument tuba", "cornet, flugelhorn, trumpet-bflat, trumpet-c"),
        ("fingerings --low H3", "'H3'"),
        ("fingerings --high C", "'C'"),
        ("fingerings --low C5 --high C4", "low C5 is above high C4"),
        ("fingerings C4", "C4"),
    ],
)
def test_a_wrong_value_is_told_in_one_line_with_exit_code_2(capsys, arguments, said):
    assert run(arguments.split()) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("etudegen: ")
    assert printed.err.endswith("\n")
    assert printed.err.count("\n") == 1
    assert said in printed.err


@pytest.mark.parametrize(
    "arguments",
    [["--bo\ngus"], ["--low", "H\n3"], ["--high", "C\r\n5\n"], ["--instrument", "tu\nba"], ["C4\nC5"]],
    ids=repr,
)
def test_a_line_break_in_what_was_typed_does_not_break_the_line_of_the_complaint(capsys, arguments):
    assert run(["fingerings", *arguments]) == 2
    printed = capsys.readouterr().err
    assert printed.splitlines() == [printed.removesuffix("\n")]
