"""A whole hall as SimPy processes, from the text of RULEBOOK.md (section 3): bins, nodes, furnaces, and hands.

One kind of feed, one of fuel, one of product. A furnace is three containers, one for each slot: nodes above push into
the first, nodes beside it into the second, a node below pulls from the third.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import simpy

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace
from sim.world.parts import Node as NodePart

from .simpy_world import Container, Node, SimPyWorld, Steps

STEPS: Mapping[str, Cell] = {"E": (1, 0, 0), "W": (-1, 0, 0), "N": (0, 1, 0), "S": (0, -1, 0), "D": (0, 0, -1)}


@dataclass(frozen=True)
class Numbers:
    """What the model is told of the world. ``firing``: ticks an item; ``burn``: ticks a fire; ``back``: ticks that
    progress runs back in each tick without fire."""

    period: int = 8
    handover: int = 8
    node_slots: int = 5
    bin_slots: int = 27
    stack: int = 64
    firing: int = 200
    burn: int = 1600
    back: int = 2


@dataclass
class Kiln:
    """A furnace: its three slots, its fire and progress; what it has fired and lit, and the ticks without progress."""

    world: SimPyWorld
    numbers: Numbers
    feed: Container
    fuel: Container
    product: Container
    slot: int = 0
    fire: int = 0
    progress: int = 0
    fired: int = 0
    lit: int = 0
    idle: int = 0

    def life(self) -> Steps:
        """A turn in each tick."""
        yield self.world.env.timeout(self.world.slots + self.slot)
        while True:
            self.turn()
            yield self.world.env.timeout(self.world.slots)

    def turn(self) -> None:
        """(1) The fire burns down; (2) where it is out, it is lit if that is of use; (3) the item in it gets on."""
        could = self.feed.items > 0 and self.product.items < self.product.capacity
        changed: list[Container] = []
        self.fire = max(0, self.fire - 1)
        if self.fire == 0 and could and self.fuel.items:
            self.fuel.items -= 1
            self.lit += 1
            self.fire = self.numbers.burn
            changed.append(self.fuel)
        if self.fire and could:
            self.progress += 1
        else:
            self.progress = 0 if self.fire else max(0, self.progress - self.numbers.back)
            self.idle += 1
        if self.progress == self.numbers.firing:
            self.feed.items -= 1
            self.product.items += 1
            self.fired += 1
            self.progress = 0
            changed += [self.feed, self.product]
        if changed:
            self.world.changed(changed)


@dataclass
class HallModel:
    """The hall of a layout without signals. ``taken``, ``put``: items that hands took out of the product bins, and put
    into the source bins."""

    layout: Layout
    numbers: Numbers
    refill: int
    kilns: dict[Cell, Kiln] = field(default_factory=dict)
    bins: dict[Cell, Container] = field(default_factory=dict)
    taken: int = 0
    put: int = 0

    def run(self, ticks: int) -> None:
        """Build it and run it to the end of a tick, sources filled before tick 1 and after each ``refill`` ticks."""
        n = self.numbers
        world = self.world = SimPyWorld(n.period, n.handover, n.node_slots * n.stack)
        nodes = self._build(world)
        machines: list[Kiln | Node] = [
            self.kilns[part.at] if isinstance(part, Furnace) else nodes[part.at] for part in self.layout.machines
        ]
        world.slots = len(machines) + 2
        for slot, machine in enumerate(machines, 1):
            machine.slot = slot
        for node in nodes.values():
            for container in (node, node.above, node.target):
                if container is not None:
                    container.users.append(node)
        self._fill()
        for node in nodes.values():
            node.start()
        for kiln in self.kilns.values():
            world.env.process(kiln.life())
        world.env.process(self._hands(ticks))
        world.env.run(until=(ticks + 1) * world.slots)

    @property
    def came(self) -> int:
        """Items that have come to the product bin."""
        return self.taken + sum(self.bins[cell].items for cell in self._ends)

    def _build(self, world: SimPyWorld) -> dict[Cell, Node]:
        n = self.numbers
        there = {part.at: part for part in self.layout.containers}
        for part in self.layout.containers:
            if isinstance(part, Bin):
                self.bins[part.at] = Container(n.bin_slots * n.stack)
            elif isinstance(part, Furnace):
                self.kilns[part.at] = Kiln(world, n, Container(n.stack), Container(n.stack), Container(n.stack))
        nodes = {
            part.at: Node(world, world.node_capacity, None, None)
            for part in self.layout.containers
            if isinstance(part, NodePart)
        }
        for cell, node in nodes.items():
            part = there[cell]
            assert isinstance(part, NodePart)
            above = (cell[0], cell[1], cell[2] + 1)
            dx, dy, dz = STEPS[part.outlet]
            before = (cell[0] + dx, cell[1] + dy, cell[2] + dz)
            node.above = self.bins.get(above) or nodes.get(above) or (
                self.kilns[above].product if above in self.kilns else None
            )
            node.target = self.bins.get(before) or nodes.get(before)
            if before in self.kilns:
                node.target = self.kilns[before].feed if part.outlet == "D" else self.kilns[before].fuel
        self._sources = [stream.source for stream in self.layout.streams]
        self._ends = [cell for cell in self.bins if cell not in self._sources]
        return nodes

    def _fill(self) -> list[Container]:
        for cell in self._sources:
            self.put += self.bins[cell].capacity - self.bins[cell].items
            self.bins[cell].items = self.bins[cell].capacity
        return [self.bins[cell] for cell in self._sources]

    def _hands(self, ticks: int) -> Steps:
        """After the machine phase of each tick of a visit."""
        for tick in range(self.refill, ticks, self.refill):
            now: simpy.Environment = self.world.env
            yield now.timeout((tick + 1) * self.world.slots - 1 - now.now)
            touched = self._fill()
            for cell in self._ends:
                self.taken += self.bins[cell].items
                self.bins[cell].items = 0
                touched.append(self.bins[cell])
            self.world.changed(touched)
