"""The parts of a book, printed side by side, joined to one file."""

import io
from collections.abc import Sequence

from etudegen.engraving.book import Book
from etudegen.engraving.press import Press


def joined(started: Sequence[Press], parts: list[Book]) -> bytes:
    """Return the parts of a book that presses were given as one PDF with bookmarks.

    A part whose first page was guessed wrong is printed again.
    """
    from pikepdf import Name, OutlineItem, Pdf  # noqa: PLC0415 - only books need it

    whole = Pdf.new()
    bookmarks: list[OutlineItem] = []
    for press, part in zip(started, parts, strict=True):
        first = len(whole.pages) + 1
        printed = press.pdf()
        if part.first_page != first:
            press.print_again(b"first-page-number = %d" % part.first_page, b"first-page-number = %d" % first)
            printed = press.pdf()
        begins = [first, *(page + 1 for page in press.last_pages()[:-1])]
        bookmarks += [
            OutlineItem(section.bookmark, page - 1) for section, page in zip(part.sections, begins, strict=True)
        ]
        with Pdf.open(io.BytesIO(printed)) as half:
            whole.pages.extend(half.pages)
            if first == 1:
                whole.trailer.Info = whole.copy_foreign(half.make_indirect(half.docinfo))
    with whole.open_outline() as outline:
        outline.root.extend(bookmarks)
    whole.Root.PageMode = Name.UseOutlines
    file = io.BytesIO()
    whole.save(file, deterministic_id=True)
    return file.getvalue()
