"""``splitwright-plan/1``, written: what ``plan`` reads back as the same layout (formats, "Plan")."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from math import prod
from typing import Final

from sim.world.files.plan_cells import EMPTY, code_of
from sim.world.files.plan_words import PLAN_FORMAT, written, written_title
from sim.world.geometry import Cell, cell_text
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Holds, Node, Part

KEYWORD_WIDTH: Final = 6
LINE_WIDTH: Final = 100
ALIGNED_MOST: Final = 1_000_000
"""Cells of the largest plan that is drawn in columns; a larger one would only be blanks."""


def layout_to_plan(layout: Layout) -> str:
    """The plan of a layout, without loss. Linear in the site's volume."""
    lines = [PLAN_FORMAT, *_head(layout)]
    for z, rows in enumerate(layer_rows(layout)):
        lines += ["", f"layer {z}", *rows]
    return "\n".join(lines) + "\n"


def layer_rows(
    layout: Layout, gap: int = 2, code: Callable[[Part], str] = code_of, taken: Collection[Cell] = (), sign: str = EMPTY
) -> Iterator[list[str]]:
    """The rows of each layer from the ground up, the northmost first; all columns of all layers are one width.

    ``gap``: blanks after the longest code, at least 1. ``code``: what stands for a part; ``sign``: what stands for
    cells in ``taken`` where no part is (a picture; a plan file knows neither).
    """
    width, depth, height = layout.size
    codes: dict[tuple[int, int], dict[int, str]] = {}
    for x, y, z in taken:
        codes.setdefault((y, z), {})[x] = sign
    for part in layout.parts:
        codes.setdefault((part.at[1], part.at[2]), {})[part.at[0]] = code(part)
    longest = max((len(code) for row in codes.values() for code in row.values()), default=1)
    column = longest + gap if prod(layout.size) <= ALIGNED_MOST else 2
    empty = (EMPTY.ljust(column) * width).rstrip()
    for z in range(height):
        rows = (codes.get((y, z)) for y in reversed(range(depth)))
        yield [_row(row, width, column) if row else empty for row in rows]


def _row(codes: dict[int, str], width: int, column: int) -> str:
    return " ".join(codes.get(x, EMPTY).ljust(column - 1) for x in range(width)).rstrip()


def _head(layout: Layout) -> Iterator[str]:
    if layout.title:
        yield _line("title", written_title(layout.title))
    names = [written(name) for name in layout.items]
    longest = max(map(len, names), default=0)
    for name, item in zip(names, layout.items.values(), strict=True):
        yield _line("item", f"{name.ljust(longest)}{_item(item)}").rstrip()
    yield from (_line("stream", _stream(stream)) for stream in layout.streams)
    for part in layout.parts:
        if isinstance(part, (Bin, Node, Furnace)) and part.holds:
            yield _line("holds", f"{cell_text(part.at)} {_holds(part.holds)}")
    yield from (_line("rule", f"{name} {value}") for name, value in layout.rules.items())
    yield from _order(layout)


def _line(keyword: str, text: str) -> str:
    return f"{keyword.ljust(KEYWORD_WIDTH)} {text}"


def _item(item: ItemKind) -> str:
    text = "" if item.stack is None else f" stack {item.stack}"
    if item.fires_to is not None:
        text += f" fires-to {written(item.fires_to)}"
    return f"{text} burn {item.burn}" if item.burn else text


def _stream(stream: Stream) -> str:
    outputs = " ".join(map(cell_text, stream.outputs))
    return f"{written(stream.name)} {written(stream.item)} from {cell_text(stream.source)} to {outputs}"


def _holds(holds: Holds) -> str:
    """Kinds followed by their counts; the kind is said again only where it changes."""
    words: list[str] = []
    said: str | None = None
    for slot in holds:
        if slot is None:
            words.append(EMPTY)
            continue
        kind, count = slot
        words += [str(count)] if kind == said else [written(kind), str(count)]
        said = kind
    return " ".join(words)


def _order(layout: Layout) -> Iterator[str]:
    """``order`` lines where the parts are not in reading order: the fewest first cells that leave the rest in it."""
    cells = [part.at for part in layout.parts]
    listed = len(cells)
    while listed and (listed == len(cells) or reading_key(cells[listed - 1]) < reading_key(cells[listed])):
        listed -= 1
    text = ""
    for word in map(cell_text, cells[:listed]):
        if text and len(text) + 1 + len(word) > LINE_WIDTH - KEYWORD_WIDTH - 1:
            yield _line("order", text)
            text = ""
        text = f"{text} {word}" if text else word
    if text:
        yield _line("order", text)


def reading_key(cell: Cell) -> tuple[int, int, int]:
    """Sorts cells as a plan is read: layers from the ground up, rows from the north, west to east."""
    return cell[2], -cell[1], cell[0]
