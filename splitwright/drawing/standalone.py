"""A picture as a file of its own, with its styles inside."""

from __future__ import annotations

from copy import deepcopy
from xml.etree.ElementTree import Element

from splitwright.drawing.svg import document, el
from splitwright.page.assembly import static


def standalone(picture: Element) -> str:
    """The text of an SVG file that shows ``picture`` as pages do. ``picture`` itself is not changed."""
    copy = deepcopy(picture)
    copy.insert(0, el("style", static("drawing.css")))
    return document(copy)
