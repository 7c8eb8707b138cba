"""The pages of a tune in keys: whole keys on each, as many as fit."""

from collections.abc import Iterator
from dataclasses import replace

from etudegen.engraving.book import Section
from etudegen.engraving.page import Measure, Page
from etudegen.engraving.systems import most_systems, systems_of

# The title and what stands under it take the room of a system.
_TITLE = 1


def _keys(page: Page) -> Iterator[list[Measure]]:
    """Yield the measures of each key."""
    key: list[Measure] = []
    for measure in page.measures:
        if measure.label and key:
            yield key
            key = []
        key.append(measure)
    yield key


def sections(page: Page) -> list[Section]:
    """Return a page in sections of whole keys that fit on a page each; a key that does not has a section of its own."""
    groups: list[list[Measure]] = []
    filled = 0
    for key in _keys(page):
        systems = systems_of(Page("", {}, page.paper, tuple(key)))
        room = most_systems(page) - (_TITLE if len(groups) <= 1 else 0)
        if not groups or filled + systems > room:
            groups.append([])
            filled = 0
        groups[-1] += key
        filled += systems
    made = []
    metre = (4, 4)
    for number, measures in enumerate(groups):
        # Each page is a piece of its own to the engraver, and has to be told the metre.
        opening = replace(measures[0], metre=measures[0].metre or metre)
        metre = next((each.metre for each in reversed(measures) if each.metre), None) or opening.metre or metre
        names = ", ".join(measure.label for measure in measures if measure.label)
        texts = dict(page.texts)
        if number:
            texts = {role: text for role, text in texts.items() if role in ("caution", "timing")}
        content = Page("" if number else page.title, texts, page.paper, (opening, *measures[1:]))
        made.append(Section(names, page.title if number else "", content))
    return made
