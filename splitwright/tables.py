"""The one look of all tables."""

from __future__ import annotations

from typing import Literal

from rich import box
from rich.table import Table


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
        table.add_column(column, justify=justify, overflow="fold", no_wrap=column in whole)
    return table
