"""The build sheet as one HTML file."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sim.world.layout import Layout
from splitwright.page.assembly import page
from splitwright.sheet.contents import SheetContents, contents_of
from splitwright.sheet.replay_section import replay_section
from splitwright.sheet.request import SheetRequest
from splitwright.words import Words

STYLES = ("replay.css",)
SCRIPTS = ("marks.js", "pointing.js", "turning.js", "replay.js")
BYTES_MOST: Final = 1_950_000
"""A page that would be larger has a shorter replay, so that it stays below 2 MB."""


def sheet_html(layout: Layout, request: SheetRequest | None = None) -> str:
    """The sheet of a layout: self-contained, and below 2 MB up to some 64 furnaces with feed, fuel and product.

    Raises InputError for a load that the layout has no room for.
    """
    asked = request or SheetRequest()
    contents = contents_of(layout, asked)
    asked.told("the page")
    text = _page(contents, asked.words)
    while (excess := len(text.encode()) - BYTES_MOST) > 0:
        shorter = _with_shorter_replay(contents, excess, asked.words)
        if shorter is None:
            break
        contents, text = shorter, _page(shorter, asked.words)
    return text


def _with_shorter_replay(contents: SheetContents, excess: int, words: Words) -> SheetContents | None:
    """The same with a record that is so many bytes smaller; None where it can be no smaller."""
    recording, before = contents.recording, contents.replay
    if recording is None or before is None:
        return None
    after = replay_section(recording, words, max(0, len(before.data) - excess))
    return replace(contents, replay=after) if len(after.data) < len(before.data) else None


def _page(contents: SheetContents, words: Words) -> str:
    return page(
        "page.html.j2", words, STYLES, SCRIPTS, drawn=contents.layout.by_cell, sheet=contents, heading=contents.heading
    )
