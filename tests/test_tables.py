"""Tables on a page of any width: nothing that is read as one is broken, and what is left out is named."""

from __future__ import annotations

from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from splitwright.cli.tables import WORD_MOST, fitting, plain_table

WORDS = st.lists(st.text("abcdefgh-,", min_size=1, max_size=WORD_MOST), min_size=1, max_size=6).map(" ".join)


def printed(columns: list[str], rows: list[list[str]], width: int, **look: tuple[str, ...]) -> str:
    table = plain_table(*columns, **look)  # type: ignore[arg-type]
    for row in rows:
        table.add_row(*row)
    file = StringIO()
    Console(file=file, width=width, highlight=False, markup=False).print(fitting(table, width))
    return file.getvalue()


@given(st.data(), st.integers(2, 12), st.integers(24, 160))
def test_no_word_is_broken_and_no_line_too_long(data: st.DataObject, count: int, width: int) -> None:
    rows = data.draw(st.lists(st.lists(WORDS, min_size=count, max_size=count), min_size=1, max_size=3))
    columns = [f"heading{i}" for i in range(count)]
    text = printed(columns, rows, width)
    assert max(map(len, text.splitlines())) <= width
    if ": " not in text:  # a short list for each row is wrapped as text is
        told = text.split()
        assert [word for row in rows for cell in row for word in cell.split() if word not in told] == []
        assert all(column in told for column in columns)


def test_spare_columns_go_one_by_one_and_are_named() -> None:
    columns, rows = ["rank", "box", "first, ticks", "wiring"], [["1", "4 x 3 x 4", "37", "15"]]
    look = {"right": ("rank", "first, ticks", "wiring"), "whole": ("box",), "spare": ("wiring", "first, ticks")}
    assert "On a wider page" not in printed(columns, rows, 40, **look)
    assert "On a wider page: wiring." in printed(columns, rows, 28, **look)
    assert "On a wider page: wiring; first, ticks." in " ".join(printed(columns, rows, 16, **look).split())
    assert printed(columns, rows, 12, **look).startswith("rank: 1\n  box: 4 x 3")


@pytest.mark.parametrize("width", [24, 40, 200])
def test_numbers_are_never_cut(width: int) -> None:
    text = printed(
        ["incident", "products an hour"], [["foreign-item-fuel", "12,345,678"]], width, right=("products an hour",)
    )
    assert "12,345,678" in text
    assert "foreign-item-fuel" in text
