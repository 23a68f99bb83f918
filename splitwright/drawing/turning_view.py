"""The view that turns: four corners that show without a script, and what ``turning.js`` needs to draw any angle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from sim.world.geometry import HORIZONTAL
from sim.world.layout import Layout
from splitwright.drawing.axonometry import CORNERS, Corner, axonometry, band, corner_name
from splitwright.drawing.blocks import Block, block_of
from splitwright.drawing.svg import markup
from splitwright.page.embedding import json_text
from splitwright.words import Words


@dataclass(frozen=True)
class TurningView:
    """``corners``: each with its name and its picture; ``bands``: names of what can be hidden, from the ground up;
    ``data``: JSON that may stand in a script element."""

    corners: tuple[tuple[Corner, str, Markup], ...]
    bands: tuple[str, ...]
    data: Markup


def turning_view(layout: Layout, words: Words) -> TurningView:
    """All that the template ``view.html.j2`` shows."""
    return TurningView(
        tuple((corner, corner_name(corner, words), markup(axonometry(layout, words, corner))) for corner in CORNERS),
        tuple(_bands(layout, words)),
        Markup(json_text(view_data(layout, words))),
    )


def view_data(layout: Layout, words: Words) -> dict[str, Any]:
    """Shapes, and for each part its shape, cell and band. Lengths in cells, about the middle of a cell's floor."""
    shapes: dict[tuple[str, Block], int] = {}
    parts = []
    for part in layout.parts:
        shape = shapes.setdefault((part.kind, block_of(part, layout.by_cell)), len(shapes))
        parts.append([shape, *part.at])
    return {
        "size": layout.size,
        "bands": [band(layout, z) for z in range(layout.size[2])],
        "letters": {side: words.letter(side) for side in HORIZONTAL},
        "title": words.text("drawing.turned_title"),
        "shapes": [_shape(kind, block) for kind, block in shapes],
        "parts": parts,
    }


def _shape(kind: str, block: Block) -> dict[str, Any]:
    def marks(of: tuple[Any, ...]) -> list[Any]:
        return [[mark.name, mark.closed, mark.points] for mark in of]

    return {"kind": kind, "low": block.low, "high": block.high, "top": marks(block.top), "side": marks(block.side)}


def _bands(layout: Layout, words: Words) -> list[str]:
    found: dict[int, list[int]] = {}
    for z in range(layout.size[2]):
        found.setdefault(band(layout, z), []).append(z)
    return [
        words.text("drawing.layer", layer=layers[0])
        if len(layers) == 1
        else words.text("drawing.layers", first=layers[0], last=layers[-1])
        for layers in found.values()
    ]
