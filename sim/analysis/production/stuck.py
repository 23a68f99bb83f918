"""What is stuck at the end of a run: the cell, why, how to clear it, and what it holds up until then."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.analysis.production.floor import Contents
from sim.analysis.production.hall import Hall
from sim.analysis.production.lines import Ways, reached_from, ways_of
from sim.world.geometry import Cell, cell_text, step
from sim.world.items.furnace import FEED, FUEL, PRODUCT
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Node, Slot
from sim.world.signals.structure import read_container

Slots = tuple[Slot | None, ...]


@dataclass(frozen=True, slots=True)
class Stuck:
    """Something that nothing but a hand will move. ``what``: a word for its sort; ``text``: a sentence."""

    what: str
    at: Cell
    text: str


def stuck_in(hall: Hall, layout: Layout, contents: Contents) -> tuple[Stuck, ...]:
    """Everything that is stuck. ``layout``: the hall as it stands now (a furnace may be gone)."""
    found: list[Stuck] = []
    ways = ways_of(layout)
    for part in layout.containers:
        match part:
            case Furnace():
                found += _furnace(hall, layout, part.at, contents)
            case Node():
                found += _node(hall, layout, ways, part, contents)
            case Bin():
                found += _bin(hall, part.at, contents[part.at])
                found += _dry(hall, part.at, contents)
    return tuple(found)


def _furnace(hall: Hall, layout: Layout, cell: Cell, contents: Contents) -> Iterator[Stuck]:
    feed, fuel, product = (contents[cell][slot] for slot in (FEED, FUEL, PRODUCT))
    at = cell_text(cell)
    if feed is not None and not hall.fires(feed[0]):
        text = (f"{feed[0]} in the feed slot of the furnace at {at}: take it out by hand; until then that furnace "
                f"fires nothing{_kept_by(layout, cell, contents)}")
        yield Stuck("foreign feed", cell, text)
    if fuel is not None and not hall.burn(fuel[0]):
        text = f"{fuel[0]} in the fuel slot of the furnace at {at}: take it out by hand; until then it lights no fire"
        yield Stuck("foreign fuel", cell, text)
    if product is not None and product[1] >= _limit(hall, product[0]):
        below = layout.by_cell.get(step(cell, "D"))
        way = ("empty the bin at the end of its product line" if isinstance(below, Node)
               else "put a node below the furnace, or take it out by hand")
        text = (f"{product[1]} {product[0]} fill the product slot of the furnace at {at}: {way}; until then it fires "
                "nothing")
        yield Stuck("full of product", cell, text)


def _kept_by(layout: Layout, furnace: Cell, contents: Contents) -> str:
    """``, and the node at 4,1,2 keeps 320 clay``: what waits in the node that feeds it."""
    above = layout.by_cell.get(step(furnace, "U"))
    if not isinstance(above, Node) or above.outlet != "D" or not any(contents[above.at]):
        return ""
    return f", and the node at {cell_text(above.at)} keeps {held(contents[above.at])}"


def _node(hall: Hall, layout: Layout, ways: Ways, node: Node, contents: Contents) -> Iterator[Stuck]:
    """Items that no way from here leads out for: the target is none, or refuses the kind whatever it holds."""
    slots = contents[node.at]
    if not any(slots):
        return
    at, target = cell_text(node.at), layout.by_cell.get(step(node.at, node.outlet))
    if not ways[node.at]:
        where = f"the {target.kind} at" if target is not None else "the empty cell"
        before = step(node.at, node.outlet)
        cure = "put the furnace back" if before in hall.furnaces else "put a container there"
        text = (f"{held(slots)} in the node at {at}: it pushes into {where} {cell_text(before)}; "
                f"{cure}, or take out what the node holds by hand{_read_by(layout, node.at)}")
        yield Stuck("no way on", node.at, text)
        return
    for kind in dict.fromkeys(slot[0] for slot in slots if slot is not None):
        why = _refused(hall, layout, ways, node, kind)
        if why and (len(ways[node.at]) == 1 or not isinstance(target, Furnace)):
            text = f"{kind} in the node at {at}: {why}; take it out by hand; until then it takes up a slot there"
            yield Stuck("refused", node.at, text + _read_by(layout, node.at))


def _refused(hall: Hall, layout: Layout, ways: Ways, node: Node, kind: str) -> str:
    """Why the kind can never be of use where this node leads; empty when it can."""
    target = layout.by_cell.get(step(node.at, node.outlet))
    if not isinstance(target, Furnace):
        return _strays(hall, layout, ways, node, kind)
    if node.outlet == "D":
        return "" if hall.fires(kind) else f"the furnace at {cell_text(target.at)} does not fire it"
    return "" if hall.burn(kind) else f"the furnace at {cell_text(target.at)} does not burn it"


def _strays(hall: Hall, layout: Layout, ways: Ways, node: Node, kind: str) -> str:
    """A foreign item on its way through a row."""
    ends = reached_from(ways, [node.at], hall.furnaces)
    known = {inlet.stream.item for inlet in hall.inlets} | ({hall.product} - {None})
    if kind in known or any(isinstance(layout.by_cell[cell], Bin) for cell in ends):
        return ""
    return "nothing that it can come to has a use for it"


def _read_by(layout: Layout, cell: Cell) -> str:
    """Gauges that read the container, whose signals it keeps up."""
    gauges = [
        cell_text(part.at)
        for part in layout.parts
        if isinstance(part, Gauge) and read_container(layout.by_cell, part) == cell
    ]
    return f"; the gauge at {' and '.join(gauges)} reads it" if gauges else ""


def _bin(hall: Hall, cell: Cell, slots: Slots) -> Iterator[Stuck]:
    at = cell_text(cell)
    if cell in hall.product_bins and all(slot is not None and slot[1] >= _limit(hall, slot[0]) for slot in slots):
        text = f"{held(slots)} fill the product bin at {at}: empty it; until then its product lines fill up behind it"
        yield Stuck("full bin", cell, text)
    for inlet in hall.inlets:
        if inlet.source != cell or inlet.role == "other":
            continue
        for kind in dict.fromkeys(slot[0] for slot in slots if slot is not None):
            if not (hall.fires(kind) if inlet.role == "feed" else hall.burn(kind)):
                yield Stuck("foreign item", cell, f"{kind} in the {inlet.role} source at {at}: take it out by hand; "
                            "until then it goes in when its slot comes up")


def _dry(hall: Hall, cell: Cell, contents: Contents) -> Iterator[Stuck]:
    """A source with nothing in it, while furnaces of its stream have nothing of their own left."""
    for inlet in hall.inlets:
        if inlet.source != cell or any(contents[cell]) or inlet.role == "other":
            continue
        slot = FEED if inlet.role == "feed" else FUEL
        there = [out for out in inlet.stream.outputs if out in contents and out in hall.furnaces]
        dry = [cell_text(out) for out in there if contents[out][slot] is None]
        if dry:
            text = (f"no {inlet.stream.item} in the {inlet.role} source at {cell_text(cell)}: put some in; until then "
                    f"there is no {inlet.role} in {' and '.join(dry)}")
            yield Stuck(f"no {inlet.role}", cell, text)


def held(slots: Slots) -> str:
    """``320 clay and 1 sand``."""
    counts: dict[str, int] = {}
    for slot in slots:
        if slot is not None:
            counts[slot[0]] = counts.get(slot[0], 0) + slot[1]
    return " and ".join(f"{count} {kind}" for kind, count in counts.items())


def _limit(hall: Hall, kind: str) -> int:
    return hall.layout.stack_limit(hall.rules)(kind)
