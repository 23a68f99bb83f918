"""Random valid layouts and cases for differential testing, and what share of them does something.

`python -m oracle.random_builds [CASES] [SEED]`, with `tests` on the path, plays cases on the naive simulator and prints
the shares.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from oracle.naive import (
    CONTAINERS,
    CROSSWAYS,
    HORIZONTAL,
    OPPOSITE,
    RULES,
    Cell,
    Document,
    World,
    beside,
    kind_at,
    play,
)

MOUNTS = (*HORIZONTAL, "D")
OUTLETS = (*HORIZONTAL, "D")
SOURCES_OF_SIGNAL = ("line", "relay", "gauge", "inverter")


def random_size(rng: random.Random) -> tuple[int, int, int]:
    """Mostly up to 5×4×4, sometimes tiny."""
    if rng.random() < 0.15:
        return (rng.randint(1, 3), rng.randint(1, 2), rng.randint(1, 3))
    if rng.random() < 0.15:
        return (rng.randint(2, 5), rng.randint(1, 2), rng.randint(2, 4))
    return (rng.randint(3, 5), rng.randint(3, 4), rng.randint(3, 4))


def random_items(rng: random.Random) -> Document:
    """Kinds of the brickyard: one that fires, one that burns, one that does nothing, one that does both."""
    items: Document = {
        "clay": {"stack": rng.choice([64, 64, 16, 4, 2, 1, 1]), "fires_to": "brick"},
        "charcoal": {"stack": rng.choice([64, 16, 2, 1]), "burn": rng.choice([1600, 50, 50, 20, 7, 1])},
        "brick": {"stack": rng.choice([64, 16, 2, 1])},
    }
    if rng.random() < 0.6:
        items["sand"] = {"stack": rng.choice([64, 16, 2, 1])}
    if rng.random() < 0.4:
        items["peat"] = {"stack": rng.choice([16, 4]), "burn": rng.choice([10, 30]), "fires_to": "charcoal"}
    if rng.random() < 0.2:
        items["loam"] = {"fires_to": "clay"}
    if rng.random() < 0.1:
        del items["brick"]  # a kind that is made but not listed
    for facts in items.values():
        if rng.random() < 0.1:
            facts.pop("stack", None)
    return items


def random_rules(rng: random.Random) -> dict[str, int]:
    """Overrides: none in a third of the layouts, else a few."""
    rules: dict[str, int] = {}
    if rng.random() < 0.65:
        choices: dict[str, tuple[float, list[int]]] = {
            "firing": (0.6, [20, 10, 5, 3, 1]),
            "bin_slots": (0.5, [2, 3, 5, 8]),
            "node_slots": (0.25, [1, 2, 3]),
            "stack": (0.2, [1, 2, 4, 16]),
            "period": (0.3, [1, 2, 3, 4, 5, 11]),
            "handover": (0.35, [7, 7, 1, 2, 3, 12]),
            "relay_step": (0.2, [1, 3]),
            "inverter_delay": (0.15, [1, 3, 4]),
            "gauge_delay": (0.15, [1, 3, 5]),
            "reach": (0.15, [1, 2, 3, 7, 20]),
            "overheat_count": (0.15, [1, 2, 3]),
            "overheat_window": (0.15, [4, 20, 30]),
        }
        rules = {name: rng.choice(values) for name, (chance, values) in choices.items() if rng.random() < chance}
    return rules


@dataclass
class Site:
    """A build in the making: the parts by cell."""

    rng: random.Random
    size: tuple[int, int, int]
    unsupported: float
    parts: dict[Cell, Document] = field(default_factory=dict)

    def inside(self, cell: Cell) -> bool:
        return all(0 <= place < limit for place, limit in zip(cell, self.size, strict=True))

    def is_free(self, cell: Cell) -> bool:
        return self.inside(cell) and cell not in self.parts

    def free_cells(self) -> list[Cell]:
        width, depth, height = self.size
        cells = [(x, y, z) for x in range(width) for y in range(depth) for z in range(height)]
        return [cell for cell in cells if cell not in self.parts]

    def kind(self, cell: Cell) -> str:
        return kind_at(self.parts, cell)

    def is_solid(self, cell: Cell) -> bool:
        return self.kind(cell) in ("support", "furnace")

    def add(self, kind: str, cell: Cell, **attributes: Any) -> bool:
        """Put a part into a free cell; False where it is not free."""
        if not self.is_free(cell):
            return False
        self.parts[cell] = {"kind": kind, "at": list(cell), **attributes}
        return True

    def add_on_support(self, kind: str, cell: Cell, **attributes: Any) -> bool:
        """The same for a part that needs a solid cell below, which is made if it can be; now and then it is not."""
        below = beside(cell, "D")
        if not self.is_free(cell):
            return False
        if not self.is_solid(below) and self.rng.random() >= self.unsupported and not self.add("support", below):
            return False
        return self.add(kind, cell, **attributes)

    def cells_of(self, *kinds: str) -> list[Cell]:
        return [cell for cell, part in self.parts.items() if part["kind"] in kinds]

    def relay_delay(self) -> int:
        return self.rng.choice([1, 1, 2, 3, 4, 4])

    # ---- what carries the items

    def row_of_nodes(self) -> None:
        """A bin, a node below it, and a chain of nodes that bends at will and ends in a container or in nothing."""
        rng = self.rng
        starts = [cell for cell in self.free_cells() if cell[2] >= 1 and self.is_free(beside(cell, "D"))]
        if not starts:
            return
        cell = rng.choice(starts)
        self.add("bin", cell)
        cell = beside(cell, "D")
        for _ in range(rng.randint(1, 5)):
            outlets = [side for side in OUTLETS if self.is_free(beside(cell, side))]
            outlet = rng.choice(outlets) if outlets else rng.choice(OUTLETS)
            self.add("node", cell, outlet=outlet)
            if rng.random() < 0.4:
                self.branch(beside(cell, "D"))
            cell = beside(cell, outlet)
            if not self.is_free(cell):
                return
        self.add(rng.choice(CONTAINERS[::2]), cell)

    def branch(self, cell: Cell) -> None:
        """A node in that cell, with a target where it leads."""
        if not self.is_free(cell):
            return
        outlets = [side for side in OUTLETS if self.is_free(beside(cell, side))]
        outlet = self.rng.choice(outlets) if outlets else self.rng.choice(OUTLETS)
        self.add("node", cell, outlet=outlet)
        self.add(self.rng.choice(["furnace", "bin", "node"]), beside(cell, outlet), outlet=self.rng.choice(OUTLETS))
        target = self.parts.get(beside(cell, outlet))
        if target is not None and target["kind"] != "node":
            target.pop("outlet", None)

    def kiln_with_nodes(self) -> None:
        """A furnace with a node above, one at a side that brings fuel, and one below, as far as there is room."""
        cells = self.free_cells()
        if not cells:
            return
        cell = self.rng.choice(cells)
        self.add("furnace", cell)
        self.add("node", beside(cell, "U"), outlet="D")
        self.add("bin", beside(beside(cell, "U"), "U"))
        if self.rng.random() < 0.7:
            self.add("node", beside(cell, "D"), outlet=self.rng.choice(OUTLETS))
        if self.rng.random() < 0.5:
            side = self.rng.choice(HORIZONTAL)
            if self.add("node", beside(cell, side), outlet=OPPOSITE[side]):
                self.add("bin", beside(beside(cell, side), "U"))

    # ---- wiring

    def tried(self, motif: Callable[[], bool], tries: int = 12) -> None:
        """The motif at one of some random places where it fits as a whole; nothing where it fits at none of them."""
        for _ in range(tries):
            before = dict(self.parts)
            if motif():
                return
            self.parts = before

    def any_free_cell(self) -> Cell:
        return self.rng.choice(self.free_cells() or [(0, 0, 0)])

    def gauge_at_a_container(self) -> bool:
        """A gauge that reads a container, directly or through a support, and a run of wiring from its front."""
        containers = self.cells_of(*CONTAINERS)
        if not containers:
            return False
        side = self.rng.choice(HORIZONTAL)
        cell = beside(self.rng.choice(containers), side)
        if self.rng.random() < 0.25 and self.add("support", cell):
            cell = beside(cell, side)
        if not self.add_on_support("gauge", cell, output=side):
            return False
        if self.rng.random() < 0.35:
            self.add_on_support("line", beside(cell, self.rng.choice(CROSSWAYS[side])))
        self.run_of_wiring(cell, side)
        return True

    def run_of_wiring(self, cell: Cell, side: str) -> None:
        """Lines, relays and inverters one after the other, from `cell` on in the direction `side`, with turns."""
        for _ in range(self.rng.randint(1, 9)):
            free_sides = [other for other in HORIZONTAL if self.is_free(beside(cell, other))]
            turn = self.kind(cell) == "line" and (side not in free_sides or self.rng.random() < 0.25)
            if turn and free_sides:
                side = self.rng.choice(free_sides)
            following = self.next_of_run(cell, side)
            if following is None:
                return
            cell = following

    def next_of_run(self, cell: Cell, side: str) -> Cell | None:
        """The next part of a run; its cell, or None where there is no room."""
        following = beside(cell, side)
        up, down, behind = beside(following, "U"), beside(following, "D"), beside(following, side)
        what = self.rng.random()
        if not self.is_free(following):
            return None
        if what < 0.25 and self.is_free(behind):
            self.add("support", following)
            self.add("inverter", behind, mount=OPPOSITE[side])
            return behind
        if what < 0.32 and self.is_free(up):
            self.add("support", following)
            self.add("inverter", up, mount="D")
            return up
        if what < 0.45 and self.is_free(up):
            self.add("support", following)
            self.add("line", up)
            return up
        if what < 0.55 and self.is_free(down) and self.add_on_support("line", down):
            return down
        if what < 0.8:
            done = self.add_on_support("relay", following, output=side, delay=self.relay_delay())
        else:
            done = self.add_on_support("line", following)
        return following if done else None

    def latch(self) -> bool:
        """A relay with a relay, or now and then a gauge, that faces one of its sides, and wiring behind both."""
        cell = self.any_free_cell()
        output = self.rng.choice(HORIZONTAL)
        side = self.rng.choice(CROSSWAYS[output])
        other = beside(cell, side)
        if not self.add_on_support("relay", cell, output=output, delay=self.relay_delay()):
            return False
        if self.rng.random() < 0.3:
            reads = self.kind(beside(other, side)) in CONTAINERS or self.add("bin", beside(other, side))
            if not reads or not self.add_on_support("gauge", other, output=OPPOSITE[side]):
                return False
        else:
            if not self.add_on_support("relay", other, output=OPPOSITE[side], delay=self.relay_delay()):
                return False
            self.signal_behind(other, side)
        self.signal_behind(cell, OPPOSITE[output])
        return True

    def pulse(self) -> bool:
        """A gauge at a node, and a relay of a delay of its own in front, so that short readings meet long delays."""
        nodes = self.cells_of("node")
        if not nodes:
            return False
        side = self.rng.choice(HORIZONTAL)
        gauge = beside(self.rng.choice(nodes), side)
        relay = beside(gauge, side)
        if not self.add_on_support("gauge", gauge, output=side):
            return False
        if not self.add_on_support("relay", relay, output=side, delay=self.rng.choice([2, 3, 4, 4])):
            return False
        if self.rng.random() < 0.5:
            self.facing_a_side(relay, side)
        self.run_of_wiring(relay, side)
        return True

    def facing_a_side(self, relay: Cell, output: str) -> None:
        """A second gauge or a relay that faces a side of the relay, so that it is latched now and then."""
        crosswise = self.rng.choice(CROSSWAYS[output])
        other = beside(relay, crosswise)
        reads = self.kind(beside(other, crosswise)) in CONTAINERS
        if reads and self.add_on_support("gauge", other, output=OPPOSITE[crosswise]):
            return
        if self.add_on_support("relay", other, output=OPPOSITE[crosswise], delay=self.relay_delay()):
            self.signal_behind(other, crosswise)

    def latch_at_a_line(self) -> bool:
        """One signal both to the side of a relay, through another relay, and behind it, along a line: they race."""
        lines = self.cells_of("line")
        if not lines:
            return False
        line = self.rng.choice(lines)
        way = self.rng.choice(HORIZONTAL)
        output = self.rng.choice(CROSSWAYS[way])
        first = beside(line, way)
        latched = beside(first, way)
        round_about = [beside(cell, OPPOSITE[output]) for cell in (line, first, latched)]
        if not self.add_on_support("relay", first, output=way, delay=self.relay_delay()):
            return False
        if not self.add_on_support("relay", latched, output=output, delay=self.relay_delay()):
            return False
        if self.rng.random() < 0.3:
            self.signal_behind(latched, OPPOSITE[output])
            return True
        return all(self.kind(cell) == "line" or self.add_on_support("line", cell) for cell in round_about)

    def signal_behind(self, cell: Cell, back: str) -> None:
        """Something behind a relay that may drive it: a gauge at a container, an inverter, or a line that leads off."""
        what = self.rng.random()
        behind = beside(cell, back)
        if what < 0.4:
            reads = self.kind(beside(behind, back)) in CONTAINERS
            if (reads or self.add("bin", beside(behind, back))) and self.is_free(behind):
                self.add_on_support("gauge", behind, output=OPPOSITE[back])
        elif what < 0.55:
            solid = [mount for mount in MOUNTS if self.is_solid(beside(behind, mount))]
            if solid:
                self.add("inverter", behind, mount=self.rng.choice(solid))
        elif self.add_on_support("line", behind):
            self.run_of_wiring(behind, back)

    def clock(self) -> bool:
        """A support whose inverter energises it again round a corner.

        The support stands at c, the inverter beside it at c + away; c + away + side holds a line, c + side a support
        with a line on top, from which the signal comes to a line on top of c.
        """
        cell = self.any_free_cell()
        away = self.rng.choice(HORIZONTAL)
        side = self.rng.choice(CROSSWAYS[away])
        inverter, corner, on_top = beside(cell, away), beside(beside(cell, away), side), beside(cell, "U")
        next_to_it = beside(cell, side)
        on_next = beside(next_to_it, "U")
        if not self.add("support", cell) or not self.add("inverter", inverter, mount=OPPOSITE[away]):
            return False
        if not self.add_on_support("line", corner) or not self.add("support", next_to_it):
            return False
        return self.add("line", on_next) and self.add("line", on_top)

    def slow_clock(self) -> bool:
        """A support in front of a relay, an inverter on the far side, and a line from there back behind the relay.

        The relay stands at c, the support at c + side, the inverter at c + 2 side; the line runs beside them.
        """
        cell = self.any_free_cell()
        side = self.rng.choice(HORIZONTAL)
        way = self.rng.choice(CROSSWAYS[side])
        support = beside(cell, side)
        inverter = beside(support, side)
        back = beside(cell, OPPOSITE[side])
        if not self.add_on_support("relay", cell, output=side, delay=self.relay_delay()):
            return False
        if not self.add("support", support) or not self.add("inverter", inverter, mount=OPPOSITE[side]):
            return False
        lines = [back, *(beside(c, way) for c in (back, cell, support, inverter))]
        return all(self.add_on_support("line", line) for line in lines)

    # ---- the rest

    def fill(self, density: float) -> None:
        """Something into some of the cells that are left; what it is depends on the neighbours."""
        for cell in sorted(self.free_cells(), key=lambda cell: (cell[2], self.rng.random())):
            if self.rng.random() < density:
                self.fill_cell(cell)

    def fill_cell(self, cell: Cell) -> None:
        rng = self.rng
        stands = self.is_solid(beside(cell, "D")) or rng.random() < self.unsupported
        solid_sides = [side for side in MOUNTS if self.is_solid(beside(cell, side))]
        what = rng.random()
        if stands and what < 0.35:
            self.add("line", cell)
        elif stands and what < 0.5:
            self.add("relay", cell, output=self.facing(cell, SOURCES_OF_SIGNAL), delay=self.relay_delay())
        elif stands and what < 0.6:
            self.add("gauge", cell, output=self.facing(cell, CONTAINERS))
        elif what < 0.75 and (solid_sides or rng.random() < self.unsupported):
            anywhere = not solid_sides or rng.random() < self.unsupported / 2
            mount = rng.choice(MOUNTS if anywhere else solid_sides)
            self.add("inverter", cell, mount=mount)
        elif what < 0.92:
            self.add("support", cell)
        elif what < 0.97:
            self.add("node", cell, outlet=rng.choice(OUTLETS))
        else:
            self.add(rng.choice(["bin", "furnace"]), cell)

    def facing(self, cell: Cell, wished_behind: tuple[str, ...]) -> str:
        """An output side with something of the wished kinds behind, where there is one."""
        good = [side for side in HORIZONTAL if self.kind(beside(cell, OPPOSITE[side])) in wished_behind]
        return self.rng.choice(good) if good and self.rng.random() < 0.8 else self.rng.choice(HORIZONTAL)

    # ---- contents

    def with_starting_contents(self, items: Document, rules: dict[str, int], chance: float) -> None:
        """`holds` for some of the containers, with gaps; a furnace gets feed and fuel that fit its slots."""
        for cell in self.cells_of(*CONTAINERS):
            if self.rng.random() < chance:
                part = self.parts[cell]
                if part["kind"] == "furnace":
                    part["holds"] = self.furnace_holds(items, rules)
                else:
                    most = rules[part["kind"] + "_slots"]
                    slots = self.rng.randint(1, min(most, 6))
                    part["holds"] = [self.slot(self.kinds(items), items, rules, 0.4) for _ in range(slots)]

    def kinds(self, items: Document) -> list[str]:
        return [*items, "grit"]  # grit: a kind that `items` does not list

    def slot(self, kinds: list[str], items: Document, rules: dict[str, int], empty: float) -> list[Any] | None:
        if not kinds or self.rng.random() < empty:
            return None
        kind = self.rng.choice(kinds)
        limit = items.get(kind, {}).get("stack", rules["stack"])
        return [kind, self.rng.choice([1, min(2, limit), min(5, limit), self.rng.randint(1, limit), limit])]

    def furnace_holds(self, items: Document, rules: dict[str, int]) -> list[Any]:
        firable = [kind for kind, facts in items.items() if "fires_to" in facts]
        burning = [kind for kind, facts in items.items() if facts.get("burn", 0) > 0]
        products = [items[kind]["fires_to"] for kind in firable]
        feed = self.slot(firable if self.rng.random() < 0.85 else self.kinds(items), items, rules, 0.2)
        holds = [feed, self.slot(burning, items, rules, 0.2), self.slot(products, items, rules, 0.7)]
        return holds[: self.rng.choice([2, 3, 3])]


def random_streams(rng: random.Random, site: Site, items: Document, most: int, shared_cells: bool) -> list[Document]:
    """Up to `most` streams; sources are bins that feed something where there are such, outputs are containers.

    With `shared_cells` an output may also be a source, and two streams may have the same kind and source.
    """
    bins = site.cells_of("bin")
    feeding = [cell for cell in bins if site.kind(beside(cell, "D")) == "node"]
    streams: list[Document] = []
    for number in range(rng.randint(1, most) if most else 0):
        taken = [tuple(stream["source"]) for stream in streams]
        sources = [c for c in (feeding or bins) if shared_cells or c not in taken]
        if not sources:
            break
        source = rng.choice(sources)
        reached = reachable(site, source)
        others = [c for c in site.cells_of(*CONTAINERS) if shared_cells or (c != source and c not in bins)]
        others += [] if shared_cells else [c for c in bins if c != source and c not in feeding]
        near = [cell for cell in others if cell in reached]
        ends = [cell for cell in near if site.kind(cell) != "node"]
        pool = ends if ends and rng.random() < 0.6 else near or others
        if not pool:
            break
        outputs = rng.sample(pool, min(len(pool), rng.choice([1, 2, 2, 3])))
        kind = rng.choice(["clay", "clay", "clay", *site.kinds(items)])
        name = ["feed", "side", "spare"][number]
        streams.append({"name": name, "item": kind, "source": list(source), "outputs": [list(c) for c in outputs]})
    sources_taken = [stream["source"] for stream in streams]
    return streams if shared_cells else [s for s in streams if not any(o in sources_taken for o in s["outputs"])]


def reachable(site: Site, source: Cell) -> set[Cell]:
    """Containers that an item from the source could come to if no node were ever locked and nothing refused it."""
    reached, new = {source}, [source]
    while new:
        cell = new.pop()
        leads_to = [beside(cell, "D")] if site.kind(beside(cell, "D")) == "node" else []
        if site.kind(cell) == "node":
            leads_to.append(beside(cell, site.parts[cell]["outlet"]))
        for target in leads_to:
            if target not in reached and site.kind(target) in CONTAINERS:
                reached.add(target)
                new.append(target)
    return reached


def random_layout(
    rng: random.Random,
    size: tuple[int, int, int] | None = None,
    unsupported: float | None = None,
    most_streams: int = 2,
    overrides: bool = True,
    shared_cells: bool = False,
) -> Document:
    """A valid layout document of random parts, contents, streams and overrides.

    `unsupported`: chance that a part stands on nothing (default: 0 in half of the layouts, else 0.1); it breaks a
    design rule, not the format. `shared_cells`: an output may be a source as well, and streams may share a bin.
    """
    if unsupported is None:
        unsupported = rng.choice([0.0, 0.1])
    site = Site(rng, size or random_size(rng), unsupported)
    items = random_items(rng)
    overridden = random_rules(rng) if overrides else {}
    rules = {**RULES, **overridden}
    for _ in range(rng.choice([0, 0, 1, 2])):
        site.tried(rng.choice([site.slow_clock, site.clock, site.latch, site.latch]))
        site.tried(site.latch_at_a_line)
    for _ in range(rng.choice([1, 1, 1, 2])):
        site.row_of_nodes()
    if rng.random() < 0.4:
        site.kiln_with_nodes()
    motifs = [site.gauge_at_a_container] * 5 + [site.pulse] * 4 + [site.clock, site.slow_clock]
    motifs += [site.latch] * 2 + [site.latch_at_a_line] * 3
    for _ in range(rng.choice([2, 6, 10, 14])):
        site.tried(rng.choice(motifs))
    site.fill(rng.choice([0.0, 0.2, 0.4, 0.7, 1.0]))
    site.with_starting_contents(items, rules, rng.choice([0.0, 0.2, 0.5]))
    streams = random_streams(rng, site, items, most_streams, shared_cells)
    for cell in site.cells_of("bin"):
        if rng.random() < 0.3:
            site.parts[cell]["finish"] = rng.choice(["plain", "marked"])
    parts = list(site.parts.values())
    rng.shuffle(parts)
    for part in parts:
        if part["kind"] == "relay" and part["delay"] == 1 and rng.random() < 0.2:
            del part["delay"]
    layout: Document = {"format": "splitwright-layout/1", "title": "a random build", "size": list(site.size)}
    layout.update(items=items, parts=parts, streams=streams, rules=overridden)
    for optional in ("title", "streams", "rules"):
        if not layout[optional] and rng.random() < 0.5:
            del layout[optional]
    return layout


def room_in(layout: Document, source: Cell, kind: str, earlier: list[tuple[Cell, str, int]]) -> int:
    """Items of a kind that the bin still takes after the earlier loads, if nothing leaves it."""
    rules = {**RULES, **layout.get("rules", {})}
    part = next(part for part in layout["parts"] if tuple(part["at"]) == source)
    slots = list(part.get("holds", []))
    slots += [None] * (rules["bin_slots"] - len(slots))

    def limit(kind: str) -> int:
        return layout.get("items", {}).get(kind, {}).get("stack", rules["stack"])

    free = [limit(kind) if slot is None else limit(kind) - slot[1] if slot[0] == kind else 0 for slot in slots]
    used = sum(
        count if other == kind else -(-count // limit(other)) * limit(kind)
        for cell, other, count in earlier
        if cell == source
    )
    return max(0, sum(free) - used)


def random_case(rng: random.Random, layout: Document, most: int = 24) -> Document:
    """Random arguments of `run` for the layout (without `ticks` and `max_ticks`): loads, every, order, handover.

    The loads fit into the bins, but for one case in fifty, which may not.
    """
    loads: dict[str, int] = {}
    earlier: list[tuple[Cell, str, int]] = []
    for stream in layout.get("streams", []):
        source = tuple(stream["source"])
        room = most if rng.random() < 0.02 else room_in(layout, source, stream["item"], earlier)
        least = 0 if rng.random() < 0.1 else 1
        loads[stream["name"]] = min(room, rng.randint(least, most))
        earlier.append((source, stream["item"], loads[stream["name"]]))
    order = [tuple(part["at"]) for part in layout["parts"] if part["kind"] in ("node", "furnace")]
    rng.shuffle(order)
    return {
        "loads": loads,
        "every": rng.choice([None, None, None, 1, 3, 8, 10, 17]),
        "order": order if rng.random() < 0.4 else None,
        "handover": rng.choice([None, None, 7, 8]),
    }


# ---- how much of it does something


class WatchedWorld(World):
    """Counts what happens during a run."""

    def __init__(self, *arguments: Any) -> None:
        self.seen: Counter[str] = Counter()
        super().__init__(*arguments)

    def change(self, cell: Cell, state: int) -> None:
        if self.state[cell] != state:
            self.seen["changes"] += 1
            self.seen["changes of a " + self.kind(cell)] += 1
        super().change(cell, state)

    def notice(self) -> None:
        super().notice()
        for relay in self.all_of("relay"):
            if self.latched(relay):
                self.seen["latched"] += 1
                self.seen["latched against its want"] += self.wanted(relay) != self.state[relay]
        self.seen["locked"] += any(self.locked(n) for n in self.all_of("node"))
        self.seen["unlocked"] += any(not self.locked(n) for n in self.all_of("node"))
        for gauge in self.all_of("gauge"):
            self.seen["gauge held down"] += self.wanted(gauge) == 0 and self.reading(gauge) > 0

    def fall_due(self, cell: Cell) -> None:
        if self.kind(cell) == "relay":
            latched = self.latched(cell)
            self.seen["dropped by a latch"] += latched
            self.seen["stretched pulse"] += not latched and not self.state[cell] and not self.wanted(cell)
        super().fall_due(cell)

    def node_turn(self, n: Cell) -> bool:
        moved = super().node_turn(n)
        self.seen["moves"] += moved
        return moved

    def furnace_turn(self, furnace: Cell) -> bool:
        moved = super().furnace_turn(furnace)
        self.seen["furnace fired or lit"] += moved
        return moved


def measured(cases: int, seed: int, ticks: int, **options: Any) -> dict[str, float]:
    """Shares of the cases in which something was seen at least once, by what it was."""
    shares: Counter[str] = Counter()
    for number in range(cases):
        rng = random.Random(f"{seed}/{number}")
        layout = random_layout(rng, **options)
        case = random_case(rng, layout)
        world = WatchedWorld(layout, case["order"], case["handover"])
        try:
            document = play(world, case["loads"], case["every"], max_ticks=ticks)
        except ValueError:
            shares["load refused"] += 1
            continue
        world.seen["delivered"] = sum(sum(stream["delivered"]) for stream in document["streams"])
        world.seen["more than 5 changes"] = max(0, world.seen["changes"] - 5)
        world.seen["locked and unlocked"] = min(world.seen["locked"], world.seen["unlocked"])
        world.seen["at rest within the limit"] = document["at_rest"]
        world.seen["uneven"] = sum(stream["spread"] for stream in document["streams"])
        world.seen["streams"] = len(document["streams"])
        world.seen["two streams"] = len(document["streams"]) > 1
        for finding in document["findings"]:
            world.seen[finding["check"]] += 1
        shares.update(name for name, count in world.seen.items() if count)
    return {name: count / cases for name, count in sorted(shares.items())}


if __name__ == "__main__":
    wanted_cases, wanted_seed = (int(word) for word in (sys.argv[1:3] + ["300", "1"][len(sys.argv[1:3]) :]))
    for name, share in measured(wanted_cases, wanted_seed, ticks=600).items():
        print(f"{share:6.1%}  {name}")
