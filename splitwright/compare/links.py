"""Addresses of files as seen from a page."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import quote

from sim.world.layout import Layout
from splitwright.sheet.digest import layout_digest


def address(target: Path, page: Path) -> str:
    """The relative address of ``target`` for a link on ``page``, percent-encoded (RFC 3986, 2.1).

    Every colon is encoded too, so that no name is taken for an address of another scheme (4.2).
    """
    relative = os.path.relpath(target.absolute(), page.absolute().parent)
    return quote(os.fsencode(relative).replace(os.sep.encode(), b"/"))


def sheet_beside(path: Path, layout: Layout, page: Path) -> str:
    """The address of the build sheet that stands beside a layout's file under its name ("": there is none).

    A sheet of another layout, or of this one before it was changed, is none; so is any other page.
    """
    sheet = path.with_suffix(".html")
    if not sheet.is_file() or (page.exists() and sheet.samefile(page)) or sheet.absolute() == page.absolute():
        return ""
    return address(sheet, page) if _is_sheet_of(layout, sheet) else ""


def _is_sheet_of(layout: Layout, sheet: Path) -> bool:
    """The page bears the layout's digest. In a page's text no such attribute can stand: its quotes are escaped."""
    try:
        return f'data-layout="{layout_digest(layout)}"'.encode() in sheet.read_bytes()
    except OSError:  # a page that cannot be read could not be opened from the link either
        return False
