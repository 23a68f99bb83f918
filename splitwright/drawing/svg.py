"""SVG elements as trees, so that whatever a label holds stays text."""

from __future__ import annotations

from xml.etree.ElementTree import Element, tostring

from markupsafe import Markup

from splitwright.page.fit import fit


def el(tag: str, *children: Element | str, **attributes: str | int | float | None) -> Element:
    """An element. Attribute names take ``_`` for ``-`` (``stroke_width``, ``class_``); None leaves one out.

    A text among the children stands where it is given.
    """
    made = Element(tag)
    for name, value in attributes.items():
        if value is not None:
            made.set(name.rstrip("_").replace("_", "-"), _text(value))
    for child in children:
        if isinstance(child, Element):
            made.append(child)
        elif len(made):
            made[-1].tail = (made[-1].tail or "") + _text(child)
        else:
            made.text = (made.text or "") + _text(child)
    return made


def markup(element: Element) -> Markup:
    """An element as text that may stand in a page as it is. Names have no namespace: HTML gives it to inline SVG."""
    return Markup(tostring(element, encoding="unicode", short_empty_elements=True))


def document(element: Element) -> str:
    """A root ``svg`` element as a file of its own."""
    element.set("xmlns", "http://www.w3.org/2000/svg")
    return tostring(element, encoding="unicode") + "\n"


def _text(value: str | int | float) -> str:
    """Numbers in their shortest form of at most two decimals."""
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".") if value % 1 else str(int(value))
    return fit(str(value))
