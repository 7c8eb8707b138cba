"""How long a tune of 32 bars in twelve keys takes against plain LilyPond: ``bench_transpose.py [runs]``.

The whole program is run for PDF, MusicXML and MIDI; plain LilyPond, with default options, on the text that it writes.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from music21 import key, metadata, meter, note, stream

from etudegen.engraving.lilypond import find_lilypond

_PROGRAM = str(Path(sys.executable).with_name("etudegen"))
_BARS = 32
_TURNS = ("C4 E4 G4 E4 F4 D4 E4 C4", "D4 F4 A4 F4 G4 E4 D4 B3", "E4 G4 C5 B4 A4 F4 G4 E4", "C4 B3 C4 D4 E4 G4 C4")


def _tune(place: Path) -> Path:
    part = stream.Part([key.Key("C"), meter.TimeSignature("4/4")])
    for bar in range(_BARS):
        names = _TURNS[bar % len(_TURNS)].split()
        for number, name in enumerate(names):
            last = number + 1 == len(names)
            part.append(note.Note(name, quarterLength=1 if last and len(names) < 8 else 0.5))
    score = stream.Score([part])
    score.metadata = metadata.Metadata(title="Quay march")
    score.write("musicxml", place)
    return place


def _seconds(command: list[str], folder: Path) -> float:
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> None:
    """Print the medians and their ratio."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        tune = _tune(folder / "tune.musicxml")
        ours = [_PROGRAM, "transpose", str(tune), "--out", "made"]
        subprocess.run([*ours, "--format", "ly"], cwd=folder, check=True, capture_output=True)
        (text,) = (folder / "made").glob("*.ly")
        plain = [str(find_lilypond()), "--output=plain", str(text)]
        pairs = [(_seconds(ours, folder), _seconds(plain, folder)) for _ in range(runs)]
    mine, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = statistics.median(mine / theirs for mine, theirs in pairs)
    print(f"32 bars in twelve keys: {mine:.2f} s / plain LilyPond {theirs:.2f} s = {ratio:.2f}")


if __name__ == "__main__":
    main()
