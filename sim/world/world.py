"""The running world: one mutable state, advanced tick by tick (rulebook sections 1, 3 and 4).

In each tick first the signal phase, then the machine phase. Everything is deterministic: the file order of signal
parts decides ties between changes, the update order decides turns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from sim.errors import InputError
from sim.world.geometry import Cell, Direction, cell_text, step
from sim.world.items.furnace import PRODUCT, Firing, FurnaceState
from sim.world.items.node import NodeState
from sim.world.items.store import Store
from sim.world.layout import Layout
from sim.world.parts import FURNACE_SLOTS, Bin, Furnace, Node, Slot
from sim.world.rulebook import Rules, default_rules
from sim.world.signals.field import Field
from sim.world.signals.settling import settle
from sim.world.signals.timing import Timing
from sim.world.signals.wiring import Wiring, wiring_of

Entered = Callable[[int, Cell, str], None]
"""Told of every item that a node moves into a container: tick, the container's cell, item kind."""


class Witness(Protocol):
    """Told of every change of what containers hold, in the order in which they happen (``World.witness``)."""

    def put(self, tick: int, kind: str, count: int, target: Cell) -> None:
        """Items were put into ``target`` from outside, after ``tick``."""

    def moved(self, tick: int, kind: str, source: Cell, target: Cell) -> None:
        """A node moved one item."""

    def worked(self, tick: int, furnace: Cell, before: tuple[Slot | None, ...]) -> None:
        """A furnace's turn changed what it holds; ``before``: what it held until then."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a run or a design check reports. ``check`` names it; ``at`` and ``tick`` where they apply."""

    check: str
    text: str
    at: Cell | None = None
    tick: int | None = None


class World:
    """A layout with its contents and signals at the end of ``tick``.

    ``order`` is the update order, a permutation of the cells of nodes and furnaces (default: the file order).
    The signals settle with the starting contents in place; then the world stands at tick 0.
    """

    def __init__(
        self,
        layout: Layout,
        rules: Rules | None = None,
        order: Sequence[Cell] | None = None,
        *,
        wiring: Wiring | None = None,
        entered: Entered | None = None,
    ) -> None:
        self.layout = layout
        self.rules = layout.rules_in_force(rules or default_rules())
        self.entered = entered
        self.witness: Witness | None = None
        self.tick = 0
        self.last_change = 0
        self._limit = layout.stack_limit(self.rules)
        self._firing = Firing.of(layout, self.rules)
        self.stores: dict[Cell, Store] = {part.at: self._store(part) for part in layout.containers}
        self.furnaces = {p.at: FurnaceState(p.at, self.stores[p.at]) for p in layout.parts if isinstance(p, Furnace)}
        self.nodes = self._node_states()
        self._machines_at = self._machines_by_container()
        self._turns = self._turns_in(order)
        self.field = Field(wiring or wiring_of(layout), self.rules.reach)
        self.timing = Timing(self.field, self.rules, self.reading)
        self.settled = settle(self.field, self.reading, self.rules.settling_rounds)
        self._started = False

    def reading(self, cell: Cell) -> int:
        """The fill level of the container in ``cell``."""
        return self.stores[cell].fill_level(self.rules.reach)

    def put(self, loads: Sequence[tuple[Cell, str, int]]) -> None:
        """Put items (cell, kind, how many) into containers from outside; noticed at the present tick, once for all.

        Raises InputError, with nothing put in, when a container has no room for its items.
        """
        before = [(self.stores[cell], self.stores[cell].slots()) for cell, _, _ in loads]
        for cell, kind, count in loads:
            done = 0
            while done < count and self.stores[cell].put(kind):
                done += 1
            if done < count:
                for store, holds in reversed(before):
                    store.restore(holds)
                part = self.layout.by_cell[cell].kind
                raise InputError(f"the {part} at {cell_text(cell)} has room for {done} more {kind}, not for {count}")
            if done:
                self.last_change = self.tick
        if self.witness is not None:
            for cell, kind, count in loads:
                self.witness.put(self.tick, kind, count, cell)
        if self._started:
            self._contents_changed([cell for cell, _, _ in loads])

    def start(self) -> None:
        """Let everything be noticed at tick 0, once the load before tick 1 is in place."""
        if not self._started:
            self._started = True
            self.timing.notice(range(len(self.field.wiring.parts)), 0)

    def advance(self) -> bool:
        """Run one tick; True if a container or a signal part changed."""
        self.start()
        self.tick += 1
        changed = self.timing.run_due(self.tick)
        changed |= self._machine_phase()
        if changed:
            self.last_change = self.tick
        return changed

    def skip(self, ticks: int) -> None:
        """Let ``ticks`` pass in which nothing can happen (``quiet_ticks``) but burning and progress."""
        self.tick += ticks
        for furnace in self.furnaces.values():
            if not furnace.is_cold():
                self._firing.pass_quietly(furnace, ticks)

    def quiet_ticks(self) -> int | None:
        """How many ticks from now nothing can happen in; None: for ever.

        Something can happen when a change falls due, when the cooldown of an unlocked node that could move ends, or
        when a furnace takes fuel or finishes. Time: linear in the machines.
        """
        due = self.timing.next_due()
        soonest = None if due is None else due - self.tick - 1
        for furnace in self.furnaces.values():
            quiet = None if furnace.idle else self._firing.quiet_ticks(furnace)
            if quiet is not None and (soonest is None or quiet < soonest):
                soonest = quiet
        for node in self.nodes.values():
            cooldown = node.ready_at - self.tick - 1
            if (soonest is None or cooldown < soonest) and self._can_move(node):
                soonest = cooldown
        return None if soonest is None else max(0, soonest)

    def is_at_rest(self) -> bool:
        """Nothing can change any more but a fire burning down or progress running back (formats, "Commands")."""
        return (
            not any(self.timing.would_change(part) for part, due in enumerate(self.timing.due) if due is not None)
            and not any(self._can_move(node) for node in self.nodes.values())
            and all(self._firing.quiet_ticks(furnace) is None for furnace in self.furnaces.values())
        )

    def is_locked(self, node: NodeState) -> bool:
        """locked(n) at this instant."""
        return self.field.locked[node.number]

    def fingerprint(self) -> tuple[object, ...]:
        """All that the future depends on, times relative to now: equal fingerprints have equal futures."""
        due = self.timing.due
        agenda = tuple(
            (tick - self.tick, tuple(p for p in parts if due[p] == tick))
            for tick, parts in sorted(self.timing.agenda.items())
        )
        return (
            tuple(self.field.out),
            agenda,
            tuple((tuple(s.kinds), tuple(s.counts)) for s in self.stores.values()),
            tuple(max(0, node.ready_at - self.tick) for node in self.nodes.values()),
            tuple((furnace.fire, furnace.progress) for furnace in self.furnaces.values()),
        )

    def findings(self) -> list[Finding]:
        """What the run has shown so far: signals that never settle, inverters that overheat."""
        found = []
        if not self.settled:
            text = f"the signals do not settle within {self.rules.settling_rounds} rounds before tick 1"
            found.append(Finding("never settles", text, tick=0))
        for part, tick in self.timing.overheated:
            at = self.field.wiring.parts[part].at
            text = (
                f"the inverter at {cell_text(at)} switches off {self.rules.overheat_count} times within "
                f"{self.rules.overheat_window} ticks"
            )
            found.append(Finding("overheats", text, at=at, tick=tick))
        return found

    # -- the machine phase --------------------------------------------------------------------------------------------

    def _machine_phase(self) -> bool:
        """The turns of one tick; True if any contents changed. Machines without a turn are passed over right here."""
        changed, tick, locked = False, self.tick, self.field.locked
        for machine in self._turns:
            if machine.idle:
                continue
            if isinstance(machine, NodeState):
                if machine.ready_at > tick or locked[machine.number]:
                    continue
                moved = self._node_turn(machine)
            elif machine.is_cold():
                machine.idle = True
                continue
            else:
                moved = self._furnace_turn(machine)
            if moved:
                changed = True
                self._contents_changed(moved)
        return changed

    def _node_turn(self, node: NodeState) -> tuple[Cell, ...]:
        """The turn of a node that is neither cooling down nor locked; the containers that it changed."""
        pushed = self._push(node)
        pulled = self._pull(node)
        if not (pushed or pulled):
            node.idle = True
            return ()
        node.ready_at = self.tick + self.rules.period
        return (node.at, *((node.target,) if pushed else ()), *((node.above,) if pulled else ()))

    def _furnace_turn(self, furnace: FurnaceState) -> tuple[Cell, ...]:
        """The turn of a furnace that is not cold; the containers that it changed."""
        before = None if self.witness is None else furnace.store.slots()
        if not self._firing.turn(furnace):
            return ()
        if self.witness is not None and before is not None:
            self.witness.worked(self.tick, furnace.at, before)
        return (furnace.at,)

    def _push(self, node: NodeState) -> bool:
        """One item through the outlet: the first slot whose item the other side takes."""
        if not node.store.items or node.target not in self.stores:
            return False
        for slot, kind in enumerate(node.store.kinds):
            if kind is not None and self._enter(node.target, kind, node.outlet):
                node.store.take(slot)
                self._tell(kind, node.at, node.target)
                return True
        return False

    def _pull(self, node: NodeState) -> bool:
        """One item from the container directly above: the first slot whose item finds room here."""
        source = self.stores.get(node.above)
        if source is None or not source.items:
            return False
        for slot in self._exits(node.above):
            kind = source.kinds[slot]
            if kind is not None and node.store.put(kind):
                source.take(slot)
                self._tell(kind, node.above, node.at)
                return True
        return False

    def _enter(self, cell: Cell, kind: str, moving: Direction) -> bool:
        """An item pushed into a container; an empty node that takes it next moves ``handover`` ticks from now."""
        store = self.stores[cell]
        if cell in self.furnaces:
            slot = self._firing.entry_slot(kind, moving)
            entered = slot is not None and store.put(kind, slot)
        else:
            was_empty = store.is_empty()
            entered = store.put(kind)
            if entered and was_empty and cell in self.nodes:
                self.nodes[cell].ready_at = self.tick + self.rules.handover
        return entered

    def _exits(self, cell: Cell) -> Sequence[int]:
        """The slots that a node below may pull from: of a furnace ``product`` only."""
        return (PRODUCT,) if cell in self.furnaces else range(len(self.stores[cell].kinds))

    def _can_move(self, node: NodeState) -> bool:
        """Unlocked, and with its cooldown over the node would push or pull."""
        if node.idle or self.field.locked[node.number]:
            return False
        return self._could_push(node) or self._could_pull(node)

    def _could_push(self, node: NodeState) -> bool:
        if not node.store.items or node.target not in self.stores:
            return False
        return any(kind is not None and self._takes(node.target, kind, node.outlet) for kind in set(node.store.kinds))

    def _takes(self, cell: Cell, kind: str, moving: Direction) -> bool:
        """The container would take an item pushed into it (``_enter``)."""
        if cell not in self.furnaces:
            return self.stores[cell].accepts(kind)
        slot = self._firing.entry_slot(kind, moving)
        return slot is not None and self.stores[cell].accepts(kind, slot)

    def _could_pull(self, node: NodeState) -> bool:
        source = self.stores.get(node.above)
        if source is None or not source.items:
            return False
        kinds = {source.kinds[PRODUCT]} if node.above in self.furnaces else set(source.kinds)
        return any(kind is not None and node.store.accepts(kind) for kind in kinds)

    # -- plumbing -----------------------------------------------------------------------------------------------------

    def _tell(self, kind: str, source: Cell, target: Cell) -> None:
        if self.entered is not None:
            self.entered(self.tick, target, kind)
        if self.witness is not None:
            self.witness.moved(self.tick, kind, source, target)

    def _contents_changed(self, cells: Sequence[Cell]) -> None:
        """Machines at the containers may have something to do again; gauges that read one of them notice at once."""
        gauges: list[int] = []
        for cell in cells:
            gauges += self.field.wiring.gauges_of_container.get(cell, ())
            for machine in self._machines_at.get(cell, ()):
                machine.idle = False
        if gauges:
            self.timing.notice(set(gauges), self.tick)

    def _store(self, part: Bin | Node | Furnace) -> Store:
        match part:
            case Bin():
                slots = self.rules.bin_slots
            case Node():
                slots = self.rules.node_slots
            case Furnace():
                slots = len(FURNACE_SLOTS)
        return Store(slots, self._limit, part.holds)

    def _node_states(self) -> dict[Cell, NodeState]:
        parts = [part for part in self.layout.parts if isinstance(part, Node)]
        return {
            p.at: NodeState(i, p.at, p.outlet, step(p.at, "U"), step(p.at, p.outlet), self.stores[p.at])
            for i, p in enumerate(parts)
        }

    def _machines_by_container(self) -> dict[Cell, list[NodeState | FurnaceState]]:
        """The machines whose next turn depends on what a container holds, by its cell: furnaces on their own; nodes on
        their own, the one above and the target."""
        found: dict[Cell, list[NodeState | FurnaceState]] = {at: [furnace] for at, furnace in self.furnaces.items()}
        for node in self.nodes.values():
            for cell in {node.at, node.above, node.target} & self.stores.keys():
                found.setdefault(cell, []).append(node)
        return found

    def _turns_in(self, order: Sequence[Cell] | None) -> list[NodeState | FurnaceState]:
        """Nodes and furnaces in update order."""
        cells = [part.at for part in self.layout.machines]
        if order is not None:
            check_order(self.layout, order)
            cells = list(order)
        return [self.nodes[c] if c in self.nodes else self.furnaces[c] for c in cells]


def check_order(layout: Layout, order: Sequence[Cell]) -> None:
    """Raise InputError unless ``order`` is a permutation of the cells of all nodes and furnaces."""
    machines = {part.at for part in layout.machines}
    seen: set[Cell] = set()
    for cell in order:
        if cell not in machines:
            raise InputError(f"{cell_text(cell)} holds neither a node nor a furnace", field="order")
        if cell in seen:
            raise InputError(f"{cell_text(cell)} is listed twice", field="order")
        seen.add(cell)
    if missing := sorted(machines - seen):
        raise InputError(f"{cell_text(missing[0])} is missing; list every node and furnace once", field="order")


