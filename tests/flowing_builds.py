"""Random small builds in which items may flow on from where they are delivered, into whatever stands there.

Every source has a way of nodes that ends in a bin or a furnace; more such ways begin below bins and furnaces, and lead
to free cells or into what is there already. Now and then a gauge reads a container and locks what is beside it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace

from sim.world.geometry import HORIZONTAL, Cell, Direction, step
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import OUTLETS, Bin, Furnace, Gauge, Node, Part, Relay, Support

SIZE = (4, 2, 4)


def random_build(rng: random.Random) -> Layout | None:
    """A layout of one to three streams, often of clay to the same outputs; None where there is no room for one."""
    site = Site(rng)
    sources = [cell for _ in range(rng.choice((1, 2, 2, 3))) if (cell := site.source()) is not None]
    for _ in range(rng.randint(0, 3)):
        site.way_below(sources)
    if rng.random() < 0.4:
        site.gauge()
    site.fill(sources)
    ends = [cell for cell in site.parts if cell not in sources and site.may_be_output(cell)]
    if not ends or not sources:
        return None
    shared = tuple(rng.sample(ends, min(len(ends), 2)))
    alike = rng.random() < 0.6
    streams = [
        Stream(f"s{i}", "clay", source, shared)
        if alike
        else Stream(f"s{i}", rng.choice(("clay", "clay", "brick")), source, tuple(rng.sample(ends, 1)) if i else shared)
        for i, source in enumerate(sources)
    ]
    parts = list(site.parts.values())
    rng.shuffle(parts)
    return Layout("random", SIZE, _items(rng), tuple(parts), tuple(streams), _rules(rng))


def _items(rng: random.Random) -> dict[str, ItemKind]:
    fires_to = rng.choice((None, "brick", "brick", "clay"))
    return {
        "clay": ItemKind(rng.choice((2, 3, 4)), fires_to),
        "charcoal": ItemKind(4, None, rng.choice((5, 40))),
        "brick": ItemKind(rng.choice((2, 4, 8))),
    }


def _rules(rng: random.Random) -> dict[str, int]:
    choices = {"bin_slots": (2, 4, 6), "node_slots": (1, 1, 2, 5), "firing": (2, 10), "period": (2, 8, 8),
               "handover": (2, 7, 8)}  # fmt: skip
    return {name: rng.choice(values) for name, values in choices.items()}


@dataclass
class Site:
    """A build in the making."""

    rng: random.Random
    parts: dict[Cell, Part] = field(default_factory=dict)

    def is_inside(self, cell: Cell) -> bool:
        return all(0 <= place < limit for place, limit in zip(cell, SIZE, strict=True))

    def is_free(self, cell: Cell) -> bool:
        return self.is_inside(cell) and cell not in self.parts

    def source(self) -> Cell | None:
        """A bin with a way below it; its cell."""
        width, depth, height = SIZE
        cells = [(x, y, z) for x in range(width) for y in range(depth) for z in range(2, height)]
        free = [cell for cell in cells if self.is_free(cell) and self.is_free(step(cell, "D"))]
        free = [cell for cell in free if step(cell, "U") not in self.parts]
        if not free:
            return None
        cell = self.rng.choice(free)
        self.parts[cell] = Bin(cell)
        self.way(step(cell, "D"))
        return cell

    def way_below(self, sources: list[Cell]) -> None:
        """A way that begins below some bin or furnace."""
        stores = [c for c, part in self.parts.items() if isinstance(part, (Bin, Furnace)) and c not in sources]
        below = [step(cell, "D") for cell in stores if self.is_free(step(cell, "D"))]
        if below:
            self.way(self.rng.choice(below))

    def way(self, cell: Cell) -> None:
        """Up to three nodes, then a bin or a furnace; it ends where it runs into something."""
        rng = self.rng
        for _ in range(rng.randint(1, 3)):
            if not self.is_free(cell):
                return
            free = [way for way in OUTLETS if self.is_free(step(cell, way))]
            into = [way for way in OUTLETS if isinstance(self.parts.get(step(cell, way)), (Bin, Node, Furnace))]
            outlet: Direction = rng.choice(into if into and (not free or rng.random() < 0.35) else free or OUTLETS)
            self.parts[cell] = Node(cell, outlet)
            cell = step(cell, outlet)
        if self.is_free(cell):
            self.parts[cell] = rng.choice((Bin(cell), Bin(cell), Furnace(cell)))

    def gauge(self) -> None:
        """A gauge that reads a container, and a support or a relay in front of it."""
        read, toward = self.rng.choice(list(self.parts)), self.rng.choice(HORIZONTAL)
        cell, front = step(read, toward), step(step(read, toward), toward)
        if self.is_free(cell) and self.is_free(front):
            self.parts[cell] = Gauge(cell, toward)
            self.parts[front] = self.rng.choice((Support(front), Relay(front, toward)))
            for below in (step(cell, "D"), step(front, "D")):
                if self.is_free(below):
                    self.parts[below] = Support(below)

    def fill(self, sources: list[Cell]) -> None:
        """Fuel in most furnaces, now and then something in a bin or a node."""
        for cell, part in list(self.parts.items()):
            if isinstance(part, Furnace) and self.rng.random() < 0.7:
                self.parts[cell] = replace(part, holds=(None, ("charcoal", self.rng.randint(1, 4))))
            elif isinstance(part, (Bin, Node)) and cell not in sources and self.rng.random() < 0.06:
                self.parts[cell] = replace(part, holds=((self.rng.choice(("clay", "brick")), self.rng.randint(1, 2)),))

    def may_be_output(self, cell: Cell) -> bool:
        """Bins and furnaces, and now and then a node."""
        part = self.parts[cell]
        return isinstance(part, (Bin, Furnace)) or (isinstance(part, Node) and self.rng.random() < 0.1)
