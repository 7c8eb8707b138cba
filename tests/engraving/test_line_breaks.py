"""Where a line that is too long for one system is broken, seen on the printed page."""

import io
from collections.abc import Callable

import pypdf
import pytest

from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import parse_contour
from etudegen.exercises.slurs import SlurParameters, study
from etudegen.instrument.valves import OPEN
from etudegen.study import Study
from tests.engraving.test_sheet import starts_of_texts

# In points. The digits under the notes of one system hang at most a few staff spaces of about 5 points apart.
BETWEEN_SYSTEMS = 50
NOTES_IN_A_BAR = 4


def notes_on_systems(pdf: bytes) -> list[int]:
    """How many notes each system of a page has: a line of quarter notes, a fingering under each of them."""
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    texts = ((y, text.split()) for _, y, text in starts_of_texts(page))
    heights = sorted((y for y, digits in texts if set(digits) == {"0"} for _ in digits), reverse=True)
    # The first one is the label of the line.
    systems, above = [], heights[0]
    for height in heights[1:]:
        if not systems or above - height > BETWEEN_SYSTEMS:
            systems.append(0)
        systems[-1] += 1
        above = height
    return systems


@pytest.mark.parametrize(("bars", "wanted"), [(6, 1), (8, 2), (10, 2)])
def test_a_line_a_little_too_long_for_one_system_is_broken_into_two_that_are_about_equally_full(
    bars: int, wanted: int, engraved: Callable[[Study], bytes]
) -> None:
    contour = parse_contour(" ".join(["2 3 4 3"] * bars))
    made = study(
        SlurParameters(contour=contour, positions=(OPEN,), fingerings=Fingerings.EVERY, rests=Rests.NONE, repeats=1)
    )
    systems = notes_on_systems(engraved(made))
    # One of the notes is held for a bar of its own.
    assert sum(systems) in (NOTES_IN_A_BAR * bars, NOTES_IN_A_BAR * bars + 1)
    assert len(systems) == wanted
    # Lines are broken after every other bar where they can be.
    assert max(systems) - min(systems) <= 2 * NOTES_IN_A_BAR
