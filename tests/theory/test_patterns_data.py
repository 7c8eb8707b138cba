"""Patterns: the packaged cells, cells that a player types, and what is no cell."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.theory.degrees import Degree
from etudegen.theory.patterns import pattern, pattern_names

_SIGNS = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2}


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("thirds", [1, 3]),
        ("up-and-home", [1, 2, 3, 1]),
        ("triad-return", [1, 3, 5, 3]),
        ("one-two-three-five", [1, 2, 3, 5]),
        ("zigzag", [1, 3, 2, 4]),
        ("fourths", [1, 4]),
        ("three-up", [1, 2, 3]),
        ("four-up", [1, 2, 3, 4]),
        ("turn", [1, 2, 1, 0]),
    ],
)
def test_a_named_pattern_is_this_cell(name, numbers):
    """The first five are the cells in the description of the exercises; the names: common practice, no source."""
    assert pattern(name) == tuple(Degree(number, 0) for number in numbers)


def test_there_are_no_other_named_patterns():
    assert len(pattern_names()) == 9


@given(
    st.lists(st.tuples(st.sampled_from(list(_SIGNS)), st.integers(-13, 22)), min_size=2, max_size=16),
    st.sampled_from([" ", ", ", ","]),
)
def test_a_typed_cell_of_two_to_sixteen_degrees_is_taken_as_it_stands(cell, between):
    text = between.join(f"{sign}{number}" for sign, number in cell)
    assert pattern(text) == tuple(Degree(number, _SIGNS[sign]) for sign, number in cell)


@pytest.mark.parametrize(
    "text", ["1", " ".join(["1"] * 17), " ".join(["1"] * 1000), "", " ", "thirds 1", "Thirds", "1 x"]
)
def test_what_is_neither_a_name_nor_a_cell_is_refused_with_the_text_the_names_and_an_example(text):
    with pytest.raises(InputError, match=r"choose one of thirds, .*turn, or give degrees like '1 2 3 5'") as caught:
        pattern(text)
    assert repr(text)[:80] in str(caught.value)


def test_the_longest_cell_has_sixteen_notes():
    assert len(pattern(" ".join(["1", "2"] * 8))) == 16


def test_a_pattern_of_ones_own_is_found_by_its_name_beside_the_packaged_ones_and_typed_cells(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[approach]\ncell = "#0, 1 3 5 8"\n', encoding="utf-8")
    assert pattern("approach", own) == (Degree(0, 1), Degree(1, 0), Degree(3, 0), Degree(5, 0), Degree(8, 0))
    assert pattern("thirds", own) == pattern("thirds")
    assert pattern("1 2", own) == (Degree(1, 0), Degree(2, 0))
    assert pattern_names(own) == (*pattern_names(), "approach")


def test_a_name_of_ones_own_comes_before_what_it_would_mean_as_degrees(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('["1 2"]\ncell = "5 6 7"\n', encoding="utf-8")
    assert pattern("1 2", own) == (Degree(5, 0), Degree(6, 0), Degree(7, 0))


@pytest.mark.parametrize("cell", ["1", " ".join(["1"] * 17), "", "1 x", "1 2 100"])
def test_a_bad_cell_in_a_file_is_refused_with_the_file_the_name_and_the_key(tmp_path, cell):
    own = tmp_path / "own.toml"
    own.write_text(f'[mine]\ncell = "{cell}"\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        pattern("thirds", own)
    assert str(caught.value).startswith(f"{own}: [mine] cell is {cell!r}: ")
