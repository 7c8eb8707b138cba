"""How long books take against plain LilyPond on the same pages; run it by hand: ``bench_book.py [runs]``.

The books of the demo players and one of three hours are made as whole processes; plain LilyPond, with default options,
is given the same sections as one file. A second run with nothing changed is timed as well.
"""

import datetime
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from itertools import cycle
from pathlib import Path

from etudegen.engraving.lilypond import find_lilypond
from etudegen.engraving.lilypond_text import book_text
from etudegen.practice.levels import levels
from etudegen.practice.profile import profiles_in, read_profile
from etudegen.practice.session import make_session
from etudegen.sheets.session import book_of
from etudegen.study import Paper

_PROGRAM = str(Path(sys.executable).with_name("etudegen"))
_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
_DAY = datetime.date(2026, 11, 25)
_STUDENTS, _DAYS = 14, 5


def _seconds(command: list[str], folder: Path) -> float:
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, check=True, capture_output=True)
    return time.perf_counter() - start


def _text(profile_file: Path, minutes: int, place: Path, day: datetime.date = _DAY) -> Path:
    session = make_session(read_profile(profile_file), day, minutes)
    place.write_text(book_text(book_of(session, Paper.A4)), encoding="utf-8")
    return place


def _week(band: Path) -> list[Path]:
    """Return the pages of a studio of players of all levels for some days; its profiles are written."""
    band.mkdir()
    texts = []
    for place, level in zip(range(_STUDENTS), cycle(levels()), strict=False):
        file = band / f"chair-{place + 1}.toml"
        file.write_text(f'label = "Chair {place + 1}"\nlow = "A3"\nhigh = "{level.top}"\nlevel = "{level.name}"\n')
        for later in range(_DAYS):
            day = _DAY + datetime.timedelta(days=later)
            texts.append(_text(file, 45, band.parent / f"{file.stem}-{later}.ly", day))
    return texts


def _compare(title: str, ours: list[str], texts: list[Path], runs: int, folder: Path) -> None:
    lilypond = str(find_lilypond())
    pairs, repeats = [], []
    for _ in range(runs):
        shutil.rmtree(folder / "output", ignore_errors=True)
        mine = _seconds(ours, folder)
        repeats.append(_seconds(ours, folder))
        pairs.append((mine, sum(_seconds([lilypond, str(text)], folder) for text in texts)))
    ratio = statistics.median(mine / plain for mine, plain in pairs)
    again = statistics.median(repeat / plain for repeat, (_, plain) in zip(repeats, pairs, strict=True))
    mine, plain = (statistics.median(column) for column in zip(*pairs, strict=True))
    print(f"{title}: {mine:.2f} s / {plain:.2f} s = {ratio:.2f}; again with nothing changed {again:.3f}")


def main() -> None:
    """Print a row for the demo section, one for a teacher's week, and one for a long book."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        band = folder / "band"
        shutil.copytree(_DEMO, band)
        day = ["--date", _DAY.isoformat()]
        files = profiles_in(band)
        texts = [_text(file, 45, folder / f"{file.stem}.ly") for file in files]
        _compare("four players, 45 minutes", [_PROGRAM, "studio", "band", "--minutes", "45", *day], texts, runs, folder)
        alone = folder / "alone"
        alone.mkdir()
        shutil.copy(files[0], alone)
        texts = _week(folder / "week")
        days = ["--days", str(_DAYS), *day]
        ours = [_PROGRAM, "studio", "week", "--minutes", "45", *days]
        _compare(f"{_STUDENTS} players, {_DAYS} days", ours, texts, 1, folder)
        long = [_text(files[0], 180, folder / "long.ly")]
        _compare("180 minutes", [_PROGRAM, "studio", "alone", "--minutes", "180", *day], long, runs, folder)


if __name__ == "__main__":
    main()
