"""Text from people as any file can keep it and any terminal can show it."""

import re
import unicodedata

# Between parts of one sign, such as an emoji of several.
_JOINERS = "\u200c\u200d"
_HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")
_LONG_QUOTED = re.compile(r"'[^']{100,}'|\"[^\"]{100,}\"")
_CUT = " ... "


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


def with_capital(text: str) -> str:
    """Return a text that begins with a capital; what follows stays as it is, unlike with :meth:`str.capitalize`."""
    return text[:1].upper() + text[1:]


def without_halves(text: str) -> str:
    """Return a text with half characters replaced, which no file can be called; bytes that were no UTF-8 stay."""
    return _HALVES.sub("\ufffd", text)


def fit_for_a_terminal(line: str) -> str:
    """Return a line without what would steer a terminal: control and direction characters, halves of characters."""
    if line.isprintable():
        return line
    return "".join(_shown(sign) for sign in line)


def shortened(line: str, longest: int) -> str:
    """Return a line of at most so many characters (100 or more): first what is quoted is cut, then the middle."""
    if len(line) <= longest:
        return line
    line = _LONG_QUOTED.sub(lambda quoted: f"{quoted[0][:60]}...{quoted[0][-20:]}", line)
    if len(line) <= longest:
        return line
    half = (longest - len(_CUT)) // 2
    return f"{line[:half]}{_CUT}{line[half + len(_CUT) - longest :]}"


def _shown(sign: str) -> str:
    if sign == "\t" or sign in _JOINERS:
        return sign
    return {"Cc": " ", "Zl": " ", "Zp": " ", "Cf": "", "Cs": "\ufffd"}.get(unicodedata.category(sign), sign)


def _escaped(text: str) -> bool:
    """Tell whether all surrogates in a text stand for single bytes, as Python reads them from a command line."""
    return all(0xDC80 <= ord(sign) <= 0xDCFF for sign in text if unicodedata.category(sign) == "Cs")


def _is_no_character(sign: str) -> bool:
    return 0xFDD0 <= ord(sign) <= 0xFDEF or ord(sign) & 0xFFFE == 0xFFFE
