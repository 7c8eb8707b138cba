"""Every option of every command with everything that it should not be given: one sentence, and nothing written."""

import shutil
from pathlib import Path

import pytest

from tests.command_line import run
from tests.faults.wrong import BAD_VALUES, beside, command_names, judge, options_of, places, steers_a_terminal

NOWHERE = "/dev/null/nowhere"

# What each command needs besides, so that it comes to the value in question and ends soon. Nothing can be written
# into NOWHERE: a value that is allowed after all is refused for that.
BESIDES = {
    "session": ["--dry-run", "--minutes", "10"],
    "week": ["--minutes", "10", "--profile", "band/first.toml"],
    "studio": ["--out", NOWHERE, "empty"],
    "profile": ["band/first.toml"],
    "log": ["--profile", "band/first.toml", "--block", "1", "--rating", "2"],
    "transpose": ["--format", "midi", "--out", NOWHERE, "--keys", "C", "tune.musicxml"],
    "play-along": ["--sound", "none", "--out", NOWHERE, "tune.musicxml"],
    "kinds": ["--json"],
    "fingerings": ["--low", "C4", "--high", "D4"],
    "tuning": ["--json"],
}
# Whatever is given here is all right.
ANYTHING_GOES = {("session", "--out"), ("log", "--note"), ("profile", "--label"), ("profile", "--notes")}
TUNE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Tune</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type>
</time></attributes><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>
</measure></part></score-partwise>"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a profile, a tune and an empty folder; no value leads out of what belongs to the test."""
    folder = tmp_path / "far" / "down" / "here"
    lay(folder)
    monkeypatch.chdir(folder)
    return folder


def lay(folder: Path) -> None:
    """Make the folder as it is before each command line."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in folder.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    for made in ("band", "empty"):
        (folder / made).mkdir()
    # Who practises once a week: its plan is quickly made.
    (folder / "band" / "first.toml").write_text('label = "First chair"\ndays_per_week = 1\n')
    (folder / "tune.musicxml").write_text(TUNE)


def usual_for(command: str, option: str) -> list[str]:
    """What makes an exercise short, or where a folder can be written after all, as good as nothing."""
    shorter = ["--keys=C"] if "--keys" in options_of(command).all else []
    if option == "--out":
        shorter = ["--positions=0"] if command == "slurs" else ["--low=C5", "--high=C5"]
    return ["--format", "midi", "--out", NOWHERE, *shorter]


def words_for(command: str, option: str, value: str) -> list[str]:
    """A command line with a value in one place, and the rest in order."""
    besides = BESIDES.get(command) or usual_for(command, option)
    if not option:
        # What stands after two hyphens is no option.
        argument = [each for each in besides if not each.startswith("-")][-1:] if options_of(command).argument else []
        kept = [each for each in besides if each not in argument or command in ("changes", "vocabulary")]
        return [command, *kept, "--", value]
    return [command, *besides, f"{option}={value}"]


@pytest.mark.parametrize(("command", "option"), places(), ids=lambda word: word or "argument")
def test_no_value_of_any_option_gets_more_than_a_sentence(command: str, option: str, here: Path) -> None:
    before = beside(here)
    refused = 0
    for value in BAD_VALUES:
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
