"""The parts of a book, engraved side by side, joined to one file; and many books bound to one that is printed."""

import io
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from etudegen.engraving.book import Book
from etudegen.engraving.pages_made import PagesMade

if TYPE_CHECKING:
    from pikepdf import OutlineItem, Pdf


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
    from pikepdf import OutlineItem, Pdf  # noqa: PLC0415 - see above

    whole = Pdf.new()
    bookmarks: list[OutlineItem] = []
    for pdf, part, made in zip(printed, parts, pages, strict=True):
        sections = [] if made is None else list(_outline(part, made, bookmarks))
        if part.bookmark:
            named = OutlineItem(part.bookmark, len(whole.pages))
            named.children.extend(sections)
            sections = [named]
        bookmarks += sections
        with Pdf.open(io.BytesIO(pdf)) as opened:
            if len(whole.pages) == 0:
                whole.trailer.Info = whole.copy_foreign(opened.make_indirect(opened.docinfo))
            whole.pages.extend(opened.pages)
    return _file_of(whole, bookmarks)


def bound(books: Sequence[tuple[str, bytes]], title: str) -> bytes:
    """Return books, each with whose it is, behind one another as one PDF, their bookmarks under whose they are.

    Each begins on an odd page, a right-hand one where both sides of the paper are printed: the page before it may be
    empty.
    """
    from pikepdf import OutlineItem, Pdf  # noqa: PLC0415 - see above

    whole = Pdf.new()
    whole.docinfo["/Title"], whole.docinfo["/Author"] = title, "etudegen"
    bookmarks = []
    for whose, pdf in books:
        if len(whole.pages) % 2:
            _, _, width, height = map(float, whole.pages[-1].mediabox.as_list())
            whole.add_blank_page(page_size=(width, height))
        first = len(whole.pages)
        with Pdf.open(io.BytesIO(pdf)) as opened:
            places = {page.obj.objgen: first + place for place, page in enumerate(opened.pages)}
            item = OutlineItem(whose, first)
            with opened.open_outline() as outline:
                item.children.extend(_moved(outline.root, places))
            whole.pages.extend(opened.pages)
        bookmarks.append(item)
    return _file_of(whole, bookmarks)


def _moved(items: "Sequence[OutlineItem]", places: Mapping[tuple[int, int], int]) -> "Iterator[OutlineItem]":
    """Yield bookmarks for the places that their pages have now."""
    from pikepdf import Array, OutlineItem  # noqa: PLC0415 - see above

    for item in items:
        # Ours all lead to pages.
        assert isinstance(item.destination, Array)
        moved = OutlineItem(item.title, places[item.destination[0].objgen])
        moved.children.extend(_moved(item.children, places))
        yield moved


def _file_of(whole: "Pdf", bookmarks: "Sequence[OutlineItem]") -> bytes:
    from pikepdf import Name  # noqa: PLC0415 - see above

    with whole.open_outline() as outline:
        outline.root.extend(bookmarks)
    whole.Root.PageMode = Name.UseOutlines
    file = io.BytesIO()
    whole.save(file, deterministic_id=True)
    return file.getvalue()
