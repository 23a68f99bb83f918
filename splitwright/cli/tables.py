"""The one look of all tables."""

from __future__ import annotations

from typing import Final, Literal

from rich import box
from rich.console import RenderableType
from rich.table import Column, Table
from rich.text import Text

WORD_MOST: Final = 24
"""Longer words of a text (paths, formulas) may be folded."""


def plain_table(
    *columns: str, right: tuple[str, ...] = (), whole: tuple[str, ...] = (), title: str | None = None
) -> Table:
    """A compact table with these headings; the columns in ``right`` hold numbers.

    Where the page is narrow those in ``whole`` stay on one line as long as others can give way.
    """
    table = Table(box=box.SIMPLE_HEAD, title=title, title_justify="left", title_style="bold", padding=(0, 1, 0, 0))
    table.pad_edge = table.show_edge = False
    for column in columns:
        justify: Literal["left", "right"] = "right" if column in right else "left"
        table.add_column(
            column, justify=justify, overflow="fold", no_wrap=column in whole, min_width=_longest_word(column)
        )
    return table


def fitting(table: Table, width: int) -> RenderableType:
    """The table where its headings and numbers stay whole within ``width`` columns, else a short list for each row."""
    need = sum(_needed(column) + 1 for column in table.columns)
    if need <= width:
        return table
    headings = [str(column.header) for column in table.columns]
    lines = []
    for row in zip(*(column.cells for column in table.columns), strict=True):
        told = [f"{heading}: {cell}" for heading, cell in zip(headings, row, strict=True) if cell]
        lines += [f"{'  ' if i else ''}{text}" for i, text in enumerate(told)]
    return Text("\n".join(lines))


def _needed(column: Column) -> int:
    """Columns of the page below which something of it that is read as one would be cut."""
    cells = [str(cell) for cell in column.cells]
    if column.no_wrap or column.justify == "right":
        least = max((len(cell) for cell in cells), default=0)
    else:
        least = max((min(WORD_MOST, _longest_word(cell)) for cell in cells), default=0)
    return max(least, _longest_word(str(column.header)))


def _longest_word(text: str) -> int:
    return max((len(word) for word in text.split()), default=0)
