"""Books and the commands of daily practice, from the outside."""

import datetime
import io
import json
import re
import shutil
from pathlib import Path

import pytest
from pypdf import PdfReader

from etudegen.cli.commands import run
from etudegen.engraving.book import Book, Section
from etudegen.engraving.engraver import Engraver
from etudegen.practice.journal import Journal
from etudegen.practice.profile import Aim, profiles_in, read_profile
from etudegen.practice.rules import Part
from etudegen.practice.session import make_session
from etudegen.sheets import studio
from etudegen.sheets.session import book_files, plan_sheet

_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
_DAY = ["--date", "2026-11-25"]


def _said(capsys, *arguments: str) -> tuple[int, str, str]:
    code = run(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


def test_the_demo_players_can_be_read() -> None:
    assert [read_profile(file).label for file in profiles_in(_DEMO)] == [
        "First chair", "Fourth chair", "Second chair", "Third chair",
    ]  # fmt: skip


def test_a_book_holds_the_plan_and_every_block_with_bookmarks(tmp_path, capsys) -> None:
    profile = shutil.copy(_DEMO / "first-chair.toml", tmp_path)
    ask = ["session", "--profile", profile, "--minutes", "25", *_DAY, "--out", str(tmp_path / "out"), "--json"]
    code, out, _ = _said(capsys, *ask)
    assert code == 0
    told = json.loads(out)
    assert told["minutes"] == sum(block["minutes"] for block in told["blocks"]) == 25
    reader = PdfReader(told["files"][0])
    texts = [page.extract_text() for page in reader.pages]
    for block in told["blocks"]:
        assert block["part"] in list(Part)
        assert f"{block['minutes']} min" in texts[0]
    assert "NIOSH" in texts[0]
    assert "numbness" in texts[0]
    assert not any("numbness" in text for text in texts[1:])
    for bookmark in reader.outline[1:]:
        text = texts[reader.get_destination_page_number(bookmark)]
        assert bookmark.title.split(" · ")[0] in text
    for number, text in enumerate(texts, start=1):
        assert str(number) in text.split()
        assert "2026-11-25" in text
    studies = [Path(file) for file in told["files"][1:]]
    assert studies
    assert all(file.suffix == ".musicxml" and file.stat().st_size > 1000 for file in studies)


@pytest.mark.parametrize("parts", [1, 2])
def test_a_plan_tells_the_pages_of_every_block_whichever_part_of_the_book_they_are_in(parts: int) -> None:
    day = datetime.date(2026, 11, 26)
    session = make_session(read_profile(_DEMO / "third-chair.toml"), day, 45, {Aim.JAZZ: 1})
    with Engraver(parts=parts) as engraver:
        pdf = next(iter(book_files(session, engraver, name="x").values()))
    reader = PdfReader(io.BytesIO(pdf))
    starts = [(each.title, reader.get_destination_page_number(each) + 1) for each in reader.outline]
    headings = {title: page for title, page in starts if title[0].isdigit()}
    text = reader.pages[0].extract_text()
    told = [(int(first), int(last or first)) for first, last in re.findall(r"p\. (\d+)(?:–(\d+))?", text)]
    assert len(told) == sum(block.part is not Part.REST for block in session.plan.blocks)
    assert [first for first, _ in told] == [*headings.values()]
    ends = [*[first for first, _ in told[1:]], len(reader.pages) + 1]
    # The next block begins on the last page of one, or on the one after it.
    assert all(end - last in (0, 1) for (_, last), end in zip(told, ends, strict=True))


def test_a_plan_tells_keys_tempi_sums_and_the_day_in_words() -> None:
    session = make_session(read_profile(_DEMO / "third-chair.toml"), datetime.date(2026, 11, 26), 60, {Aim.JAZZ: 1})
    sheet = plan_sheet(session)
    assert sheet.title == "Practice, Thursday 26 November 2026"
    rows = {row.what.split(": ")[-1]: row.today for row in sheet.rows}
    assert re.fullmatch(r"1 3 in ([A-G][♭♯]? )+and 7 more · tempo\s\d+", rows["patterns"])
    assert re.fullmatch(r"quay waltz in ([A-G][♭♯]? ?)+", rows["transpose"])
    assert re.fullmatch(r"changes in [A-G]♭? · tempo\s\d+", rows["improvising"])
    assert (rows["writing-down"], all(not row.today for row in sheet.rows if row.rest)) == ("", True)
    resting = sum(block.minutes for block in session.plan.blocks if block.part is Part.REST)
    assert re.match(rf"Playing {60 - resting} minutes, \d+ of them rests within the studies; resting {resting} between",
                    sheet.remarks[0])  # fmt: skip


# What is said at the foot of a page beside what stands once under the plan.
_CAUTIONS = {
    "bends": "Bends tire the lips sooner than it seems",
    "range": "Range work is strenuous: only when warmed up",
    "contact": "Strenuous: once a day, only when warmed up",
}


def test_studies_that_strain_say_what_to_beware_of(tmp_path, capsys) -> None:
    routine = tmp_path / "strain.toml"
    kinds = {"slurs": "warm-up", "bends": "conditioning", "contact": "conditioning", "range": "range"}
    kinds |= {"long-tones": "warm-down"}
    routine.write_text('about = "Strain"\nminutes = [10, 60]\naims = ["any"]\n' + "".join(
        f'[[block]]\npart = "{part}"\nkind = "{kind}"\nshare = 20\nwhy = "To try it."\n'
        for kind, part in kinds.items()
    ), encoding="utf-8")  # fmt: skip
    ask = ["session", "--routine", str(routine), "--minutes", "28", *_DAY, "--out", str(tmp_path), "--json"]
    code, out, _ = _said(capsys, *ask)
    assert code == 0
    told = json.loads(out)
    seen = set()
    for page in PdfReader(told["files"][0]).pages[1:]:
        text = " ".join(page.extract_text().split())
        # Studies of more than one block may share a page.
        numbers = re.findall(r"([0-9]+) · [a-z-]+: [a-z ,]+ · [0-9]+ min", text)
        found = {told["blocks"][int(number) - 1]["kind"] for number in numbers}
        assert found
        seen |= found
        assert {name for name, caution in _CAUTIONS.items() if caution in text} == found & _CAUTIONS.keys()
        assert "numbness" not in text
    assert seen >= {*_CAUTIONS}


@pytest.mark.parametrize("minutes", [180, 240])
def test_the_plan_of_a_long_session_fits_on_one_page(minutes: int) -> None:
    session = make_session(read_profile(_DEMO / "first-chair.toml"), datetime.date(2026, 11, 25), minutes, Aim.RANGE)
    plan = Book("Plan", "", "a4", (Section("Plan", "", plan_sheet(session, 94.0)),))
    with Engraver() as engraver:
        engraver.engrave(plan)
        reader = PdfReader(io.BytesIO(engraver.pdf()))
    (text,) = [page.extract_text() for page in reader.pages]
    assert text.count("rest is part of practising") == 1
    assert text.count("· rest") == sum(block.part == "rest" for block in session.plan.blocks)
    assert "At 94 dBA" in text


@pytest.mark.usefixtures("plain_press")
def test_books_without_a_profile_are_called_by_what_was_asked_for(tmp_path, capsys) -> None:
    ask = ["session", "--minutes", "10", *_DAY, "--out", str(tmp_path)]
    names = []
    for more in (["--low", "A3", "--high", "E5", "--aim", "sound"], ["--aim", "jazz=3", "--instrument", "cornet"]):
        code, out, err = _said(capsys, *ask, *more)
        assert code == 0
        names.append(Path(out.split()[0]).name)
    assert names == [
        "practice-a3-e5-2026-11-25-10-min-sound.pdf", "practice-cornet-fs3-g5-2026-11-25-10-min-jazz.pdf",
    ]  # fmt: skip
    assert err == "etudegen: assumed low F#3, high G5: say others by --low, --high\n"


def test_a_week_adds_up_and_says_what_comes_up(tmp_path, capsys) -> None:
    profile = shutil.copy(_DEMO / "third-chair.toml", tmp_path)
    code, out, _ = _said(capsys, "week", "--profile", profile, *_DAY)
    assert code == 0
    days = out.split("\n\n")
    assert len(days) == 4
    for day in days:
        head, *rows = day.splitlines()
        assert ", 45 minutes, " in head
        assert sum(int(row.split()[0]) for row in rows) == 45
        assert ":" not in "".join(row.split(":", 1)[-1] for row in rows)
    assert "technique: patterns" in out
    assert "1 2 3 1 in C F B♭" in out


def test_aims_can_be_given_with_a_weight_or_without_everywhere(tmp_path, capsys) -> None:
    profile = str(tmp_path / "p.toml")
    assert _said(capsys, "profile", profile, "--aim", "jazz", "--aim", "sound=2")[0] == 0
    assert read_profile(Path(profile)).aims == {"jazz": 1, "sound": 2}
    for aim in ("flexibility=3", "flexibility"):
        _, out, _ = _said(capsys, "session", "--profile", profile, "--aim", aim, "--dry-run", "--json")
        assert json.loads(out)["aim"] == "flexibility"


def test_a_mistake_in_a_profile_of_a_studio_names_its_file_once(tmp_path, capsys) -> None:
    (tmp_path / "broken.toml").write_text('label = "Second chair"\nlow = "H9"\n', encoding="utf-8")
    code, _, err = _said(capsys, "studio", str(tmp_path), "--out", str(tmp_path / "out"))
    assert (code, err.count("broken.toml")) == (2, 1)


def test_the_same_session_gives_the_same_bytes(tmp_path, capsys) -> None:
    books = []
    for name in ("one", "two"):
        code, out, _ = _said(capsys, "session", "--minutes", "12", *_DAY, "--out", str(tmp_path / name))
        assert code == 0
        books.append(Path(out.split()[0]).read_bytes())
    assert books[0] == books[1]


@pytest.mark.usefixtures("plain_press")
def test_a_studio_makes_a_book_for_each_player_and_keeps_what_has_not_changed(tmp_path, capsys) -> None:
    band = tmp_path / "band"
    band.mkdir()
    for name in ("third", "fourth"):
        shutil.copy(_DEMO / f"{name}-chair.toml", band)
    (band / "broken.toml").write_text('label = "Second chair"\nlow = "H9"\n', encoding="utf-8")
    ask = ["studio", str(band), "--workers", "1", "--minutes", "12", *_DAY, "--out", str(tmp_path / "out"), "--json"]
    code, out, err = _said(capsys, *ask)
    assert code == 2
    assert "broken.toml" in err
    assert "H9" in err
    made = {Path(row["profile"]).stem: row for row in json.loads(out)}
    assert [made[name]["kept"] for name in ("third-chair", "fourth-chair")] == [False, False]
    (band / "broken.toml").unlink()
    _said(capsys, "profile", str(band / "third-chair.toml"), "--high", "F5")
    code, out, _ = _said(capsys, *ask)
    assert code == 0
    again = {Path(row["profile"]).stem: row for row in json.loads(out)}
    assert [again[name]["kept"] for name in ("third-chair", "fourth-chair")] == [False, True]


def _state(folder: Path) -> dict[str, tuple[int, bytes]]:
    """What is in a folder: names, times of change and content."""
    return {
        str(path): (path.stat().st_mtime_ns, path.read_bytes() if path.is_file() else b"")
        for path in (folder, *folder.rglob("*"))
    }


def _band(folder: Path, *names: str, label: str = "Chair") -> Path:
    folder.mkdir()
    for number, name in enumerate(names):
        (folder / f"{name}.toml").write_text(f'label = "{label}"\nhigh = "{"GFA"[number]}5"\n', encoding="utf-8")
    return folder


@pytest.mark.usefixtures("plain_press")
def test_players_of_one_label_have_books_and_journals_of_their_own_whatever_their_files_are_called(
    tmp_path, capsys
) -> None:
    band = _band(tmp_path / "band", "first-chair", "第一", "第二")
    ask = ["studio", str(band), "--workers", "1", "--minutes", "10", *_DAY, "--out", str(tmp_path / "out")]
    code, out, err = _said(capsys, *ask)
    assert code == 0
    books = out.split()
    assert len({*books}) == 3
    assert Path(books[0]).name == "band-first-chair-2026-11-25-10-min-flexibility.pdf"
    tops = [re.findall("3 to ([A-G]5)", PdfReader(book).pages[0].extract_text()) for book in books]
    assert sorted(tops) == [["A5"], ["F5"], ["G5"]]
    assert err.splitlines()[3:] == [f"recorded in {band / 'journal.sqlite'}"]
    log = ["log", *_DAY, "--block", "1", "--rating", "1", "--profile"]
    assert _said(capsys, *log, str(band / "第一.toml"))[0] == 0
    journal = Journal(band / "journal.sqlite")
    assert [len(journal.entries(band / f"{name}.toml")) for name in ("first-chair", "第一", "第二")] == [0, 1, 0]


@pytest.mark.usefixtures("plain_press")
def test_another_label_keeps_the_name_of_the_book(tmp_path, capsys) -> None:
    band = _band(tmp_path / "band", "third")
    ask = ["session", "--profile", str(band / "third.toml"), "--minutes", "10", *_DAY, "--out", str(tmp_path / "out")]
    books = []
    for label in ("Solo chair", "Third chair"):
        assert _said(capsys, "profile", str(band / "third.toml"), "--label", label)[0] == 0
        code, out, err = _said(capsys, *ask)
        assert code == 0
        books.append(out.split()[0])
    assert books[0] == books[1]
    assert err.splitlines() == [f"replaced: {books[0]}", f"recorded in {band / 'journal.sqlite'}"]


@pytest.mark.usefixtures("plain_press")
def test_a_session_that_is_not_made_and_a_week_write_nothing(tmp_path, monkeypatch, capsys) -> None:
    band = _band(tmp_path / "band", "third")
    monkeypatch.chdir(tmp_path)
    profile = ["--profile", "band/third.toml", *_DAY]
    previews = [["session", "--dry-run", *profile], ["session", "--dry-run", "--json", *profile], ["week", *profile]]
    before = _state(tmp_path)
    for preview in previews:
        assert _said(capsys, *preview)[0] == 0
        assert _state(tmp_path) == before
    assert _said(capsys, "session", "--minutes", "10", *profile)[0] == 0
    assert _said(capsys, "log", *profile, "--block", "1", "--rating", "2")[0] == 0
    assert (band / "journal.sqlite").exists()
    before = _state(tmp_path)
    for preview in previews:
        assert _said(capsys, *preview)[0] == 0
        assert _state(tmp_path) == before


@pytest.mark.usefixtures("plain_press")
def test_every_command_tells_whose_it_is_under_one_key(tmp_path, monkeypatch, capsys) -> None:
    _band(tmp_path / "band", "first")
    monkeypatch.chdir(tmp_path)
    file = "band/first.toml"
    commands = {
        "profile": ["profile", file],
        "session": ["session", "--profile", file, "--dry-run"],
        "week": ["week", "--profile", file],
        "studio": ["studio", "band", "--minutes", "10"],
    }
    for name, command in commands.items():
        _, out, _ = _said(capsys, *command, *([] if name == "profile" else _DAY), "--json")
        told = json.loads(out)
        assert next(row["profile"] for row in (told if isinstance(told, list) else [told])) == file
    _, out, _ = _said(capsys, "session", "--dry-run", *_DAY, "--json")
    assert (json.loads(out)["profile"], json.loads(out)["date"]) == (None, "2026-11-25")


def test_folders_are_taken_from_where_the_user_is_in_processes_of_their_own_too(tmp_path, monkeypatch, capsys) -> None:
    _band(tmp_path / "band", "first", "second")
    monkeypatch.chdir(tmp_path)
    ask = ["studio", "band", "--minutes", "10", *_DAY, "--out", "out"]
    code, out, _ = _said(capsys, *ask)
    assert code == 0
    assert out.splitlines() == [f"out/band-{name}-2026-11-25-10-min-flexibility.pdf" for name in ("first", "second")]
    assert all((tmp_path / line).is_file() for line in out.splitlines())
    # In another way of speaking it is still the same band.
    code, out, _ = _said(capsys, "studio", str(tmp_path / "band"), *ask[2:])
    assert (code, out.count("(unchanged)")) == (0, 2)


@pytest.mark.usefixtures("plain_press")
def test_a_profile_that_vanishes_costs_its_own_book_only(tmp_path, monkeypatch, capsys) -> None:
    band = _band(tmp_path / "band", "first", "second")
    found = profiles_in(band)
    (band / "first.toml").unlink()
    monkeypatch.setattr("etudegen.cli.studio.profiles_in", lambda folder: found)
    code, out, err = _said(capsys, "studio", str(band), "--minutes", "10", *_DAY, "--out", str(tmp_path / "out"))
    assert code == 2
    assert [Path(line).name for line in out.splitlines()] == ["band-second-2026-11-25-10-min-flexibility.pdf"]
    assert "there is no profile" in err


@pytest.mark.usefixtures("plain_press")
def test_what_changes_while_a_book_is_made_makes_it_an_old_one(tmp_path, monkeypatch, capsys) -> None:
    band = _band(tmp_path / "band", "first")
    ask = ["studio", str(band), "--minutes", "10", *_DAY, "--out", str(tmp_path / "out")]
    make = studio.make_files

    def changing(*arguments: object, **named: object) -> object:
        (band / "first.toml").write_text('label = "Changed"\n', encoding="utf-8")
        return make(*arguments, **named)

    monkeypatch.setattr(studio, "make_files", changing)
    assert _said(capsys, *ask)[0] == 0
    monkeypatch.undo()
    _, out, err = _said(capsys, *ask)
    assert "(unchanged)" not in out
    assert "replaced: " in err


@pytest.mark.parametrize(
    "record", ["nonsense", "[]", '{"first.toml": 3}', '{"first.toml": {"fingerprint": "x", "files": ["../up"]}}']
)
@pytest.mark.usefixtures("plain_press")
def test_a_record_of_books_that_makes_no_sense_is_put_aside_and_that_is_told(tmp_path, capsys, record: str) -> None:
    band = _band(tmp_path / "band", "first")
    out = tmp_path / "out"
    out.mkdir()
    (out / ".etudegen-books.json").write_text(record, encoding="utf-8")
    code, said, err = _said(capsys, "studio", str(band), "--minutes", "10", *_DAY, "--out", str(out))
    assert (code, len(said.split())) == (0, 1)
    assert f"{out / '.etudegen-books.json'} makes no sense: it is put aside" in err
    assert (out / ".etudegen-books.json.damaged").read_text(encoding="utf-8") == record


def test_text_in_a_profile_is_printed_and_runs_nothing(tmp_path, capsys) -> None:
    mark = tmp_path / "touched"
    notes = f'Say "ah" \\ #(system "touch {mark}") %{{ and rest'
    profile = str(tmp_path / "p.toml")
    assert _said(capsys, "profile", profile, "--label", "Third chair", "--notes", notes)[0] == 0
    code, out, _ = _said(
        capsys, "session", "--profile", profile, "--minutes", "12", *_DAY, "--out", str(tmp_path / "o")
    )
    assert code == 0
    assert not mark.exists()
    assert 'Say "ah"' in PdfReader(out.split()[0]).pages[0].extract_text()


def test_a_change_keeps_the_comments_of_a_profile(tmp_path, capsys) -> None:
    profile = Path(shutil.copy(_DEMO / "fourth-chair.toml", tmp_path))
    assert _said(capsys, "profile", str(profile), "--days-since-played", "2", "--aim", "sound=5")[0] == 0
    text = profile.read_text(encoding="utf-8")
    assert text.startswith("# Back after a month on the boats.")
    assert read_profile(profile).days_since_played == 2
    assert read_profile(profile).aims["sound"] == 5


@pytest.mark.usefixtures("plain_press")
def test_what_went_badly_comes_up_sooner(tmp_path, capsys) -> None:
    profile = shutil.copy(_DEMO / "second-chair.toml", tmp_path)
    ask = ["session", "--profile", profile, "--minutes", "60", "--out", str(tmp_path / "out"), "--json"]
    _, out, _ = _said(capsys, *ask, *_DAY)
    number, scales = next(
        (number, block) for number, block in enumerate(json.loads(out)["blocks"], start=1) if block["kind"] == "scales"
    )
    log = ["log", "--profile", profile, *_DAY, "--block", str(number), "--rating", "1"]
    assert _said(capsys, *log)[0] == 0
    _, out, _ = _said(capsys, *ask, "--date", "2026-12-02", "--dry-run")
    later = next(block for block in json.loads(out)["blocks"] if block["kind"] == "scales")
    # Half of what comes is what has not been had longest.
    again = sum(item in scales["items"] for item in later["items"])
    assert len(later["items"]) // 2 - 1 <= again < len(later["items"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["session", "--minutes", "9"], "minutes '9' is not allowed: give a whole number from 10 to 240"),
        (["session", "--minutes", "241"], "minutes '241'"),
        (["session", "--minutes", "sixty"], "minutes 'sixty' is not allowed: give a whole number from 10 to 240"),
        (["session", "--aim", "fame"], "fame"),
        (["session", "--aim", "range=much"], "weight of range 'much'"),
        (["session", "--date", "2026-13-01"], "2026-13-01"),
        (["session", "--profile", "nobody.toml"], "there is no profile 'nobody.toml'"),
        (["session", "--profile", "."], "'.' is a folder"),
        (
            ["session", "--profile", "x.toml", "--low", "C4"],
            "leave out --low, --high, --instrument and --level, or --profile",
        ),
        (["session", "--journal", "j.sqlite"], "--journal is of use only with --profile"),
        (["session", "--sound-level", "20"], "sound level '20' is not allowed: give 60 to 130"),
        (["session", "--sound-level", "loud"], "level 'loud'"),
        (["session", "--level", "94"], "how loud the room is, is told by --sound-level"),
        (["session", "--level", "middling"], "unknown level 'middling': choose one of first-months, elementary"),
        (["session", "--paper", "A5"], "A5"),
        (["session", "--routine", "blob"], "blob"),
        (["session", "--routine", "mine.toml"], "there is no routine 'mine.toml'"),
        (["session", "--low", "C5", "--high", "C4"], "high C4 is below low C5: they may be swapped"),
        (["studio", "nowhere"], "nowhere"),
        (["profile", "new.toml"], "new.toml"),
        (["profile", "new", "--kind", "wobbles"], "unknown kind 'wobbles': choose among long-tones, slurs"),
        (["profile", "new", "--unset", "reach"], "'reach' is not in the profile, so it cannot be removed"),
        (["profile", "new", "--label", "x", "--remove-tune", "y"], "tunes has no 'y', so it cannot be removed"),
        (["profile", "new", "--routine", "blob"], "unknown routine 'blob'"),
        (["profile", "new", "--last-played", "soon"], "date 'soon' is not a day"),
        (["profile", "new.txt", "--label", "x"], "must end in .toml"),
        (["profile", "new.toml", "--label", "x", "--tempo", "88"], "like eighths=88"),
        (["profile", "new.toml", "--label", "x", "--tempo", "eighth=88"], "unknown rhythm 'eighth'"),
        (["profile", "new.toml", "--label", "x", "--low", "C5", "--high", "C4"], "high C4"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--rating", "2"], "nobody.toml"),
        (["log", "--profile", "nobody.toml", "--rating", "2"], "the number or name that the plan page has"),
        (["log", "--profile", "nobody.toml", "--block", "1"], "1 (not yet) to 4 (easily)"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--rating", "x"], "rating 'x'"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--part", "F"], "cannot read 'F'"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--part", "F=5"], "rating '5'"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--part", "F=2@900"], "tempo '900'"),
        (["log", "--profile", "nobody.toml", "--block", "1", "--part", "F=2", "--tempo", "60"], "like F=2@72"),
        (["studio", ".", "--workers", "many"], "workers 'many'"),
    ],
)
def test_wrong_input_gets_one_sentence_and_writes_nothing(
    tmp_path, monkeypatch, capsys, arguments: list[str], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = _said(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert err.startswith("etudegen: ")
    assert err.count("\n") == 1
    assert said in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("plain_press")
def test_a_block_that_is_none_is_not_rated(tmp_path, capsys) -> None:
    profile = shutil.copy(_DEMO / "third-chair.toml", tmp_path)
    _said(capsys, "session", "--profile", profile, "--minutes", "12", *_DAY, "--out", str(tmp_path / "out"))
    code, _, err = _said(capsys, "log", "--profile", profile, *_DAY, "--block", "99", "--rating", "2")
    assert (code, "block 99" in err) == (2, True)
    code, _, err = _said(capsys, "log", "--profile", profile, *_DAY, "--block", "pedals", "--rating", "2")
    assert (code, "block 'pedals' is not in the session: choose one of 1 (" in err) == (2, True)
    code, _, err = _said(capsys, "log", "--profile", profile, *_DAY, "--block", "1", "--part", "H=2")
    assert (code, "'H' is not in this block: it has" in err) == (2, True)
    code, _, err = _said(capsys, "log", "--profile", profile, *_DAY, "--block", "1", "--rating", "7")
    assert (code, "rating '7'" in err) == (2, True)


@pytest.mark.usefixtures("plain_press")
def test_what_is_asked_for_differently_is_another_book_of_the_same_player(tmp_path: Path, capsys) -> None:
    """Two aims, two routines, two papers, two folders: nothing of one overwrites the other."""
    for folder in ("a", "b"):
        assert _said(capsys, "profile", str(tmp_path / folder / "chair.toml"), "--low", "C4", "--high", "C5")[0] == 0
    profile, out = str(tmp_path / "a" / "chair.toml"), str(tmp_path / "out")
    orders = (
        (profile, "--aim", "sound"),
        (profile, "--aim", "jazz"),
        (profile, "--aim", "sound", "--paper", "Letter"),
        (profile, "--aim", "sound", "--sound-level", "95"),
        (profile, "--aim", "sound", "--routine", "quarter-hour"),
        (profile, "--aim", "sound=9", "--aim", "jazz=10", "--routine", "three-hours"),
        (profile, "--aim", "sound=10", "--aim", "jazz=9", "--routine", "three-hours"),
        (str(tmp_path / "b" / "chair.toml"), "--aim", "sound"),
    )
    for order in orders:
        asked = ("session", "--profile", *order, "--minutes", "15", *_DAY, "--out", out)
        code, _, told = _said(capsys, *asked)
        assert code == 0
        assert "replaced" not in told
    assert len(list(Path(out).glob("*.pdf"))) == len(orders)


@pytest.mark.usefixtures("plain_press")
def test_the_studio_follows_a_routine_beside_the_profiles_as_a_session_does(tmp_path: Path, capsys) -> None:
    profile, out = tmp_path / "chair.toml", ("--out", str(tmp_path / "books"))
    assert _said(capsys, "profile", str(profile), "--low", "C4", "--high", "C5")[0] == 0
    assert _said(capsys, "routine", "noon", "long-tones 10", "--profile", str(profile))[0] == 0
    studio = ("studio", str(tmp_path), *_DAY, *out)
    assert _said(capsys, *studio, "--routine", "noon")[0] == 0
    assert "(unchanged)" in _said(capsys, *studio, "--routine", "noon")[1]
    code, _, err = _said(capsys, *studio, "--routine", "noon", "--minutes", "20")
    assert (code, "'noon' is 10 minutes long: leave out --minutes" in err) == (2, True)
    code, _, err = _said(capsys, *studio, "--routine", "nonesuch")
    assert (code, len(err.splitlines())) == (2, 1)
    assert "choose one of noon, half-hour" in err


@pytest.mark.usefixtures("plain_press")
def test_a_session_in_place_of_another_of_the_day_is_told_and_the_studio_makes_its_book_again(
    tmp_path: Path, capsys
) -> None:
    band = tmp_path / "band"
    assert _said(capsys, "profile", str(band / "chair.toml"), "--low", "C4", "--high", "C5")[0] == 0
    studio = ("studio", str(band), "--minutes", "10", *_DAY, "--out", str(tmp_path / "books"))
    assert _said(capsys, *studio)[0] == 0
    assert "(unchanged)" in _said(capsys, *studio)[1]
    session = ("session", "--profile", str(band / "chair.toml"), "--minutes", "40", *_DAY, "--out", str(tmp_path))
    assert "in place of another session of 2026-11-25" in _said(capsys, *session)[2]
    # What is rated by a book has to be what the journal knows.
    assert "(unchanged)" not in _said(capsys, *studio)[1]
    assert "(unchanged)" in _said(capsys, *studio)[1]
