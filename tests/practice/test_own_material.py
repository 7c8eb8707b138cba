"""A player's own tunes and changes in a session: on cards, in print, and as sound."""

import datetime
import shutil
from pathlib import Path

import pypdf
import pytest
import soundfile
from lxml import etree

from etudegen.errors import InputError
from etudegen.files.tables import Table
from etudegen.practice.own_material import progressions, todays_changes, todays_keys
from etudegen.practice.plan import Block
from etudegen.practice.profile import Aim, profile_of, read_profile
from etudegen.practice.rules import Part
from etudegen.practice.session import make_session, today
from etudegen.study import Study
from tests.command_line import run
from tests.kinds.reading import schema

DEMO = Path(__file__).parents[2] / "demo" / "harbour-band"
DAY = datetime.date(2026, 11, 25)


@pytest.fixture(scope="module")
def band(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("band")
    shutil.copytree(DEMO, folder, dirs_exist_ok=True)
    return folder


def test_in_twelve_days_every_key_has_come_first_once() -> None:
    assert {todays_keys(day, 1) for day in range(12)} == {(key,) for day in range(12) for key in todays_keys(day, 1)}
    assert len({todays_keys(day, 1) for day in range(12)}) == 12
    assert all(len(set(todays_keys(day, 4))) == 4 for day in range(12))


@pytest.mark.parametrize("name", list(progressions()))
def test_every_progression_there_is_makes_a_sheet_in_every_key(name: str) -> None:
    from etudegen.exercises.changes import ChangesParameters, study

    chosen = progressions()[name]
    made = study(ChangesParameters.of({"progression": chosen.bars, "home": chosen.home, "low": "F#3", "high": "C6"}))
    assert len({line.label for line in made.lines if line.label}) == 12
    assert not made.skipped


def test_improvising_has_changes_of_the_players_own_in_a_key_that_turns_with_the_day() -> None:
    profile = profile_of(Table(Path("third.toml"), {"label": "x", "progressions": ["| Am7 | D7 | Gmaj7 | % |"]}))
    sheets: list[Study] = []
    for after in range(3):
        session = make_session(profile, DAY + datetime.timedelta(after), 60, Aim.JAZZ)
        (place,) = session.changes
        sheets.append(session.changes[place])
        assert sheets[-1].lines[0].label in today(session, place)
    kinds = [[symbol.quality.symbol for _, symbol in sheet.lines[0].chords] for sheet in sheets]
    assert kinds == [["m7", "7", "maj7"]] * 3
    assert len({sheet.lines[0].label for sheet in sheets}) == 3


def test_a_chorus_to_improvise_on_comes_as_often_as_half_the_block_has_time_for() -> None:
    profile = profile_of(Table(Path("third.toml"), {"label": "x"}))
    times: dict[int, list[int]] = {}
    for minutes in (1, 5, 10, 40):
        block = Block(Part.CHANGES, "improvising", minutes, False, profile.low, profile.high, 96, "")
        sheet = todays_changes(profile, 3, 0, block)
        assert sheet is not None
        times[minutes] = [line.times for line in sheet.lines]
        assert set(times[minutes]) == {1} or sheet.whole_seconds <= 30 * minutes
    assert set(times[1]) == {1}
    assert times[1] <= times[5] <= times[10] < times[40]
    assert times[40] == [2] * (len(times[40]) - 1) + [4]


def test_notes_of_changes_stay_in_the_range_and_at_the_clean_tempo() -> None:
    values = {"label": "x", "low": "A3", "high": "E5", "tempo": {"eighths": 66}}
    profile = profile_of(Table(Path("fourth.toml"), values))
    session = make_session(profile, DAY, 60, Aim.JAZZ)
    (study,) = session.changes.values()
    assert study.tempo <= 66
    assert all(
        profile.low.number <= tone.pitch.number <= profile.high.number
        for line in study.lines
        for tone in line.tones
        if not tone.slash
    )


def test_repertoire_has_the_players_tune_and_without_one_a_card_alone(band: Path) -> None:
    session = make_session(read_profile(band / "third-chair.toml"), DAY, 60, Aim.SOUND)
    (place,) = session.tunes
    assert session.tunes[place].path == band / "quay-waltz.musicxml"
    assert "quay waltz" in today(session, place)
    assert not make_session(read_profile(band / "first-chair.toml"), DAY, 60, Aim.SOUND).tunes


def test_the_book_has_the_tune_in_todays_keys_and_its_file_beside_it(band: Path, tmp_path: Path) -> None:
    done = run(
        "session", "--profile", band / "third-chair.toml", "--minutes", "60", "--aim", "sound", "--date", DAY,
        "--out", tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (file,) = tmp_path.glob("*-tune.musicxml")
    root = etree.parse(file)
    assert schema().validate(root), schema().error_log
    session = make_session(read_profile(band / "third-chair.toml"), DAY, 60, Aim.SOUND)
    (tune,) = session.tunes.values()
    labels = [words.text for words in root.iter("words") if words.get("font-weight") == "bold"]
    assert labels == [key.replace("b", "♭").replace("#", "♯") for key in tune.keys]
    (book,) = tmp_path.glob("*.pdf")
    reader = pypdf.PdfReader(book)
    assert "Quay waltz" in "".join(page.extract_text() for page in reader.pages)
    assert len([entry.title for entry in reader.outline if entry.title.endswith(" · quay waltz")]) == 1


def test_the_sound_of_a_session_lasts_exactly_its_minutes(band: Path, tmp_path: Path) -> None:
    done = run(
        "session", "--profile", band / "third-chair.toml", "--minutes", "12", "--aim", "jazz", "--date", DAY,
        "--audio", "--out", tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (file,) = tmp_path.glob("*.flac")
    sound = soundfile.info(file)
    assert sound.frames == 12 * 60 * sound.samplerate
    samples, rate = soundfile.read(file)
    assert 0.1 < abs(samples).max() < 1
    # Each block begins with a tone.
    elapsed = 0
    for block in make_session(read_profile(band / "third-chair.toml"), DAY, 12, Aim.JAZZ).plan.blocks:
        begins = samples[elapsed * 60 * rate : elapsed * 60 * rate + rate]
        assert abs(begins).max() > 0.01
        elapsed += block.minutes


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"tunes": "waltz.musicxml"}, "tunes is 'waltz.musicxml': it must be a list"),
        ({"tunes": [3]}, "tunes is 3: it must be a text"),
        ({"progressions": ["| Hm7 |"]}, "progressions: bar 1: cannot read the chord 'Hm7'"),
        ({"progressions": [""]}, "progressions: the progression has no bars"),
    ],
)
def test_a_mistake_in_a_profile_is_told_with_its_key(table: dict[str, object], told: str) -> None:
    with pytest.raises(InputError) as refused:
        profile_of(Table(Path("first.toml"), {"label": "First chair", **table}))
    assert told in str(refused.value)


def test_a_tune_that_cannot_be_had_is_left_out_and_told_and_the_card_stays(tmp_path: Path) -> None:
    profile = tmp_path / "first.toml"
    profile.write_text('label = "First chair"\ntunes = ["gone.musicxml"]\n', encoding="utf-8")
    done = run(
        "session", "--profile", profile, "--minutes", "60", "--aim", "sound", "--date", DAY, "--out", tmp_path / "out"
    )
    assert done.returncode == 0, done.stderr
    left_out, recorded = done.stderr.splitlines()
    assert left_out.startswith("left out: gone: ")
    assert recorded == f"recorded in {tmp_path / 'journal.sqlite'}"
    (book,) = (tmp_path / "out").glob("*.pdf")
    text = "".join(page.extract_text() for page in pypdf.PdfReader(book).pages)
    assert "Choose one piece" in text
    assert "Today: gone" not in text


def test_player_takes_tunes_and_changes(band: Path, tmp_path: Path) -> None:
    profile = tmp_path / "second.toml"
    done = run(
        "profile", profile, "--label", "Second chair", "--tune", band / "quay-waltz.musicxml",
        "--changes", "| Dm7 | G7 | Cmaj7 | % |",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    made = read_profile(profile)
    assert made.tunes[0].resolve() == (band / "quay-waltz.musicxml").resolve()
    assert made.progressions == ("| Dm7 | G7 | Cmaj7 | % |",)
    refused = run("profile", profile, "--tune", tmp_path / "gone.musicxml")
    assert refused.returncode == 2
    assert "there is no tune" in refused.stderr
