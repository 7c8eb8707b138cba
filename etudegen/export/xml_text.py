"""Elements as indented XML text, in one pass: the standard library takes three, one to look for namespaces."""

from xml.etree.ElementTree import Comment, Element
from xml.sax.saxutils import escape

_IN_ATTRIBUTES = {'"': "&quot;", "\r": "&#13;", "\n": "&#10;", "\t": "&#09;"}


def _attributes(element: Element) -> str:
    items = element.items()
    return "".join(
        [
            f' {name}="{value if value.isalnum() else escape(value, _IN_ATTRIBUTES)}"'
            for name, value in (sorted(items) if len(items) > 1 else items)
        ]
    )


def _escaped(text: str) -> str:
    return escape(text) if "&" in text or "<" in text or ">" in text else text


def _add(lines: list[str], element: Element, before: str) -> None:
    """Add the lines of an element that holds either text or elements."""
    tag = element.tag
    if tag is Comment:  # type: ignore[comparison-overlap]
        lines.append(f"{before}<!--{element.text}-->")
        return
    named = _attributes(element) if element.attrib else ""
    if len(element):
        lines.append(f"{before}<{tag}{named}>")
        inside = before + "  "
        for inner in element:
            _add(lines, inner, inside)
        lines.append(f"{before}</{tag}>")
    elif element.text:
        lines.append(f"{before}<{tag}{named}>{_escaped(element.text)}</{tag}>")
    else:
        lines.append(f"{before}<{tag}{named} />")


def xml_text(root: Element) -> str:
    """Return an element as text; attributes are in the order of the alphabet."""
    lines: list[str] = []
    _add(lines, root, "")
    return "\n".join(lines)
