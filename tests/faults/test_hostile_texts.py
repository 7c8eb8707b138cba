"""Fifty texts that mean harm, in every place that takes text: nothing runs, nothing leaves the folder."""

import shutil
from collections.abc import Callable
from pathlib import Path
from xml.sax.saxutils import escape

import pytest

from etudegen.engraving.book import Book, Card, PlanRow, PlanSheet, Section
from etudegen.engraving.engraver import Engraver
from etudegen.engraving.pdf import is_whole
from etudegen.plain_text import printable
from tests.command_line import run
from tests.faults.wrong import steers_a_terminal

TEXTS = (
    '" #(system "touch HACKED") "', "#(begin (system* \"touch\" \"HACKED\"))", '\\markup { #(exit 3) }',
    '" } #(display "x") { "', "\\\\\" #(system \"touch HACKED\") \\\"", "%{ block", "%} end", "% to the end",
    "\\include \"/etc/passwd\"", "\\version \"9\"", "#(ly:gulp-file \"/etc/passwd\")", "$(touch HACKED)",
    "`touch HACKED`", "; touch HACKED ;", "| touch HACKED", "&& touch HACKED", "> HACKED", "\"; touch HACKED; \"",
    "'; touch HACKED; '", "$HOME ${HOME} %HOME%", "-rf", "--out=/etc", "--", "../../../HACKED", "/etc/HACKED",
    "..", ".", "C:\\HACKED", "\\\\server\\share", "file:///etc/passwd", "con", "nul.txt", "a/b/c", "~root/HACKED",
    "\x1b[2J\x1b]0;title\x07", "\x9b31m", "a\x08b\x7f", "line\nbreak\r\nand\ttab", "\u2028\u2029\x85", "\u202etxt.exe",
    "\u2066\u2067isolated", "\ufeff\u200bzero", "\ufffe\uffff", "\udcff\udcfe bytes", "\ud83d half", "😀👩‍🎤🏳️‍🌈",
    "שלום עולם", "مرحبا بالعالم", "中文 かな 한국", "ก็็็็็็็็็็็", "Z̸̡͍a̵͜l̶go", "x" * 120, "word " * 24, "é" * 120, "{{{{}}}}",
    "<b>&amp;</b> ]]> <!-- -->", "%s %n %d {0} {x}", "[[table]]\nkey = 1", 'a = """', "= = =",
    "#" * 60, "\\" * 60, '"' * 60,
)  # fmt: skip
DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
PLANNED = ["session", "--dry-run", "--minutes=10"]
PLAIN = ["--format", "musicxml,midi", "--out", "out"]


@pytest.fixture
def inside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder deep in that of the test, so that a way out of it is seen."""
    folder = tmp_path / "a" / "b" / "inside"
    folder.mkdir(parents=True)
    shutil.copy(DEMO / "quay-waltz.musicxml", folder / "tune.musicxml")
    (folder / "first.toml").write_text('label = "First"\n')
    monkeypatch.chdir(folder)
    return folder


def toml(text: str) -> str:
    return '"' + "".join(
        sign if sign.isalnum() and sign.isascii() else f"\\U{ord(sign):08x}" for sign in printable(text)
    ) + '"'  # fmt: skip


def _written(name: str, content: str) -> str:
    Path(name).write_bytes(content.encode("utf-8", "surrogatepass"))
    return name


def _with_words(text: str) -> str:
    music = (DEMO / "quay-waltz.musicxml").read_text(encoding="utf-8")
    said = escape(printable(text), {'"': "&quot;"})
    words = f"<direction><direction-type><words>{said}</words></direction-type></direction>"
    music = music.replace("<note", f"{words}<note", 1).replace(
        "</note>", f"<lyric><text>{said}</text></lyric></note>", 1
    )
    return _written(
        "words.musicxml", music.replace("<part-list", f"<movement-title>{said}</movement-title><part-list", 1)
    )


def _scale(text: str) -> str:
    return _written("scales.toml", f'[{toml(text)}]\ntitle = {toml(text)}\ndegrees = "1 2 3 4 5 6 7"\nkey = "major"\n')


def _cells(text: str) -> str:
    cell = text.replace('"', '""')
    return f'file,label,notes\n"{cell}","{cell}","{cell}"\n,"{cell}",\n'


# Every place that takes text, as the command line that hands it over.
PLACES: dict[str, Callable[[str], list[str]]] = {
    "title": lambda text: ["slurs", "--positions=0", f"--title={text}", *PLAIN],
    "title of a tune": lambda text: ["transpose", "tune.musicxml", "--keys=C", f"--title={text}", *PLAIN],
    "words, title and lyrics of MusicXML": lambda text: ["transpose", _with_words(text), "--keys=C", *PLAIN],
    "part": lambda text: ["transpose", "tune.musicxml", f"--part={text}", "--keys=C", *PLAIN],
    "label": lambda text: ["profile", "p.toml", f"--label={text}"],
    "notes": lambda text: ["profile", "p.toml", f"--notes={text}"],
    "changes of a profile": lambda text: ["profile", "p.toml", "--label=x", f"--changes={text}"],
    "label in a file": lambda text: [
        "session",
        "--dry-run",
        "--profile",
        _written("q.toml", f"label = {toml(text)}\n"),
    ],
    "raw TOML": lambda text: ["session", "--dry-run", "--profile", _written("r.toml", f"label = {text}\n")],
    "chords": lambda text: ["changes", "--keys=C", *PLAIN, "--", text],
    "chords in a file": lambda text: ["changes", "--keys=C", "--from-file", _written("changes.txt", text), *PLAIN],
    "phrase": lambda text: ["vocabulary", "--keys=C", *PLAIN, "--", text],
    "scale choices": lambda text: ["changes", "--keys=C", f"--scale-choices={text}", *PLAIN],
    "pattern": lambda text: ["patterns", "--keys=C", f"--pattern={text}", *PLAIN],
    "contour": lambda text: ["slurs", f"--contour={text}", *PLAIN],
    "scale of a file": lambda text: [
        "scales",
        "--keys=C",
        "--scales",
        _scale(text),
        f"--scale={printable(text)}",
        *PLAIN,
    ],
    "name of a profile": lambda text: ["profile", f"{text}.toml", "--label=x"],
    "name of a tune": lambda text: ["transpose", f"{text}.musicxml", "--keys=C", *PLAIN],
    "roster": lambda text: ["studio", "band", "--roster", _written("band.csv", text)],
    "cells of a roster": lambda text: ["studio", "band", "--roster", _written("band.csv", _cells(text))],
    "name of one file": lambda text: ["studio", "band", f"--one-file={text}"],
    "routine": lambda text: ["session", "--dry-run", f"--routine={text}"],
    "note of the log": lambda text: ["log", "--profile=first.toml", "--block=1", "--rating=2", f"--note={text}"],
}


@pytest.mark.parametrize("place", PLACES)
def test_no_text_does_anything_but_stand_there(place: str, inside: Path) -> None:
    assert len(TEXTS) >= 50
    made = 0
    for text in TEXTS:
        if place == "name of a profile" and text.startswith(("/", "~", "../../..")):
            # There the player has named another folder.
            continue
        words = PLACES[place](text)
        done = run(*words)
        assert done.returncode in (0, 2), (text, done.stderr)
        assert steers_a_terminal(done.stdout + done.stderr) == [], text
        assert done.returncode == 0 or len(done.stderr.splitlines()) == 1, (text, done.stderr)
        made += done.returncode == 0
        shutil.rmtree(inside / "out", ignore_errors=True)
        (inside / "p.toml").unlink(missing_ok=True)
    top = inside.parents[2]
    assert [path for path in top.rglob("*") if "HACKED" in path.name and path.suffix != ".toml"] == []
    outside = {path for path in top.rglob("*") if path.is_file() and inside not in path.parents}
    assert {path.suffix for path in outside} <= {".toml"} if place == "name of a profile" else outside == set()
    assert made or place not in ("title", "label", "notes", "label in a file", "title of a tune")


def test_every_text_is_printed_on_pages_of_music_and_of_text(inside: Path) -> None:
    # All in one book, since each would take as long as all of them; then in the title of a page of its own.
    rows = tuple(PlanRow("0:00", "5 min", text, text, today=text) for text in TEXTS)
    sections = (
        Section("plan", "plan", PlanSheet("plan", "of texts", rows, TEXTS)),
        *(Section(text, text, Card(text, text, (text,))) for text in TEXTS[::3]),
    )
    with Engraver() as engraver:
        engraver.engrave(Book("texts", "texts", "a4", sections))
        assert is_whole(engraver.pdf())
    together = " ".join(TEXTS)
    for words in (
        ["slurs", "--positions=0", f"--title={together[:120]}"],
        ["transpose", "tune.musicxml", "--keys=C", f"--title={together[120:240]}"],
        ["transpose", _with_words(together[:300]), "--keys=C"],
    ):
        done = run(*words, "--format=pdf,ly", "--out=out")
        assert done.returncode == 0, done.stderr
    assert [path for path in inside.parents[2].rglob("*") if "HACKED" in path.name] == []


def test_long_texts_of_a_card_and_a_plan_go_on_over_pages(inside: Path) -> None:
    import io

    import pypdf

    long = " ".join(f"word{number}" for number in range(600))
    unbroken = "x" * 2_000
    card = Card("Card", "long", (*(f"{place} {long}" for place in range(4)), unbroken))
    plan = PlanSheet(
        "Plan", "long", tuple(PlanRow("0:00", "5 min", long, long, today=long) for _ in range(6)), (long, long)
    )
    with Engraver() as engraver:
        engraver.engrave(Book("x", "x", "a4", (Section("a", "a", plan), Section("b", "b", card))))
        (inside / "long.pdf").write_bytes(engraver.pdf())
        pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(engraver.pdf())).pages]
    told = "".join(pages)
    assert told.count("word599") == 6 * 3 + 2 + 4
