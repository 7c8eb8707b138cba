"""What the tests of the command line share."""

import os
import tempfile
from pathlib import Path

import pytest


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to be in, with temporary files kept elsewhere, of this process and of those it starts."""
    here, elsewhere = tmp_path / "here", tmp_path / "elsewhere"
    here.mkdir()
    elsewhere.mkdir()
    monkeypatch.chdir(here)
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    monkeypatch.setenv("TMPDIR", str(elsewhere))
    assert os.listdir(here) == []
    return here
