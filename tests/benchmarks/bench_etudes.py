"""How many etudes a second are made without files; run it by hand: ``bench_etudes.py [pieces]``."""

import sys
import time

from etudegen.exercises.etudes import EtudeParameters, study

_HARDEST = 5


def main() -> None:
    """Print a row for each difficulty."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for difficulty in range(1, _HARDEST + 1):
        start = time.perf_counter()
        for seed in range(pieces):
            study(EtudeParameters.of(difficulty=difficulty, seed=seed, bars=16, high="E6" if difficulty > 3 else "A5"))
        print(f"difficulty {difficulty}: {pieces / (time.perf_counter() - start):.0f} pieces of 16 bars a second")


if __name__ == "__main__":
    main()
