"""LilyPond without a home, with a system that complains, with a PDF that is none, and no LilyPond at all."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest

from etudegen.engraving.engraver import Engraver
from etudegen.engraving.lilypond import VARIABLE, find_lilypond, first_complaint
from etudegen.engraving.pdf import is_whole
from etudegen.engraving.reading import read_page
from etudegen.errors import MachineError
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.notation.score import write_score

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the stand-ins for LilyPond are shell scripts")

PROGRAM = Path(sys.executable).with_name("etudegen")
ONE_LINE = study(SlurParameters(positions=(OPEN,)))

OF_THE_SYSTEM = (
    "Fontconfig error: No writable cache directories",
    'Fontconfig warning: "/etc/fonts/fonts.conf", line 5: unknown element "its:rules"',
    "Fontconfig error: Cannot load default config file: No such file: (null)",
    '(process:4711): Pango-WARNING **: 02:07:01.123: couldn\'t load font "Serif 11", falling back',
    "(lilypond:4711): GLib-GIO-WARNING **: 02:07:01.123: cannot open display",
    "(process:1): GLib-CRITICAL **: g_string_append: assertion 'string != NULL' failed",
    "GC Warning: Repeated allocation of very large block (appr. size 12288000)",
    "GC Warning: Failed to expand heap by 33554432 KiB",
    "warning: cannot find font: `DejaVu Serif'",
    "warning: no glyph for character U+5D0 in font `C059-Roman.otf'",
    "warning: setlocale failed: no such locale",
)
OF_THE_MUSIC = (
    "<stdin>:12:3: error: syntax error, unexpected '}'",
    "<stdin>:9:1: warning: barcheck failed at: 1/4",
    "warning: slur collides with something",
    "programming error: no solution found for Bezier intersection",
    'fatal error: failed files: "-"',
    "<stdin>:3:1: warning: cannot find context: ChordNames",
    "warning: cannot resolve rest collision: rest direction not set",
    "warning: unterminated hairpin",
)


@pytest.fixture
def stand_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Return a function that puts a shell script in the place of LilyPond, which knows that one as $REAL."""
    real = find_lilypond()

    def put(script: str) -> None:
        place = tmp_path / "lilypond-stand-in"
        finds_output = 'for each in "$@"; do case "$each" in --output=*) output=${each#--output=};; esac; done\n'
        place.write_text(f"#!/bin/sh\nREAL='{real}'\n{finds_output}{script}\n")
        place.chmod(0o755)
        monkeypatch.setenv(VARIABLE, str(place))

    return put


def printed() -> bytes:
    with Engraver() as engraver:
        engraver.engrave(read_page(write_score(ONE_LINE)))
        return engraver.pdf()


@pytest.mark.parametrize("line", OF_THE_SYSTEM)
def test_what_the_system_complains_of_is_no_complaint_about_the_music(line: str) -> None:
    assert first_complaint(f"\n{line}\n") == ""


@pytest.mark.parametrize("line", OF_THE_MUSIC)
@pytest.mark.parametrize("beside", ["", *OF_THE_SYSTEM[:3]])
def test_a_complaint_about_the_music_is_found_whatever_stands_beside_it(line: str, beside: str) -> None:
    assert first_complaint(f"{beside}\n{line}\n{beside}")
    assert first_complaint(f"{beside}\n{line}\n{beside}") in line


def test_a_warning_of_the_system_does_not_cost_the_page(stand_in: Callable[[str], None]) -> None:
    quoted = "\n".join(OF_THE_SYSTEM).replace("'", "'\\''")
    stand_in(f"printf '%s\\n' '{quoted}' >&2\nexec \"$REAL\" \"$@\"")
    assert is_whole(printed())


@pytest.mark.parametrize("home", ["/nonexistent", "/proc", None, "relative"])
def test_the_page_is_printed_without_a_home_that_can_be_written(home: str | None, tmp_path: Path) -> None:
    surroundings = {name: value for name, value in os.environ.items() if name not in ("HOME", "XDG_CACHE_HOME")}
    done = subprocess.run(
        [PROGRAM, "slurs", "--positions", "0", "--format", "pdf"],
        env=surroundings | ({"HOME": home} if home else {}), cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert len(pypdf.PdfReader(tmp_path / done.stdout.strip()).pages) == 1


CUTS = {
    "empty": 'cat >/dev/null; : > "$output.pdf"',
    "no PDF": 'cat >/dev/null; echo "<html>" > "$output.pdf"',
    "the beginning alone": 'cat >/dev/null; echo "%PDF-1.5" > "$output.pdf"',
    "cut in the middle": '"$REAL" "$@"; head -c 3000 "$output.pdf" > x; mv x "$output.pdf"',
    "without its last bytes": '"$REAL" "$@"; head -c -8 "$output.pdf" > x; mv x "$output.pdf"',
    "with a hole": '"$REAL" "$@"; (head -c 500 "$output.pdf"; tail -c +900 "$output.pdf") > x; mv x "$output.pdf"',
}


@pytest.mark.parametrize("script", CUTS.values(), ids=list(CUTS))
def test_a_pdf_that_is_none_is_told_and_never_written_out(
    script: str, stand_in: Callable[[str], None], tmp_path: Path
) -> None:
    stand_in(script)
    with pytest.raises(MachineError, match="empty or breaks off") as failed:
        printed()
    out = tmp_path / "out"
    done = subprocess.run([PROGRAM, "slurs", "--positions", "0", "--out", out], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (1, "")
    (sentence,) = done.stderr.splitlines()
    assert "empty or breaks off" in sentence
    assert list(out.iterdir()) == []
    kept = Path(str(failed.value).rpartition(" ")[2])
    assert kept.is_dir()
    for folder in (kept, Path(sentence.rpartition(" ")[2])):
        shutil.rmtree(folder)


@pytest.mark.parametrize(
    ("system", "told"),
    [("darwin", "brew install lilypond"), ("linux", "apt install lilypond"), ("win32", "lilypond.org")],
)
def test_without_any_lilypond_the_message_says_what_to_install(
    system: str, told: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setitem(sys.modules, "lilypond", None)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sys, "platform", system)
    with pytest.raises(MachineError, match=told):
        find_lilypond()


@pytest.mark.parametrize(
    "words",
    [
        ["slurs", "--format", "midi,musicxml"], ["scales", "--keys", "C", "--format", "midi", "--audio"],
        ["session", "--dry-run"], ["fingerings"], ["tuning"], ["kinds"], ["slurs", "--help"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_without_any_lilypond_everything_but_the_page_works(
    words: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(VARIABLE, "/nonexistent/lilypond")
    done = subprocess.run([PROGRAM, *words], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout
