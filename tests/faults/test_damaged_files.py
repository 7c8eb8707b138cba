"""Every file that people hand over, damaged in twenty ways and more: one sentence that names it, or it is as good."""

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


@pytest.mark.parametrize("name", FILES)
def test_what_is_no_file_at_all_is_refused(name: str, here: Path) -> None:
    words_for = FILES[name][1]
    place = here / name
    for lay in (
        lambda: None, place.mkdir, lambda: place.symlink_to("nowhere"), lambda: place.symlink_to(name),
        lambda: place.symlink_to("/dev/null"), lambda: place.symlink_to("/dev/zero"),
    ):  # fmt: skip
        if place.is_dir() and not place.is_symlink():
            shutil.rmtree(place)
        place.unlink(missing_ok=True)
        lay()
        words = words_for(name)
        done = run(*words)
        judge(words[0], words, done.returncode, done.stdout, done.stderr)
        assert done.returncode == 2
