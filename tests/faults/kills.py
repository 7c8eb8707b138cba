"""Ends commands at random moments and looks at what is left: no half file, no lost entry, no process, no folder.

    python tests/faults/kills.py [kills] [--seed NUMBER]

Without a seed it takes one at random; it prints the one it took. Exit code 1 and a traceback tell of a surprise.
"""

import argparse
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from xml.etree import ElementTree

if __name__ == "__main__":
    # Run as a script, from wherever: the tests beside it are found from the folder above.
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from etudegen.practice.journal import Journal

KILLS = 300
# What was ended has ended after this.
SECONDS = 2.0
_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
_PROGRAM = [sys.executable, "-c", "from etudegen.cli import main; main()"]
_DAY = ["--date", "2026-11-25"]
# Each with about the seconds that it takes.
COMMANDS: dict[str, tuple[float, list[str]]] = {
    "session": (2.0, ["session", "--profile", "band/first-chair.toml", "--minutes", "20", *_DAY]),
    "studio": (5.0, ["studio", "band", "--minutes", "10", "--days", "2", "--one-file", "all.pdf", *_DAY]),
    "log": (0.5, ["log", "--profile", "band/second-chair.toml", *_DAY]),
    "transpose": (1.2, ["transpose", "band/quay-waltz.musicxml", "--keys", "C F"]),
    "play-along": (1.5, ["play-along", "band/quay-waltz.musicxml"]),
    "profile": (0.3, ["profile", "band/third-chair.toml", "--days-per-week", "4"]),
    "routine": (0.3, ["routine", "morning", "slurs 10 ramp", "scales 10 full", "pedals 5"]),
    "history": (1.5, ["history", "--profile", "band/second-chair.toml", "--picture", "weeks.png"]),
}
_SIGNALS = (signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT)
_MARK = "ETUDEGEN_KILLS"
_TEMPORARY = re.compile(r"\.etudegen-[0-9a-f]{16}.*")


class Band:
    """A folder with players, in which commands are ended."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.temporary = folder / "temporary"
        self.temporary.mkdir()
        shutil.copytree(_DEMO, folder / "band")
        self._environment = os.environ | {"TMPDIR": str(self.temporary), _MARK: str(folder)}
        self._acknowledged: dict[int, int] = {}
        self.finish("session", "--profile", "band/second-chair.toml", "--minutes", "12", *_DAY)

    def finish(self, *words: str) -> None:
        """Let a command come to its end, which must be a good one."""
        done = subprocess.run([*_PROGRAM, *words], cwd=self.folder, env=self._environment, capture_output=True)
        assert done.returncode == 0, done.stderr.decode()

    def end(self, name: str, chance: random.Random) -> int:
        """Start a command and end it; return its exit code, after a look at what is left."""
        seconds, words = COMMANDS[name]
        rated = {}
        if name == "log":
            # The first block of every session can be rated.
            rated = {1: chance.randint(1, 4)}
            words = [*words, "--block", "1", "--rating", str(rated[1])]
        started = subprocess.Popen(
            [*_PROGRAM, *words],
            cwd=self.folder, env=self._environment, start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        time.sleep(chance.uniform(0.0, seconds))
        how = chance.choice(_SIGNALS)
        started.send_signal(how)
        # Whoever holds standard output makes this wait.
        out, err = started.communicate(timeout=SECONDS + 5)
        assert wait_until(lambda: not self.processes()), f"{name} left {self.processes()} after {how.name}"
        code = started.returncode
        # Before Python has read a line of ours it answers by itself.
        unread = code == 1 and b"KeyboardInterrupt" in err and b"etudegen" not in err
        assert unread or code in (0, -how, 128 + how), (name, code, err)
        if code == 128 + how:
            assert err.decode().splitlines()[-1:] == ["etudegen: stopped"], err
        if out and rated:
            self._acknowledged |= rated
        self._look()
        if code == 128 + how:
            left = [path.name for path in self.temporary.iterdir() if path.name.startswith("etudegen-")]
            assert not left, f"{name} left {left} after {how.name}"
        return code

    def processes(self) -> list[str]:
        """Return the command lines of all processes that were started here."""
        found = []
        for process in Path("/proc").glob("[0-9]*"):
            try:
                if f"{_MARK}={self.folder}\0".encode() in (process / "environ").read_bytes():
                    found.append((process / "cmdline").read_bytes().replace(b"\0", b" ").decode())
            except OSError:
                continue
        return [line for line in found if line]

    def _look(self) -> None:
        for path in self.folder.rglob("*"):
            if path.is_file() and self.temporary not in path.parents and not _TEMPORARY.fullmatch(path.name):
                content = path.read_bytes()
                check = _WHOLE.get(path.suffix)
                assert check is None or check(content), f"{path} is half a file"
        entries = Journal(self.folder / "band" / "journal.sqlite").entries(self.folder / "band" / "second-chair.toml")
        kept = {entry.block: entry.rating for entry in entries}
        # A rating that was on the disk but not told yet may stand there as well.
        assert self._acknowledged.keys() <= kept.keys()

    def look_after_next_run(self) -> None:
        """Print one page, and see that everything is cleared away then."""
        self.finish("slurs", "--positions", "0")
        left = [path.name for path in self.temporary.iterdir() if path.name != "music21"]
        left += [path.name for path in (self.folder / "output").iterdir() if _TEMPORARY.fullmatch(path.name)]
        assert not left, f"{left} is left after the next run"


def _is_xml(content: bytes) -> bool:
    return ElementTree.fromstring(content).tag == "score-partwise"


def _is_midi(content: bytes) -> bool:
    place = 0
    while place < len(content):
        place += 8 + int.from_bytes(content[place + 4 : place + 8])
    return content.startswith(b"MThd") and place == len(content)


_WHOLE: dict[str, Callable[[bytes], bool]] = {
    ".pdf": lambda content: content.startswith(b"%PDF") and content.rstrip().endswith(b"%%EOF"),
    ".musicxml": _is_xml,
    ".mid": _is_midi,
    ".wav": lambda content: int.from_bytes(content[4:8], "little") + 8 == len(content),
    ".toml": lambda content: bool(tomllib.loads(content.decode())) and content.endswith(b"\n"),
    ".png": lambda content: content.startswith(b"\x89PNG") and content.endswith(b"IEND\xaeB`\x82"),
}


def wait_until(true: Callable[[], bool]) -> bool:
    """Wait for something at most as long as a program may take to end."""
    end = time.monotonic() + SECONDS
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.02)
    return true()


def end_commands(folder: Path, count: int, seed: int) -> Counter[tuple[str, int]]:
    """End so many commands, all kinds of them in turn, and return how often each ended with which exit code."""
    chance, band, ended = random.Random(seed), Band(folder), Counter[tuple[str, int]]()
    for number in range(count):
        name = list(COMMANDS)[number % len(COMMANDS)]
        ended[name, band.end(name, chance)] += 1
        band.look_after_next_run()
    for name in dict.fromkeys(name for name, _ in ended):
        # What was cut off is no stranger's.
        _, words = COMMANDS[name]
        band.finish(*words, *(["--block", "1", "--rating", "2"] if name == "log" else []))
    return ended


def main(arguments: Sequence[str]) -> int:
    """Carry out the check and tell what came of it; return the exit code."""
    parser = argparse.ArgumentParser(description="Commands that are ended at random moments, until a surprise.")
    parser.add_argument("kills", type=int, nargs="?", default=KILLS)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**31))
    asked = parser.parse_args(arguments)
    print(f"seed {asked.seed}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        ended = end_commands(Path(folder), asked.kills, asked.seed)
    for (name, code), count in sorted(ended.items()):
        print(f"{name:<12}{code:>5}{count:>6}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
