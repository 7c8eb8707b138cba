"""Text from people, made safe for LilyPond, which runs any Scheme code it finds in its input."""

import unicodedata


def quoted(text: str) -> str:
    """Return a text as a LilyPond string: always in quotes, so that nothing in it can be read as code.

    Backslashes are doubled before quotes are escaped; control characters, newlines and what cannot be encoded
    become spaces. Marks that only steer the direction of writing stay, since they are part of the text.
    """
    plain = "".join(" " if unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") else sign for sign in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
