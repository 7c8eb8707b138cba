"""Text from people as it can be kept in any file: what is no character at all is taken out or replaced."""

import re
import unicodedata


def printable(text: str) -> str:
    """Return a text without what no file format can hold.

    Bytes that were no UTF-8 where the text came from are read as UTF-8 if they are, and shown as a replacement
    character if not; control characters and line breaks become spaces; code points that stand for no character go.
    """
    whole = text.encode("utf-8", "surrogateescape" if _escaped(text) else "replace").decode("utf-8", "replace")
    shown = "".join(" " if unicodedata.category(sign) in ("Cc", "Zl", "Zp") else sign for sign in whole)
    return "".join(sign for sign in shown if not _is_no_character(sign)).strip()


def plain_name(text: str, longest: int = 60) -> str:
    """Return a text as every file system takes it: ASCII letters, digits and hyphens, perhaps nothing."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text)[:longest].strip("-")


def _escaped(text: str) -> bool:
    """Tell whether all surrogates in a text stand for single bytes, as Python reads them from a command line."""
    return all(0xDC80 <= ord(sign) <= 0xDCFF for sign in text if unicodedata.category(sign) == "Cs")


def _is_no_character(sign: str) -> bool:
    return 0xFDD0 <= ord(sign) <= 0xFDEF or ord(sign) & 0xFFFE == 0xFFFE
