"""Elements as indented XML text, in one pass: the standard library takes three, one to look for namespaces."""

from xml.etree.ElementTree import Comment, Element
from xml.sax.saxutils import escape

_IN_ATTRIBUTES = {'"': "&quot;", "\r": "&#13;", "\n": "&#10;", "\t": "&#09;"}


def _add(lines: list[str], element: Element, before: str) -> None:
    """Add the lines of an element that holds either text or elements."""
    if element.tag is Comment:  # type: ignore[comparison-overlap]
        lines.append(f"{before}<!--{element.text}-->")
        return
    named = "".join([f' {name}="{escape(value, _IN_ATTRIBUTES)}"' for name, value in sorted(element.items())])
    if len(element):
        lines.append(f"{before}<{element.tag}{named}>")
        for inner in element:
            _add(lines, inner, before + "  ")
        lines.append(f"{before}</{element.tag}>")
    elif element.text:
        lines.append(f"{before}<{element.tag}{named}>{escape(element.text)}</{element.tag}>")
    else:
        lines.append(f"{before}<{element.tag}{named} />")


def xml_text(root: Element) -> str:
    """Return an element as text; attributes are in the order of the alphabet."""
    lines: list[str] = []
    _add(lines, root, "")
    return "\n".join(lines)
