"""Every file that people hand over, damaged in twenty ways and more: one sentence that names it, or it is as good."""

import errno
import os
import random
import shutil
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.command_line import run
from tests.faults.wrong import beside, judge

ROOT = Path(__file__).parents[2]
TUNE = ROOT / "demo" / "harbour-band" / "quay-waltz.musicxml"
THEORY = ROOT / "templates" / "theory"
NOTHING = ["--format", "midi", "--out", "/dev/null/nowhere", "--keys=C"]
PLANNED = ["session", "--dry-run", "--minutes=10"]

# The kinds of file: one of each that is whole, and the command line that reads it.
FILES: dict[str, tuple[Path, Callable[[str], list[str]]]] = {
    "profile.toml": (
        ROOT / "demo" / "harbour-band" / "first-chair.toml", lambda file: [*PLANNED, "--profile", file]
    ),
    "routine.toml": (
        ROOT / "templates" / "routines" / "quarter-hour.toml", lambda file: [*PLANNED, "--routine", file]
    ),
    "scales.toml": (THEORY / "scales.toml", lambda file: ["scales", "--scales", file, *NOTHING]),
    "chords.toml": (THEORY / "chords.toml", lambda file: ["changes", "--chords", file, *NOTHING]),
    "patterns.toml": (THEORY / "patterns.toml", lambda file: ["patterns", "--patterns", file, *NOTHING]),
    "articulations.toml": (
        THEORY / "articulations.toml", lambda file: ["scales", "--articulations", file, *NOTHING]
    ),
    "changes.txt": (
        ROOT / "tests" / "kinds" / "own" / "changes.txt", lambda file: ["changes", "--from-file", file, *NOTHING]
    ),
    "tune.musicxml": (TUNE, lambda file: ["transpose", file, *NOTHING]),
    "played.musicxml": (TUNE, lambda file: ["play-along", file, "--sound", "none", "--out", "/dev/null/nowhere"]),
    "phrase.musicxml": (TUNE, lambda file: ["vocabulary", "--tune", file, *NOTHING]),
    "tune.mxl": (TUNE, lambda file: ["transpose", file, *NOTHING]),
}  # fmt: skip


def _lines_changed(whole: bytes, change: Callable[[list[bytes]], list[bytes]]) -> bytes:
    return b"\n".join(change(whole.split(b"\n")))


def damages(whole: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield ways to damage a file, the same in every run."""
    chance = random.Random(len(whole))
    half = len(whole) // 2
    yield "empty", b""
    yield "one byte", whole[:1]
    yield "cut in the middle", whole[:half]
    yield "cut before the end", whole[:-5]
    yield "the second half", whole[half:]
    yield "twice", whole + whole
    yield "zeros", bytes(len(whole))
    yield "zeros at the end", whole[:half] + bytes(half)
    yield "noise", chance.randbytes(500)
    yield "noise inside", whole[:half] + chance.randbytes(40) + whole[half:]
    yield "Latin-1", whole[:half] + "Größe".encode("latin-1") + whole[half:]
    yield "UTF-16", whole.decode().encode("utf-16")
    yield "with a mark first", b"\xef\xbb\xbf" + whole
    yield "Windows line ends", whole.replace(b"\n", b"\r\n")
    yield "old Macintosh line ends", whole.replace(b"\n", b"\r")
    yield "lines in reverse", _lines_changed(whole, lambda lines: lines[::-1])
    yield "every other line", _lines_changed(whole, lambda lines: lines[::2])
    yield "numbers enormous", whole.replace(b"1", b"9" * 5000)
    yield "numbers negative", whole.replace(b"1", b"-1")
    yield "numbers in another script", whole.replace(b"1", "١".encode())
    yield "quotes gone", whole.replace(b'"', b"")
    yield "names changed", whole.replace(b"e", b"x")
    yield "dots without end", whole + b"." * 200_000
    yield "brackets without end", whole + b"\n" + b"[" * 200_000
    yield "a line without end", whole + b'\nx = "' + b"x" * 900_000
    yield "a web page", b"<!DOCTYPE html><html><body>404</body></html>"
    yield "a picture", b"\x89PNG\r\n\x1a\n" + chance.randbytes(300)
    yield "an archive", b"PK\x03\x04" + chance.randbytes(300)
    for place in range(10):
        at = chance.randrange(len(whole))
        yield f"a bit turned {place}", whole[:at] + bytes([whole[at] ^ (1 << chance.randrange(8))]) + whole[at + 1 :]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def _packed(music: Path, place: Path) -> bytes:
    """Return a tune packed as notation programs do."""
    with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="tune.musicxml"/></rootfiles></container>',
        )
        archive.writestr("tune.musicxml", music.read_bytes())
    return place.read_bytes()


@pytest.mark.parametrize("name", FILES)
def test_a_damaged_file_is_refused_in_a_sentence_or_read(name: str, here: Path, tmp_path: Path) -> None:
    source, words_for = FILES[name]
    whole = _packed(source, tmp_path / "whole.mxl") if name.endswith(".mxl") else source.read_bytes()
    tried = refused = 0
    for damage, content in damages(whole) if not name.endswith(".mxl") else packed_damages(whole):
        (here / name).write_bytes(content)
        before = beside(here)
        words = words_for(name)
        done = run(*words)
        try:
            judge(words[0], words, done.returncode, done.stdout, done.stderr)
            assert beside(here) == before
        except AssertionError as error:
            raise AssertionError(f"{name}, {damage}: {done.returncode} {done.stderr}") from error
        tried += 1
        refused += done.returncode == 2 and "nowhere" not in done.stderr
    assert tried >= 20
    assert refused >= 5


def packed_damages(whole: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield the ways that make sense for an archive."""
    chance = random.Random(1)
    for length in (0, 1, 4, 30, len(whole) // 2, len(whole) - 1, len(whole) - 22):
        yield f"cut to {length}", whole[:length]
    yield "noise first", chance.randbytes(50) + whole
    yield "noise last", whole + chance.randbytes(50)
    for place in range(20):
        at = chance.randrange(len(whole))
        yield f"a byte changed {place}", whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :]


# What else is read from a place that people name, with the command line that reads it.
PLACES: dict[str, Callable[[str], list[str]]] = {
    **{name: words_for for name, (_, words_for) in FILES.items()},
    "roster.csv": lambda file: ["studio", ".", "--roster", file],
    "routine.txt": lambda file: ["routine", "morning", "--from-file", file],
    **{
        f"{'-'.join(words[:2])}.sqlite": lambda file, words=words: [
            *words,
            "--profile",
            "player.toml",
            "--journal",
            file,
        ]  # type: ignore[misc]
        for words in (["history"], ["log", "--block=1", "--rating=2"], ["week", "--minutes=10"], PLANNED, ["session"])
    },
}


def _no_files(place: Path) -> Iterator[Callable[[], object]]:
    """Yield what lays something that is no file in a place."""
    yield lambda: None
    yield place.mkdir
    yield lambda: os.mkfifo(place)
    for target in ("nowhere", place.name, "/dev/null", "/dev/zero", "/dev/full"):
        yield lambda target=target: place.symlink_to(target)  # type: ignore[misc]


@pytest.mark.parametrize("name", PLACES)
def test_what_is_no_file_at_all_is_refused(name: str, here: Path) -> None:
    (here / "player.toml").write_text('label = "First chair"\ndays_per_week = 1\n')
    place = here / name
    for lay in _no_files(place):
        if place.is_dir() and not place.is_symlink():
            shutil.rmtree(place)
        place.unlink(missing_ok=True)
        lay()
        if name.endswith(".sqlite") and not os.path.exists(place):
            # A journal need not be there yet.
            continue
        words = PLACES[name](name)
        done = run(*words)
        judge(words[0], words, done.returncode, done.stdout, done.stderr)
        assert done.returncode == 2
        assert repr(name) in done.stderr or f"{name}:" in done.stderr


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may read everything")
@pytest.mark.parametrize("name", PLACES)
def test_what_may_not_be_read_is_the_machines_fault(name: str, here: Path) -> None:
    _refused_by_the_system(name, here, lambda place: place.chmod(0))


@pytest.mark.parametrize("name", PLACES)
def test_what_the_system_does_not_show_is_the_machines_fault(
    name: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Such as what lies in a folder that may not be read; the superuser has to be told so."""
    true = os.stat

    def stat(path: object, **how: object) -> os.stat_result:
        if os.path.abspath(os.fspath(path)) == str(here / name):  # type: ignore[call-overload]
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return true(path, **how)  # type: ignore[arg-type]

    _refused_by_the_system(name, here, lambda _: monkeypatch.setattr(os, "stat", stat))


def _refused_by_the_system(name: str, here: Path, refuse: Callable[[Path], object]) -> None:
    (here / "player.toml").write_text('label = "First chair"\ndays_per_week = 1\n')
    (here / name).write_text("x")
    refuse(here / name)
    done = run(*PLACES[name](name))
    assert (done.returncode, done.stdout) == (1, "")
    (sentence,) = done.stderr.splitlines()
    assert name in sentence
    assert "Permission denied" in sentence
