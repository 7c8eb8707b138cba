"""Runs the installed program with wrong values at random, each a process of its own, and looks for the first surprise.

    python tests/long_faults.py [runs] [--seed NUMBER]

Without a seed it takes one at random; it prints the one it took. Whatever an option is given, the program must end with
exit code 0, or with 2 and one sentence, without a half-written file. Exit code 1 and the command line tell of a
surprise.
"""

import argparse
import os
import random
import shlex
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

if __name__ == "__main__":
    # Run as a script, from wherever: the tests beside it are found from the folder above.
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.faults.wrong import BAD_VALUES, beside, judge, lay, places, words_for

RUNS = 200
_SECONDS = 120
PROGRAM = Path(sys.executable).with_name("etudegen")


def drawn(chance: random.Random) -> str:
    """Return a value as a system can hand it over: one that is bad, two of them joined, or anything at all."""
    way = chance.randrange(4)
    if way == 0:
        text = "".join(
            chr(chance.choice((chance.randrange(1, 128), chance.randrange(0x2000, 0x3000)))) for _ in range(9)
        )
    elif way == 1:
        text = chance.choice((" ", ",", "=", "/", "|")).join(chance.choices(BAD_VALUES, k=2))
    else:
        text = chance.choice(BAD_VALUES)
    return os.fsdecode(text.encode("utf-8", "surrogatepass"))[:9_000]


def check(runs: int, seed: int) -> Counter[int]:
    """Carry out so many runs and return how many ended with which exit code."""
    chance = random.Random(seed)
    codes = Counter[int]()
    with tempfile.TemporaryDirectory() as top:
        here = Path(top) / "far" / "down" / "here"
        everywhere = places()
        for _ in range(runs):
            lay(here)
            words = words_for(*chance.choice(everywhere), drawn(chance))
            before = beside(here)
            done = subprocess.run([PROGRAM, *words], cwd=here, capture_output=True, timeout=_SECONDS)
            try:
                judge(words[0], words, done.returncode, done.stdout.decode(), done.stderr.decode())
                assert done.returncode == 0 or beside(here) == before
            except AssertionError:
                print(f"\nA surprise (seed {seed}):\n  {shlex.join(['etudegen', *words])!a}\n  {done.stderr.decode()}")
                raise
            codes[done.returncode] += 1
    return codes


def main(arguments: Sequence[str]) -> int:
    """Carry out the check and tell what came of it; return the exit code."""
    parser = argparse.ArgumentParser(description="Wrong values for every option, until a surprise.")
    parser.add_argument("runs", type=int, nargs="?", default=RUNS)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**31))
    asked = parser.parse_args(arguments)
    # First, so that it is known even of a run that hangs.
    print(f"seed {asked.seed}", flush=True)
    try:
        codes = check(asked.runs, asked.seed)
    except AssertionError as surprise:
        print(surprise)
        return 1
    print(", ".join(f"{count} ended with {code}" for code, count in sorted(codes.items())))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
