"""Public-domain melodies from music21's own corpus through twelve keys, read back by independent readers.

What is compared: partitura (CPJKU) reads onsets, durations, ties and pitches; lxml the elements of the file as such.
"""

from fractions import Fraction
from pathlib import Path

import mido
import partitura
import pytest
from lxml import etree
from music21 import converter, corpus, stream

from etudegen.exercises.common import Fingerings
from etudegen.export.midi import midi
from etudegen.export.musicxml import musicxml
from etudegen.instrument.catalogue import instrument
from etudegen.notation.score import write_score
from etudegen.sound.performance import perform
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.keys import KeysWanted, in_keys, read_tune, study_of
from tests.command_line import run
from tests.kinds.reading import schema

CORPUS = Path(corpus.__file__).parent
TUNES = {
    "a parlour song with words, chords, repeats and endings": "leadSheet/fosterBrownHair.mxl",
    "a reel": "ryansMammoth/7thRegimentReel.abc",
}
WANTED = KeysWanted(
    instrument("trumpet-bflat"),
    WrittenPitch.parse("C3"),
    WrittenPitch.parse("G6"),
    fingerings=Fingerings.NONE,
    tempo=96,
)
# What a note has besides its pitch, as elements of MusicXML.
KEPT = (
    "type", "dot", "time-modification/actual-notes", "time-modification/normal-notes", "notations/articulations/*",
    "notations/fermata", "lyric/text", "lyric/syllabic", "beam",
)  # fmt: skip


@pytest.fixture(scope="module", params=list(TUNES))
def files(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, int]:
    """The tune as a file, the same in twelve keys, and how many bars it has."""
    folder = tmp_path_factory.mktemp("tune")
    source = folder / "tune.musicxml"
    score = converter.parse(CORPUS / TUNES[request.param])
    score.write("musicxml", source)
    tune = read_tune(source, None, WANTED.instrument)
    made = in_keys(tune, WANTED)
    assert len(made.tunes) == 12
    moved = folder / "keys.musicxml"
    moved.write_bytes(musicxml(write_score(study_of(made, WANTED))))
    return source, moved, sum(len(line.measures) for line in tune.lines)


def notes_of(bars: list[etree._Element]) -> list[etree._Element]:
    return [note for bar in bars for note in bar.findall("note")]


def said(note: etree._Element) -> dict[str, list[str]]:
    """What a note says, without its pitch."""
    found = {path: [(each.text or each.tag).strip() for each in note.findall(path)] for path in KEPT}
    found["tie"] = sorted(tie.get("type") for tie in note.findall("tie"))
    return found


def slurs(notes: list[etree._Element]) -> list[tuple[int, int]]:
    """From which note to which each slur goes; one that is never ended is none."""
    started: dict[str, int] = {}
    found = []
    for place, note in enumerate(notes):
        for slur in sorted(note.findall("notations/slur"), key=lambda each: each.get("type"), reverse=True):
            if slur.get("type") == "start":
                started[slur.get("number")] = place
            elif slur.get("number") in started:
                found.append((started.pop(slur.get("number")), place))
    return sorted(found)


def bars_of(path: Path) -> list[etree._Element]:
    return etree.parse(path).getroot().findall("part/measure")


def test_the_file_is_valid_musicxml(files: tuple[Path, Path, int]) -> None:
    assert schema().validate(etree.parse(files[1])), schema().error_log


def test_every_key_says_of_every_note_what_the_tune_says(files: tuple[Path, Path, int]) -> None:
    source, moved, count = files
    notes = notes_of(bars_of(source))
    original = [said(note) for note in notes]
    bars = bars_of(moved)
    assert len(bars) == 12 * count
    for key in range(12):
        moved_notes = notes_of(bars[key * count : (key + 1) * count])
        assert [said(note) for note in moved_notes] == original
        assert slurs(moved_notes) == slurs(notes)


def test_repeats_and_endings_stand_where_they_stood(files: tuple[Path, Path, int]) -> None:
    source, moved, count = files

    def signs(bars: list[etree._Element]) -> list[list[tuple[str | None, ...]]]:
        return [
            [
                *(("repeat", sign.get("direction")) for sign in bar.findall("barline/repeat")),
                *(("ending", sign.get("number"), sign.get("type")) for sign in bar.findall("barline/ending")),
            ]
            for bar in bars
        ]

    for key in range(12):
        assert signs(bars_of(moved)[key * count : (key + 1) * count]) == signs(bars_of(source))


def test_chord_symbols_move_with_the_notes(files: tuple[Path, Path, int]) -> None:
    source, moved, count = files
    numbers = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

    def roots(bars: list[etree._Element], shift: int) -> list[tuple[int, str]]:
        found = [chord for bar in bars for chord in bar.findall("harmony") if chord.find("root") is not None]
        return [
            (
                (numbers[chord.findtext("root/root-step")] + int(chord.findtext("root/root-alter") or 0) - shift) % 12,
                chord.findtext("kind"),
            )
            for chord in found
        ]

    def first(bars: list[etree._Element]) -> int:
        pitch = next(note.find("pitch") for note in notes_of(bars) if note.find("pitch") is not None)
        return numbers[pitch.findtext("step")] + int(pitch.findtext("alter") or 0)

    original = bars_of(source)
    for key in range(12):
        section = bars_of(moved)[key * count : (key + 1) * count]
        assert roots(section, first(section)) == roots(original, first(original))


def test_partitura_reads_the_same_intervals_onsets_and_durations_in_every_key(files: tuple[Path, Path, int]) -> None:
    source, moved, count = files

    def heard(part: partitura.score.Part, first: int, last: int) -> list[tuple[Fraction, Fraction, int]]:
        measures = sorted(part.iter_all(partitura.score.Measure), key=lambda measure: measure.start.t)
        start, end = measures[first].start.t, measures[last - 1].end.t
        quarter = part.quarter_duration_map(start)
        notes = [note for note in part.notes_tied if start <= note.start.t < end and note.duration_tied]
        lowest = min(note.midi_pitch for note in notes)
        return [
            (
                Fraction(int(note.start.t - start), int(quarter)),
                Fraction(int(note.duration_tied), int(quarter)),
                note.midi_pitch - lowest,
            )
            for note in notes
        ]

    tune, keys = (partitura.load_musicxml(path, force_note_ids=True)[0] for path in (source, moved))
    original = heard(tune, 0, count)
    assert len(original) > 20
    for key in range(12):
        assert heard(keys, key * count, (key + 1) * count) == original


def test_music21_reads_it_as_well(files: tuple[Path, Path, int]) -> None:
    source, moved, _ = files
    original = [note.quarterLength for note in converter.parse(source).recurse().getElementsByClass("Note")]
    again = [note.quarterLength for note in converter.parse(moved).recurse().getElementsByClass("Note")]
    assert again == original * 12


def test_midi_plays_repeats_and_sounds_at_concert_pitch(files: tuple[Path, Path, int], tmp_path: Path) -> None:
    source, _, _ = files
    tune = read_tune(source, None, WANTED.instrument)
    home = in_keys(tune, KeysWanted(WANTED.instrument, WANTED.low, WANTED.high, keys="home", tempo=96))
    file = tmp_path / "home.mid"
    file.write_bytes(midi(perform(write_score(study_of(home, WANTED)))))
    played = [message.note for message in mido.MidiFile(file) if message.type == "note_on" and message.velocity]
    # music21 follows the repeats for itself.
    part = converter.parse(source).parts[0]
    expanded = part.expandRepeats() if part.recurse().getElementsByClass("Repeat") else part
    pitches = [note.pitch.midi for note in expanded.stripTies().recurse().getElementsByClass("Note")]
    assert {one - other for one, other in zip(played, pitches, strict=True)} in ({0}, {12}, {-12}, {24}, {-24})


@pytest.fixture
def pick_up_waltz(tmp_path: Path) -> Path:
    """A waltz in F of our own with a pick-up, a tie over a barline, a slur and a triplet, for an E flat instrument."""
    melody = converter.parse("tinynotation: 3/4 f4. g8 a4 c'2.~ c'4 trip{b-8 a8 g8} a4 f2")
    part = stream.Part(id="P1")
    first = stream.Measure(number=0)
    from music21 import instrument as instruments
    from music21 import key, metadata, meter, note, spanner

    first.append([key.Key("F"), meter.TimeSignature("3/4"), note.Note("C4")])
    first.paddingLeft = 2
    played = instruments.AltoSaxophone()
    part.insert(0, played)
    part.append(first)
    for measure in melody.recurse().getElementsByClass("Measure"):
        measure.removeByClass(["TimeSignature", "Clef"])
        part.append(measure)
    notes = list(part.recurse().notes)
    part.insert(0, spanner.Slur(notes[1], notes[3]))
    score = stream.Score([part])
    score.metadata = metadata.Metadata(title="Quay waltz")
    path = tmp_path / "waltz.musicxml"
    score.write("musicxml", path)
    return path


def test_a_part_for_another_transposing_instrument_sounds_the_same_in_its_home_key(
    pick_up_waltz: Path, tmp_path: Path
) -> None:
    done = run("transpose", pick_up_waltz, "--keys", "home", "--out", tmp_path, "--format", "midi,musicxml", "--json")
    assert done.returncode == 0, done.stderr
    # Written F on an E flat instrument sounds A flat, which a B flat trumpet reads as B flat.
    assert '"keys": ["B\\u266d"]' in done.stdout
    (file,) = tmp_path.glob("*.mid")
    first = next(message for message in mido.MidiFile(file) if message.type == "note_on")
    assert first.note % 12 == 3  # written C sounds E flat on the E flat instrument


def test_pages_show_the_key_the_title_and_the_caution(pick_up_waltz: Path, tmp_path: Path) -> None:
    import pypdf

    done = run("transpose", pick_up_waltz, "--keys", "Gb F", "--out", tmp_path, "--format", "pdf,ly")
    assert done.returncode == 0, done.stderr
    (file,) = tmp_path.glob("*.pdf")
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(file).pages)
    for words in ("Quay waltz", "Stop at pain", "Rest after each key"):
        assert words in text
    (lily,) = tmp_path.glob("*.ly")
    music = lily.read_text()
    assert r"\key gf \major" in music
    assert r"\bar-of #1/4" in music


def test_separate_files_are_written_for_each_key(pick_up_waltz: Path, tmp_path: Path) -> None:
    done = run(
        "transpose", pick_up_waltz, "--keys", "C Bb", "--separate", "--out", tmp_path / "out", "--format", "musicxml"
    )
    assert done.returncode == 0, done.stderr
    names = sorted(path.name for path in (tmp_path / "out").glob("*.musicxml"))
    assert [name.split("-Fs3")[0] for name in names] == ["quay-waltz-in-Bb", "quay-waltz-in-C"]


def test_what_is_asked_for_differently_has_another_name(pick_up_waltz: Path, tmp_path: Path) -> None:
    """Two players, two ranges, two orders: nothing of one overwrites the other."""
    orders: tuple[tuple[str, ...], ...] = (
        (),
        ("--keys", "C"),
        ("--keys", "C", "--low", "C4"),
        ("--keys", "C", "--instrument", "cornet"),
        ("--keys", "C", "--tempo", "72"),
        ("--keys", "C", "--fingerings", "every"),
        ("--keys", "C", "--paper", "Letter"),
        ("--keys", "C", "--title", "Another waltz"),
        ("--order", "chromatic"),
        ("--order", "shuffled", "--seed", "2"),
    )
    for order in orders:
        assert (
            run("transpose", pick_up_waltz, *order, "--out", tmp_path / "out", "--format", "musicxml").returncode == 0
        )
    assert len(list((tmp_path / "out").glob("*.musicxml"))) == len(orders)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--low", "C4", "--high", "D4"), "fits between C4 and D4 in none"),
        (("--keys", "H"), "cannot read the key 'H'"),
        (("--tempo", "5"), "tempo '5' is not allowed"),
        (("--part", "9"), "9"),
        (("--order", "sideways"), "unknown order 'sideways'"),
        (("--fingerings", "some"), "unknown fingerings 'some'"),
        (("--low", "C6", "--high", "C4"), "low C6 lies above high C4"),
    ],
)
def test_a_mistake_is_one_sentence_and_exit_code_2(
    arguments: tuple[str, ...], told: str, pick_up_waltz: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    done = run("transpose", pick_up_waltz, *arguments, "--out", out)
    assert (done.returncode, done.stdout) == (2, "")
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("etudegen: ")
    assert told in sentence
    assert not list(out.glob("*"))
