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


def bars_on_systems(pdf: bytes) -> list[int]:
    """How many bars each system of a page has: a line of quarter notes, a fingering under each of them."""
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    heights = sorted((y for _, y, text in starts_of_texts(page) if text.strip() == "0"), reverse=True)
    # The first one is the label of the line.
    systems, above = [], heights[0]
    for height in heights[1:]:
        if not systems or above - height > BETWEEN_SYSTEMS:
            systems.append(0)
        systems[-1] += 1
        above = height
    assert all(notes % NOTES_IN_A_BAR == 0 for notes in systems)
    return [notes // NOTES_IN_A_BAR for notes in systems]


@pytest.mark.parametrize("bars", [4, 6, 7, 8])
def test_a_line_a_little_too_long_for_one_system_is_broken_into_two_that_are_about_equally_full(
    bars: int, engraved: Callable[[Study], bytes]
) -> None:
    contour = parse_contour(" ".join(["2 3 4 3"] * bars))
    made = study(
        SlurParameters(contour=contour, positions=(OPEN,), fingerings=Fingerings.EVERY, rests=Rests.NONE, repeats=1)
    )
    systems = bars_on_systems(engraved(made))
    # The last note is held for a bar of its own.
    assert sum(systems) in (bars, bars + 1)
    assert len(systems) == (1 if bars == 4 else 2)
    assert max(systems) - min(systems) <= 1
