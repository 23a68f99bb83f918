"""A layout as the kernel's tables, and a world as its state."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from sim.errors import InputError
from sim.world.geometry import Cell
from sim.world.kernel import places as p
from sim.world.kernel.places import Numbers
from sim.world.layout import Layout
from sim.world.parts import FURNACE_SLOTS, Bin, Furnace, Gauge, Inverter, Node, Relay
from sim.world.rulebook import Rules, default_rules
from sim.world.signals.field import line_nets
from sim.world.signals.timing import delay_of
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.world import World

COMMON_LIMIT_MOST: Final = 1_000_000
"""Largest common multiple of the stack limits that fill levels are worked out with in whole numbers."""
ITEMS_MOST: Final = 1_000_000_000


class Tables:
    """What never changes in a run of one layout under one rulebook.

    ``sinks``: containers that take whatever may enter them and keep none of it, as if emptied at once (what enters is
    counted); furnaces among them never fire. ``kinds``: item kinds beyond those that the layout names.
    ``machines``: nodes in file order, then furnaces in file order; that is how they are numbered.
    Raises InputError when the stack limits have no common multiple that the kernel can work with.
    """

    def __init__(
        self,
        layout: Layout,
        rules: Rules | None = None,
        *,
        sinks: Iterable[Cell] = (),
        kinds: Iterable[str] = (),
        wiring: Wiring | None = None,
    ) -> None:
        self.layout, self.base = layout, rules or default_rules()
        self.rules = layout.rules_in_force(self.base)
        self.sinks = frozenset(sinks)
        self.wiring = wiring or wiring_of(layout)
        self.kinds = tuple(dict.fromkeys((*_named_kinds(layout), *kinds)))
        self.kind_no = {kind: i for i, kind in enumerate(self.kinds)}
        self.containers = layout.containers
        self.store_no = {part.at: i for i, part in enumerate(self.containers)}
        furnaces = (part.at for part in layout.parts if isinstance(part, Furnace))
        self.machines = (*self.wiring.nodes, *furnaces)
        self.machine_no = {cell: i for i, cell in enumerate(self.machines)}
        self.outputs = [
            Output(s, i, self.store_no[cell], self.kind_no[stream.item])
            for s, stream in enumerate(layout.streams)
            for i, cell in enumerate(stream.outputs)
        ]
        self.w = _Writer(self).written()

    def order(self, cells: Sequence[Cell] | None = None) -> Numbers:
        """An update order as machine numbers (default: the file order)."""
        every = [part.at for part in self.layout.machines] if cells is None else cells
        return np.array([self.machine_no[cell] for cell in every], np.int32)

    @cached_property
    def start(self) -> Numbers:
        """The state before tick 1: signals settled, starting contents in place, no load."""
        return self.state_of(World(self.layout, self.base, wiring=self.wiring))

    def state_of(self, world: World) -> Numbers:
        """The state of a world that has not been started."""
        w, field = self.w, world.field
        s = np.zeros(w[p.STATE_SIZE], np.int32)
        s[p.NEXT_DUE] = p.NEVER
        s[p.SIGNAL] = s[p.VECTOR] = p.NOTHING

        def write(at: int, values: Sequence[int]) -> None:
            s[w[at] : w[at] + len(values)] = values

        write(p.OUT, field.out)
        write(p.DUE, [p.NOTHING] * len(field.out))
        write(p.STRONG, field.strong)
        write(p.ENERGISED, [int(one) for one in field.energised])
        write(p.LEVEL, field.level)
        write(p.LOCKED, [int(one) for one in field.locked])
        stores = [world.stores[part.at] for part in self.containers]
        write(p.KIND, [p.NOTHING if k is None else self.kind_no[k] for store in stores for k in store.kinds])
        write(p.COUNT, [n for store in stores for n in store.counts])
        write(p.ITEMS, [store.items for store in stores])
        write(p.FIRST_ARRIVAL, [p.NOTHING] * len(self.layout.streams))
        write(p.LAST_ARRIVAL, [p.NOTHING] * len(self.layout.streams))
        write(p.OVERHEATED, [p.NOTHING] * len(field.out))
        return s

    def scratch(self) -> Numbers:
        """Marks, all clear."""
        return np.zeros(self.w[p.SCRATCH_SIZE], np.int32)


@dataclass(frozen=True, slots=True)
class Output:
    """Output number ``index`` of stream number ``stream``: its container and the kind that counts."""

    stream: int
    index: int
    store: int
    kind: int


def _named_kinds(layout: Layout) -> Iterable[str]:
    """Every kind that can turn up in a run: listed, carried by a stream, contained at the start, fired to."""
    yield from layout.items
    yield from (stream.item for stream in layout.streams)
    yield from (slot[0] for part in layout.containers for slot in part.holds if slot is not None)
    yield from (item.fires_to for item in layout.items.values() if item.fires_to is not None)


class _Writer:
    """Writes header, lists and tables one behind the other, and works out where the state's lists go."""

    def __init__(self, tables: Tables) -> None:
        self.t = tables
        self.header = [0] * p.HEADER
        self.body: list[int] = []

    def written(self) -> Numbers:
        t = self.t
        nets_of, nets = line_nets(t.wiring)
        self._sizes(len(nets))
        self._signals(nets_of)
        self._wiring(nets)
        self._stores()
        self._machines()
        self._kinds()
        self._places_of_state()
        return np.array([*self.header, *self.body], np.int32)

    def _list(self, at: int, values: Iterable[int]) -> None:
        self.header[at] = p.HEADER + len(self.body)
        self.body += values

    def _table(self, at: int, rows: Sequence[Sequence[int]]) -> None:
        self.header[at] = start = p.HEADER + len(self.body)
        first = start + len(rows) + 1
        for row in rows:
            self.body.append(first)
            first += len(row)
        self.body.append(first)
        self.body += [one for row in rows for one in row]

    def _sizes(self, nets: int) -> None:
        t, h, rules = self.t, self.header, self.t.rules
        h[p.PARTS], h[p.LINES] = len(t.wiring.parts), len(t.wiring.lines)
        h[p.SOLIDS], h[p.NODES], h[p.NETS] = len(t.wiring.solids), len(t.wiring.nodes), nets
        h[p.STORES], h[p.MACHINES], h[p.KINDS] = len(t.containers), len(t.machines), len(t.kinds)
        h[p.FURNACES] = sum(isinstance(part, Furnace) for part in t.containers)
        h[p.SLOTS] = sum(map(self._slots_of, t.containers))
        h[p.OUTPUTS], h[p.STREAMS] = len(t.outputs), len(t.layout.streams)
        h[p.REACH], h[p.PERIOD], h[p.HANDOVER] = rules.reach, rules.period, rules.handover
        h[p.FIRING], h[p.RETREAT] = rules.firing, rules.retreat
        h[p.OVERHEAT_COUNT], h[p.OVERHEAT_WINDOW] = rules.overheat_count, rules.overheat_window

    def _slots_of(self, part: Bin | Node | Furnace) -> int:
        rules = self.t.rules
        return {"bin": rules.bin_slots, "node": rules.node_slots, "furnace": len(FURNACE_SLOTS)}[part.kind]

    def _signals(self, nets_of: Sequence[int]) -> None:
        t = self.t
        codes: dict[type, int] = {Inverter: p.INVERTER, Relay: p.RELAY, Gauge: p.GAUGE}
        self._list(p.PART_TYPE, (codes[type(part)] for part in t.wiring.parts))
        self._list(p.PART_DELAY, (delay_of(part, t.rules) for part in t.wiring.parts))
        self._list(p.INPUT_SOLID, t.wiring.input_solid)
        read = [part.at for part in t.containers if part.at in t.wiring.gauges_of_container]
        self._list(p.READS, (p.NOTHING if cell is None else read.index(cell) for cell in t.wiring.reads))
        self._list(p.NET_OF_LINE, nets_of)

    def _wiring(self, nets: Sequence[Sequence[int]]) -> None:
        t, w = self.t, self.t.wiring
        self._table(p.STRONG_SOURCES, w.strong_sources)
        self._table(p.STRONG_INTO, w.strong_into)
        self._table(p.WEAK_SOURCES, w.weak_sources)
        self._table(p.WEAK_INTO, w.weak_into)
        self._table(p.LINE_SOURCES, w.line_sources)
        self._table(p.FEEDS_LINES, w.feeds_lines)
        self._table(p.SOLIDS_OF_LINE, w.solids_of_line)
        self._table(p.LINES_OF_SOLID, w.lines_of_solid)
        self._table(p.LINKED_FROM, w.linked_from)
        self._table(p.SOLIDS_OF_NODE, w.solids_of_node)
        self._table(p.NODES_OF_SOLID, w.nodes_of_solid)
        self._table(p.PARTS_OF_NODE, w.parts_of_node)
        self._table(p.NODES_OF_PART, w.nodes_of_part)
        self._table(p.LINES_OF_NODE, w.lines_of_node)
        self._table(p.NODES_OF_LINE, w.nodes_of_line)
        self._table(p.INPUT_LINES, w.input_lines)
        self._table(p.INPUT_PARTS, w.input_parts)
        self._table(p.SIDE_LINES, w.side_lines)
        self._table(p.SIDE_PARTS, w.side_parts)
        self._table(p.READERS_OF_SOLID, w.readers_of_solid)
        self._table(p.READERS_OF_LINE, w.readers_of_line)
        self._table(p.READERS_OF_PART, w.readers_of_part)
        self._table(p.LINES_OF_NET, nets)
        read = [part.at for part in t.containers if part.at in w.gauges_of_container]
        self._table(p.GAUGES_OF_READ, [w.gauges_of_container[cell] for cell in read])
        self.header[p.READ_STORES] = len(read)
        self._list(p.READ_STORE, (t.store_no[cell] for cell in read))
        numbers = {cell: i for i, cell in enumerate(read)}
        self._list(p.READ_NUMBER, (numbers.get(part.at, p.NOTHING) for part in t.containers))
        inverters = [i for i, part in enumerate(w.parts) if isinstance(part, Inverter)]
        self.header[p.INVERTERS] = len(inverters)
        numbered = {part: number for number, part in enumerate(inverters)}
        self._list(p.INVERTER_NUMBER, (numbered.get(i, p.NOTHING) for i in range(len(w.parts))))

    def _stores(self) -> None:
        t = self.t
        first = [0]
        for part in t.containers:
            first.append(first[-1] + self._slots_of(part))
        self._list(p.FIRST_SLOT, first)
        self._list(p.STORE_TYPE, (("bin", "node", "furnace").index(part.kind) for part in t.containers))
        counts = {"bin": 0, "node": 0, "furnace": 0}
        owners = []
        for part in t.containers:
            owners.append(counts[part.kind])
            counts[part.kind] += 1
        self._list(p.STORE_OWNER, owners)
        self._list(p.IS_SINK, (int(part.at in t.sinks) for part in t.containers))
        outputs = [[j for j, out in enumerate(t.outputs) if out.store == i] for i in range(len(t.containers))]
        self._table(p.OUTPUTS_OF_STORE, outputs)
        self._list(p.OUTPUT_KIND, (out.kind for out in t.outputs))
        self._list(p.OUTPUT_STREAM, (out.stream for out in t.outputs))

    def _machines(self) -> None:
        t = self.t
        world = World(t.layout, t.base, wiring=t.wiring)
        nodes = list(world.nodes.values())
        no = t.store_no
        self._list(p.NODE_STORE, (no[node.at] for node in nodes))
        self._list(p.NODE_ABOVE, (no.get(node.above, p.NOTHING) for node in nodes))
        self._list(p.NODE_TARGET, (no.get(node.target, p.NOTHING) for node in nodes))
        entries = {"D": p.FEED, "U": p.NO_ENTRY}
        self._list(p.NODE_ENTRY, (entries.get(node.outlet, p.FUEL) for node in nodes))
        touching = [
            [t.machine_no[n.at] for n in nodes if part.at in (n.at, n.above, n.target)]
            + ([t.machine_no[part.at]] if isinstance(part, Furnace) else [])
            for part in t.containers
        ]
        self._table(p.MACHINES_OF_STORE, touching)
        self._list(p.FURNACE_STORE, (no[cell] for cell in world.furnaces))

    def _kinds(self) -> None:
        t = self.t
        items = [t.layout.items.get(kind) for kind in t.kinds]
        limits = [t.layout.stack_limit(t.rules)(kind) for kind in t.kinds]
        common = math.lcm(*limits)
        if common > COMMON_LIMIT_MOST:
            raise InputError(f"the stack limits {sorted(set(limits))} have no common multiple up to "
                             f"{COMMON_LIMIT_MOST}; use limits that divide one another", field="items")
        self.header[p.COMMON_LIMIT] = common
        self._list(p.LIMIT, limits)
        self._list(p.WEIGHT, (common // limit for limit in limits))
        self._list(p.BURN, (item.burn if item else 0 for item in items))
        fires = [item.fires_to if item else None for item in items]
        self._list(p.FIRES_TO, (p.NOTHING if kind is None else t.kind_no[kind] for kind in fires))

    def _places_of_state(self) -> None:
        h = self.header
        at = p.STATE_HEADER
        for place, size in (
            (p.OUT, p.PARTS), (p.DUE, p.PARTS), (p.STRONG, p.SOLIDS), (p.ENERGISED, p.SOLIDS),
            (p.LEVEL, p.LINES), (p.LOCKED, p.NODES), (p.KIND, p.SLOTS), (p.COUNT, p.SLOTS), (p.ITEMS, p.STORES),
            (p.READY, p.NODES), (p.IDLE, p.MACHINES), (p.FIRE, p.FURNACES), (p.PROGRESS, p.FURNACES),
            (p.DELIVERED, p.OUTPUTS), (p.FIRST_ARRIVAL, p.STREAMS), (p.LAST_ARRIVAL, p.STREAMS),
            (p.SWITCH_OFF_COUNT, p.PARTS), (p.OVERHEATED, p.PARTS), (p.READING, p.READ_STORES),
        ):
            h[place] = at
            at += h[size]
        h[p.QUEUE] = at  # what has run in this tick leaves its place only at the end of it
        at += 2 * h[p.PARTS]
        h[p.SWITCH_OFFS] = at
        h[p.STATE_SIZE] = at + h[p.PARTS] * h[p.OVERHEAT_COUNT]
        at = p.SCRATCH_HEADER
        for place, size in (
            (p.PART_MARK, p.PARTS), (p.PART_LIST, p.PARTS), (p.SOLID_MARK, p.SOLIDS), (p.SOLID_LIST, p.SOLIDS),
            (p.NET_MARK, p.NETS), (p.NET_LIST, p.NETS), (p.NODE_MARK, p.NODES), (p.NODE_LIST, p.NODES),
            (p.NEW_LEVEL, p.LINES), (p.CHANGED_LINES, p.LINES), (p.READ_MARK, p.READ_STORES),
            (p.READ_LIST, p.READ_STORES), (p.SWITCHED_OFF, p.PARTS),
        ):
            h[place] = at
            at += h[size]
        h[p.SCRATCH_SIZE] = at
        h[p.SIGNAL_SIZE] = 3 * h[p.PARTS] + 2 * h[p.SOLIDS] + h[p.LINES] + h[p.NODES] + 1
