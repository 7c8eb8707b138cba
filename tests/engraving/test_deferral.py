"""Heavy modules that nobody asked for are not loaded, and work all the same when somebody does."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from etudegen.engraving.engraver import Engraver
from etudegen.engraving.reading import read_page
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score

_WAITS = "getattr(vars(module).get('__getattr__'), '__module__', '') == 'etudegen.deferral'"


def loaded_after(code: str) -> set[str]:
    """The names of the modules that a new Python has run after some code; deferred ones have not been."""
    report = (
        "\nimport sys, json\n"
        f"real = [name for name, module in list(sys.modules.items()) if not {_WAITS}]\n"
        "sys.stderr.write(json.dumps(real))"
    )
    run = subprocess.run([sys.executable, "-c", code + report], capture_output=True, text=True, check=True)
    return set(json.loads(run.stderr.splitlines()[-1]))


def test_whoever_imports_a_package_of_ours_has_everything_loaded() -> None:
    code = (
        "import importlib, pkgutil, sys, etudegen\n"
        "for each in pkgutil.walk_packages(etudegen.__path__, 'etudegen.'):\n"
        "    if not each.name.endswith('__main__'): importlib.import_module(each.name)\n"
        f"assert not [name for name, module in list(sys.modules.items()) if {_WAITS}]\n"
        "from requests.exceptions import HTTPError\n"
        "import uqbar.apis\n"
        "assert uqbar.apis.APIBuilder"
    )
    assert {"music21", "abjad", "requests", "etudegen.engraving.typesetter"} <= loaded_after(code)


def test_a_command_is_carried_out_without_what_the_notation_library_wants_for_the_net(tmp_path: Path) -> None:
    code = (
        "import os, sys\n"
        "os._exit = lambda code: None\n"
        f"sys.argv = ['etudegen', 'slurs', '--format', 'musicxml', '--out', {str(tmp_path / 'out')!r}]\n"
        "from etudegen.cli import main\n"
        "main()"
    )
    loaded = loaded_after(code)
    assert "music21.stream.base" in loaded
    assert not loaded & {"urllib3", "requests", "requests.api", "music21.converter", "music21.test.test_base"}
    assert list((tmp_path / "out").iterdir())


def test_the_deferred_library_works_as_soon_as_it_is_used() -> None:
    code = (
        "from etudegen.deferral import defer\n"
        "defer(['requests'])\n"
        "import music21, requests\n"
        "url = requests.Request('GET', 'http://example.org', params={'a': 1}).prepare().url\n"
        "assert url == 'http://example.org/?a=1', url\n"
        "import requests as again\n"
        "assert again.Session().headers, again\n"
        "from requests.adapters import HTTPAdapter\n"
        "assert HTTPAdapter"
    )
    assert {"urllib3", "requests"} <= loaded_after(code)


@pytest.mark.parametrize(("names", "library"), [("OF_MUSIC21", "music21"), ("OF_ABJAD", "abjad")])
def test_every_module_that_is_deferred_works_when_it_is_asked_for(names: str, library: str) -> None:
    code = (
        "import importlib, sys\n"
        f"from etudegen.deferral import {names} as names, defer\n"
        "defer(names)\n"
        f"import {'uqbar.graphs, ' if library == 'abjad' else ''}{library}\n"
        "for name in names:\n"
        "    module = importlib.import_module(name)\n"
        "    assert not hasattr(module, 'no_such_name'), name\n"
        "    assert len(vars(module)) > 8, name"
    )
    assert library in loaded_after(code)


def test_text_is_set_by_the_engravers_library_without_its_manual(
    workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Tells on standard error, which is the typesetter's log, what is imported.
    monkeypatch.setenv("PYTHONPROFILEIMPORTTIME", "1")
    with Engraver(pdf=False) as engraver:
        engraver.engrave(read_page(write_score(study(SlurParameters(positions=(OPEN,))))))
        engraver.text()
        loaded = {
            line.rpartition("|")[2].strip()
            for line in (engraver.folder / "typesetter.log").read_text(encoding="utf-8").splitlines()
        }
    assert "abjad" in loaded
    assert not {name.split(".")[0] for name in loaded} & {"sphinx", "docutils", "music21"}


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], [], ["nonsense"]], ids=str)
def test_help_and_version_and_mistakes_load_no_library(arguments: list[str]) -> None:
    loaded = loaded_after(f"from etudegen.cli.commands import run; run({arguments!r})")
    assert not {name.split(".")[0] for name in loaded} & {"music21", "abjad", "typer", "click", "numpy", "requests"}


@pytest.mark.parametrize("module", ["etudegen.exercises.slurs", "etudegen.study", "etudegen.sheets"])
def test_exercises_are_made_without_notation_libraries(module: str) -> None:
    loaded = loaded_after(f"import {module}")
    assert not {name.split(".")[0] for name in loaded} & {"music21", "abjad", "typer"}


def test_what_is_not_installed_or_loaded_already_is_not_deferred() -> None:
    code = (
        "import sys, json as before\n"
        "from etudegen.deferral import defer\n"
        "defer(['json', 'no_such_module_anywhere', 'no_such_parent.child'])\n"
        "assert sys.modules['json'] is before\n"
        "assert 'no_such_module_anywhere' not in sys.modules\n"
        "assert 'no_such_parent.child' not in sys.modules\n"
        "try:\n    import no_such_module_anywhere\n    raise SystemExit('imported')\nexcept ModuleNotFoundError: pass"
    )
    assert "json" in loaded_after(code)


def test_a_deferred_child_is_loaded_when_one_of_its_names_is_read() -> None:
    code = (
        "import sys\n"
        "from etudegen.deferral import defer\n"
        "assert 'xml.dom.minidom' not in sys.modules\n"
        "import xml.dom\n"
        "defer(['xml.dom.minidom'])\n"
        "import xml.dom.minidom\n"
        "assert not hasattr(xml.dom.minidom, '__path__')\n"
        "assert xml.dom.minidom.parseString('<a/>').documentElement.tagName == 'a'\n"
        "import xml.dom.minidom as again\n"
        "assert again is xml.dom.minidom and again.__file__"
    )
    assert "xml.dom.minidom" in loaded_after(code)
