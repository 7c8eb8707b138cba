"""Numbers as they are written by hand: what Python takes besides is told as no number."""

import pytest

from etudegen.exercises.settings import number_in, whole_number_in


@pytest.mark.parametrize("text", ["", " ", "7_2", "+72", "٧٢", "７２", "²", "1e3", "0x10", "7 2", "--7", "9" * 19])
def test_what_nobody_writes_for_a_number_is_none(text: str) -> None:
    assert whole_number_in(text) is None
    assert number_in(text) is None


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", ".", "-", "1e3", "1_0.5", "1.5.2", "1,5"])
def test_what_nobody_writes_for_a_number_with_a_point_is_none(text: str) -> None:
    assert number_in(text) is None


def test_numbers_are_read() -> None:
    assert [whole_number_in(text) for text in ("72", " 72 ", "-3", "007", "9" * 18)] == [72, 72, -3, 7, 10**18 - 1]
    assert [number_in(text) for text in ("72", "-3.25", ".5", "440.", " 1 ")] == [72.0, -3.25, 0.5, 440.0, 1.0]
    assert whole_number_in("1.5") is None
