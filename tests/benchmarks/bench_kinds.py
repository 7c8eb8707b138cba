"""How fast each kind of exercise is; run it by hand: ``python tests/benchmarks/bench_kinds.py [runs]``.

For each kind: the generator alone, in milliseconds a page; and the whole command with three formats as a ratio to
plain LilyPond with default options on the same text, whole processes in turn, medians.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench_sheet import compare
from pypdf import PdfReader

from etudegen.engraving.lilypond import find_lilypond
from etudegen.exercises.kinds import KINDS, Kind

_PROGRAM = str(Path(sys.executable).with_name("etudegen"))


def _milliseconds(kind: Kind, runs: int) -> float:
    parameters = kind.parameters.of()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        kind.study(parameters)
        times.append(1000 * (time.perf_counter() - start))
    return statistics.median(times)


def main() -> None:
    """Print a row for each kind."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    print("kind        pages  generator ms/page   command s  LilyPond s  ratio")
    for kind in KINDS:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            subprocess.run([_PROGRAM, kind.name, "--format", "pdf,ly"], cwd=folder, check=True, capture_output=True)
            pages = len(PdfReader(next((folder / "output").glob("*.pdf"))).pages)
            text = str(next((folder / "output").glob("*.ly")))
            ours, plain, ratio = compare([_PROGRAM, kind.name], [str(find_lilypond()), text], runs, folder)
        generator = _milliseconds(kind, 50) / pages
        print(f"{kind.name:<12}{pages:>5}{generator:>19.2f}{ours:>12.3f}{plain:>12.3f}{ratio:>7.2f}")


if __name__ == "__main__":
    main()
