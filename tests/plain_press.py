"""A press in the place of the engraver, for tests of what becomes of books and not of how they are engraved.

It takes the same calls and is as strict about them; its PDF has a page for each section, with the texts of plans and
cards on it, and differs wherever what was handed over does.
"""

import hashlib
import io
import os
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any, Self

import pikepdf

from etudegen.engraving.book import Book, Card, PlanRow, PlanSheet, Section
from etudegen.engraving.engraver import PARTS
from etudegen.engraving.page import Page


class PlainPress:
    """Prints one page or book, in up to so many parts, as the engraver does."""

    def __init__(self, *, pdf: bool = True, svg: bool = False, parts: int = 1) -> None:
        assert pdf
        assert not svg
        assert 1 <= parts <= PARTS
        self.parts = parts
        self._handed: list[Page | Book] = []

    def engrave(self, content: Page | Book) -> None:
        assert isinstance(content, Page | Book)
        assert self.parts > 1 or not self._handed
        self._handed.append(content)

    def pdf(self) -> bytes:
        assert self._handed
        printed = pikepdf.new()
        for part in self._handed:
            contents: Sequence[object] = [each.content for each in part.sections] if isinstance(part, Book) else [part]
            for content in contents:
                _add_page(printed, [] if isinstance(content, Page) else list(_texts(content)))
        told = hashlib.sha256(repr(self._handed).encode("utf-8", "surrogatepass")).hexdigest()
        printed.docinfo["/Subject"] = told
        stream = io.BytesIO()
        printed.save(stream, deterministic_id=True)
        return stream.getvalue()

    def cancel(self) -> None:
        self._handed = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.cancel()


def _texts(value: Any) -> Any:
    """Yield the texts in plans and cards."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from _texts(each)
    elif is_dataclass(value):
        assert isinstance(value, Card | PlanSheet | PlanRow | Section)
        for each in fields(value):
            yield from _texts(getattr(value, each.name))


def _add_page(printed: pikepdf.Pdf, texts: list[str]) -> None:
    page = printed.add_blank_page()
    name = page.add_resource(
        pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica),
        pikepdf.Name.Font,
        # Without one it is at random.
        pikepdf.Name.F1,
    )
    shown = [text.encode("ascii", "replace").decode() for text in texts]
    lines = [f"({text.replace(chr(92), '').replace('(', '').replace(')', '')}) Tj 0 -9 Td" for text in shown]
    stream = os.linesep.join(["BT", f"{name} 8 Tf 20 700 Td", *lines, "ET"])
    page.Contents = printed.make_stream(stream.encode())
