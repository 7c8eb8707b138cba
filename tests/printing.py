"""Many pages engraved as one book: LilyPond takes longer to start than for a page."""

import io
from collections.abc import Mapping

import pypdf

from etudegen.engraving.book import Book, Section
from etudegen.engraving.engraver import Engraver
from etudegen.engraving.page import Page
from etudegen.errors import MachineError


def printed_together(pages: Mapping[str, Page], paper: str = "a4") -> dict[str, list[str]]:
    """Return the texts of the printed pages that each of some pages stands on, by name.

    Where the engraver complains it is asked for one after the other, so that the complaint has a name.
    """
    try:
        pdf = _engraved(pages, paper)
    except MachineError:
        for name, page in pages.items():
            try:
                _engraved({name: page}, paper)
            except MachineError as error:
                raise AssertionError(f"{name}: {error}") from error
        raise
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    texts = [" ".join(page.extract_text().split()) for page in reader.pages]
    starts = [reader.get_destination_page_number(bookmark) for bookmark in reader.outline]
    assert [bookmark.title for bookmark in reader.outline] == [*pages]
    ends = [*starts[1:], len(texts) - 1]
    return {name: texts[start : end + 1] for name, start, end in zip(pages, starts, ends, strict=True)}


def _engraved(pages: Mapping[str, Page], paper: str) -> bytes:
    sections = tuple(Section(name, "", page) for name, page in pages.items())
    with Engraver() as engraver:
        engraver.engrave(Book("Sheets", "", paper, sections))
        return engraver.pdf()
