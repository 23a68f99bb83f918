"""Addresses of files as seen from a page."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import quote


def address(target: Path, page: Path) -> str:
    """The relative address of ``target`` for a link on ``page``, percent-encoded (RFC 3986, 2.1).

    Every colon is encoded too, so that no name is taken for an address of another scheme (4.2).
    """
    relative = os.path.relpath(target.absolute(), page.absolute().parent)
    return quote(os.fsencode(relative).replace(os.sep.encode(), b"/"))


def sheet_beside(layout: Path, page: Path) -> str:
    """The address of the build sheet that stands beside a layout under its name ("": there is none)."""
    sheet = layout.with_suffix(".html")
    if not sheet.is_file() or (page.exists() and sheet.samefile(page)) or sheet.absolute() == page.absolute():
        return ""
    return address(sheet, page)
