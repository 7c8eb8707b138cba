"""What holds for every test: the same examples in every run, whatever ran before and however busy the machine is."""

import gc
import importlib
import pkgutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

import etudegen

# Searching at random is for tests/long_check.py, which prints its seed. How long an example takes to draw says more of
# the machine than of the test.
settings.register_profile(
    "repeatable",
    max_examples=14,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
settings.load_profile("repeatable")


def pytest_configure(config: pytest.Config) -> None:
    """Load what tests are of, but not where they are only handed out to workers."""
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        return
    # hypothesis also draws constants that it finds in the modules imported so far: with all of them imported, one test
    # alone gets the examples that it gets in the whole run.
    for module in pkgutil.walk_packages(etudegen.__path__, "etudegen."):
        importlib.import_module(module.name)
    # What is loaded by now stays; looking it through for garbage again and again takes a sixth of the time.
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave what tries faults of every kind to who asks for it: the checks of a commit do."""
    asked_for = any("faults" in str(argument) for argument in config.invocation_params.args)
    return True if "faults" in collection_path.parts and not asked_for else None


@pytest.fixture
def plain_press(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain press stands in the place of the engraver, in this process."""
    from tests.plain_press import PlainPress

    for place in ("engraving.engraver", "sheets.studio", "sheets.contents"):
        monkeypatch.setattr(f"etudegen.{place}.Engraver", PlainPress)


@pytest.fixture(scope="session", autouse=True)
def temporary_files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Temporary files, of the tests and of what they start, are in a folder of the tests' own and gone at the end."""
    folder = tmp_path_factory.mktemp("temporary")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", str(folder))
        patch.setenv("TMPDIR", str(folder))
        yield
    # music21 keeps what its parser has read.
    assert [path.name for path in folder.iterdir() if path.name != "music21"] == []
