"""What a wrong command line must come to, whatever is wrong with it, and every option there is, found by itself."""

import re
import shutil
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from etudegen.cli.commands import commands
from tests.command_line import run

LONGEST_MESSAGE = 520
_OPTION = re.compile(r"^  (?:-\w, )?(--[a-z0-9-]+)(?: / (--[a-z0-9-]+))?(?: (\S+))?(?:  .*)?$", re.MULTILINE)
_ARGUMENT = re.compile(r"^Usage: etudegen \S+ \[OPTIONS\] [{\[]?([A-Z]+)", re.MULTILINE)
_NAMED = re.compile(r"(?<![\w-])--[a-z][a-z0-9-]*")
# Words that only programmers use, in messages of libraries that must not get through.
NO_MUSICIAN_SAYS = (
    "Traceback", "not a valid", "codec", "disk I/O", "unexpected extra", "No such option", "NoneType", "Errno",
    "argument(s)", "Invalid value", "literal", "object has no", "<class", "float", "Unicode", "surrogate", "sqlite3",
)  # fmt: skip

BAD_VALUES = (
    "", " ", "x", "0", "-1", "1.5", "1e3", "nan", "inf", "-inf", "999999999999", "9" * 5000, "-" + "9" * 5000,
    "٣", "²", "１２", "½", "1_000", "0x10", "None", "true", "H4", "C", "F#3 G5", "♭", "\ufeffC4", "Ç4", "A\nB",
    "a\tb\r", "\x1b[31mred", "\x9b2J", "\u202eright to left", "\u2066x", "\u2028", "😀", "é", "中文",
    "--low", "-", "--", "=", "=3", "range=", "eighths=", "eighths=²", "eighths=" + "9" * 5000, "m7=", "/", ".", "..",
    "../../outside", "/etc/passwd", "a" * 300, "a" * 5000, "a/" * 3000, "\udcff\udcfe", "\ud800", "%s %n {0} {}",
    '"; touch HACKED; "', '" #(system "touch HACKED") "', "\\markup { x }", "$(touch HACKED)", "`touch HACKED`",
    "[" * 300, "." * 300, "| " * 400, "1,2,,3", ",,,", "2026-13-45", "9999-12-31", "0000-00-00", "2026-W01-1",
    "con", "60-", "60-50/0", "1/0", "C4/0", "1/8 " * 200, "2 " * 200, "Dm7 | " * 200, "|:" * 50, "all all",
)  # fmt: skip

NOWHERE = "/dev/null/nowhere"

# What each command needs besides, so that it comes to the value in question and ends soon. Nothing can be written
# into NOWHERE: a value that is allowed after all is refused for that.
BESIDES = {
    "session": ["--dry-run", "--minutes", "10"],
    "week": ["--minutes", "10", "--profile", "band/first.toml"],
    "studio": ["--out", NOWHERE, "empty"],
    "profile": ["band/first.toml"],
    "log": ["--profile", "band/first.toml", "--block", "1", "--rating", "2"],
    "history": ["--profile", "band/first.toml"],
    "routine": ["morning", "slurs 20"],
    "transpose": ["--format", "midi", "--out", NOWHERE, "--keys", "C", "tune.musicxml"],
    "play-along": ["--sound", "none", "--out", NOWHERE, "tune.musicxml"],
    "kinds": ["--json"],
    "fingerings": ["--low", "C4", "--high", "D4"],
    "tuning": ["--json"],
}
TUNE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Tune</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type>
</time></attributes><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>
</measure></part></score-partwise>"""


@dataclass(frozen=True)
class Options:
    """The options of a command that take a value, those that take none, and its argument."""

    valued: tuple[str, ...]
    flags: tuple[str, ...]
    argument: str = ""
    all: frozenset[str] = field(default=frozenset())


@cache
def options_of(command: str) -> Options:
    """Return the options that the help of a command names."""
    text = run(command, "--help").stdout
    found = _OPTION.findall(text)
    argument = _ARGUMENT.search(text)
    named = frozenset(option for row in found for option in row[:2] if option)
    flags = tuple(option for first, second, value in found if not value for option in (first, second) if option)
    return Options(
        tuple(first for first, _, value in found if value),
        tuple(flag for flag in flags if flag != "--help"),
        argument[1] if argument else "",
        named,
    )


def command_names() -> list[str]:
    return [command.name for command in commands()]


def places() -> list[tuple[str, str]]:
    """Return each command with each of its options that take a value, and with its argument as an empty option."""
    return [
        (name, option)
        for name in command_names()
        for option in (*options_of(name).valued, *([""] if options_of(name).argument else []))
    ]


def steers_a_terminal(text: str) -> list[str]:
    """Return the signs in a text that would steer a terminal, or that are no characters."""
    return [
        sign
        for sign in text
        if sign not in "\n\t\u200c\u200d" and unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp")
    ]


def judge(command: str, words: Iterable[str], code: int, out: str, err: str) -> None:
    """Hold that a command line came to what it must come to."""
    # A journal that cannot be used is the machine's fault.
    assert code in (0, 2) or (code == 1 and "journal" in err), err
    assert steers_a_terminal(out) == []
    assert steers_a_terminal(err) == []
    lines = err.splitlines()
    assert all(len(line) <= LONGEST_MESSAGE for line in lines), max(map(len, lines))
    typed = " ".join(words)
    for word in NO_MUSICIAN_SAYS:
        assert word not in err.replace(typed, ""), err
    if code == 2:
        assert out == ""
        (sentence,) = lines
        assert sentence.startswith("etudegen: ")
    for option in _NAMED.findall(err):
        assert option in typed or option in options_of(command).all or option == "--help", f"{option}: {err}"


def beside(folder: Path) -> set[tuple[str, bytes]]:
    """Return what is in a folder, with its content."""
    return {(str(path.relative_to(folder)), path.read_bytes() if path.is_file() else b"") for path in folder.rglob("*")}


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
