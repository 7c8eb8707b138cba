"""PDF files that are the same whenever they are made."""

import re

# Only the date differs between two runs. One of the same length takes its place, so every offset stays right.
_DATE = re.compile(rb"(/(?:CreationDate|ModDate) ?\(D:)([^)]*)\)")
_FIXED = b"20000101000000Z00'00"


def without_date(pdf: bytes) -> bytes:
    """Return the same PDF with a fixed date in its description."""

    def fixed(match: re.Match[bytes]) -> bytes:
        length = len(match[2])
        return match[1] + _FIXED[:length].ljust(length, b"'") + b")"

    return _DATE.sub(fixed, pdf)
