"""How long a play-along takes to be rendered, as a part of how long it sounds.

    python tests/benchmarks/bench_sound.py

Prints the median over the rounds; processor time, because others may keep the machine busy.
"""

import statistics
import time

from etudegen.sound.rendering import render
from tests.sound.test_sound import everything

ROUNDS = 7


def main() -> None:
    """Print the ratio."""
    made = everything(tempo=60)
    parts = []
    for _ in range(ROUNDS):
        began = time.process_time()
        render(made)
        parts.append((time.process_time() - began) / float(made.seconds))
    print(f"rendering takes {statistics.median(parts):.3f} of the time that it sounds")


if __name__ == "__main__":
    main()
