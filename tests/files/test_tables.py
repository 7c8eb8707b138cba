"""Files that people write: whatever is wrong with one is told in a sentence with file, key and what is allowed."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.files.tables import parse_toml
from etudegen.files.templates import templates
from etudegen.instrument.catalogue import read_instrument
from etudegen.practice.profile import read_profile
from etudegen.practice.routines import read_routine
from etudegen.theory.scales import scale_names


class Reader(NamedTuple):
    """Who reads a kind of file, a file that is right, and wrong lines for one of it: with the key that is told."""

    read: Callable[[Path], object]
    right: str
    wrong: tuple[tuple[str, str, str], ...]


_PROFILE = """
label = "First chair"
low = "G3"
pedals = "some"
minutes_per_day = 45
notes = "a word"
tunes = []
[tempo]
eighths = 88
[aims]
jazz = 3
"""
_SCALES = """
[mine]
degrees = "1 2 b3"
signature = "b3"
difficulty = 3
"""
_ROUTINE = (templates() / "routines" / "half-hour.toml").read_text(encoding="utf-8")
_INSTRUMENT = (templates() / "instruments" / "trumpet-bflat.toml").read_text(encoding="utf-8")
READERS = {
    "profile": Reader(
        read_profile,
        _PROFILE,
        (
            ('label = "First chair"', "", "label"),
            ('label = "First chair"', "label = 3", "label"),
            ('label = "First chair"', 'label = ""', "label"),
            ('label = "First chair"', 'label = "a\\tb"', "label"),
            ('label = "First chair"', 'label = "a\\u202Eb\\u0007"', "label"),
            ('label = "First chair"', 'Label = "First chair"', "'Label'"),
            ('low = "G3"', 'low = "H3"', "low"),
            ('low = "G3"', "low = 55", "low"),
            ('low = "G3"', 'low = "C9"', "low"),
            ('low = "G3"', 'instrument = "tuba"', "instrument"),
            ('low = "G3"', 'reach = "C8"', "reach"),
            ('pedals = "some"', 'pedals = "many"', "pedals"),
            ('pedals = "some"', "pedals = true", "pedals"),
            ("minutes_per_day = 45", "minutes_per_day = 5", "minutes_per_day"),
            ("minutes_per_day = 45", "minutes_per_day = 45.0", "minutes_per_day"),
            ("minutes_per_day = 45", "minutes_per_day = true", "minutes_per_day"),
            ('notes = "a word"', 'notes = "a\\u0000b"', "notes"),
            ('notes = "a word"', f'notes = "{"x" * 2001}"', "notes"),
            ("tunes = []", 'tunes = "waltz"', "tunes"),
            ("tunes = []", "tunes = [{}]", "tunes"),
            ("tunes = []", "tunes = [1979-05-27]", "tunes"),
            ("tunes = []", 'progressions = ["| Hm7 |"]', "progressions"),
            ("[tempo]\neighths = 88", "tempo = 88", "tempo"),
            ("eighths = 88", "eighths = 500", "tempo.eighths"),
            ("eighths = 88", "eights = 88", "'eights'"),
            ("jazz = 3", "jazz = 11", "aims.jazz"),
            ("jazz = 3", "fame = 1", "'fame'"),
        ),
    ),
    "routine": Reader(
        read_routine,
        _ROUTINE,
        (
            ("minutes = [21, 34]", "", "minutes"),
            ("minutes = [21, 34]", "minutes = [34, 21]", "minutes"),
            ("minutes = [21, 34]", "minutes = [21]", "minutes"),
            ("minutes = [21, 34]", "minutes = [21.0, 34.0]", "minutes"),
            ("minutes = [21, 34]", "minutes = 21", "minutes"),
            ("minutes = [21, 34]", "minutes = [0, 34]", "minutes"),
            ('aims = ["any"]', 'aims = ["fame"]', "aims"),
            ('aims = ["any"]', "aims = []", "aims"),
            ('aims = ["any"]', "aims = [3]", "aims"),
            ('aims = ["any"]', 'aims = "any"', "aims"),
            ('aims = ["any"]', 'aims = ["any"]\ngoals = 1', "'goals'"),
            ('part = "warm-up"', 'part = "party"', "block 1: part"),
            ('part = "warm-up"', "part = 3", "block 1: part"),
            ('part = "warm-up"', "", "block 1: part"),
            ('kind = "long-tones"', 'kind = "yodel"', "block 1: kind"),
            ('kind = "long-tones"', 'kind = "repertoire"', "block 1: kind"),
            ("share = 14", "share = 0", "block 1: share"),
            ("share = 14", 'share = "14"', "block 1: share"),
            ("share = 14", "share = true", "block 1: share"),
            ("share = 14", "share = 14\nfrom = 1.5", "block 1: from"),
            ("share = 14", "share = 14\nform = 1", "'form'"),
            ('settings = { order = "down" }', 'settings = { order = "sideways" }', "block 1: settings"),
            ('settings = { order = "down" }', "settings = { loud = true }", "block 1: settings"),
            ('settings = { order = "down" }', "settings = { order = [] }", "block 1: settings.order"),
            ('settings = { order = "down" }', "settings = 3", "block 1: settings"),
        ),
    ),
    "instrument": Reader(
        read_instrument,
        _INSTRUMENT,
        (
            ('name = "B♭ trumpet"', 'name = " "', "name"),
            ('name = "B♭ trumpet"', 'name = "a\\nb"', "name"),
            ('abbreviation = "Tpt."', "abbreviation = {}", "abbreviation"),
            ("staff_steps = -1", "staff_steps = 99", "sounding.staff_steps"),
            ("staff_steps = -1", "steps = -1", "'steps'"),
            ('low = "F#3"', 'low = "x"', "range.low"),
            ("midi_program = 56", "midi_program = 560", "sound.midi_program"),
            ("[sound]\n", "[Sound]\n", "'Sound'"),
        ),
    ),
    "scales": Reader(
        scale_names,
        _SCALES,
        (
            ('degrees = "1 2 b3"', "", "[mine] degrees"),
            ('degrees = "1 2 b3"', "degrees = 123", "[mine] degrees"),
            ('degrees = "1 2 b3"', 'degrees = "2 1"', "[mine] degrees"),
            ('signature = "b3"', 'signature = ""', "[mine] signature"),
            ('signature = "b3"', 'signatur = "b3"', "'signatur'"),
            ("difficulty = 3", "difficulty = 10", "[mine] difficulty"),
            ("difficulty = 3", 'difficulty = "hard"', "[mine] difficulty"),
            ("[mine]", '["a\\u0007"]', "name"),
        ),
    ),
}
_NO_TOML = {
    "no value": b"x = ",
    "a key twice": b"x = 1\nx = 2",
    "an open bracket": b"[sounding\n",
    "an open text": b'label = "x',
    "a day that is none": b"x = 2020-02-30",
    "a null": b"\x00",
    "utf-16": "x = 1".encode("utf-16"),
    "latin-1": 'label = "größe"'.encode("latin-1"),
    "half a character": b"label = '\xc3'",
    "a number of 5000 digits": b"x = " + b"1" * 5000,
    "lists in lists": b"x = " + b"[\n" * 5000,
    "a line of brackets": b"x = " + b"[" * 5000,
    "a line of dots": b"x" + b".x" * 100_000 + b" = 1",
    "a heading of dots": b"[x" + b".x" * 100_000 + b"]",
    "a table of dots": b"x = {x" + b".x" * 100_000 + b" = 1}",
    "too large": b"#" * 1_000_001,
    "a page of the web": b"<!doctype html><html><head></head></html>",
    "a text": b"Second chair, plays F#3 to G5",
}
_every_reader = pytest.mark.parametrize("reader", READERS.values(), ids=READERS)


def _complaint(reader: Reader, file: Path) -> str:
    with pytest.raises(InputError) as refused:
        reader.read(file)
    said = str(refused.value)
    assert str(file) in said
    assert "\n" not in said
    assert len(said) < 500 + len(str(file))
    assert not {"None", "True", "str", "int", "dict", "NoneType"} & {*said.replace(str(file), "").split()}
    return said.replace(str(file), "")


@_every_reader
def test_a_file_that_is_right_is_read_with_a_byte_order_mark_and_any_line_ends(reader: Reader, tmp_path: Path) -> None:
    file = tmp_path / "file.toml"
    for content in (reader.right, "\ufeff" + reader.right, reader.right.replace("\n", "\r\n")):
        file.write_bytes(content.encode())
        reader.read(file)


@_every_reader
@pytest.mark.parametrize("content", _NO_TOML.values(), ids=_NO_TOML)
def test_what_cannot_be_read_at_all_is_told_with_the_file(reader: Reader, content: bytes, tmp_path: Path) -> None:
    file = tmp_path / "file.toml"
    file.write_bytes(content)
    _complaint(reader, file)


@_every_reader
def test_a_file_that_is_not_there_and_a_folder_are_told(reader: Reader, tmp_path: Path) -> None:
    for file in (tmp_path / "gone.toml", tmp_path, tmp_path / ("x" * 300)):
        _complaint(reader, file)


@pytest.mark.parametrize(
    ("reader", "right", "wrong", "key"),
    [(name, *damage) for name, reader in READERS.items() for damage in reader.wrong],
)
def test_a_wrong_value_is_told_with_file_and_key(reader: str, right: str, wrong: str, key: str, tmp_path: Path) -> None:
    file = tmp_path / "file.toml"
    text = READERS[reader].right
    assert right in text
    file.write_text(text.replace(right, wrong, 1), encoding="utf-8")
    assert key in _complaint(READERS[reader], file)


def _said_or(reader: Reader, file: Path, otherwise: str) -> str:
    try:
        reader.read(file)
    except InputError as error:
        return str(error)
    return otherwise


@settings(deadline=None, max_examples=120)
@given(st.sampled_from([*READERS]), st.data())
def test_any_bytes_in_place_of_some_are_read_or_refused_with_the_file(tmp_path_factory, name: str, data) -> None:
    content = READERS[name].right.encode()
    begin = data.draw(st.integers(0, len(content)))
    end = min(len(content), begin + data.draw(st.integers(0, 20)))
    file = tmp_path_factory.getbasetemp() / "any.toml"
    file.write_bytes(content[:begin] + data.draw(st.binary(max_size=8)) + content[end:])
    assert str(file) in _said_or(READERS[name], file, str(file))


def test_what_is_wrong_is_shown_as_it_stands_in_the_file_and_cut_short() -> None:
    lines = [b"a = true", b"b = 1979-05-27", b"c = {d = [1, 'x']}", b"d = [[[[1]]]]", b"e = [" + b"1," * 999 + b"]"]
    table = parse_toml(Path("x.toml"), b"\n".join(lines))
    shown = [str(table.wrong(key, "no")) for key in ("a", "b", "c", "d", "f")]
    assert shown == [
        "x.toml: a is true: no",
        "x.toml: b is 1979-05-27: no",
        "x.toml: c is {d = [1, 'x']}: no",
        "x.toml: d is [[...]]: no",
        "x.toml: f is missing: no",
    ]
    assert len(str(table.wrong("e", "no"))) < 110


def test_a_text_of_several_lines_may_stand_where_lines_are_asked_for() -> None:
    table = parse_toml(Path("x.toml"), b'x = """one\n\ttwo\n"""')
    assert table.text("x", lines=True) == "one\n\ttwo\n"
    with pytest.raises(InputError, match=r"x is .* printable characters in one line"):
        table.text("x")
