"""Books for the days until the next lesson, and all of them in one file to print."""

import datetime
import io
import json
import shutil
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from etudegen.cli.commands import run
from etudegen.engraving.joining import bound
from etudegen.errors import InputError
from etudegen.practice.days import DaysAsked, practice_days
from etudegen.practice.journal import Journal

_DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
_MONDAY = datetime.date(2026, 11, 30)
_WEEK = ["--from", "2026-11-30", "--to", "2026-12-04"]


def _said(capsys, *arguments: str) -> tuple[int, str, str]:
    code = run(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


def _band(tmp_path: Path, *names: str) -> Path:
    band = tmp_path / "band"
    band.mkdir()
    for name in names:
        shutil.copy(_DEMO / f"{name}-chair.toml", band)
    return band


def _asked(band: Path, *more: str) -> list[str]:
    return ["studio", str(band), "--workers", "1", "--minutes", "10", "--out", str(band.parent / "out"), *more]


def _days(numbers: list[int]) -> tuple[datetime.date, ...]:
    return tuple(_MONDAY + datetime.timedelta(days=number) for number in numbers)


@pytest.mark.parametrize("a_week", range(1, 8))
def test_practice_days_are_those_of_the_week_and_go_on_in_the_next(a_week: int) -> None:
    days = practice_days(_MONDAY, a_week, 3 * a_week)
    assert days[:a_week] == _days([7 * place // a_week for place in range(a_week)])
    for day, week_later in zip(days, days[a_week:], strict=False):
        assert week_later - day == datetime.timedelta(days=7)
    for length in range(1, 22):
        last = _MONDAY + datetime.timedelta(days=length - 1)
        assert DaysAsked(_MONDAY, last=last).of(a_week) == tuple(day for day in days if day <= last)


def test_days_that_cannot_be_are_told() -> None:
    with pytest.raises(InputError, match="lies before"):
        DaysAsked(_MONDAY, last=_MONDAY - datetime.timedelta(days=1))
    with pytest.raises(InputError, match="are 32 days: allowed are 31"):
        DaysAsked(_MONDAY, last=_MONDAY + datetime.timedelta(days=31))
    with pytest.raises(InputError, match="do not end in any year"):
        practice_days(datetime.date.max, 7, 2)


@pytest.mark.usefixtures("plain_press")
def test_a_week_is_one_book_for_each_player_on_their_own_days_and_every_day_is_recorded(tmp_path, capsys) -> None:
    band = _band(tmp_path, "first", "fourth")
    code, out, err = _said(capsys, *_asked(band, *_WEEK))
    assert code == 0
    names = [Path(line).name for line in out.splitlines()]
    assert names == [
        "band-first-chair-2026-11-30-to-2026-12-04-10-min-range-3-endurance-2-sound-2.pdf",
        "band-fourth-chair-2026-11-30-to-2026-12-04-10-min-flexibility-sound.pdf",
    ]
    assert err.splitlines()[:2] == ["made: first-chair (1 of 2)", "made: fourth-chair (2 of 2)"]
    journal = Journal(band / "journal.sqlite")
    kept = {name: [each.day for each in journal.sessions(band / f"{name}-chair.toml")] for name in ("first", "fourth")}
    assert kept == {"first": [*_days([0, 1, 2, 3, 4])], "fourth": [*_days([0, 2, 4])]}
    # A plan page for each day.
    text = " ".join(page.extract_text() for page in PdfReader(out.split()[1]).pages)
    days = ("Monday 30 November 2026", "Wednesday 2 December 2026", "Friday 4 December 2026")
    assert [text.count(f"Practice, {day}") for day in days] == [1, 1, 1]
    music = {path.name[len("band-fourth-chair-") :][:10] for path in (tmp_path / "out").glob("band-fourth*.musicxml")}
    assert music == {"2026-11-30", "2026-12-02", "2026-12-04"}


@pytest.mark.usefixtures("plain_press")
def test_each_day_is_chosen_as_if_those_before_had_been_practised_and_stays_so(tmp_path, capsys) -> None:
    band = _band(tmp_path, "second")
    profile = str(band / "second-chair.toml")
    days = ["--days", "4", "--date", "2026-11-30", "--minutes", "25"]
    _, ahead, _ = _said(capsys, "week", "--profile", profile, "--date", "2026-11-30", "--minutes", "25", "--json")
    expected = [each["blocks"] for each in json.loads(ahead)][:4]
    assert _said(capsys, *_asked(band), *days)[0] == 0
    # What is rated of the first day changes nothing in the others, which are printed by now.
    log = ["log", "--profile", profile, "--date", "2026-11-30", "--block", "1", "--rating", "1"]
    assert _said(capsys, *log)[0] == 0
    for day, blocks in zip(_days([0, 1, 2, 4]), expected, strict=True):
        ask = ["session", "--profile", profile, "--minutes", "25", "--date", str(day), "--dry-run", "--json"]
        _, again, _ = _said(capsys, *ask)
        assert json.loads(again)["blocks"] == blocks
    items = [[item for block in blocks for item in block["items"]] for blocks in expected]
    assert items[0] != items[1] != items[2]
    _, out, err = _said(capsys, *_asked(band), *days)
    assert "(unchanged)" in out
    assert err.splitlines() == ["unchanged: second-chair (1 of 1)"]


@pytest.mark.usefixtures("plain_press")
def test_a_book_of_days_is_made_again_when_one_of_its_days_has_changed(tmp_path, capsys) -> None:
    band = _band(tmp_path, "third")
    days = ["--days", "3", "--date", "2026-11-30"]
    first = _said(capsys, *_asked(band, *days))[1]
    unchanged = _said(capsys, *_asked(band, *days))[1]
    # The book itself is told in both cases, not one of the files beside it.
    assert unchanged.split() == [*first.split(), "(unchanged)"]
    other = _said(capsys, *_asked(band, "--days", "2", "--date", "2026-11-30"))[1]
    assert "(unchanged)" not in other
    assert other != first
    session = ["session", "--profile", str(band / "third-chair.toml"), "--date", "2026-12-01", "--minutes", "40"]
    assert _said(capsys, *session, "--out", str(tmp_path / "other"))[0] == 0
    assert "(unchanged)" not in _said(capsys, *_asked(band, *days))[1]


def test_all_books_are_bound_to_one_file_in_which_each_player_begins_on_a_right_hand_page(tmp_path, capsys) -> None:
    band = _band(tmp_path, "third", "fourth")
    for name in ("third", "fourth"):
        assert _said(capsys, "profile", str(band / f"{name}-chair.toml"), "--label", "Same", "--low", "A3")[0] == 0
    ask = _asked(band, "--days", "2", "--date", "2026-11-30", "--one-file", "all.pdf")
    code, out, _ = _said(capsys, *ask)
    assert code == 0
    *books, one = out.splitlines()
    assert Path(one).name == "all.pdf"
    reader = PdfReader(one)
    counts = [len(PdfReader(book).pages) for book in books]
    starts = [0, counts[0] + counts[0] % 2]
    assert len(reader.pages) == starts[1] + counts[1]
    outline = reader.outline
    assert [outline[0].title, outline[2].title] == ["Same (fourth-chair)", "Same (third-chair)"]
    assert [reader.get_destination_page_number(outline[place]) for place in (0, 2)] == starts
    for place, start, book in ((1, starts[0], books[0]), (3, starts[1], books[1])):
        alone = PdfReader(book)
        days = [each for each in outline[place] if not isinstance(each, list)]
        assert days[0].title == "Monday 30 November 2026"
        assert len(days) == 2
        for day in days:
            text = reader.pages[reader.get_destination_page_number(day)].extract_text()
            assert f"Practice, {day.title}" in text
        for number, page in enumerate(alone.pages):
            assert reader.pages[start + number].extract_text() == page.extract_text()
            # Pages are numbered through all days.
            assert str(number + 1) in page.extract_text().split()
    before = Path(one).read_bytes()
    assert _said(capsys, *ask)[0] == 0
    assert Path(one).read_bytes() == before


def test_a_book_of_an_odd_number_of_pages_has_an_empty_one_after_it() -> None:
    def pages(count: int) -> bytes:
        pdf, file = pikepdf.new(), io.BytesIO()
        for _ in range(count):
            pdf.add_blank_page(page_size=(300, 400))
        pdf.save(file)
        return file.getvalue()

    reader = PdfReader(io.BytesIO(bound([("one", pages(3)), ("two", pages(2)), ("three", pages(1))], "All")))
    assert [reader.get_destination_page_number(each) for each in reader.outline] == [0, 4, 6]
    assert {tuple(map(float, page.mediabox)) for page in reader.pages} == {(0.0, 0.0, 300.0, 400.0)}


@pytest.mark.usefixtures("plain_press")
def test_one_file_is_never_put_over_something_else_and_lacks_nobody_in_silence(tmp_path, capsys) -> None:
    band = _band(tmp_path, "third", "fourth")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.pdf").write_text("mine")
    code, out, err = _said(capsys, *_asked(band, "--one-file", "mine.pdf"))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "was not written here" in err
    assert (tmp_path / "out" / "mine.pdf").read_text() == "mine"
    name = "band-third-chair-2026-11-30-10-min-jazz.pdf"
    code, _, err = _said(capsys, *_asked(band, "--date", "2026-11-30", "--aim", "jazz", "--one-file", name))
    assert (code, "the name of a player's own file" in err) == (2, True)
    (band / "broken.toml").write_text('label = "Broken"\nlow = "H9"\n', encoding="utf-8")
    code, out, err = _said(capsys, *_asked(band, "--date", "2026-11-30", "--one-file", "all.pdf"))
    assert code == 2
    assert out.splitlines()[-1].endswith("all.pdf")
    assert "left out of all.pdf: broken" in err
    assert "not made: broken (" in err


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--days", "0"], "days '0' is not allowed: give a whole number from 1 to 31"),
        (["--days", "many"], "days 'many'"),
        (["--from", "2026-11-30"], "--from and --to belong together"),
        (["--to", "2026-11-30"], "--from and --to belong together"),
        (["--from", "2026-11-30", "--to", "2026-11-29"], "2026-11-29 lies before 2026-11-30"),
        (["--from", "2026-11-30", "--to", "2027-11-29"], "are 365 days: allowed are 31"),
        (["--from", "soon", "--to", "2027-11-29"], "'soon' is not a day"),
        ([*_WEEK, "--days", "3"], "leave out --date and --days"),
        ([*_WEEK, "--date", "today"], "leave out --date and --days"),
        (["--one-file", "all"], "one-file 'all' is not allowed: give a name that ends in .pdf"),
        (["--one-file", "../all.pdf"], "one-file '../all.pdf' is not allowed"),
        (["--days", "2", "--date", "9999-12-31"], "do not end in any year"),
    ],
)
def test_wrong_input_gets_one_sentence_and_writes_nothing(tmp_path, capsys, more: list[str], said: str) -> None:
    band = _band(tmp_path, "third")
    code, out, err = _said(capsys, *_asked(band, *more))
    assert (code, out) == (2, "")
    assert said in err
    assert [line for line in err.splitlines() if line.startswith("etudegen: ")] == err.splitlines()[-1:]
    assert not (tmp_path / "out").exists()
