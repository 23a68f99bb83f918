"""A site as a builder types it: a few layers of signs for what stands there already."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from sim.errors import InputError
from sim.world.files.places import counted, printable, shown
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node

FREE: Final = "."
KILN: Final = "F"
BIN: Final = "B"
TAKEN: Final = "x"
SIGNS: Final = f"{FREE} free, {KILN} a kiln, {BIN} its bin, {TAKEN} anything else"
_HEADING: Final = re.compile(r"layer\s+(\d+)", re.IGNORECASE)
Size = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands on a site: kilns in reading order, its one bin (None: it is free), other cells that are taken, and
    those of the nodes and wiring of a build that splits there, which another build takes the place of."""

    kilns: tuple[Cell, ...] = ()
    bin: Cell | None = None
    taken: frozenset[Cell] = frozenset()
    wiring: frozenset[Cell] = frozenset()


def standing_in(text: str, size: Size) -> Standing:
    """What a picture shows: ``layer 0``, then its rows, the northmost first; a line or a slash ends a row, and blanks
    between signs are free. Layers that are left out are empty. Raises InputError that says what is wrong with it."""
    found: dict[str, list[Cell]] = {KILN: [], BIN: [], TAKEN: []}
    for z, rows in _layers([row.strip() for row in re.split(r"[\n/]", text) if row.strip()], size).items():
        for y, row in zip(reversed(range(size[1])), rows, strict=True):
            for x, sign in enumerate(row):
                if sign != FREE:
                    found[sign].append((x, y, z))
    if len(found[BIN]) > 1:
        raise InputError(f"shows {len(found[BIN])} bins; one is the source, draw the others as {TAKEN}")
    return Standing(tuple(found[KILN]), next(iter(found[BIN]), None), frozenset(found[TAKEN]))


def _layers(rows: list[str], size: Size) -> dict[int, list[str]]:
    """Rows by layer, each as wide and each layer as deep as the site."""
    width, depth, height = size
    layers: dict[int, list[str]] = {}
    here = 0
    for row in rows:
        if heading := _HEADING.fullmatch(row):
            here = int(heading[1])
            if here >= height or here in layers:
                raise InputError(
                    f"layer {here}: " + ("is there twice" if here in layers else f"the site has 0 to {height - 1}")
                )
            layers[here] = []
            continue
        signs = "".join(row.split()).replace("X", TAKEN).replace("#", TAKEN)
        layers.setdefault(here, []).append(signs)
        if wrong := next((sign for sign in signs if sign not in FREE + KILN + BIN + TAKEN), None):
            raise InputError(f"layer {here}: {shown(wrong)} is no sign; there are {SIGNS}")
        if len(signs) != width:
            raise InputError(f"layer {here}: a row has {len(signs)} cells, the site {width} from west to east")
    for z, drawn in layers.items():
        if len(drawn) != depth:
            fault = f"has {counted(len(drawn), 'row')}; the site is {depth} deep: give {counted(depth, 'row')}"
            raise InputError(f"layer {z}: {fault}")
    return layers


def standing_on(layout: Layout) -> Standing:
    """What stands on the site of a layout: its kilns, in the order of its stream where it has one; the bin of that
    stream, or the only one; every other part as a cell that is taken, or, where it has a stream and nodes, as one of
    its wiring, bins apart."""
    stream = next(iter(layout.streams), None)
    kilns = tuple(part.at for part in layout.parts if isinstance(part, Furnace))
    if stream is not None and set(stream.outputs) <= set(kilns):
        kilns = (*stream.outputs, *(cell for cell in kilns if cell not in stream.outputs))
    bins = [part.at for part in layout.parts if isinstance(part, Bin)]
    source = stream.source if stream is not None and stream.source in bins else bins[0] if len(bins) == 1 else None
    others = frozenset(part.at for part in layout.parts) - {*kilns, source}
    if stream is None or not any(isinstance(part, Node) for part in layout.parts):
        return Standing(kilns, source, others)
    return Standing(kilns, source, others & frozenset(bins), others - frozenset(bins))


def in_words(standing: Standing) -> str:
    """``kilns at 1,0,0 2,0,0; bin at 0,0,3; nodes and wiring: 31 cells; cells taken: 4``."""
    told = [f"kilns at {' '.join(map(cell_text, standing.kilns))}"] if standing.kilns else []
    told += [f"bin at {cell_text(standing.bin)}"] if standing.bin else []
    told += [f"nodes and wiring: {counted(len(standing.wiring), 'cell')}"] if standing.wiring else []
    told += [f"cells taken: {len(standing.taken)}"] if standing.taken else []
    return printable("; ".join(told) or "nothing")
