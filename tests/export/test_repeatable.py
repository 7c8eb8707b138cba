"""The same command gives the same bytes on any day and in any process."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = Path(sys.executable).with_name("etudegen")


@pytest.mark.parametrize(
    "options",
    [
        ["--direction", "shuffled", "--seed", "5", "--rhythm", "triplets", "--partial-numbers"],
        ["--ramp", "--instrument", "trumpet-c", "--far-partials", "--title", "Größe 😀"],
    ],
    ids=["shuffled", "ramp"],
)
def test_musicxml_midi_and_lilypond_text_do_not_depend_on_the_process(options: list[str], tmp_path: Path) -> None:
    made = []
    for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo")):
        folder = tmp_path / seed
        subprocess.run(
            [PROGRAM, "slurs", *options, "--format", "musicxml,midi,ly", "--out", folder],
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}, check=True, capture_output=True,
        )  # fmt: skip
        made.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert made[0] == made[1]
    assert {Path(name).suffix for name in made[0]} >= {".musicxml", ".mid", ".ly"}
