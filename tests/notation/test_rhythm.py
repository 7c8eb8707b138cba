"""How durations are cut into values that can be written."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from etudegen.notation.rhythm import pieces

WRITABLE = {Fraction(1, 8) * eighths for eighths in (1, 2, 4, 6, 8, 12, 16, 24, 32)}


@given(st.integers(0, 15), st.integers(1, 200), st.sampled_from([2, 3, 4]))
def test_pieces_add_up_and_stay_within_bars_and_each_has_one_head(start: int, length: int, bar: int) -> None:
    at, duration = Fraction(start, 4) % bar, Fraction(length, 4)
    cut = list(pieces(at, duration, Fraction(bar)))
    assert sum(cut) == duration
    for piece in cut:
        assert piece in WRITABLE
        assert at + piece <= bar
        if at.denominator != 1:
            assert piece <= -at % 1, "what begins off the beat lasts to the next beat at most"
        at = (at + piece) % bar


@pytest.mark.parametrize(
    ("start", "duration", "cut"),
    [
        (0, 4, [4]),
        (0, 8, [4, 4]),
        (2, 3, [2, 1]),
        (3, 5, [1, 4]),
        (1, 2, [2]),
        (0, 3, [3]),
        (Fraction(1, 2), Fraction(5, 2), [Fraction(1, 2), 2]),
        (Fraction(1, 3), Fraction(2, 3), [Fraction(2, 3)]),
        (Fraction(2, 3), Fraction(1, 3), [Fraction(1, 3)]),
        (Fraction(1, 4), Fraction(3, 4), [Fraction(3, 4)]),
    ],
)
def test_a_duration_is_cut_at_barlines_and_beats(start, duration, cut) -> None:
    assert list(pieces(Fraction(start), Fraction(duration), Fraction(4))) == cut
