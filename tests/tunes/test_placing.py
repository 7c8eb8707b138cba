"""Moving a tune: every name by the same interval, the best octave, nothing outside the range."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.instrument.catalogue import instrument
from etudegen.study import Line, Measure, Tone
from etudegen.theory.keys import all_tonics, has_signature
from etudegen.theory.pitch import WrittenPitch
from etudegen.tunes.keys import KeysWanted, in_keys, study_of
from etudegen.tunes.placing import Placed, Unfit, named, placed
from etudegen.tunes.tune import Tune
from tests.tunes.melodies import tunes

TRUMPET = instrument("trumpet-bflat")
ranges = st.tuples(st.integers(52, 70), st.integers(0, 36)).map(
    lambda pair: (WrittenPitch.from_number(pair[0]), WrittenPitch.from_number(pair[0] + pair[1]))
)


def numbers(moved: Tune) -> list[int]:
    return [tone.pitch.number for tone in moved.tones]


def tune(*names: str, sharps: int = 0, tonic: str = "C4", minor: bool = False) -> Tune:
    tones = tuple(Tone(WrittenPitch.parse(name), Fraction(1)) for name in names)
    metre = (len(names), 4)
    line = Line("", tones, sharps=sharps, measures=(Measure(Fraction(len(names)), "1", metre),))
    return Tune("Tune", WrittenPitch.parse(tonic), minor, (line,), metre)


@given(tunes(), st.sampled_from(all_tonics()), st.booleans())
def test_in_another_key_every_note_has_moved_by_one_interval(given_tune: Tune, tonic: WrittenPitch, keep: bool) -> None:
    moved = named(given_tune, tonic, keep=keep)
    (interval,) = {after - before for before, after in zip(numbers(given_tune), numbers(moved), strict=True)}
    assert (interval - (tonic.number - given_tune.tonic.number)) % 12 == 0
    assert moved.tonic.number % 12 == tonic.number % 12


@given(tunes(), st.sampled_from(all_tonics()), st.booleans())
def test_no_double_accidental_and_no_impossible_signature_is_left(
    given_tune: Tune, tonic: WrittenPitch, keep: bool
) -> None:
    moved = named(given_tune, tonic, keep=keep)
    assert moved.doubles == 0
    assert all(has_signature(line.sharps) for line in moved.lines)


@settings(max_examples=50)
@given(tunes(), ranges)
def test_nothing_lies_outside_the_range_or_what_does_is_listed(
    given_tune: Tune, span: tuple[WrittenPitch, WrittenPitch]
) -> None:
    low, high = span
    found = placed(given_tune, low, high)
    if isinstance(found, Placed):
        assert all(low.number <= number <= high.number for number in numbers(found.tune))
        assert {
            (after - before) % 12 for before, after in zip(numbers(given_tune), numbers(found.tune), strict=True)
        } == {0}
    else:
        # Then no octave holds it.
        given_ = numbers(given_tune)
        assert not any(
            low.number <= min(given_) + 12 * octave and max(given_) + 12 * octave <= high.number
            for octave in range(-6, 7)
        )
        assert found.outside
        assert all(text.startswith("bar ") for text in found.outside)


@given(tunes(), ranges)
def test_no_other_octave_has_fewer_notes_within_a_whole_step_of_the_limits(
    given_tune: Tune, span: tuple[WrittenPitch, WrittenPitch]
) -> None:
    low, high = span
    found = placed(given_tune, low, high)
    if isinstance(found, Unfit):
        return

    def near(given_: list[int]) -> int:
        return sum(number - low.number < 2 or high.number - number < 2 for number in given_)

    chosen = numbers(found.tune)
    for octave in range(-6, 7):
        other = [number + 12 * octave for number in chosen]
        if low.number <= min(other) and max(other) <= high.number:
            assert near(chosen) <= near(other)


@pytest.mark.parametrize(
    ("names", "chosen"),
    [
        # From F#3 to F#6: either octave is inside, the first one lies nearer to the middle.
        (("G#3", "A#4", "A#4", "A#4"), "G#3"),
        # A half step above the lowest note is near it, a whole step is not; so at the top.
        (("G3", "A#4", "A#4", "A#4"), "G4"),
        (("E6", "D5", "D5", "D5"), "E6"),
        (("F6", "D5", "D5", "D5"), "F5"),
    ],
)
def test_a_note_is_near_an_end_of_the_range_up_to_a_half_step_from_it(names: tuple[str, ...], chosen: str) -> None:
    found = placed(tune(*names), WrittenPitch.parse("F#3"), WrittenPitch.parse("F#6"))
    assert isinstance(found, Placed)
    assert numbers(found.tune)[0] == WrittenPitch.parse(chosen).number


def test_a_tune_in_f_sharp_with_raised_notes_goes_to_g_flat_and_back_by_what_needs_fewer_accidentals() -> None:
    # E sharp raised once more is a double sharp in F sharp; G flat writes it as a natural.
    raised = tune("F#4", "E#4", "Fx4", "F#4", sharps=6, tonic="F#4")
    assert raised.doubles == 1
    moved = named(raised, WrittenPitch.parse("F#4"), keep=True)
    assert (moved.tonic.name, moved.doubles) == ("Gb", 0)
    lowered = tune("Gb4", "Cbb5", "Gb4", sharps=-6, tonic="Gb4")
    assert named(lowered, WrittenPitch.parse("Gb4"), keep=True).tonic.name == "F#"


def test_a_key_that_was_asked_for_by_name_keeps_it_where_both_names_read_as_well() -> None:
    scale = tune("C4", "D4", "E4", "C4")
    assert named(scale, WrittenPitch.parse("F#4"), keep=True).tonic.name == "F#"
    assert named(scale, WrittenPitch.parse("C#4"), keep=True).tonic.name == "C#"
    assert named(scale, WrittenPitch.parse("C#4"), keep=False).tonic.name == "Db"


def test_minor_keys_are_named_by_their_own_tonic() -> None:
    minor = tune("A4", "C5", "B4", "A4", tonic="A4", minor=True)
    names = [tune_.key for tune_ in in_keys(minor, KeysWanted(TRUMPET, *span("F#3", "C6"))).tunes]
    # Each minor key with the smaller signature, as in any table of keys; E flat and D sharp have six each.
    assert sorted(names) == sorted(["Cm", "Fm", "B♭m", "E♭m", "G♯m", "C♯m", "F♯m", "Bm", "Em", "Am", "Dm", "Gm"])


def span(low: str, high: str) -> tuple[WrittenPitch, WrittenPitch]:
    return WrittenPitch.parse(low), WrittenPitch.parse(high)


def test_a_tune_too_wide_for_the_range_is_refused_with_bar_and_note() -> None:
    wide = tune("C4", "C6")
    with pytest.raises(InputError, match=r"fits between C4 and G5 in none .* bar 1 "):
        in_keys(wide, KeysWanted(TRUMPET, *span("C4", "G5")))


def test_home_is_the_key_that_the_tune_is_in() -> None:
    (only,) = in_keys(
        tune("D4", "F#4", sharps=2, tonic="D4"), KeysWanted(TRUMPET, *span("F#3", "C6"), keys="home")
    ).tunes
    assert only.key == "D"


def test_low_above_high_is_refused() -> None:
    with pytest.raises(InputError, match=r"low C6 lies above high C4"):
        KeysWanted(TRUMPET, *span("C6", "C4"))


@pytest.mark.parametrize(("keys", "said"), [("C Gb", "C G♭"), ("all", "all keys")])
def test_a_page_names_its_keys_unless_they_are_all_there_are(keys: str, said: str) -> None:
    wanted = KeysWanted(TRUMPET, WrittenPitch.parse("F#3"), WrittenPitch.parse("C6"), keys=keys)
    page = study_of(in_keys(tune("C4", "E4", "G4", "E4"), wanted), wanted)
    assert page.subtitle.split(" · ")[-1].startswith(said)


@pytest.mark.parametrize("name", ["F#4", "F#5"])
def test_of_two_octaves_that_are_as_good_the_lower_is_chosen(name: str) -> None:
    # F#4 and F#5 are as far from C5, the middle from F#3 to F#6.
    found = placed(tune(name), WrittenPitch.parse("F#3"), WrittenPitch.parse("F#6"))
    assert isinstance(found, Placed)
    assert numbers(found.tune) == [WrittenPitch.parse("F#4").number]


@pytest.mark.parametrize(
    ("names", "chosen"),
    [
        # Five flats and one double flat read as hard as seven sharps, two double flats harder.
        (("C#4", "D4", "C#4"), "Db"),
        (("C#4", "D4", "C#4", "D4"), "C#"),
    ],
)
def test_a_double_accidental_counts_as_two_more_in_the_signature(names: tuple[str, ...], chosen: str) -> None:
    moved = named(tune(*names, sharps=7, tonic="C#4"), WrittenPitch.parse("Db4"), keep=False)
    assert moved.tonic.name == chosen


def test_eight_notes_outside_are_named_and_the_others_counted() -> None:
    found = placed(tune(*(["C4", "C6"] * 5)), WrittenPitch.parse("D4"), WrittenPitch.parse("E4"))
    assert isinstance(found, Unfit)
    assert found.why.count("bar 1 ") == 8
    assert found.why.endswith("; and 2 more")
