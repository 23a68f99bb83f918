"""Nodes and signal parts as SimPy processes, from the text of RULEBOOK.md (sections 3 and 4); one kind of item.

The clock runs in slots: a tick is cut into slot 0 for the signal phase, one slot for each node's turn in update order,
and a last one for loads. A process sleeps while it has nothing to do, and is woken by whatever changes beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable
from typing import Any

import simpy

Steps = Generator[simpy.Event, Any, None]


class Container:
    """Holds up to ``capacity`` items; ``entered`` lists the tick of each that a node moves in."""

    def __init__(self, capacity: int) -> None:
        self.capacity = capacity
        self.items = 0
        self.entered: list[int] = []
        self.users: list[Node] = []
        self.gauges: list[Gate] = []


class Gate:
    """A signal part: ``wants`` tells its wanted state at this instant, ``delay`` the ticks to a change.

    ``stretches``: a relay, which once scheduled to go on does so. ``readers``: the gates that see it, ``locks``: nodes.
    """

    def __init__(self, world: SimPyWorld, delay: int, wants: Callable[[], int], *, stretches: bool = False) -> None:
        self.world, self.delay, self.wants, self.stretches = world, delay, wants, stretches
        self.out = 0
        self.pending = False
        self.readers: list[Gate] = [self]
        self.locks: list[Node] = []
        world.gates.append(self)

    def notice(self) -> None:
        """Schedule a change when the wanted state is another and none is pending."""
        if not self.pending and self.wants() != self.out:
            self._schedule()

    def _schedule(self) -> None:
        self.pending = True
        world = self.world
        due = (world.tick + self.delay) * world.slots
        world.env.timeout(due - world.env.now).callbacks.append(self._fall_due)

    def _fall_due(self, _: simpy.Event) -> None:
        self.pending = False
        wanted = self.wants()
        new = wanted
        if self.stretches and not self.out:
            new = 15
            if not wanted:
                self._schedule()
        if new != self.out:
            self.out = new
            for node in self.locks:
                node.stir()
        for gate in self.readers:
            gate.notice()


class Node(Container):
    """A transfer node; takes its turn in ``slot`` of each tick in which it could move."""

    def __init__(self, world: SimPyWorld, capacity: int, above: Container | None, target: Container | None) -> None:
        super().__init__(capacity)
        self.world, self.above, self.target = world, above, target
        self.locked_by: list[Gate] = []
        self.ready = 1  # there is no machine phase in tick 0
        self.slot = 0
        self.wakes_at = 0
        self.stirred = world.env.event()
        world.nodes.append(self)

    def is_locked(self) -> bool:
        return any(gate.out for gate in self.locked_by)

    def life(self) -> Steps:
        """Sleep to the end of the cooldown, then move; with nothing to move, wait for something to change."""
        world = self.world
        while True:
            turn = self._next_turn()
            if turn > world.env.now:
                self.wakes_at = turn
                try:
                    yield world.env.timeout(turn - world.env.now)
                except simpy.Interrupt:  # a handover that ends sooner than the cooldown did
                    continue
                if self.ready > world.tick:
                    continue
            self.wakes_at = 0
            if self.is_locked() or not self._moves():
                self.stirred = world.env.event()
                yield self.stirred

    def _next_turn(self) -> int:
        """The first turn not before now, nor before the cooldown ends."""
        world = self.world
        this_tick = world.tick * world.slots + self.slot
        soonest = this_tick if this_tick >= world.env.now else this_tick + world.slots
        return max(soonest, self.ready * world.slots + self.slot)

    def _moves(self) -> bool:
        pushed, pulled = self._push(), self._pull()
        if pushed or pulled:
            self.ready = self.world.tick + self.world.period
            touched = [self, *([self.target] if pushed else []), *([self.above] if pulled else [])]
            self.world.changed(touched, by=self)
        return pushed or pulled

    def _push(self) -> bool:
        target = self.target
        if target is None or not self.items or target.items >= target.capacity:
            return False
        if isinstance(target, Node) and not target.items:
            target.hands_over()
        self.items -= 1
        target.items += 1
        target.entered.append(self.world.tick)
        return True

    def _pull(self) -> bool:
        if self.above is None or not self.above.items or self.items >= self.capacity:
            return False
        self.above.items -= 1
        self.items += 1
        self.entered.append(self.world.tick)
        return True

    def hands_over(self) -> None:
        """A push lands here while empty: the next turn to move is ``handover`` ticks from now, whatever it was."""
        self.ready = self.world.tick + self.world.handover
        if self.wakes_at > self.ready * self.world.slots + self.slot:
            self.process.interrupt()

    def stir(self) -> None:
        """Something changed beside the node."""
        if not self.stirred.triggered:
            self.stirred.succeed()

    def start(self) -> None:
        self.process = self.world.env.process(self.life())


class SimPyWorld:
    """Containers, nodes and gates; ``run`` goes on until nothing can happen any more.

    Every node is made after the containers that it takes from and gives to. Items are put in by ``loads``.
    """

    def __init__(self, period: int, handover: int, node_capacity: int) -> None:
        self.env = simpy.Environment()
        self.period, self.handover, self.node_capacity = period, handover, node_capacity
        self.nodes: list[Node] = []
        self.gates: list[Gate] = []
        self.slots = 0

    @property
    def tick(self) -> int:
        return int(self.env.now) // self.slots

    def node(self, above: Container | None, target: Container | None) -> Node:
        return Node(self, self.node_capacity, above, target)

    def gauge(self, node: Node) -> Gate:
        """A gauge that reads the node, with no side input."""
        gate = Gate(self, 2, lambda: 1 + 14 * node.items // node.capacity if node.items else 0)
        node.gauges.append(gate)
        return gate

    def inverter(self, *mount: Gate) -> Gate:
        """Lit unless one of the gates energises the cell that it is fixed to."""
        return self._reads(Gate(self, 2, lambda: 0 if any(g.out for g in mount) else 15), mount)

    def relay(self, behind: Gate, delay: int = 1) -> Gate:
        return self._reads(Gate(self, 2 * delay, lambda: 15 if behind.out else 0, stretches=True), (behind,))

    def lock(self, node: Node, *gates: Gate) -> None:
        """Any of the gates locks the node."""
        node.locked_by += gates
        for gate in gates:
            gate.locks.append(node)

    def changed(self, touched: Iterable[Container], by: Node | None = None) -> None:
        """Contents changed: gauges notice, in file order, and the nodes beside look up."""
        for container in touched:
            for node in container.users:
                if node is not by:
                    node.stir()
        for gate in sorted({g for c in touched for g in c.gauges}, key=self.gates.index):
            gate.notice()

    def run(self, source: Container, loads: Iterable[tuple[int, int]], order: list[Node] | None = None) -> int:
        """Run with ``loads`` (tick after which, items) put into the source; the tick in which the last event fell."""
        self.slots = len(self.nodes) + 2
        for slot, node in enumerate(order or self.nodes, 1):
            node.slot = slot
        for node in self.nodes:
            for container in (node, node.above, node.target):
                if container is not None:
                    container.users.append(node)
        self._settle()
        for node in self.nodes:
            node.start()
        self.env.process(self._loads(source, loads))
        self.env.run()
        return self.tick

    def _loads(self, source: Container, loads: Iterable[tuple[int, int]]) -> Steps:
        for tick, count in loads:
            yield self.env.timeout((tick + 1) * self.slots - 1 - self.env.now)
            source.items += count
            assert source.items <= source.capacity
            self.changed([source])

    def _settle(self) -> None:
        """Gates stand in an order in which each reads only earlier ones."""
        for gate in self.gates:
            gate.out = gate.wants()

    @staticmethod
    def _reads(gate: Gate, sources: tuple[Gate, ...]) -> Gate:
        for source in sources:
            source.readers.append(gate)
        return gate
