"""Files of a player's own: they add to what is packaged, and every mistake in one is told with file and key."""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises import arpeggios, patterns, scales
from etudegen.theory.articulation import articulation, articulation_names
from etudegen.theory.chords import chord, chord_names
from etudegen.theory.patterns import pattern, pattern_names
from etudegen.theory.scales import scale, scale_names


class Library(NamedTuple):
    """A kind of file: who reads it, and the lines of an entry that is right."""

    names: Callable[..., tuple[str, ...]]
    get: Callable[..., object]
    entry: str
    packaged: str


LIBRARIES = {
    "scales": Library(scale_names, scale, 'degrees = "1 2 b3 #4 5 b6 7"', "major"),
    "chords": Library(chord_names, chord, 'degrees = "1 4 5"\nsymbol = "sus4"', "major"),
    "articulations": Library(articulation_names, articulation, 'mask = "( ) ( - )"', "tongued"),
    "patterns": Library(pattern_names, pattern, 'cell = "1 5 3"', "thirds"),
}
every_library = pytest.mark.parametrize("library", LIBRARIES.values(), ids=LIBRARIES)
_LARGEST = 1_000_000


def own(folder: Path, content: str | bytes) -> Path:
    file = folder / "my own.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    return file


def complaint(library: Library, file: Path) -> str:
    """What is said about a file, by the list of names and by the look-up of a packaged entry alike."""
    with pytest.raises(InputError) as by_names:
        library.names(file)
    with pytest.raises(InputError) as by_name:
        library.get(library.packaged, file)
    assert str(by_names.value) == str(by_name.value)
    assert by_names.value.exit_code == 2
    return str(by_names.value)


def names_or_complaint(library: Library, file: Path) -> tuple[str, ...] | str:
    try:
        return library.names(file)
    except InputError as error:
        return str(error)


@every_library
def test_entries_of_an_own_file_stand_after_the_packaged_ones(library, tmp_path):
    file = own(tmp_path, f"[mine]\n{library.entry}\n[yours]\n{library.entry}\n")
    assert library.names(file) == (*library.names(), "mine", "yours")
    assert library.get("mine", file) is not None
    assert library.get(library.packaged, file) == library.get(library.packaged)


@every_library
def test_an_own_entry_stands_before_the_packaged_one_of_the_same_name(library, tmp_path):
    file = own(tmp_path, f"[{library.packaged}]\n{library.entry}\n[mine]\n{library.entry}\n")
    assert library.names(file) == (*library.names(), "mine")
    assert library.get(library.packaged, file) != library.get(library.packaged)


@every_library
def test_an_own_file_changes_nothing_for_those_who_do_not_name_it(library, tmp_path):
    before = library.names()
    library.names(own(tmp_path, f"[mine]\n{library.entry}\n"))
    assert library.names() == before


@every_library
def test_an_own_file_is_read_anew_each_time(library, tmp_path):
    file = own(tmp_path, f"[mine]\n{library.entry}\n")
    library.names(file)
    own(tmp_path, f"[changed]\n{library.entry}\n")
    assert library.names(file)[-1] == "changed"


@every_library
@pytest.mark.parametrize("content", ["", "\n", "# a comment\n"])
def test_a_file_without_entries_adds_nothing(library, tmp_path, content):
    assert library.names(own(tmp_path, content)) == library.names()


@every_library
def test_a_name_may_be_any_text(library, tmp_path):
    file = own(tmp_path, f'["Größe ♭9 – 1"]\n{library.entry}\n')
    assert library.names(file)[-1] == "Größe ♭9 – 1"


@every_library
def test_a_missing_file_is_told_with_its_name(library, tmp_path):
    message = complaint(library, tmp_path / "nowhere.toml")
    assert message.startswith(f"cannot read {str(tmp_path / 'nowhere.toml')!r}: ")


@every_library
def test_a_folder_is_told_with_its_name(library, tmp_path):
    assert complaint(library, tmp_path).startswith(f"cannot read {str(tmp_path)!r}: ")


@every_library
def test_a_name_that_no_file_system_takes_is_told(library, tmp_path):
    assert complaint(library, tmp_path / ("x" * 5000)).startswith("cannot read ")


@every_library
def test_a_name_with_a_null_in_it_is_told(library, tmp_path):
    assert complaint(library, tmp_path / "a\0b").startswith("cannot read ")


@every_library
@pytest.mark.parametrize(
    "content",
    [
        "mine",
        "[mine",
        "[mine]\nx = ",
        '[mine]\nx = "unclosed',
        "[mine]\n[mine]\n",
        "[mine]\nx = 1\nx = 2\n",
        "[mine]\nx = 2020-02-30\n",
        "[mine]\nx = 1.\n",
        "{}",
        "\x00",
        "[mine]\nx = '\x07'\n",
    ],
)
def test_broken_toml_is_told_with_its_file(library, tmp_path, content):
    file = own(tmp_path, content)
    assert complaint(library, file).startswith(f"{file}: not a readable TOML file: ")


@every_library
@pytest.mark.parametrize("content", [b"\xff\xfe[mine]", "[größe]".encode("latin-1"), b"[mine]\nx = '\xc3'"])
def test_a_file_that_is_not_in_utf_8_is_told_with_its_file(library, tmp_path, content):
    file = own(tmp_path, content)
    assert complaint(library, file).startswith(f"{file}: not a readable TOML file: ")


@every_library
def test_a_file_of_a_million_bytes_is_read_and_a_larger_one_refused(library, tmp_path):
    entry = f"[mine]\n{library.entry}\n#"
    filled = entry + "x" * (_LARGEST - len(entry))
    assert library.names(own(tmp_path, filled))[-1] == "mine"
    file = own(tmp_path, filled + "x")
    assert complaint(library, file).startswith(f"{file} is larger than {_LARGEST} bytes")


@every_library
@pytest.mark.parametrize(
    "content",
    [
        pytest.param(
            "x = " + "[" * 5000,
            id="arrays in arrays",
        ),
        pytest.param(
            "x = " + "{a=" * 5000,
            id="tables in tables",
        ),
        pytest.param(
            "x = " + "1" * 5000,
            id="a number of 5000 digits",
        ),
    ],
)
def test_what_the_toml_reader_chokes_on_is_told_with_its_file(library, tmp_path, content):
    file = own(tmp_path, content)
    assert str(file) in complaint(library, file)


@every_library
@pytest.mark.parametrize("content", ["mine = 1", 'mine = "1 2 3"', "mine = []", "[[mine]]", "mine = 1979-05-27"])
def test_an_entry_that_is_no_table_is_told_with_file_and_name(library, tmp_path, content):
    file = own(tmp_path, content)
    assert re.match(re.escape(f"{file}: mine is ") + ".*: each entry must be a table", complaint(library, file))


@every_library
def test_an_unknown_key_is_told_with_file_name_and_the_keys_there_are(library, tmp_path):
    file = own(tmp_path, f"[mine]\n{library.entry}\nDegrees = 1\n")
    known = library.entry.partition(" ")[0]
    assert complaint(library, file).startswith(f"{file}: [mine] has the unknown key 'Degrees': known are {known}")


@every_library
def test_tables_in_an_entry_are_unknown_keys(library, tmp_path):
    file = own(tmp_path, f"[mine.deeper]\n{library.entry}\n")
    assert complaint(library, file).startswith(f"{file}: [mine] has the unknown key 'deeper'")


_WRONG_TYPES = ("1", "1.5", "true", "[]", '["1 2 3"]', "{}", "1979-05-27", "inf")
_TEXTS = {
    "scales": ("degrees", "descending", "signature", "spelling"),
    "chords": ("degrees", "symbol", "signature"),
    "articulations": ("mask", "first", "syllables"),
}


def with_key(library: Library, key: str, value: str) -> str:
    """A right entry in which one key has another value."""
    kept = [line for line in library.entry.splitlines() if not line.startswith(f"{key} ")]
    return "\n".join(["[mine]", *kept, f"{key} = {value}"])


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        *((kind, key) for kind, keys in _TEXTS.items() for key in keys),
        ("patterns", "cell"),
    ],
)
def test_what_should_be_a_text_and_is_none_is_told_with_file_name_key_and_value(kind, key, tmp_path):
    for value in _WRONG_TYPES:
        file = own(tmp_path, with_key(LIBRARIES[kind], key, value))
        shown = value.replace('"', "'")
        assert complaint(LIBRARIES[kind], file).startswith(
            f"{file}: [mine] {key} is {shown}: it must be a text, in quotes"
        )


@pytest.mark.parametrize("key", ["swing", "whole"])
def test_what_should_be_true_or_false_and_is_neither_is_told_with_file_name_key_and_value(key, tmp_path):
    library = LIBRARIES["articulations"]
    for value in ("0", "1", '"true"', "[]", "{}", "1979-05-27"):
        file = own(tmp_path, with_key(library, key, value))
        shown = value.replace('"', "'")
        assert complaint(library, file) == f"{file}: [mine] {key} is {shown}: it must be true or false"


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("scales", "degrees"),
        ("chords", "degrees"),
        ("chords", "symbol"),
        ("patterns", "cell"),
    ],
)
def test_a_key_that_must_be_there_is_told_with_file_and_name(kind, key, tmp_path):
    kept = [line for line in LIBRARIES[kind].entry.splitlines() if not line.startswith(f"{key} ")]
    file = own(tmp_path, "\n".join(["[mine]", *kept]))
    assert complaint(LIBRARIES[kind], file) == f"{file}: [mine] {key} is missing: it must be a text, in quotes"


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("scales", "degrees", ""),
        ("scales", "degrees", "1 2 X"),
        ("scales", "degrees", "do re mi"),
        ("scales", "degrees", "2 3 4"),
        ("scales", "degrees", "1 3 2"),
        ("scales", "degrees", "1 2 2 3"),
        ("scales", "degrees", "1 #2 b3"),
        ("scales", "degrees", "1 2 3 8"),
        ("scales", "degrees", "1 2 #7"),
        ("scales", "degrees", "0 1 2"),
        ("scales", "degrees", "bb2 2 3"),
        ("scales", "descending", "1 2 x"),
        ("scales", "descending", "7 6 5 4 3 2 1"),
        ("scales", "descending", " "),
        ("scales", "signature", "c"),
        ("scales", "signature", " "),
        ("scales", "signature", "1 b3"),
        ("scales", "spelling", "sharps"),
        ("scales", "spelling", "Direction"),
        ("chords", "degrees", ""),
        ("chords", "degrees", "1"),
        ("chords", "degrees", "3 5"),
        ("chords", "degrees", "1 5 3"),
        ("chords", "degrees", "1 3 3"),
        ("chords", "degrees", "1 2 3 4 5 6 7 8"),
        ("chords", "degrees", "1 3 five"),
        ("chords", "degrees", "bb2 3 5"),
        ("chords", "signature", "major"),
        ("chords", "signature", "1 b3"),
        ("articulations", "mask", "( ."),
        ("articulations", "first", "( -"),
        ("articulations", "mark", "loud"),
        ("articulations", "syllables", "t k"),
        ("patterns", "cell", "1"),
        ("patterns", "cell", "1 2 H"),
        ("patterns", "cell", "1 2 3 4 5 6 7 8 1 2 3 4 5 6 7 8 9"),
    ],
)
def test_a_text_that_makes_no_music_is_told_with_file_name_key_and_value(kind, key, value, tmp_path):
    file = own(tmp_path, with_key(LIBRARIES[kind], key, f'"{value}"'))
    assert complaint(LIBRARIES[kind], file).startswith(f"{file}: [mine] {key} is {value!r}: ")


@pytest.mark.parametrize(
    ("make", "setting", "chosen"),
    [
        (scales.ScaleParameters, "scales", {"scale": "major"}),
        (scales.ScaleParameters, "articulations", {"articulation": "tongued"}),
        (arpeggios.ArpeggioParameters, "chords", {"chord": "major"}),
        (patterns.PatternParameters, "patterns", {"pattern": "thirds"}),
        (patterns.PatternParameters, "scales", {"scale": "major"}),
    ],
)
def test_a_bad_file_is_refused_as_soon_as_an_exercise_is_asked_for(make, setting, chosen, tmp_path):
    file = own(tmp_path, "[mine]\nx = 1\n")
    with pytest.raises(InputError, match="has the unknown key 'x'"):
        make.of({**chosen, setting: str(file)})


@pytest.mark.parametrize("text", ["", " "])
def test_an_empty_name_of_a_file_is_refused(text):
    with pytest.raises(InputError, match="the name of a file is empty"):
        scales.ScaleParameters.of({"scales": text})


@pytest.mark.parametrize("name", ["../../up", "a/b", "/etc", "C:\\x", "naïve", "."])
def test_a_sheet_of_an_own_scale_gets_a_plain_file_name_whatever_the_scale_is_called(name, tmp_path):
    escaped = "".join(f"\\u{ord(character):04x}" for character in name)
    file = own(tmp_path, f'["{escaped}"]\n{LIBRARIES["scales"].entry}\n')
    study = scales.study(scales.ScaleParameters(scale=name, scales=file))
    assert re.fullmatch("[A-Za-z0-9-]+", study.name)


@pytest.mark.parametrize("name", ["tab\tname", "line\nname", " ", "x" * 61])
def test_a_name_that_cannot_be_printed_on_a_page_is_refused(name, tmp_path):
    escaped = "".join(f"\\u{ord(character):04x}" for character in name)
    file = own(tmp_path, f'["{escaped}"]\n{LIBRARIES["scales"].entry}\n')
    with pytest.raises(InputError, match="is not allowed"):
        scales.ScaleParameters(scale=name, scales=file)


def test_a_scale_with_an_empty_name_makes_a_sheet_or_is_refused(tmp_path):
    file = own(tmp_path, f'[""]\n{LIBRARIES["scales"].entry}\n')
    try:
        study = scales.study(scales.ScaleParameters(scale="", scales=file))
    except InputError:
        return
    assert study.lines


_KEYS = ("degrees", "descending", "signature", "spelling", "symbol", "mask", "first", "mark", "syllables", "cell", "x")
_MUSIC = st.text("1234567890b#().- ,tk", max_size=20) | st.sampled_from(
    ["1 2 3", "1 b3 5", "( ) .", "direction", "accent", "t k", "1", ""]
)
_VALUES = (
    _MUSIC.map(lambda text: f'"{text}"')
    | st.sampled_from(["true", "false", *_WRONG_TYPES, '"""', "'", "nan", "12:00", '"\\u0000"', '"\\ud800"'])
    | st.integers().map(str)
    | st.text(max_size=5)
)
_LINES = (
    st.sampled_from(["[mine]", "[major]", "[a.b]", "[[c]]", '[""]', "[", "# x", "", "\ufeff"])
    | st.builds("{} = {}".format, st.sampled_from(_KEYS), _VALUES)
    | st.builds("{}.{} = {}".format, st.sampled_from(["mine", "y"]), st.sampled_from(_KEYS), _VALUES)
)
_TOML = st.lists(_LINES, max_size=8).map("\n".join) | st.builds(
    '[mine]\n{} = "{}"\n{} = "{}"\n'.format, st.sampled_from(_KEYS), _MUSIC, st.sampled_from(_KEYS), _MUSIC
)


@settings(max_examples=120)
@given(st.sampled_from(list(LIBRARIES)), _TOML)
def test_any_text_adds_its_entries_or_is_refused_with_the_file_and_nothing_else_happens(
    tmp_path_factory, kind, content
):
    file = own(tmp_path_factory.getbasetemp(), content.encode("utf-8", "surrogatepass"))
    packaged = LIBRARIES[kind].names()
    names = names_or_complaint(LIBRARIES[kind], file)
    if isinstance(names, str):
        assert str(file) in names
    else:
        new = [name for name in tomllib.loads(file.read_text(encoding="utf-8-sig")) if name not in packaged]
        assert names == (*packaged, *new)


@given(st.sampled_from(list(LIBRARIES)), st.binary(max_size=200))
def test_any_bytes_add_entries_or_are_refused_with_the_file_and_nothing_else_happens(tmp_path_factory, kind, content):
    file = own(tmp_path_factory.getbasetemp(), content)
    packaged = LIBRARIES[kind].names()
    names = names_or_complaint(LIBRARIES[kind], file)
    assert str(file) in names if isinstance(names, str) else names[: len(packaged)] == packaged
