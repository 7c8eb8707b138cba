"""Books made by the machines of a cluster: the same as here, whatever becomes of a machine."""

import datetime
import json
import os
import pickle
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from etudegen.cli.commands import run
from etudegen.engraving.engraver import Engraver
from etudegen.errors import InputError
from etudegen.practice.days import DaysAsked
from etudegen.practice.profile import profiles_in
from etudegen.sheets import cluster
from etudegen.sheets.studio import BookRequest, make_books, make_requested_book, task_of
from etudegen.sheets.task import make_files
from etudegen.study import Paper
from tests.plain_press import PlainPress

_ROOT = Path(__file__).parents[2]
_DEMO = _ROOT / "demo" / "harbour-band"
_DAYS = DaysAsked(datetime.date(2026, 11, 26))


def _said(capsys, *arguments: object) -> tuple[int, str, str]:
    code = run(list(map(str, arguments)))
    out, err = capsys.readouterr()
    return code, out, err


def _band(folder: Path, *names: str) -> Path:
    folder.mkdir(parents=True)
    for name in names:
        shutil.copy(_DEMO / f"{name}-chair.toml", folder)
    shutil.copy(_DEMO / "quay-waltz.musicxml", folder)
    return folder


def _requests(band: Path, days: DaysAsked = _DAYS, routine_name: str | None = None) -> list[BookRequest]:
    out, journal = band.parent / "out", band / "journal.sqlite"
    return [
        BookRequest(profile, days, 10, None, routine_name, Paper.A4, None, out, journal, False)
        for profile in profiles_in(band)
    ]


@contextmanager
def _dask(folder: Path, *workers: list[str]) -> Iterator[tuple[str, list["subprocess.Popen[bytes]"]]]:
    """Start a cluster by the usual commands, and yield its address and its workers."""
    folder.mkdir()
    place = folder / "scheduler.json"
    paths = os.pathsep.join([str(_ROOT), *filter(None, [os.environ.get("PYTHONPATH")])])
    started: list[subprocess.Popen[bytes]] = []

    def start(*words: str) -> None:
        with (folder / f"{len(started)}.log").open("wb") as log:
            command = [sys.executable, "-m", "dask", *words]
            # What one that is killed leaves is cleared away by the next engraver there.
            environment = os.environ | {"PYTHONPATH": paths, "TMPDIR": str(folder)}
            started.append(subprocess.Popen(command, cwd=folder, env=environment, stdout=log, stderr=log))

    try:
        usual = ["--no-dashboard", "--scheduler-file", str(place)]
        start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-show", *usual)
        for name, words in enumerate(workers):
            start("worker", "--no-nanny", "--name", str(name), *usual, *words)
        end = time.monotonic() + 20
        while not place.exists():
            assert time.monotonic() < end
            time.sleep(0.05)
        yield json.loads(place.read_text())["address"], started[1:]
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


@pytest.mark.parametrize(
    "address", ["", "here", "127.0.0.1:8786", "http://127.0.0.1:8786", "tcp://127.0.0.1", "tcp://a:0", "tcp://a:99999"]
)
def test_what_is_no_address_gets_one_sentence(tmp_path, capsys, address: str) -> None:
    code, out, err = _said(capsys, "studio", _band(tmp_path / "band", "third"), f"--cluster={address}")
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert f"cluster {address!r} is not an address: write it like tcp://" in err


def test_without_dask_it_is_told_how_to_install_it(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    code, out, err = _said(capsys, "studio", _band(tmp_path / "band", "third"), "--cluster", "tcp://127.0.0.1:9")
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert "pip install '.[cluster]'" in err


def test_an_address_where_nobody_answers_gets_one_sentence_soon(tmp_path, capsys, monkeypatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr(cluster, "_SECONDS_TO_CONNECT", 1)
    begun = time.monotonic()
    code, out, err = _said(capsys, "studio", _band(tmp_path / "band", "third"), "--cluster", "tcp://127.0.0.1:9")
    assert time.monotonic() - begun < 6
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert "no cluster answers at tcp://127.0.0.1:9" in err


def test_what_is_sent_needs_no_file_of_whoever_sends_it(tmp_path, monkeypatch) -> None:
    band = _band(tmp_path / "band", "third")
    (band / "routines").mkdir()
    (band / "routines" / "own.toml").write_text(
        'lines = ["slurs 5", "transpose quay-waltz 5 C,F", "scales 5 scales=SCALES scale=own"]\n'.replace(
            "SCALES", str(band / "own.toml.txt")
        ),
        encoding="utf-8",
    )
    (band / "own.toml.txt").write_text('[own]\ndegrees = "1 2 3 4 5 6 7"\n')
    asked = _requests(band, DaysAsked(datetime.date(2026, 11, 26), 2), "own")[0]
    asked = BookRequest(**{name: getattr(asked, name) for name in asked.__slots__} | {"minutes": None})
    sent = pickle.dumps(task_of(asked).to_be_sent())
    with PlainPress(parts=2) as press:
        here = make_files(task_of(asked), press)
    band.rename(tmp_path / "elsewhere")
    with PlainPress(parts=2) as press:
        there = make_files(pickle.loads(sent), press)
    assert there == here
    assert not there.left_out
    assert sum("tune" in name for name in there.files) == 2


def test_a_machine_with_another_etudegen_makes_nothing(tmp_path) -> None:
    task = task_of(_requests(_band(tmp_path / "band", "fourth"))[0])
    made = cluster._make_there(task, 1, "another", ())
    assert isinstance(made, cluster._Failed)
    assert "has another etudegen, or other templates" in made.why


def test_a_cluster_makes_the_same_files_as_this_machine(tmp_path, capsys) -> None:
    pytest.importorskip("distributed")
    bands = [_band(tmp_path / place / "band", "third", "fourth") for place in ("here", "there")]
    for band in bands:
        (band / "bad.toml").write_text('label = "Bad"\nlow = "H3"\n')
    for request in _requests(bands[0]):
        made = make_requested_book(request, 1)
        assert bool(made.trouble) == (request.profile_file.stem == "bad")
    # Two at a time in one process, too.
    with _dask(tmp_path / "dask", ["--nthreads", "2"]) as (address, _):
        ask = ["studio", bands[1], "--minutes", 10, "--date", _DAYS.first, "--out", tmp_path / "there" / "out"]
        code, out, err = _said(capsys, *ask, "--cluster", address)
        assert (code, len(out.splitlines())) == (2, 2)
        assert err.splitlines()[-1].startswith(f"etudegen: {bands[1] / 'bad.toml'}: ")
        again = _said(capsys, *ask, "--cluster", address)[1]
        assert again.count("(unchanged)") == 2
    files = [{path.name: path.read_bytes() for path in (tmp_path / place / "out").glob("[!.]*")} for place in
             ("here", "there")]  # fmt: skip
    assert len(files[0]) > 5
    assert files[0] == files[1]


def test_a_worker_that_is_lost_costs_no_book_and_a_cluster_that_is_lost_is_told(tmp_path, monkeypatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr(cluster, "_SECONDS_WITHOUT", 1.0)
    monkeypatch.setattr(cluster, "_SECONDS_BETWEEN_LOOKS", 0.1)
    monkeypatch.setattr(cluster, "_SECONDS_TO_FETCH", 0.5)
    band = _band(tmp_path / "band", "third", "fourth")
    for number in range(3):
        shutil.copy(band / "fourth-chair.toml", band / f"copy-{number}.toml")
    one = ["--nthreads", "1"]
    with _dask(tmp_path / "dask", one, one) as (address, workers), cluster.Cluster(address) as connected:
        connected._client.wait_for_workers(2, timeout=20)
        books = []
        for book in make_books(_requests(band), 2, elsewhere=connected.results):
            books.append(book)
            if len(books) == 1:
                # One that is in the middle of a book.
                busy = [worker for worker, tasks in connected._client.processing().items() if tasks]
                info = connected._client.scheduler_info(n_workers=-1)["workers"]
                lost = workers[int(info[busy[0]]["name"])]
                lost.kill()
        assert [book.trouble for book in books] == [""] * 5
        assert all(book.files[0].read_bytes().startswith(b"%PDF-") for book in books)
        assert all(book.kept for book in make_books(_requests(band), 2))
        for worker in workers:
            worker.kill()
        later = DaysAsked(datetime.date(2026, 11, 27))
        troubles = {book.trouble for book in make_books(_requests(band, later), 2, elsewhere=connected.results)}
        assert troubles == {
            f"the cluster at {address} was lost: start it and its workers again, and then say this again"
        }


def test_what_a_machine_cannot_do_is_told_with_its_name(tmp_path, monkeypatch) -> None:
    def broken(**_: object) -> Engraver:
        raise cluster.MachineError("LilyPond was not found")

    monkeypatch.setattr(cluster, "Engraver", broken)
    task = task_of(_requests(_band(tmp_path / "band", "fourth"))[0])
    made = cluster._make_there(task, 1, cluster._stamp(), ())
    assert isinstance(made, cluster._Failed)
    assert made.why.endswith(": LilyPond was not found")
    with pytest.raises(InputError, match="was not sent along"):
        task.tune(Path("other.musicxml"))
