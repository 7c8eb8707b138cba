"""XML from strangers: parsed piece by piece within limits, with nothing declared, nothing fetched, nothing expanded."""

from collections.abc import Iterable
from typing import NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from etudegen.errors import InputError
from etudegen.plain_text import printable

# The deepest place in the MusicXML 4.0 schema is about twelve levels down.
_DEEPEST = 40
# A full score for band has some 200,000 elements; this many take about 150 MB.
_MOST_ELEMENTS = 500_000
# The longest texts of a score are a verse or a copyright line.
_LONGEST_TEXT = 10_000
# A tag with all its attributes or a comment is kept whole by the parser until it ends.
_LONGEST_TOKEN = 256 * 1024
_ENCODINGS = (
    expat.errors.codes[expat.errors.XML_ERROR_INCORRECT_ENCODING],
    expat.errors.codes[expat.errors.XML_ERROR_UNKNOWN_ENCODING],
)


class _Builder:
    """Counts what the parser reports and builds a tree from it; raises :class:`InputError` at the first excess."""

    def __init__(self, name: str, roots: tuple[str, ...], kind: str) -> None:
        self._name = name
        self._roots = roots
        self._kind = kind
        self._tree = TreeBuilder()
        self._depth = 0
        self._elements = 0
        self._text = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if not self._elements and tag not in self._roots:
            shown = short(tag)
            raise InputError(f"{self._name} is no {self._kind}: it begins with <{shown}>, not <{self._roots[0]}>")
        self._depth += 1
        self._elements += 1
        self._text = 0
        if self._depth > _DEEPEST:
            raise InputError(f"{self._name} is nested more than {_DEEPEST} levels deep: no score is")
        if self._elements > _MOST_ELEMENTS:
            raise InputError(f"{self._name} holds more than {_MOST_ELEMENTS:,} elements: give a shorter score")
        self._tree.start(tag, attributes)

    def end(self, tag: str) -> None:
        self._depth -= 1
        self._text = 0
        self._tree.end(tag)

    def data(self, text: str) -> None:
        self._text += len(text)
        if self._text > _LONGEST_TEXT and not text.isspace():
            raise InputError(f"{self._name} holds a text of more than {_LONGEST_TEXT:,} characters: give a shorter one")
        self._tree.data(text)

    def doctype(self, _name: str, _system: str | None, _public: str | None, has_internal_subset: int) -> None:
        if has_internal_subset:
            self.declaration()

    def declaration(self, *_: object) -> NoReturn:
        raise InputError(
            f"{self._name} declares entities or other rules of its own in its DOCTYPE: no score needs that"
        )

    def unknown_entity(self, entity: str, _is_parameter: bool) -> NoReturn:
        raise InputError(f"{self._name} uses the entity {short(entity)!r}: write the character itself")

    def close(self) -> Element:
        return self._tree.close()


def parse(pieces: Iterable[bytes], name: str, roots: tuple[str, ...], kind: str) -> Element:
    """Return the tree of an XML document that is given in pieces.

    ``name`` is how messages call it, ``roots`` are the elements it may begin with, ``kind`` is what it should be.
    Raises :class:`InputError` for broken XML (with the line), for another kind, for any declaration, and for more
    than the limits above, before the excess is built.
    """
    builder = _Builder(name, roots, kind)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.data
    # The parser runs on to the end of a piece after one of these has raised; expat itself bounds what entities
    # can grow to meanwhile. Without a handler for them, external entities and document types are never opened.
    parser.StartDoctypeDeclHandler = builder.doctype
    parser.EntityDeclHandler = builder.declaration
    parser.SkippedEntityHandler = builder.unknown_entity
    given = 0
    try:
        for piece in pieces:
            parser.Parse(piece, False)
            given += len(piece)
            if given - max(parser.CurrentByteIndex, 0) > _LONGEST_TOKEN:
                raise InputError(f"{name} holds a tag or comment of more than {_LONGEST_TOKEN:,} bytes: no score does")
        parser.Parse(b"", True)
        return builder.close()
    except InputError:
        raise
    except expat.ExpatError as error:
        if error.code in _ENCODINGS:
            raise InputError(f"{name} is not in the encoding that line 1 says it is in: save it as UTF-8") from error
        why = expat.errors.messages.get(error.code, "broken") if isinstance(error.code, int) else "broken"
        raise InputError(f"{name} is broken XML: line {error.lineno}: {why}: export it once more") from error
    except (ValueError, LookupError) as error:
        # Encodings that Python does not know, or that need more than one byte a character.
        raise InputError(f"{name} has an encoding that is not read here: save it as UTF-8") from error


def short(text: str | None, longest: int = 40) -> str:
    """Return a text from a file as it can stand in a message: printable, on one line, cut where it is too long."""
    shown = printable((text or "")[: 4 * longest])
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"
