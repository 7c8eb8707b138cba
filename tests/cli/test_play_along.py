"""Something to play along with, from the command line: measured, not listened to."""

import json
import wave
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pytest

from tests.command_line import run

# General MIDI System Level 1 specification (MIDI Manufacturers Association): percussion is channel 10, counted from
# zero here, and these are its wood blocks in the percussion key map.
PERCUSSION = 9
HIGH_WOOD_BLOCK, LOW_WOOD_BLOCK = 76, 77


def seconds_of(path: Path) -> float:
    with wave.open(str(path)) as sound:
        return sound.getnframes() / sound.getframerate()


def samples_of(path: Path) -> np.ndarray:
    with wave.open(str(path)) as sound:
        return np.frombuffer(sound.readframes(sound.getnframes()), "<i2").reshape(-1, sound.getnchannels()) / 32768


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of scales as MusicXML: two lines at 120, in the folder of its play-along."""
    out = tmp_path_factory.mktemp("sheet")
    done = run(
        "scales", "--keys", "C F", "--extent", "one", "--tempo", "120", "--format", "musicxml,midi", "--audio",
        "--out", out,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return next(out.glob("*.musicxml"))


def test_a_sheet_with_audio_has_its_midi_and_sound_beside_it(sheet: Path) -> None:
    bare, along = sheet.with_suffix(".mid"), sheet.with_name(f"{sheet.stem}-play-along.wav")
    # A bar of count-in, then as long as the page.
    assert seconds_of(along) == pytest.approx(mido.MidiFile(bare).length + 4 * 60 / 120, abs=0.01)
    peak = np.abs(samples_of(along)).max()
    assert 0.2 < peak < 0.95


def test_the_count_in_is_a_bar_of_wood_block_and_the_drone_lies_on_the_tonic(sheet: Path) -> None:
    file = mido.MidiFile(sheet.with_name(f"{sheet.stem}-play-along.mid"))
    clicks, drone = [], []
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                at = Fraction(now, file.ticks_per_beat)
                if message.channel == PERCUSSION:
                    clicks.append((at, message.note))
                elif track.name == "Drone":
                    drone.append(message.note % 12)
    assert clicks[:4] == [(0, HIGH_WOOD_BLOCK), (1, LOW_WOOD_BLOCK), (2, LOW_WOOD_BLOCK), (3, LOW_WOOD_BLOCK)]
    # Written C and F sound B flat and E flat on a B flat trumpet.
    assert drone == [10, 3]


def test_call_and_response_takes_twice_as_long_and_a_set_of_tempos_makes_a_file_each(
    sheet: Path, tmp_path: Path
) -> None:
    done = run("play-along", sheet, "--answer", "--tempo", "60-120/30", "--out", tmp_path, "--json")
    assert done.returncode == 0, done.stderr
    files = [Path(path) for path in json.loads(done.stdout)["files"]]
    assert len(files) == 6
    page = mido.MidiFile(sheet.with_suffix(".mid")).length * 120
    for tempo in (60, 90, 120):
        (sound,) = (path for path in files if path.name.endswith(f"-{tempo}.wav"))
        assert seconds_of(sound) == pytest.approx((2 * page + 4 * 60) / tempo, abs=0.01)


def test_rests_stay_silent_without_click(sheet: Path, tmp_path: Path) -> None:
    done = run("play-along", sheet, "--no-click", "--count-in", "0", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    samples = samples_of(next(tmp_path.glob("*.wav")))
    # The page ends with rests as long as its last line: two bars of 4/4 at 120, the tone has died away by then.
    assert np.abs(samples[-44_100:]).max() < 0.001
    assert np.abs(samples[: 2 * 44_100]).max() > 0.05


def test_flac_and_ogg_last_as_long_as_the_wav(sheet: Path, tmp_path: Path) -> None:
    soundfile = pytest.importorskip("soundfile")
    done = run("play-along", sheet, "--sound", "wav,flac,ogg", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    lengths = {
        path.suffix: soundfile.info(path).duration for path in tmp_path.iterdir() if path.suffix in (".flac", ".ogg")
    }
    expected = seconds_of(next(tmp_path.glob("*.wav")))
    assert lengths == {".flac": pytest.approx(expected, abs=0.001), ".ogg": pytest.approx(expected, abs=0.01)}


def test_a_pick_up_is_counted_into_its_bar(tmp_path: Path) -> None:
    from music21 import key, meter, note, stream

    part = stream.Part()
    first = stream.Measure(number=0)
    first.append([key.Key("C"), meter.TimeSignature("3/4"), note.Note("G4")])
    first.paddingLeft = 2
    second = stream.Measure(number=1)
    second.append(note.Note("C5", quarterLength=3))
    part.append([first, second])
    tune = tmp_path / "tune.musicxml"
    stream.Score([part]).write("musicxml", tune)
    done = run("play-along", tune, "--tempo", "60", "--sound", "none", "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    file = mido.MidiFile(tmp_path / "tune-play-along-60.mid")
    onsets: dict[int, list[int]] = {}
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                onsets.setdefault(message.channel, []).append(now // file.ticks_per_beat)
    # Three beats counted, two more, then the pick-up on the third; the click goes on through the bar that follows.
    assert onsets[0] == [5, 6]
    assert onsets[PERCUSSION] == [0, 1, 2, 3, 4, 5, 6, 7, 8]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--tempo", "fast"), "cannot read the tempo 'fast'"),
        (("--tempo", "96-60/4"), "tempos '96-60/4' are not allowed"),
        (("--tempo", "5"), "tempo 5 is out of reach"),
        (("--count-in", "9"), "count-in '9' is not allowed"),
        (("--sound", "mp3"), "unknown sound 'mp3'"),
        (("--band",), "no chord changes"),
        (("--no-melody", "--no-click", "--count-in", "0"), "nothing would sound"),
    ],
)
def test_a_mistake_is_one_sentence_and_exit_code_2(
    arguments: tuple[str, ...], told: str, sheet: Path, tmp_path: Path
) -> None:
    done = run("play-along", sheet, *arguments, "--out", tmp_path / "out")
    assert (done.returncode, done.stdout) == (2, "")
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("etudegen: ")
    assert told in sentence
    assert not list((tmp_path / "out").glob("*"))
