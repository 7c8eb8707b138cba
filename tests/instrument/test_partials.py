"""Partials: how far they lie from equal temperament, which written note each serves, how it is spelled."""

import pytest

from etudegen.instrument.partials import HIGHEST, Resonance, deviation, half_steps_above, is_near, series
from etudegen.instrument.valves import COMBINATIONS, Valves
from etudegen.theory.pitch import Pitch
from tests.reference.tables import rows

# "Harmonic Series Deviation from Equal Temperament",
# https://the3rdhalf.com/learn/articles/harmonic-series-deviation-from-equal-temperament/
_HARMONICS = rows("harmonic_series_cents")


def _class(name: str) -> int:
    return Pitch.parse(f"{name}4").number % 12


@pytest.mark.parametrize("row", _HARMONICS, ids=lambda row: row["harmonic"])
def test_a_harmonic_lies_nearest_to_the_published_note_and_as_far_off_as_published(row):
    partial = int(row["harmonic"])
    assert half_steps_above(partial) % 12 == _class(row["nearest"])
    assert round(deviation(partial), 1) == float(row["cents"])


def test_the_partials_a_player_uses_unasked_are_those_less_than_a_fifth_of_a_half_step_off():
    """Which they are follows from the published deviations; the limit is common practice, no source."""
    near = {int(row["harmonic"]) for row in _HARMONICS if abs(float(row["cents"])) < 20}
    assert {partial for partial in range(1, 21) if is_near(partial)} == near
    assert {7, 11, 13, 14}.isdisjoint(near)


@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_a_resonance_serves_the_published_note_of_its_harmonic_on_the_lowered_tube(valves):
    """Counted from the table: a harmonic's octave is the highest power of two that it reaches."""
    for row in _HARMONICS[:16]:
        partial = int(row["harmonic"])
        octaves = partial.bit_length() - 1
        # Written C3 has the key number 48: MIDI 1.0 specification, middle C = 60.
        expected = 48 + 12 * octaves + _class(row["nearest"]) - valves.half_steps
        assert Resonance(valves, partial).number == expected


@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_a_resonance_is_spelled_as_the_note_it_serves(valves):
    for resonance in series(valves):
        assert resonance.written.number == resonance.number


@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_a_line_on_one_tube_never_mixes_sharps_and_flats_nor_doubles_them(valves):
    alterations = {resonance.written.alter for resonance in series(valves)[1:]}
    assert alterations <= {0, 1} or alterations <= {-1, 0}


@pytest.mark.parametrize("valves", COMBINATIONS, ids=str)
def test_the_fifth_partial_is_spelled_as_a_third_and_the_sixth_as_a_fifth(valves):
    letters = "CDEFGAB"
    root, third, fifth = (letters.index(Resonance(valves, partial).written.step) for partial in (4, 5, 6))
    assert ((third - root) % 7, (fifth - root) % 7) == (2, 4)


def test_the_open_tube_gives_the_notes_of_the_bugle():
    """Common practice, no source."""
    assert [str(resonance.written) for resonance in series(Valves("0"))[1:6]] == [
        "C4",
        "G4",
        "C5",
        "E5",
        "G5",
    ]


def test_the_seventh_harmonic_of_the_open_tube_is_a_flat_as_published():
    """The source of the table names it Bb, not A#."""
    (published,) = [row["nearest"] for row in _HARMONICS if row["harmonic"] == "7"]
    assert Resonance(Valves("0"), 7).written.name == published


def test_all_three_valves_give_the_lowest_notes():
    """Common practice, no source."""
    notes = [str(resonance.written) for resonance in series(Valves("123"))[1:6]]
    assert notes == ["F#3", "C#4", "F#4", "A#4", "C#5"]


@pytest.mark.parametrize("highest", [1, 8, HIGHEST, 20])
def test_a_series_counts_every_partial_from_the_first_and_rises(highest):
    resonances = series(Valves("13"), highest)
    assert [resonance.partial for resonance in resonances] == list(range(1, highest + 1))
    numbers = [resonance.number for resonance in resonances]
    assert numbers == sorted(set(numbers))
