"""What the tests of the engraver share."""

import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from etudegen.engraving.engraver import Engraver
from etudegen.engraving.reading import read_page
from etudegen.notation.score import write_score
from etudegen.study import Study


@pytest.fixture
def workshop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own for all temporary files, of this process and of those it starts."""
    folder = tmp_path / "workshop"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    monkeypatch.setenv("TMPDIR", str(folder))
    return folder


@pytest.fixture
def engraved(workshop: Path) -> Callable[[Study], bytes]:
    """Return a function that engraves a study and returns its PDF."""

    def engrave(made: Study) -> bytes:
        with Engraver() as engraver:
            engraver.engrave(read_page(write_score(made)))
            return engraver.pdf()

    return engrave
