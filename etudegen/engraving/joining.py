"""The parts of a book, engraved side by side, joined to one file."""

import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from etudegen.engraving.book import Book
from etudegen.engraving.pages_made import PagesMade

if TYPE_CHECKING:
    from pikepdf import OutlineItem


def _outline(part: Book, made: PagesMade, before: "Sequence[OutlineItem]") -> "Iterator[OutlineItem]":
    """Yield the bookmarks of a part: its sections, and under one the lines it names.

    The lines of a section that goes on are put under the last of those ``before``.
    """
    from pikepdf import OutlineItem  # noqa: PLC0415 - only books need it

    for place, section in enumerate(part.sections):
        item = before[-1] if section.goes_on else OutlineItem(section.bookmark, made.sections[place] - 1)
        if section.line_bookmarks:
            pages = made.lines.get(place, ())
            item.children.extend(
                OutlineItem(name, page - 1) for name, page in zip(section.line_bookmarks, pages, strict=False) if name
            )
        if not section.goes_on:
            yield item


def joined(printed: Sequence[bytes], parts: Sequence[Book], pages: Sequence[PagesMade | None]) -> bytes:
    """Return the printed parts of a book as one PDF with bookmarks."""
    from pikepdf import Name, OutlineItem, Pdf  # noqa: PLC0415 - see above

    whole = Pdf.new()
    bookmarks: list[OutlineItem] = []
    for pdf, part, made in zip(printed, parts, pages, strict=True):
        if made is not None:
            bookmarks += list(_outline(part, made, bookmarks))
        with Pdf.open(io.BytesIO(pdf)) as opened:
            if len(whole.pages) == 0:
                whole.trailer.Info = whole.copy_foreign(opened.make_indirect(opened.docinfo))
            whole.pages.extend(opened.pages)
    with whole.open_outline() as outline:
        outline.root.extend(bookmarks)
    whole.Root.PageMode = Name.UseOutlines
    file = io.BytesIO()
    whole.save(file, deterministic_id=True)
    return file.getvalue()
