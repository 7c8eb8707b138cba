"""The shapes of lines on small lists of partials, and how a player's own is read."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises.contours import NAMED, parse_contour

WORKED_EXAMPLES = {
    "neighbours": {
        (2, 3): [[2, 3, 2, 3, 2]],
        (2, 3, 4): [[2, 3, 2, 3], [3, 4, 3, 4, 3]],
        (2, 3, 4, 5, 6): [[2, 3, 2, 3], [3, 4, 3, 4], [4, 5, 4, 5], [5, 6, 5, 6, 5]],
    },
    "falls": {
        (2, 3): [[3, 2, 3, 2]],
        (2, 3, 4): [[4, 3, 4, 3], [3, 2, 3, 2]],
        (2, 3, 4, 5, 6): [[6, 5, 6, 5], [5, 4, 5, 4], [4, 3, 4, 3], [3, 2, 3, 2]],
    },
    "climb": {
        (2, 3): [[2, 3, 2]],
        (2, 3, 4): [[2, 3, 4, 3, 2]],
        (2, 3, 4, 5, 6): [[2, 3, 4, 3], [2, 3, 4, 5, 4, 3], [2, 3, 4, 5, 6, 5, 4, 3, 2]],
    },
    "skips": {
        (2, 3): [[2, 3, 2]],
        (2, 3, 4): [[2, 4, 2]],
        (2, 3, 4, 5, 6): [[2, 4, 3, 5, 4, 6, 4, 5, 3, 4, 2]],
    },
    "sweep": {
        (2, 3): [[2, 3, 2]],
        (2, 3, 4): [[2, 3, 4, 3, 2]],
        (2, 3, 4, 5, 6): [[2, 3, 4, 5, 6, 5, 4, 3, 2]],
    },
    "anchor": {
        (2, 3): [[2, 3, 2]],
        (2, 3, 4): [[2, 3, 2, 4, 2]],
        (2, 3, 4, 5, 6): [[2, 3, 2, 4, 2, 5, 2, 6, 2]],
    },
    "threes": {
        (2, 3): [[3, 2, 3, 2]],
        (2, 3, 4): [[2, 3, 4], [4, 3, 2]],
        (2, 3, 4, 5, 6): [[2, 3, 4], [3, 4, 5], [4, 5, 6], [6, 5, 4], [5, 4, 3], [4, 3, 2]],
    },
    "leaps": {
        (2, 3): [],
        (2, 3, 4): [[2, 4, 2, 4, 2]],
        (2, 3, 4, 5, 6): [[2, 4, 2, 4], [3, 6, 3, 6], [2, 6, 2, 6, 2]],
    },
}
EXAMPLES = [
    pytest.param(name, list(partials), groups, id=f"{name} on {len(partials)}")
    for name, rows in WORKED_EXAMPLES.items()
    for partials, groups in rows.items()
]


def test_every_named_contour_has_worked_examples() -> None:
    assert set(NAMED) == set(WORKED_EXAMPLES)


@pytest.mark.parametrize(("name", "partials", "groups"), EXAMPLES)
def test_a_named_contour_draws_its_worked_example(name: str, partials: list[int], groups: list[list[int]]) -> None:
    assert NAMED[name].groups(partials, 1) == groups


@pytest.mark.parametrize(("name", "partials", "groups"), EXAMPLES)
def test_going_through_a_contour_twice_repeats_each_group_before_the_held_note(
    name: str, partials: list[int], groups: list[list[int]]
) -> None:
    expected = [group * 2 for group in groups[:-1]]
    if groups and name in ("falls", "threes"):
        # Its held note is the last of its low ones.
        expected.append(groups[-1] * 2)
    elif groups:
        *moving, held = groups[-1]
        expected.append([*moving, *moving, held])
    assert NAMED[name].groups(partials, 2) == expected


def test_a_climb_over_many_partials_is_made_in_three_stages() -> None:
    tops = [max(group) for group in NAMED["climb"].groups(list(range(2, 11)), 1)]
    assert len(tops) == 3
    assert tops == sorted(set(tops))
    assert tops[-1] == 10


@given(
    st.sampled_from(list(NAMED)),
    st.lists(st.integers(2, 16), min_size=2, max_size=15, unique=True).map(sorted),
    st.integers(1, 5),
)
def test_a_named_contour_moves_at_every_step_and_only_between_usable_partials(
    name: str, usable: list[int], times: int
) -> None:
    for group in NAMED[name].groups(usable, times):
        assert set(group) <= set(usable)
        assert all(first != second for first, second in pairwise(group))


@given(st.lists(st.integers(2, 16), min_size=2, max_size=15, unique=True).map(sorted))
def test_climb_sweep_anchor_and_neighbours_reach_the_lowest_and_the_highest_partial(usable: list[int]) -> None:
    for name in ("climb", "sweep", "anchor", "neighbours", "skips"):
        played = {partial for group in NAMED[name].groups(usable, 1) for partial in group}
        assert {usable[0], usable[-1]} <= played, name


@given(st.lists(st.integers(2, 16), min_size=2, max_size=15, unique=True).map(sorted))
def test_leaps_are_octaves_and_twelfths_and_nothing_else(usable: list[int]) -> None:
    for group in NAMED["leaps"].groups(usable, 1):
        assert max(group) in (2 * min(group), 3 * min(group))
        assert len(set(group)) == 2


@pytest.mark.parametrize("text", ["2 3 4 3 2", "2,3,4,3,2", " 2, 3  4\t3,2 "])
def test_partial_numbers_are_read_with_spaces_or_commas(text: str) -> None:
    assert parse_contour(text).own == (2, 3, 4, 3, 2)


def test_a_contour_may_run_from_the_second_to_the_sixteenth_partial() -> None:
    assert parse_contour("2 16").own == (2, 16)


@pytest.mark.parametrize("name", NAMED)
def test_a_named_contour_is_read_by_its_name(name: str) -> None:
    assert parse_contour(f" {name} ") is NAMED[name]


@pytest.mark.parametrize(
    ("text", "allowed"),
    [
        ("blob", "sweep"),
        ("Sweeep", "neighbours"),
        ("2.5 3", "2 3 4 3 2"),
        ("2 x", "2 3 4 3 2"),
        ("-2 3", "2 3 4 3 2"),
        ("2 3 4/3", "2 3 4 3 2"),
        ("", "2 3 4 3 2"),
        (" , ", "2 3 4 3 2"),
        ("2", "two or more"),
        ("²  ³", "2 3 4 3 2"),
        ("1 2", "from 2 to 16"),
        ("0 2", "from 2 to 16"),
        ("2 17", "from 2 to 16"),
        ("2 999", "from 2 to 16"),
        ("3 3", "two different"),
        ("4 4 4 4", "two different"),
        (" ".join(["2", "3"] * 33), "2 to 64"),
    ],
)
def test_what_is_no_contour_is_refused_with_the_text_and_what_is_allowed(text: str, allowed: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_contour(text)
    assert allowed in str(refused.value)
    assert repr(text.strip()) in str(refused.value) or "66 partials" in str(refused.value)


@given(st.text(max_size=20))
def test_any_text_is_a_contour_or_refused_in_a_sentence(text: str) -> None:
    try:
        contour = parse_contour(text)
    except InputError as refused:
        assert len(str(refused)) > 20  # noqa: PT017
    else:
        assert contour.own or contour is NAMED[text.strip()]
