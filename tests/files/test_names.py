"""Names of files: every text has one of its own, which every file system takes."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.files.names import distinct_name

_SIGNS = st.sampled_from(["a", "A", "ä", "a\u0308", "-", " ", "_", "Я", "я", "1", "."])
_ALIKE = st.lists(_SIGNS, max_size=5).map("".join)


@pytest.mark.parametrize("text", ["third-chair", "practice-2026-11-25-45-min", "x", "7"])
def test_a_plain_name_is_kept(text: str) -> None:
    assert distinct_name(text) == text


@pytest.mark.parametrize(
    ("text", "readable"),
    [
        ("Third chair", "third-chair"),
        ("Größe", "gro-e"),
        ("d'été", "d-ete"),
        ("a--b", "a-b"),
        ("../../up", "up"),
        ("con", "con"),
        ("Third/Chair.toml", "third-chair-toml"),
    ],
)
def test_what_can_be_read_of_a_text_stands_before_its_digest(text: str, readable: str) -> None:
    assert re.fullmatch(f"{re.escape(readable)}-[0-9a-f]{{8}}", distinct_name(text))


@pytest.mark.parametrize("text", ["", "第三", "третья", "♯♭", "\udcff", "---"])
def test_a_text_without_anything_to_read_has_its_digest_for_a_name(text: str) -> None:
    assert re.fullmatch("[0-9a-f]{8}", distinct_name(text))


@given(st.lists(_ALIKE | st.text(), min_size=2, max_size=20, unique=True), st.integers(16, 80))
def test_different_texts_have_different_plain_names_of_bounded_length(texts: list[str], longest: int) -> None:
    names = [distinct_name(text, longest) for text in texts]
    assert len({name.lower() for name in names}) == len(texts)
    for name in names:
        assert re.fullmatch("[a-z0-9]+(-[a-z0-9]+)*", name)
        assert len(name) <= longest


def test_long_texts_that_differ_at_their_ends_have_different_names() -> None:
    one, other = (distinct_name("long-" * 30 + end) for end in ("a", "b"))
    assert one != other
    assert len(one) <= 60


@pytest.mark.parametrize("text", ["Third chair", "第三", "con"])
def test_the_name_of_one_text_is_not_that_of_another(text: str) -> None:
    """A text that looks like the name of another has a name of its own."""
    assert distinct_name(distinct_name(text)) != distinct_name(text)
