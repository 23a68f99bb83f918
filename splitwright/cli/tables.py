"""The one look of all tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from rich import box
from rich.console import Group, RenderableType
from rich.table import Column, Table
from rich.text import Text

WORD_MOST: Final = 24
"""Longer words of a text (paths, formulas) may be folded."""
GAP: Final = 2
"""Blanks between two columns."""


class _PlainTable(Table):
    """``spare``: headings of columns that a narrow page may go without, the first of them first."""

    spare: tuple[str, ...] = ()


def plain_table(
    *columns: str,
    right: tuple[str, ...] = (),
    whole: tuple[str, ...] = (),
    spare: tuple[str, ...] = (),
    title: str | None = None,
) -> Table:
    """A compact table with these headings; the columns in ``right`` hold numbers.

    Where the page is narrow those in ``whole`` stay on one line, and those in ``spare`` are left out, one after the
    other as far as that is needed.
    """
    table = _PlainTable(
        box=box.SIMPLE_HEAD, title=title, title_justify="left", title_style="bold", padding=(0, 1, 0, 0)
    )
    table.pad_edge = table.show_edge = False
    table.spare = spare
    for column in columns:
        justify: Literal["left", "right"] = "right" if column in right else "left"
        table.add_column(
            column, justify=justify, overflow="fold", no_wrap=column in whole, min_width=_longest_word(column)
        )
    return table


def fitting(table: Table, width: int) -> RenderableType:
    """The table where its headings, words and numbers stay whole within ``width`` columns, if need be without spare
    columns, which are named below it; else a short list for each row."""
    spare = table.spare if isinstance(table, _PlainTable) else ()
    for count in range(len(spare) + 1):
        shown = [column for column in table.columns if column.header not in spare[:count]]
        widths = _widths(shown, width - GAP * (len(shown) - 1))
        if widths is not None:
            return _in_widths(table, shown, widths, spare[:count])
    headings = [str(column.header) for column in table.columns]
    lines = []
    for row in zip(*(column.cells for column in table.columns), strict=True):
        told = [f"{heading}: {cell}" for heading, cell in zip(headings, row, strict=True) if cell]
        lines += [f"{'  ' if i else ''}{text}" for i, text in enumerate(told)]
    return Text("\n".join(lines))


def _in_widths(table: Table, shown: Sequence[Column], widths: Sequence[int], left_out: Sequence[str]) -> RenderableType:
    """The columns that are ``shown``, each as wide as it is to be."""
    headings = [str(column.header) for column in shown]
    right = tuple(str(column.header) for column in shown if column.justify == "right")
    fitted = plain_table(*headings, right=right, title=None if table.title is None else str(table.title))
    for column, room in zip(fitted.columns, widths, strict=True):
        column.width = room
    for row in zip(*(column.cells for column in shown), strict=True):
        fitted.add_row(*row)
    if not left_out:
        return fitted
    return Group(fitted, Text(f"On a wider page: {'; '.join(left_out)}."))


def _widths(columns: Sequence[Column], room: int) -> list[int] | None:
    """How wide each column is to be so that together they take no more than ``room``: the widest give way first, none
    below what it needs. None: there is no room for what they need."""
    needed = [_needed(column) for column in columns]
    if sum(needed) > room:
        return None
    widths = [max(_longest_line(column), least) for column, least in zip(columns, needed, strict=True)]
    while sum(widths) > room:
        able = [i for i, least in enumerate(needed) if widths[i] > least]
        widths[max(able, key=widths.__getitem__)] -= 1
    return widths


def _needed(column: Column) -> int:
    """Columns of the page below which something of it that is read as one would be cut."""
    cells = [str(cell) for cell in column.cells]
    if column.no_wrap or column.justify == "right":
        least = max((len(cell) for cell in cells), default=0)
    else:
        least = max((min(WORD_MOST, _longest_word(cell)) for cell in cells), default=0)
    return max(least, _longest_word(str(column.header)))


def _longest_line(column: Column) -> int:
    texts = [str(column.header), *(str(cell) for cell in column.cells)]
    return max((len(line) for text in texts for line in text.splitlines()), default=0)


def _longest_word(text: str) -> int:
    return max((len(word) for word in text.split()), default=0)
