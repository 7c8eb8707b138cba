"""Every option of every command with everything that it should not be given: one sentence, and nothing written."""

import ast
import os
import re
from pathlib import Path
from zlib import crc32

import pytest

import etudegen
from tests.command_line import run
from tests.faults.wrong import (
    BAD_VALUES,
    BESIDES,
    beside,
    command_names,
    judge,
    lay,
    options_of,
    places,
    steers_a_terminal,
    words_for,
)

# All of it takes longer than an ordinary run of the tests should.
EVERY_VALUE = bool(os.environ.get("EVERY_VALUE"))
# Whatever is given here is all right.
ANYTHING_GOES = {("session", "--out"), ("log", "--note"), ("profile", "--label"), ("profile", "--notes")}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a profile, a tune and an empty folder; no value leads out of what belongs to the test."""
    folder = tmp_path / "far" / "down" / "here"
    lay(folder)
    monkeypatch.chdir(folder)
    return folder


@pytest.mark.parametrize(("command", "option"), places(), ids=lambda word: word or "argument")
def test_no_value_of_any_option_gets_more_than_a_sentence(command: str, option: str, here: Path) -> None:
    before = beside(here)
    refused = 0
    first, others = _first_and_others(command, option)
    for place, value in enumerate((*first, *others)):
        if refused and place >= len(first) and not EVERY_VALUE:
            break
        words = words_for(command, option, value)
        done = run(*words)
        try:
            judge(command, words, done.returncode, done.stdout, done.stderr)
            refused += done.returncode == 2
            assert done.returncode == 0 or beside(here) == before
        except AssertionError as error:
            raise AssertionError(f"{words!r:.300}\n{done.returncode} {done.stderr}") from error
        if done.returncode == 0:
            lay(here)
    assert refused or (command, option) in ANYTHING_GOES


def _first_and_others(command: str, option: str) -> tuple[list[str], list[str]]:
    """Return what is given to an option: a fifth, another than its neighbours have first, and all others."""
    fifth = crc32(f"{command} {option}".encode()) % 5
    places = range(len(BAD_VALUES))
    return (
        [BAD_VALUES[place] for place in places if place % 5 == fifth],
        [BAD_VALUES[place] for place in places if place % 5 != fifth],
    )


@pytest.mark.parametrize("command", command_names())
def test_every_command_refuses_what_it_does_not_know(command: str, here: Path) -> None:
    flags = options_of(command).flags
    for words in (["--unheard-of"], ["--unheard-of=3"], ["-x"], ["--lwo", "C4"], *([f"{flag}=3"] for flag in flags)):
        done = run(command, *(BESIDES.get(command) or ["--format", "midi"]), *words)
        judge(command, words, done.returncode, done.stdout, done.stderr)
        assert done.returncode == 2
    assert steers_a_terminal(run(command, "--help").stdout) == []


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["slurs", "--lwo", "C4"], "--low"), (["session", "--minuets", "30"], "--minutes"),
        (["transpos", "x"], "transpose"), (["slur"], "slurs"), (["play-alone", "x"], "play-along"),
    ],
)  # fmt: skip
def test_the_nearest_option_or_command_is_offered(words: list[str], offered: str) -> None:
    assert f"did you mean {offered}?" in run(*words).stderr


def test_every_option_that_the_program_names_exists() -> None:
    every = {"--help", "--version"}.union(*(options_of(command).all for command in command_names()))
    # Of LilyPond, and of the program beside an engraver.
    of_others = {"--loglevel", "--output", "--pdf", "--svg"}
    named = {
        (path.name, option)
        for path in Path(etudegen.__file__).parent.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
        for option in re.findall(r"(?<![\w-])--[a-z][a-z0-9-]*", node.value)
    }
    assert len(named) > 50
    assert {(file, option) for file, option in named if option not in every | of_others} == set()
