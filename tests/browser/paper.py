"""PDFs read back, by pypdf."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from pypdf import PdfReader

PAPER: Final = (210 / 25.4 * 72, 297 / 25.4 * 72)
"""A4 in points (ISO 216)."""


def texts_of(pdf: Path) -> list[str]:
    """The text of each page; all of them are A4."""
    pages = PdfReader(pdf).pages
    assert all((round(p.mediabox.width), round(p.mediabox.height)) == tuple(map(round, PAPER)) for p in pages)
    return [page.extract_text() for page in pages]


def page_with(line: str, pages: Sequence[str]) -> int:
    """The one page on which that line stands alone."""
    (found,) = (number for number, text in enumerate(pages) if line in (each.strip() for each in text.split("\n")))
    return found


def layers_between(start: str, end: str, pages: Sequence[str]) -> list[tuple[int, int]]:
    """(page, layer) of each caption of a plan between two headings."""
    first, last = page_with(start, pages), page_with(end, pages)
    text = [(number, pages[number]) for number in range(first, last + 1)]
    text[0] = (first, text[0][1].partition(start)[2])
    text[-1] = (last, text[-1][1].partition(end)[0])
    return [(number, int(layer)) for number, page in text for layer in re.findall(r"^\s*Layer (\d+)\b", page, re.M)]
