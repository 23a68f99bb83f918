"""Layers of a layout side by side, as plain text, and the legend of the codes in them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import zip_longest
from typing import Final

from sim.world.files.plan_cells import CODES, EMPTY, code_of
from sim.world.files.plan_writer import layer_rows
from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Node, Part, Relay

GAP: Final = "  |  "
TO_FILL: Final = "!"
"""Stands behind the code of what starts with items in it, and so must be filled before the first load."""
TAKEN: Final = "x"
"""Stands for a cell that the spec says is taken."""
DIRECTION_NAMES: Final[dict[Direction, str]] = {
    "E": "east",
    "W": "west",
    "N": "north",
    "S": "south",
    "U": "up",
    "D": "down",
}


def layers_side_by_side(layout: Layout, width: int | None = None, blocked: Collection[Cell] = ()) -> list[str]:
    """The layers from the ground up, each under its heading, as many beside each other as ``width`` columns hold.

    ``None``: all of them. A layer wider than ``width`` stands alone and is not cut. North is at the top.
    ``blocked``: cells of the site that are taken.
    """
    lines: list[str] = []
    for band in _bands(list(_blocks(layout, blocked)), width):
        if lines:
            lines.append("")
        lines += _beside(band)
    return lines


def legend(layout: Layout, blocked: Collection[Cell] = ()) -> list[str]:
    """A line for each code that occurs in the picture: the code and what it means."""
    occurring = {code_of(part) for part in layout.parts}
    lines = [(code, meaning(model)) for code, model in CODES.items() if code in occurring]
    free = [cell for cell in blocked if cell not in layout.by_cell]
    if free:
        lines.insert(0, (TAKEN, "taken (blocked in the spec)"))
    if len(layout.parts) + len(free) < layout.size[0] * layout.size[1] * layout.size[2]:
        lines.insert(0, (EMPTY, "empty"))
    if any(is_to_fill(part) for part in layout.parts):
        lines.append((TO_FILL, "after a sign: fill it before the first load"))
    return [f"{code:<3}  {text}" for code, text in lines]


def is_to_fill(part: Part) -> bool:
    """It starts with items in it."""
    return isinstance(part, (Bin, Node, Furnace)) and any(slot is not None for slot in part.holds)


def _shown(part: Part) -> str:
    return code_of(part) + (TO_FILL if is_to_fill(part) else "")


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


def _blocks(layout: Layout, blocked: Collection[Cell]) -> Iterator[list[str]]:
    for z, rows in enumerate(layer_rows(layout, 1, _shown, blocked, TAKEN)):
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
