"""Layers of a layout side by side, as plain text, and the legend of the codes in them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from typing import Final

from sim.files.plan_cells import CODES, EMPTY, code_of
from sim.files.plan_writer import layer_rows
from sim.geometry import Direction
from sim.layout import Layout
from sim.parts import Bin, Gauge, Inverter, Node, Part, Relay

GAP: Final = "  |  "
DIRECTION_NAMES: Final[dict[Direction, str]] = {
    "E": "east",
    "W": "west",
    "N": "north",
    "S": "south",
    "U": "up",
    "D": "down",
}


def layers_side_by_side(layout: Layout, width: int | None = None) -> list[str]:
    """The layers from the ground up, each under its heading, as many beside each other as ``width`` columns hold.

    ``None``: all of them. A layer wider than ``width`` stands alone and is not cut. North is at the top.
    """
    lines: list[str] = []
    for band in _bands(list(_blocks(layout)), width):
        if lines:
            lines.append("")
        lines += _beside(band)
    return lines


def legend(layout: Layout) -> list[str]:
    """A line for each code that occurs in the picture: the code and what it means."""
    occurring = {code_of(part) for part in layout.parts}
    lines = [(code, meaning(model)) for code, model in CODES.items() if code in occurring]
    if len(layout.parts) < layout.size[0] * layout.size[1] * layout.size[2]:
        lines.insert(0, (EMPTY, "empty"))
    return [f"{code:<3}  {text}" for code, text in lines]


def meaning(part: Part) -> str:
    """What a code stands for: ``node, outlet east``."""
    if isinstance(part, Node):
        return f"node, outlet {DIRECTION_NAMES[part.outlet]}"
    if isinstance(part, Inverter):
        return f"inverter, mounted {DIRECTION_NAMES[part.mount]}"
    if isinstance(part, Relay):
        return f"relay, delay {part.delay}, output {DIRECTION_NAMES[part.output]}"
    if isinstance(part, Gauge):
        return f"gauge, output {DIRECTION_NAMES[part.output]}"
    if isinstance(part, Bin) and part.finish != "plain":
        return f"bin, {part.finish}"
    return {"line": "signal line"}.get(part.kind, part.kind)


def _blocks(layout: Layout) -> Iterator[list[str]]:
    for z, rows in enumerate(layer_rows(layout, gap=1)):
        yield [f"layer {z} (ground)" if z == 0 else f"layer {z}", *rows]


def _bands(blocks: list[list[str]], width: int | None) -> Iterator[list[list[str]]]:
    """Blocks that go beside each other."""
    band: list[list[str]] = []
    filled = 0
    for block in blocks:
        columns = _columns(block)
        if band and width is not None and filled + len(GAP) + columns > width:
            yield band
            band, filled = [], 0
        filled += columns + (len(GAP) if band else 0)
        band.append(block)
    if band:
        yield band


def _beside(band: list[list[str]]) -> Iterator[str]:
    widths = [_columns(block) for block in band]
    for row in zip_longest(*band, fillvalue=""):
        yield GAP.join(text.ljust(columns) for text, columns in zip(row, widths, strict=True)).rstrip()


def _columns(block: list[str]) -> int:
    return max(map(len, block))
