"""PDF files that are the same whenever they are made."""

import re

# Only the date differs between two runs. One of the same length takes its place, so every offset stays right.
_DATE = re.compile(rb"(/(?:CreationDate|ModDate) ?\(D:)([^)]*)\)")
# The end of a file, and what stands at the place that it names: a table, or an object that holds one (PDF 1.7, 7.5).
_END = re.compile(rb"startxref\s+([0-9]{1,12})\s+%%EOF\s*\Z")
_TABLE = re.compile(rb"xref\s|[0-9]+ [0-9]+ obj\b")
_LONGEST_END = 1024
_FIXED = b"20000101000000Z00'00"


def is_whole(file: bytes) -> bool:
    """Tell whether a file is a PDF to its end: it begins as one, and its end tells where its table of contents is."""
    end = _END.search(file[-_LONGEST_END:])
    if end is None or not file.startswith(b"%PDF-"):
        return False
    return _TABLE.match(file, int(end[1])) is not None


def without_date(pdf: bytes) -> bytes:
    """Return the same PDF with a fixed date in its description."""

    def fixed(match: re.Match[bytes]) -> bytes:
        length = len(match[2])
        return match[1] + _FIXED[:length].ljust(length, b"'") + b")"

    return _DATE.sub(fixed, pdf)
