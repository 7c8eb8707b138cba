"""How long a one-page sheet takes, as a ratio to plain LilyPond on the same text; run it by hand.

    python tests/benchmarks/bench_sheet.py [runs]

Both commands are run as whole processes, in turn, so that a machine that gets slower or faster in between slows
or speeds up both. Medians are what counts.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from etudegen.engraving.lilypond import find_lilypond

_PROGRAM = str(Path(sys.executable).with_name("etudegen"))
_SHEET = ["slurs", "--low", "F#3", "--high", "G5", "--tempo", "72"]


def _seconds(command: list[str], folder: Path) -> float:
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def compare(ours: list[str], other: list[str], runs: int, folder: Path) -> tuple[float, float, float]:
    """Return the medians of both in seconds, and the median of the ratios pair by pair."""
    _seconds(ours, folder), _seconds(other, folder)
    pairs = [(_seconds(ours, folder), _seconds(other, folder)) for _ in range(runs)]
    return (
        statistics.median(ours for ours, _ in pairs),
        statistics.median(other for _, other in pairs),
        statistics.median(ours / other for ours, other in pairs),
    )


def main() -> None:
    """Print the three comparisons."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _seconds([_PROGRAM, *_SHEET, "--format", "ly"], folder)
        text = str(next((folder / "output").glob("*.ly")))
        lilypond = str(find_lilypond())
        for title, ours, other in (
            ("one page, three formats / plain LilyPond", [_PROGRAM, *_SHEET], [lilypond, text]),
            (
                "one page, PDF alone / plain LilyPond",
                [_PROGRAM, *_SHEET, "--format", "pdf"],
                [lilypond, text],
            ),
            ("help / empty Python", [_PROGRAM, "--help"], [sys.executable, "-c", "pass"]),
        ):
            mine, theirs, ratio = compare(ours, other, runs, folder)
            print(f"{title}: {mine:.3f} s / {theirs:.3f} s = {ratio:.2f}")


if __name__ == "__main__":
    main()
