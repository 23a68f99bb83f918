"""Rows of any scheme whose locks are ideal: each follows the scheme's lock table after just the delays asked for."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

import networkx as nx

from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Part
from sim.world.rulebook import default_rules
from sim.world.world import World
from synth.schemes.scheme import LockRow, Role, Scheme

RULES = default_rules()
STACK = 64
QUIET = 60
"""Ticks without any change after which nothing can come: longer than every cooldown and every delay tried."""
TICKS_MOST = 60_000
Number = tuple[Role, int]
Delays = Mapping[str, int]
Also = Mapping[Number, Collection[tuple[bool, ...]]]
Arrivals = Mapping[int, int]
"""Items put in after each tick (0: before tick 1)."""
AT = {"T": 2, "B": 1}


def straight_row(scheme: Scheme, outputs: int, handover: int) -> Layout:
    """The scheme's row, west to east, with no signal part at all; T in layer 2, number i at x = i."""
    start = scheme.start("clay", STACK, RULES)
    parts: list[Part] = [Bin((scheme.first, 0, 3))]
    parts += [Node((i, 0, 2), "E", start) for i in scheme.numbers("T", outputs)]
    parts += [Node((i, 0, 1), "D") for i in range(1, outputs + 1)]
    parts += [Furnace((i, 0, 0)) for i in range(1, outputs + 1)]
    stream = Stream("feed", "clay", (scheme.first, 0, 3), tuple((i, 0, 0) for i in range(1, outputs + 1)))
    items = {"clay": ItemKind(stack=STACK)}
    return Layout("", (outputs + 2, 1, 4), items, tuple(parts), (stream,), {"handover": handover})


@dataclass
class Delayed:
    """A truth as known some ticks later. Changes at the end of tick t show in the machine phase of tick t + delay.

    ``steady``: what lasts for one tick alone is not passed on, as a gauge does that takes its reading anew when its
    change falls due (rulebook section 4, "Timing").
    """

    steady: bool
    changes: list[tuple[int, bool]] = field(default_factory=list)
    began: int | None = None

    def note(self, tick: int, holds: bool) -> None:
        if not self.changes:
            self.changes.append((tick, holds))
        elif self.began is not None:
            if self.changes[-1][1] != holds:
                self.changes.append((self.began, holds))
            self.began = None
        elif self.changes[-1][1] != holds:
            if self.steady:
                self.began = tick
            else:
                self.changes.append((tick, holds))

    def at(self, tick: int) -> bool:
        return next((holds for since, holds in reversed(self.changes) if since <= tick), self.changes[0][1])


class IdealLocks(World):
    """``delays``: by label; ``later``: ticks more on the way to the locks of some nodes; ``also``: nodes that are
    locked in these rows of the table, whatever it says (else those of no class are not)."""

    def arrange(
        self, scheme: Scheme, outputs: int, delays: Delays, later: Mapping[Number, int], also: Also
    ) -> None:
        self.scheme, self.outputs, self.delays, self.later, self.also = scheme, outputs, delays, later, also
        self.seen: dict[Number, Delayed] = {}
        for watch in scheme.watches:
            for i in scheme.members(watch.nodes, outputs):
                self.seen[watch.nodes.role, i] = Delayed(steady=bool(scheme.ahead))
        self._note()

    def advance(self) -> bool:
        # there are no signal parts, so that the field stays as it is set here
        for kind, nodes in enumerate(self.scheme.classes):
            for i in self.scheme.members(nodes, self.outputs):
                state = self.nodes[i, 0, AT[nodes.role]]
                self.field.locked[state.number] = bool(self._row_for((nodes.role, i)).locked[kind])
        for number, rows in self.also.items():
            state = self.nodes[number[1], 0, AT[number[0]]]
            self.field.locked[state.number] = self._row_for(number).reads in rows
        changed = super().advance()
        self._note()
        return changed

    def _note(self) -> None:
        for watch in self.scheme.watches:
            for i in self.scheme.members(watch.nodes, self.outputs):
                store = self.stores[i, 0, AT[watch.nodes.role]]
                enough = store.fill_level(RULES.reach) >= watch.level
                self.seen[watch.nodes.role, i].note(self.tick, store.is_full() if self.scheme.reads_full else enough)

    def _row_for(self, number: Number) -> LockRow:
        """The row of the table that the node's lock is in, as it has heard."""
        rows = list(self.scheme.table)
        for k, watch in enumerate(self.scheme.watches):
            members = self.scheme.members(watch.nodes, self.outputs)
            if watch.apart and number[1] not in members:
                continue
            fellow = number[1] if watch.apart else members[0]
            heard = self.tick + 1 - self.delays[watch.label] - self.later.get(number, 0)
            reads = self.seen[watch.nodes.role, fellow].at(heard)
            rows = [row for row in rows if row.reads[k] == reads]
        return rows[0]


def outcome(
    scheme: Scheme,
    outputs: int,
    handover: int,
    delays: Delays,
    arrivals: Arrivals,
    order: Sequence[Cell] | None = None,
    later: Mapping[Number, int] | None = None,
    also: Also | None = None,
) -> tuple[list[int], int]:
    """What each target has got when all is quiet, and what the nodes hold more than at the start."""
    world = IdealLocks(straight_row(scheme, outputs, handover), order=order)
    world.arrange(scheme, outputs, delays, later or {}, also or {})
    source, coming = (scheme.first, 0, 3), dict(arrivals)
    before = sum(node.store.items for node in world.nodes.values())
    quiet, last = 0, max(coming)
    if 0 in coming:
        world.put([(source, "clay", coming[0])])
    while quiet < QUIET or world.tick <= last:
        quiet = 0 if world.advance() else quiet + 1
        if world.tick in coming:
            world.put([(source, "clay", coming[world.tick])])
            quiet = 0
        assert world.tick < TICKS_MOST
    delivered = [world.stores[i, 0, 0].count("clay") for i in range(1, outputs + 1)]
    return delivered, sum(node.store.items for node in world.nodes.values()) - before


def splits(scheme: Scheme, outputs: int, result: tuple[list[int], int], put: int) -> bool:
    """Every target has got as many, and the nodes hold the rest, no more than the scheme says (or, where items came
    that are no multiple of N, what is over)."""
    delivered, held = result
    kept = scheme.held(outputs, RULES, STACK)
    most = kept if put % outputs == 0 else max(kept, outputs - 1)
    return len(set(delivered)) == 1 and sum(delivered) + held == put and 0 <= held <= most


def drawn_arrivals(rng: random.Random, outputs: int, whole: bool, waiting: int = 0) -> dict[int, int]:
    """Items one by one with gaps of many sorts; ``whole``: a multiple of N in all; so many more as may wait."""
    count = outputs * rng.randint(1, 6) if whole else rng.randint(1, 8 * outputs)
    count += waiting // outputs * outputs
    gaps = rng.choice([range(41), (1, 7, 8, 9, 10, 15, 16, 17, 24), (8,)])
    arrivals: dict[int, int] = {}
    tick = 0
    for _ in range(count):
        arrivals[tick] = arrivals.get(tick, 0) + 1
        tick += rng.choice(gaps)
    return arrivals


def waiting(scheme: Scheme, outputs: int) -> int:
    """Items that must have come before anything does, where these are many."""
    kept = scheme.held(outputs, RULES, STACK)
    return kept if kept >= 2 * outputs else 0


def drawn_order(rng: random.Random, layout: Layout) -> list[Cell]:
    """A random update order."""
    cells = [part.at for part in layout.machines]
    return rng.sample(cells, len(cells))


def exchange_graph(scheme: Scheme, outputs: int) -> nx.Graph[Cell]:
    """Who touches a container in common: T with the next T, B with its T and with the T that pushes into that one.

    Furnaces without fuel never act.
    """
    graph: nx.Graph[Cell] = nx.Graph()
    numbers = scheme.numbers("T", outputs)
    graph.add_edges_from(((i, 0, 2), (i + 1, 0, 2)) for i in numbers[:-1])
    for i in range(1, outputs + 1):
        graph.add_edge((i, 0, 2), (i, 0, 1))
        if i > scheme.first:
            graph.add_edge((i - 1, 0, 2), (i, 0, 1))
    return graph


def orders_that_differ(scheme: Scheme, outputs: int) -> Iterator[list[Cell]]:
    """One update order for each acyclic orientation of the exchange graph (Stanley 1973), the furnaces last."""
    edges = sorted(exchange_graph(scheme, outputs).edges)
    for turned in product((False, True), repeat=len(edges)):
        directed = nx.DiGraph((b, a) if flip else (a, b) for (a, b), flip in zip(edges, turned, strict=True))
        if nx.is_directed_acyclic_graph(directed):
            furnaces = [(i, 0, 0) for i in range(1, outputs + 1)]
            yield [*nx.lexicographical_topological_sort(directed), *furnaces]
