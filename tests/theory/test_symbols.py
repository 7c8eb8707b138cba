"""Chord symbols: how they are read, printed, spelled as notes, and moved by an interval."""

import pychord
import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.theory.chords import qualities
from etudegen.theory.degrees import parse_degree
from etudegen.theory.keys import tonic
from etudegen.theory.pitch import STEPS
from etudegen.theory.symbols import ChordSymbol, parse_quality, parse_symbol, symbol_reader
from tests.reference.tables import rows

NAMES = [letter + sign for letter in STEPS for sign in ("", "b", "#")]
PUBLISHED = {row["symbol"]: row["tones"] for row in rows("chords")}
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pitch_class(name: str) -> int:
    return (LETTERS[name[0]] + name.count("#") - name.count("b")) % 12


def symbols() -> st.SearchStrategy[ChordSymbol]:
    """Any chord on any root, half of them over another bass."""
    roots = st.sampled_from(NAMES).map(tonic)
    return st.builds(ChordSymbol, roots, st.sampled_from(qualities()), st.none() | roots).filter(
        lambda symbol: symbol.bass is None or (symbol.bass.number - symbol.root.number) % 12 != 0
    )


def names(symbol: ChordSymbol) -> str:
    return " ".join(tone.name for tone in symbol.tones)


@given(symbols())
def test_what_is_printed_in_ascii_is_read_as_the_same_chord(symbol):
    assert parse_symbol(symbol.text) == symbol


@given(symbols())
def test_what_is_printed_with_flats_and_sharps_is_read_as_the_same_chord(symbol):
    assert parse_symbol(symbol.pretty) == symbol


@pytest.mark.parametrize("quality", qualities(), ids=lambda quality: quality.symbol or "major")
def test_every_alias_is_read_as_its_quality_with_brackets_or_without(quality):
    for alias in (quality.symbol, *quality.aliases):
        assert parse_symbol(f"Eb{alias}/G").quality == quality
        assert parse_quality(alias) == quality
        if alias:
            assert parse_quality(f"({alias})") == quality


def test_no_spelling_stands_for_two_qualities():
    spellings = [spelling for quality in qualities() for spelling in (quality.symbol, *quality.aliases)]
    assert len(spellings) == len(set(spellings))


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        # Spellings of lead sheets. Common practice, no source.
        ("C", "C"), ("Cmaj", "C"), ("CM", "C"), ("Cm", "Cm"), ("C-", "Cm"), ("Cmin", "Cm"), ("C°", "Cdim"),
        ("Co", "Cdim"), ("C+", "Caug"), ("CM7", "Cmaj7"), ("Cma7", "Cmaj7"), ("CMaj7", "Cmaj7"), ("CΔ", "Cmaj7"),
        ("CΔ7", "Cmaj7"), ("C△7", "Cmaj7"), ("C-7", "Cm7"), ("Cmin7", "Cm7"), ("Cmi7", "Cm7"), ("Cø", "Cm7b5"),
        ("Cø7", "Cm7b5"), ("C-7b5", "Cm7b5"), ("C°7", "Cdim7"), ("Co7", "Cdim7"), ("C+7", "C7#5"), ("Caug7", "C7#5"),
        ("Csus", "Csus4"), ("C7sus", "C7sus4"), ("Calt", "C7alt"), ("C69", "C6/9"), ("C6/9", "C6/9"),
        ("C6/9/E", "C6/9/E"), ("C7(b9)", "C7b9"), ("C7(♯11)", "C7#11"), ("CmM7", "Cm(maj7)"), ("C-Δ7", "Cm(maj7)"),
        ("Cm(maj7)", "Cm(maj7)"), ("C(add9)", "Cadd9"), ("B♭m7♭5/E♭", "Bbm7b5/Eb"), ("F♯−7", "F#m7"), ("C/C", "C"),
        ("E/Fb", "E"),
        ("Bb7", "Bb7"), ("Bbb5", None), ("C#m", "C#m"), ("Bdim", "Bdim"), ("Db", "Db"), ("Gmaj7/B", "Gmaj7/B"),
    ],
)  # fmt: skip
def test_common_spellings_are_read(typed, text):
    if text is None:
        with pytest.raises(InputError):
            parse_symbol(typed)
    else:
        assert parse_symbol(typed).text == text


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("Bbm7b5/Eb", "B♭m7♭5/E♭"),
        ("F#7#9", "F♯7♯9"),
        ("Ebdim7", "E♭dim7"),
        ("Gsus4", "Gsus4"),
        ("A7sus4/D", "A7sus4/D"),
    ],
)
def test_print_has_flats_and_sharps_and_leaves_words_alone(typed, printed):
    assert parse_symbol(typed).pretty == printed


@pytest.mark.parametrize("symbol", PUBLISHED)
def test_tones_are_those_that_are_published_without_double_accidentals(symbol):
    """Sources: tests/reference/chords.csv."""
    assert names(parse_symbol(f"C{symbol}")) == PUBLISHED[symbol].replace("Bbb", "A")


@given(symbols())
def test_tones_rise_from_the_root_sound_like_the_degrees_and_are_easy_to_read(symbol):
    heights = [tone.number - symbol.root.number for tone in symbol.tones]
    assert heights == [degree.half_steps for degree in symbol.quality.degrees]
    assert all(abs(tone.alter) <= 1 for tone in symbol.tones)


@pytest.mark.parametrize("symbol", ["m7", "7", "maj7", "m7b5", "6", "9", "7b9", "7#11", "7sus4"])
def test_pychord_names_the_same_tones_on_roots_with_few_accidentals(symbol):
    for root in ("C", "F", "Bb", "Eb", "Ab", "G", "D", "A", "E"):
        theirs = pychord.Chord(root + symbol).components()
        ours = names(parse_symbol(root + symbol)).split()
        assert list(map(pitch_class, ours)) == list(map(pitch_class, theirs))


@pytest.mark.parametrize(
    ("typed", "guide"), [("Dm7", "F C"), ("G7", "B F"), ("Cmaj7", "E B"), ("Ebm6", "Gb C"), ("Bdim7", "D Ab")]
)
def test_guide_tones_are_thirds_and_sevenths(typed, guide):
    """The first three: "Voice leading with guide tones", musictheorymanual.com."""
    assert " ".join(tone.name for tone in parse_symbol(typed).guide_tones) == guide


@pytest.mark.parametrize(("degree", "name"), [("b3", "Gb4"), ("9", "F5"), ("bb7", "C5"), ("7", "D5"), ("1", "Eb4")])
def test_any_degree_can_be_had_over_the_root(degree, name):
    assert str(parse_symbol("Eb7").degree_pitch(parse_degree(degree))) == name


@pytest.mark.parametrize(
    ("typed", "steps", "half_steps", "moved"),
    [
        # Up a whole step, as a B flat instrument reads what sounds. Common practice, no source.
        ("Cmaj7", 1, 2, "Dmaj7"), ("Bb7", 1, 2, "C7"), ("Em7b5", 1, 2, "F#m7b5"), ("F/A", 1, 2, "G/B"),
        # C flat and E sharp where the key has them: IV of G flat, VII of F sharp.
        ("Fmaj7", 4, 6, "Cbmaj7"), ("Bm7b5", 3, 6, "E#m7b5"), ("D#m7", 1, 2, "E#m7"),
        # But not where the chord would need double flats or sharps on them.
        ("Fm7", 4, 6, "Bm7"), ("B7", 3, 6, "F7"), ("Bb7", 4, 6, "E7"),
        # Never on a double accidental.
        ("F#m7", 0, 1, "Gm7"), ("Dbm7", 4, 6, "Gm7"), ("D#7", 1, 2, "F7"), ("G#m7/D#", 3, 6, "Dm7/A"),
        # Nothing changes without an interval.
        ("Cbm7", 0, 0, "Cbm7"),
    ],
)  # fmt: skip
def test_a_chord_is_moved_and_takes_a_simpler_name_where_it_needs_one(typed, steps, half_steps, moved):
    """Worked out by hand."""
    assert parse_symbol(typed).moved(steps, half_steps).text == moved


def doubles(root: str, symbol: ChordSymbol) -> int:
    """How many notes of a chord need a double accidental on a root."""
    return sum(abs(degree.above(tonic(root)).alter) > 1 for degree in symbol.quality.degrees)


@given(symbols(), st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_moved_every_note_moves_alike_and_the_names_can_be_read_again(symbol, one, other):
    steps = STEPS.index(other[0]) - STEPS.index(one[0])
    away = tonic(other).number - tonic(one).number
    moved = symbol.moved(steps, away)
    assert moved.quality == symbol.quality
    assert (moved.root.number - symbol.root.number - away) % 12 == 0
    assert (moved.bass is None) == (symbol.bass is None)
    if moved.bass is not None and symbol.bass is not None:
        assert (moved.bass.number - symbol.bass.number - away) % 12 == 0
    if (steps, away) != (0, 0) and moved.root.name in ("B#", "E#", "Cb", "Fb"):
        simpler = {"B#": "C", "E#": "F", "Cb": "B", "Fb": "E"}[moved.root.name]
        assert doubles(moved.root.name, symbol) <= doubles(simpler, symbol)
    back = moved.moved(-steps, -away)
    assert (back.root.number - symbol.root.number) % 12 == 0


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("Hm7", "cannot read the chord 'Hm7': write a root from A to G"),
        ("", "cannot read the chord '': write a root"),
        ("c7", "cannot read the chord 'c7': write a root"),
        ("Cfoo", "cannot read the chord 'Cfoo': unknown quality 'foo': choose nothing (major) or one of m, dim, aug"),
        ("C/H", "cannot read the chord 'C/H': unknown quality '/H'"),
        ("C7/", "cannot read the chord 'C7/': unknown quality '7/'"),
        ("C\n7", "cannot read the chord 'C\\n7'"),
        ("C" + "7" * 10_000, f"cannot read the chord 'C{'7' * 39}'"),
    ],
)
def test_what_cannot_be_read_is_told_with_what_is_allowed(typed, told):
    with pytest.raises(InputError) as refusal:
        parse_symbol(typed)
    assert told in str(refusal.value)
    assert len(str(refusal.value)) < 600


@given(st.text(max_size=30) | st.text("ABCDEFG#b♭♯mM7913sudimalt()/+-°øΔ", max_size=12))
def test_any_text_is_read_or_refused(text):
    try:
        symbol = parse_symbol(text)
    except InputError:
        return
    assert parse_symbol(symbol.text) == symbol


def test_a_players_own_qualities_go_before_the_packaged_ones(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        '[mine]\ndegrees = "1 4 b7"\nsymbol = "q4"\naliases = "quartal 7"\n[other]\ndegrees = "1 5"\nsymbol = "m7"\n',
        encoding="utf-8",
    )
    read = symbol_reader(own)
    assert names(read("Dq4")) == names(read("Dquartal")) == "D G C"
    assert read("Dm7").quality.name == "other"
    # A symbol goes before an alias, even a packaged one before the player's.
    assert read("D7").quality.name == "dominant-seventh"
    for typed in ("Dq4", "Dm7", "Dmaj7"):
        assert read(read(typed).text) == read(typed) == parse_symbol(typed, own)
