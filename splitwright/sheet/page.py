"""The build sheet as one HTML file."""

from __future__ import annotations

from sim.layout import Layout
from splitwright.sheet.assembly import page
from splitwright.sheet.contents import contents_of
from splitwright.sheet.request import SheetRequest

STYLES = ("replay.css",)
SCRIPTS = ("marks.js", "pointing.js", "turning.js", "replay.js")


def sheet_html(layout: Layout, request: SheetRequest | None = None) -> str:
    """The sheet of a layout: self-contained, below 2 MB. Raises InputError for a load that it has no room for."""
    asked = request or SheetRequest()
    contents = contents_of(layout, asked)
    return page(
        "page.html.j2", asked.words, STYLES, SCRIPTS, drawn=layout.by_cell, sheet=contents, heading=contents.heading
    )
