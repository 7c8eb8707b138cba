"""How fast a process is that has everything loaded; run it by hand: ``bench_warm.py [runs]``.

For each kind of exercise, in one key and in twelve: study, score and MusicXML in milliseconds of the processor. Then
the PDF of a page from an engraver that was waiting, against plain LilyPond with default options on the same text, in
turn. Medians; what is loaded is kept out of the collector's sight, and new things are looked through seldom, as a
program that runs long would do.
"""

import gc
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from etudegen.engraving.engraver import SpareEngravers
from etudegen.engraving.lilypond import find_lilypond
from etudegen.engraving.lilypond_text import lilypond_text
from etudegen.engraving.reading import read_page
from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.exercises.kinds import all_kinds, kind_named
from etudegen.exercises.settings import settings_of
from etudegen.export.musicxml import musicxml
from etudegen.notation.score import write_score

# Until one that waits has loaded everything.
_SECONDS_TO_LOAD = 1.5


def _milliseconds(do: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs + 1):
        start = time.process_time()
        do()
        times.append(1000 * (time.process_time() - start))
    # The first fills caches.
    return statistics.median(times[1:])


def _sheets(runs: int) -> None:
    print("kind        keys     study + score + MusicXML ms   page ms")
    for kind in all_kinds():
        asked: dict[str, Common] = {"usual": kind.parameters.of()}
        # Some forms of a kind with keys go through none.
        with suppress(InputError):
            if "keys" in settings_of(kind.parameters):
                asked = {"one": kind.parameters.of(keys="C"), "twelve": kind.parameters.of(keys="all")}
        for keys, parameters in asked.items():
            score = write_score(kind.study(parameters))
            made = _milliseconds(lambda: musicxml(write_score(kind.study(parameters))), runs)  # noqa: B023
            read = _milliseconds(lambda: read_page(score), runs)  # noqa: B023
            print(f"{kind.name:<12}{keys:<9}{made:>27.1f}{read:>10.1f}")


def _waiting_engraver(runs: int) -> None:
    kind = kind_named("slurs")
    page = read_page(write_score(kind.study(kind.parameters.of())))
    pairs = []
    with tempfile.TemporaryDirectory() as name, SpareEngravers(1) as engravers:
        text = Path(name) / "page.ly"
        text.write_text(lilypond_text(page), encoding="utf-8")
        for _ in range(runs):
            time.sleep(_SECONDS_TO_LOAD)
            start = time.perf_counter()
            with engravers.take() as engraver:
                engraver.engrave(page)
                engraver.pdf()
                mine = time.perf_counter() - start
            time.sleep(_SECONDS_TO_LOAD)
            start = time.perf_counter()
            subprocess.run([str(find_lilypond()), "page.ly"], cwd=name, check=True, capture_output=True)
            pairs.append((mine, time.perf_counter() - start))
    mine, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = statistics.median(mine / plain for mine, plain in pairs)
    print(f"a page from an engraver that waited: {mine:.3f} s / plain LilyPond {theirs:.3f} s = {ratio:.2f}")


def main() -> None:
    """Print the rows."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)
    _sheets(runs)
    _waiting_engraver(runs)


if __name__ == "__main__":
    main()
