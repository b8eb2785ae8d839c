"""Elements -> XML text, plainly: names without namespaces, text only in leaves, groups without content left out.

The standard library's writer does the same at three times the cost, most of it for namespaces that these trees do not
use.
"""

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping
from xml.sax.saxutils import escape

_QUOTED = {'"': "&quot;", "\n": "&#10;"}


def xml_text(root: ElementTree.Element) -> str:
    """The element and all below it as XML text."""
    out: list[str] = []
    _write(root, out)
    return "".join(out)


def attributes_text(attributes: Mapping[str, str]) -> str:
    """Attributes as they stand in a tag, each with a space before it."""
    return "".join(f' {name}="{escape(value, _QUOTED)}"' for name, value in attributes.items())


def _write(element: ElementTree.Element, out: list[str]) -> bool:
    """Append an element; False (and nothing written) for a group that draws nothing."""
    before = len(out)
    out.append(f"<{element.tag}{attributes_text(dict(element.items()))}>")
    drawn = element.tag != "g"
    if element.text and not len(element):
        out.append(escape(element.text))
    for child in element:
        drawn = _write(child, out) or drawn
    if not drawn:
        del out[before:]
        return False
    out.append(f"</{element.tag}>")
    return True
