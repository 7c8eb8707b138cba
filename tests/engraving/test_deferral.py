"""Heavy modules that nobody asked for are not loaded, and work all the same when somebody does."""

import json
import subprocess
import sys

import pytest


def loaded_after(code: str) -> set[str]:
    """The names of the modules that a new Python has loaded after some code, stand-ins for deferred ones left out."""
    report = (
        "\nimport sys, json, types\n"
        "real = [n for n, m in sys.modules.items() if getattr(m, '__file__', None) or n in sys.builtin_module_names]\n"
        "sys.stderr.write(json.dumps(real))"
    )
    run = subprocess.run([sys.executable, "-c", code + report], capture_output=True, text=True, check=True)
    return set(json.loads(run.stderr.splitlines()[-1]))


@pytest.mark.parametrize("module", ["etudegen.notation.score", "etudegen.export.musicxml", "etudegen.export.midi"])
def test_the_score_is_written_without_what_the_notation_library_wants_for_the_net(module: str) -> None:
    loaded = loaded_after(f"import {module}")
    assert "music21.stream.base" in loaded
    assert not loaded & {"urllib3", "requests", "requests.api"}


def test_the_deferred_library_works_as_soon_as_it_is_used() -> None:
    code = (
        "import etudegen.notation.score, music21, requests\n"
        "url = requests.Request('GET', 'http://example.org', params={'a': 1}).prepare().url\n"
        "assert url == 'http://example.org/?a=1', url\n"
        "import requests as again\n"
        "assert again.Session().headers, again\n"
        "from requests.adapters import HTTPAdapter\n"
        "assert HTTPAdapter"
    )
    assert {"urllib3", "requests"} <= loaded_after(code)


def test_the_setter_loads_the_engravers_library_without_its_manual() -> None:
    loaded = loaded_after("import etudegen.engraving.lilypond_text")
    assert "abjad" in loaded
    assert not loaded & {"sphinx", "docutils", "music21"}


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
        "defer('json'); defer('no_such_module_anywhere'); defer('no_such_parent.child')\n"
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
        "defer('xml.dom.minidom')\n"
        "import xml.dom.minidom\n"
        "assert not hasattr(xml.dom.minidom, '__path__')\n"
        "assert xml.dom.minidom.parseString('<a/>').documentElement.tagName == 'a'\n"
        "import xml.dom.minidom as again\n"
        "assert again.__file__"
    )
    assert "xml.dom.minidom" in loaded_after(code)
