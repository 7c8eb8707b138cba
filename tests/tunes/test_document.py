"""Scores from strangers: read as the same melody that other programs read, or refused in one sentence."""

import json
import os
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import partitura
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from music21 import converter, corpus, stream
from music21.articulations import Bowing
from music21.musicxml.xmlToM21 import MusicXMLImporter

from etudegen.errors import InputError
from etudegen.tunes.document import Document, read_document
from etudegen.tunes.unsupported import unsupported
from tests.tunes import hostile
from tests.tunes.hostile import FULL, PUBLIC_DOCTYPE, back, bars, compressed, note, rest, score, voice

# A reader in a process of its own: 1.5 GB of memory, and ten seconds of work on any machine.
_MEMORY, _SECONDS = 1_500_000_000, 10
_READER = f"""
import json, os, sys
from pathlib import Path
from etudegen.errors import InputError
from etudegen.tunes.document import read_document

def read(path):
    try:
        import resource
        resource.setrlimit(resource.RLIMIT_AS, ({_MEMORY}, {_MEMORY}))
        resource.setrlimit(resource.RLIMIT_CPU, ({_SECONDS}, {_SECONDS}))
    except (ImportError, OSError, ValueError):
        pass
    try:
        read_document(path)
    except InputError as refused:
        print(json.dumps(str(refused)), flush=True)
        return 2
    return 0

for line in sys.stdin:
    path = Path(json.loads(line))
    child = os.fork()
    if child == 0:
        code = 1
        try:
            code = read(path)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    print(json.dumps(os.waitstatus_to_exitcode(status)), flush=True)
"""

# Public-domain melodies that music21 brings along, with the part that is the melody.
TUNES = [
    ("ryansMammoth/AbithaMugginsFavoriteReel.abc", "1"),
    ("ryansMammoth/AcrobatsHornpipe.abc", "1"),
    ("ryansMammoth/AfterTheHareReel.abc", "1"),
    ("bwv66.6", "Soprano"),
    ("bwv269", "Tenor"),
    ("bwv29.8", "Trumpet 1"),
]


@pytest.fixture(scope="module")
def refusal() -> Iterator[Callable[[Path], str]]:
    """Return what refuses a file in a process with little memory and time, which leaves nothing on standard error."""
    if not hasattr(os, "fork"):
        pytest.skip("this system makes no process in the likeness of another")
    with (
        tempfile.TemporaryFile("w+") as told,
        subprocess.Popen(
            [sys.executable, "-c", _READER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=told, text=True
        ) as reader,
    ):

        def refused(path: Path) -> str:
            print(json.dumps(str(path)), file=reader.stdin, flush=True)
            said = [json.loads(reader.stdout.readline())]
            if isinstance(said[0], str):
                said.append(json.loads(reader.stdout.readline()))
            told.seek(0)
            left = told.read()
            assert left == ""
            assert said[-1] == 2, "it was read" if said == [0] else f"the process ended with {said[-1]}"
            return said[0]

        yield refused
        reader.stdin.close()


def put(folder: Path, content: str | bytes, name: str = "tune.musicxml") -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def imported(document: Document) -> stream.Score:
    return MusicXMLImporter().xmlRootToScore(document.root)


def sounding(score: stream.Stream) -> list[tuple[float, float, int]]:
    """Start and length in quarter notes and MIDI number of all notes, grace notes too."""
    return [
        (float(each.getOffsetInHierarchy(score)), float(each.quarterLength), each.pitch.midi)
        for each in score.recurse().notes
        if hasattr(each, "pitch")
    ]


def read(folder: Path, *contents: str) -> stream.Score:
    """What music21 makes of a document of one part with these bars."""
    return imported(read_document(put(folder, score(bars(*contents)))))


@pytest.mark.parametrize("name", hostile.CORPUS)
def test_a_hostile_file_is_refused_in_one_sentence_with_little_memory_and_time(
    name: str, tmp_path: Path, refusal: Callable[[Path], str]
) -> None:
    if name == "pipe" and not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    make, told = hostile.CORPUS[name]
    path = make(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    sentence = refusal(path)
    for words in told:
        assert words in sentence
    assert len(sentence.splitlines()) == 1
    assert len(sentence) < 400
    assert sentence.isprintable()
    assert hostile.SECRET not in sentence
    assert sorted(tmp_path.rglob("*")) == before, "nothing is unpacked to the disk"


def test_a_file_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    path = put(tmp_path, score(bars(FULL)))
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    with pytest.raises(InputError, match="Permission denied"):
        read_document(path)


def test_an_outer_document_type_is_not_opened(tmp_path: Path) -> None:
    """A document type on the disk that would declare the entity is as good as none."""
    put(tmp_path, '<!ENTITY secret "told">', "own.dtd")
    system = f'<!DOCTYPE score-partwise SYSTEM "{(tmp_path / "own.dtd").as_uri()}">'
    assert read_document(put(tmp_path, score(bars(FULL), doctype=system))).part_name == "Trumpet 1"
    with pytest.raises(InputError, match="entity 'secret'"):
        read_document(put(tmp_path, score(bars(FULL), names=("&secret;",), doctype=system)))


def test_an_inclusion_is_not_followed(tmp_path: Path) -> None:
    secret = put(tmp_path, hostile.SECRET, "secret.txt")
    included = f'<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" parse="text" href="{secret.as_uri()}"/>'
    document = read_document(put(tmp_path, score(bars(FULL), names=(included,))))
    assert hostile.SECRET not in ElementTree.tostring(document.root, "unicode") + document.part_name


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1", "us-ascii"])
def test_every_usual_encoding_is_read(encoding: str, tmp_path: Path) -> None:
    declared = encoding.removesuffix("-sig")
    text = score(bars(FULL), names=("Flügelhorn" if encoding != "us-ascii" else "Fl&#252;gelhorn",))
    text = text.replace('version="1.0"', f'version="1.0" encoding="{declared}"', 1)
    document = read_document(put(tmp_path, text.encode(encoding)))
    assert (document.part_name, document.title) == ("Flügelhorn", "Quay")


@pytest.mark.parametrize("name", ["tune.mxl", "tune.xml", "tune.mid", "tune"])
def test_a_file_is_known_by_its_content(name: str, tmp_path: Path) -> None:
    plain = score(bars(FULL), doctype=PUBLIC_DOCTYPE)
    for content in (plain, compressed(plain), compressed(plain, "../../up.xml", zipfile.ZIP_STORED)):
        assert sounding(imported(read_document(put(tmp_path, content, name)))) == [(0, 4, 72)]
    assert sorted(path.name for path in tmp_path.rglob("*")) == [name]
    assert not (tmp_path.parent.parent / "up.xml").exists()


@pytest.mark.parametrize("wanted", ["2", "P2", "Trumpet 2", " trumpet 2 ", "TRUMPET 2"])
def test_a_part_is_found_by_number_id_or_name(wanted: str, tmp_path: Path) -> None:
    path = put(tmp_path, score(bars(FULL), bars(note("E", 8)), bars(rest())))
    document = read_document(path, wanted)
    assert document.part_name == "Trumpet 2"
    assert sounding(imported(document)) == [(0, 4, 76)]
    assert len(document.root.findall("part")) == len(document.root.findall("part-list/score-part")) == 1


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        ("4", "no part '4': choose one of 1 'Trumpet 1', 2 'Trumpet 1', 3 'Trumpet 3'"),
        ("0", "no part '0'"),
        ("", "no part ''"),
        ("\x1b[31mred\n", "no part '"),
        ("x" * 10_000, "no part 'xxx"),
        ("trumpet 1", "several parts called 'trumpet 1': choose by number: 1 'Trumpet 1', 2 'Trumpet 1'"),
        ("3", "part 3 'Trumpet 3' of 'tune.musicxml' holds no notes"),
    ],
)
def test_a_part_that_cannot_be_had_is_told_with_those_there_are(wanted: str, told: str, tmp_path: Path) -> None:
    path = put(tmp_path, score(bars(FULL), bars(FULL), bars(rest()), names=("Trumpet 1", "Trumpet 1", "Trumpet 3")))
    with pytest.raises(InputError) as refused:
        read_document(path, wanted)
    assert told in str(refused.value)
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 300


def test_many_parts_are_listed_in_part(tmp_path: Path) -> None:
    path = put(tmp_path, score(*[bars(FULL)] * 300, names=tuple(f"Trumpet {n}" for n in range(1, 301))))
    with pytest.raises(InputError, match=r"20 'Trumpet 20' and 280 more$"):
        read_document(path)


def test_the_only_part_with_notes_needs_no_choice(tmp_path: Path) -> None:
    document = read_document(put(tmp_path, score(bars(rest()), bars(FULL))))
    assert document.part_name == "Trumpet 2"


def test_texts_from_a_file_are_made_printable_and_short(tmp_path: Path) -> None:
    text = score(bars(FULL), names=("two\nlines\t",)).replace("Quay", "Q" * 5000)
    document = read_document(put(tmp_path, text))
    assert document.part_name == "two lines"
    assert len(document.title) == 120


def test_a_timewise_score_is_regrouped(tmp_path: Path) -> None:
    """Each bar of a timewise score holds all parts (MusicXML 4.0, score-timewise)."""
    rows = [("C", "E"), ("D", "F"), ("E", "G")]
    measures = "".join(
        f'<measure number="{number}"><part id="P1">{note(low, 8)}</part><part id="P2">{note(high, 8)}</part></measure>'
        for number, (low, high) in enumerate(rows, start=1)
    ).replace("<note>", hostile.ATTRIBUTES + "<note>", 2)
    listed = '<part-list><score-part id="P2"><part-name>Descant</part-name></score-part></part-list>'
    path = put(tmp_path, f"<score-timewise>{listed}{measures}</score-timewise>")
    document = read_document(path, "descant")
    assert sounding(imported(document)) == [(0, 4, 76), (4, 4, 77), (8, 4, 79)]
    assert [bar.get("number") for bar in document.root.iterfind("part/measure")] == ["1", "2", "3"]


def test_a_second_voice_that_rests_is_dropped_and_gaps_become_rests(tmp_path: Path) -> None:
    first = note("C", 4, voice(1)) + note("D", 4, voice(1)) + back(8) + rest(8, voice(2))
    second = rest(8, voice(1)) + back(8) + note("E", 4, voice(2)) + "<forward><duration>4</duration></forward>"
    third = "<forward><duration>2</duration></forward>" + note("F", 2, voice(2)) + back(4) + rest(8, voice(1))
    whole = read(tmp_path, first, second, third)
    assert sounding(whole) == [(0, 2, 72), (2, 2, 74), (4, 2, 76), (9, 1, 77)]
    assert not list(whole.recurse().voices)
    for bar in whole.parts[0].getElementsByClass(stream.Measure):
        assert sum(each.quarterLength for each in bar.notesAndRests) == 4


def test_voices_that_follow_one_another_are_one_melody(tmp_path: Path) -> None:
    whole = read(tmp_path, note("C", 4, voice(1)) + note("D", 4, voice(2)))
    assert sounding(whole) == [(0, 2, 72), (2, 2, 74)]


def test_a_staff_that_rests_is_dropped_with_its_clef(tmp_path: Path) -> None:
    staves = (
        '<attributes><staves>2</staves><clef number="1"><sign>G</sign><line>2</line></clef>'
        '<clef number="2"><sign>F</sign><line>4</line></clef></attributes>'
    )
    low = rest(8, voice(1) + "<staff>1</staff>") + back(8) + note("C", 8, voice(1) + "<staff>2</staff>", octave=3)
    document = read_document(put(tmp_path, score(bars(staves + low))))
    whole = imported(document)
    assert len(whole.parts) == 1
    assert [clef.sign for clef in whole.recurse().getElementsByClass("Clef")] == ["F"]
    assert sounding(whole) == [(0, 4, 48)]


def test_cue_notes_become_rests_and_grace_notes_stay(tmp_path: Path) -> None:
    cue = note("G", 4, before="<cue/>") + note("B", 4, before="<chord/><cue/>").replace(
        "<chord/><cue/>", "<cue/><chord/>"
    )
    grace = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><type>eighth</type></note>"
    whole = read(tmp_path, cue + grace + note("C", 4))
    assert sounding(whole) == [(2, 0, 74), (2, 2, 72)]
    assert [float(each.quarterLength) for each in whole.recurse().notesAndRests] == [2, 0, 2]


def test_a_direction_in_the_middle_of_a_note_stays_where_it_was(tmp_path: Path) -> None:
    piano = "<direction><direction-type><dynamics><p/></dynamics></direction-type></direction>"
    whole = read(tmp_path, note("C", 8) + back(4) + piano + "<forward><duration>4</duration></forward>")
    (dynamic,) = whole.recurse().getElementsByClass("Dynamic")
    assert dynamic.getOffsetInHierarchy(whole) == 2
    assert sounding(whole) == [(0, 4, 72)]


def test_bars_longer_than_the_metre_are_left_to_the_caller(tmp_path: Path) -> None:
    document = read_document(put(tmp_path, score(bars(note("C", 12)))))
    assert document.root.findtext("part/measure/note/duration") == "12"


def _note_array(path: Path, part: int) -> Any:
    """The notes that partitura reads: start and length in quarter notes, MIDI number; tied notes are one."""
    found = partitura.load_musicxml(path, ignore_invisible_objects=False)
    array = found.parts[part].note_array()
    return sorted(
        (round(float(n["onset_quarter"]), 4), round(float(n["duration_quarter"]), 4), int(n["pitch"])) for n in array
    )


@pytest.mark.parametrize(
    ("name", "part", "format_"), [(*tune, ("musicxml", "mxl")[place % 2]) for place, tune in enumerate(TUNES)]
)
def test_a_melody_written_by_music21_is_read_by_music21_and_partitura_as_it_was(
    name: str, part: str, format_: str, tmp_path: Path
) -> None:
    original = tmp_path / f"original.{format_}"
    corpus.parse(name).write(format_, original)
    document = read_document(original, part)
    whole = converter.parse(original, forceSource=True)
    names = [each.partName for each in whole.parts]
    index = names.index(part) if part in names else int(part) - 1
    theirs = sounding(whole.parts[index])
    assert len(theirs) > 20
    assert sounding(imported(document).parts[0]) == theirs
    bowed = dict.fromkeys(
        str(each.measureNumber)
        for each in whole.parts[index].recurse().notes
        if any(isinstance(mark, Bowing) for mark in each.articulations)
    )
    told = f"a bowing in bar{'s' if len(bowed) > 1 else ''} {' and '.join(bowed)}"
    assert unsupported(document.root) == ((told,) if bowed else ())
    again = tmp_path / "again.musicxml"
    ElementTree.ElementTree(document.root).write(again, encoding="utf-8", xml_declaration=True)
    assert _note_array(again, 0) == _note_array(original, index)


def _sign(where: str, *signs: str) -> str:
    inside = f"<notations><{where}>{''.join(signs)}</{where}></notations>" if where else ""
    return note("C", 8, inside or f"<notations>{''.join(signs)}</notations>")


def test_what_is_kept_is_not_told(tmp_path: Path) -> None:
    kept = "<staccato/><staccatissimo/><tenuto/><accent/><strong-accent/><breath-mark/>"
    around = (
        "<print new-system='yes'/><direction><direction-type><words>dolce</words></direction-type>"
        "<sound tempo='90'/></direction>"
        "<direction><direction-type><wedge type='crescendo'/></direction-type></direction>"
    )
    own = "<notations><slur type='start'/><fermata/><tied type='start'/><dynamics><p/></dynamics></notations>"
    document = read_document(put(tmp_path, score(bars(around + _sign("articulations", kept), note("C", 8, own)))))
    assert unsupported(document.root) == ()


def test_what_is_lost_is_told_with_its_bars(tmp_path: Path) -> None:
    slide = _sign("", "<glissando type='start' number='1'/>")
    end = _sign("", "<glissando type='stop' number='1'/>")
    jump = "<direction><direction-type><words>D.C.</words></direction-type><sound dacapo='yes'/></direction>"
    quarter_tone = FULL.replace("</step>", "</step><alter>0.5</alter>")
    segno = "<direction><direction-type><segno/></direction-type></direction>"
    contents = [
        FULL, FULL, _sign("ornaments", "<trill-mark/>"), slide, end, _sign("technical", "<hand-stand/>"),
        FULL, FULL, slide, jump + end, quarter_tone, segno + FULL,
    ]  # fmt: skip
    document = read_document(put(tmp_path, score(bars(*contents))))
    assert unsupported(document.root) == (
        "a trill in bar 3",
        "a glissando in bars 4 and 9",
        "the sign 'hand-stand' in bar 6",
        "a da capo in bar 10",
        "a microtone in bar 11",
        "a segno in bar 12",
    )


def test_many_losses_are_told_in_part(tmp_path: Path) -> None:
    kinds = [f"<kind-{number}/>" for number in range(43)]
    contents = [_sign("ornaments", *kinds)] + [_sign("ornaments", kinds[0])] * 8
    sentences = unsupported(read_document(put(tmp_path, score(bars(*contents)))).root)
    assert len(sentences) == 41
    assert sentences[0] == "the sign 'kind-0' in bars 1, 2, 3, 4, 5, 6 and 3 more"
    assert sentences[-1] == "and 3 more kinds"


GOOD = score(
    bars(note("C", 4, voice(1)) + note("D", 4, voice(1)) + back(8) + rest(8, voice(2)), FULL), doctype=PUBLIC_DOCTYPE
).encode()
PACKED = compressed(GOOD)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    good=st.sampled_from([GOOD, PACKED]),
    changes=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.binary(max_size=4), st.integers(0, 20)), max_size=4
    ),
)
def test_any_change_to_a_file_gives_a_document_or_a_sentence(
    good: bytes, changes: list[tuple[float, bytes, int]], tmp_path: Path
) -> None:
    for where, put_in, taken_out in changes:
        at = int(where * len(good))
        good = good[:at] + put_in + good[at + taken_out :]
    try:
        document = read_document(put(tmp_path, good))
    except InputError as refused:
        assert str(refused).isprintable()  # noqa: PT017
    else:
        assert all(isinstance(sentence, str) for sentence in unsupported(document.root))
        assert len(document.root.findall("part")) == 1
