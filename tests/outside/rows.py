"""The same rows twice: as layouts for the simulator and as SimPy models.

*Tandem line*: a bin above the first of several nodes, each pushing into the next, the last one into a bin or a kiln.

*Burst row*: the row of RULEBOOK.md section 5 with the lock of its facts 3 and 4. From west to east, layer 2::

    y=5   #  iW  -  -  -  -     the gauge on T0 reads nothing: the inverter is lit and unlocks
    y=4   gN                -
    y=3   T0 T1 T2 T3 gE    #   this support energised: unlocked
    y=2      -  -  -        iN  else the inverter lights the run over the supports beside the B nodes
    y=1      r              -   rows longer than a run reaches: relays feed the run
    y=0      -  r  -  -  -  -   from a second one

with the source above T0, the B nodes below T1.. and a kiln below each B node.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support

from .simpy_world import Container, SimPyWorld
from .simpy_world import Node as SimPyNode

BIN_SLOTS = 27
REACH = 15
SOURCE_WEST = 13  # level of the lock's run at the last B node: 15 below its inverter, less two cells


@dataclass(frozen=True)
class Numbers:
    """The numbers of the world that these rows are made with. ``stack``: items in a slot."""

    period: int = 8
    handover: int = 8
    node_slots: int = 5
    stack: int = 64

    def rules(self) -> dict[str, int]:
        return {"period": self.period, "handover": self.handover, "node_slots": self.node_slots, "stack": self.stack}

    def simpy_world(self) -> SimPyWorld:
        return SimPyWorld(self.period, self.handover, self.node_slots * self.stack)


@dataclass(frozen=True)
class Model:
    """A row in SimPy. ``containers`` and ``nodes`` stand in the order of the layout's parts, by cell."""

    world: SimPyWorld
    source: Container
    containers: dict[Cell, Container]

    @property
    def nodes(self) -> dict[Cell, SimPyNode]:
        return {cell: c for cell, c in self.containers.items() if isinstance(c, SimPyNode)}


# -- tandem line -----------------------------------------------------------------------------------------------------


def line_layout(nodes: int, numbers: Numbers, *, into: str = "bin", held: Sequence[int] = ()) -> Layout:
    """``nodes`` nodes in a row; the last pushes down into a ``bin`` or a ``furnace`` (its feed slot, one stack).

    ``held``: the items, one stack at most, that the first nodes start with.
    """
    holds = [(("clay", count),) if count else () for count in held] + [()] * (nodes - len(held))
    parts: list[Part] = [Bin((0, 0, 2))]
    parts += [Node((x, 0, 1), "E" if x < nodes - 1 else "D", holds[x]) for x in range(nodes)]
    parts.append(Bin((nodes - 1, 0, 0)) if into == "bin" else Furnace((nodes - 1, 0, 0)))
    stream = Stream("feed", "clay", (0, 0, 2), ((nodes - 1, 0, 0),))
    return Layout("line", (nodes, 1, 3), {}, tuple(parts), (stream,), numbers.rules())


def line_model(nodes: int, numbers: Numbers, *, into: str = "bin", held: Sequence[int] = ()) -> Model:
    world = numbers.simpy_world()
    source = Container(BIN_SLOTS * numbers.stack)
    following: Container = Container(numbers.stack * (BIN_SLOTS if into == "bin" else 1))
    containers = {(nodes - 1, 0, 0): following}
    for x in reversed(range(nodes)):
        following = containers[x, 0, 1] = world.node(source if x == 0 else None, following)
    world.nodes.reverse()
    for node, count in zip(world.nodes, held, strict=False):
        node.items = count
    return Model(world, source, dict(reversed(containers.items())))


# -- burst row -------------------------------------------------------------------------------------------------------


def burst_row_layout(targets: int, numbers: Numbers = Numbers()) -> Layout:
    """The row in the picture above, B nodes first in the update order."""
    east = targets + 2
    parts: list[Part] = [Bin((0, 3, 3))]
    parts += [Node((i, 3, 1), "D") for i in range(1, targets + 1)]
    parts += [Node((i, 3, 2), "E") for i in range(targets + 1)]
    parts += [Furnace((i, 3, 0)) for i in range(1, targets + 1)]
    parts += [Gauge((0, 4, 2), "N"), Support((0, 5, 2)), Inverter((1, 5, 2), "W")]
    parts += _north_run(targets)
    parts += [Gauge((east - 1, 3, 2), "E"), Support((east, 3, 2)), Inverter((east, 2, 2), "N")]
    parts += [Line((east, 2, 1)), Line((east - 1, 2, 1)), *(Line((i, 2, 2)) for i in range(1, targets + 1))]
    parts += _south_run(targets)
    built = {part.at for part in parts}
    under = dict.fromkeys((p.at[0], p.at[1], p.at[2] - 1) for p in parts if isinstance(p, (Line, Relay, Gauge)))
    parts += [Support(cell) for cell in under if cell not in built]
    stream = Stream("feed", "clay", (0, 3, 3), tuple((i, 3, 0) for i in range(1, targets + 1)))
    items = {"clay": ItemKind(fires_to="brick")}
    title = f"{targets} kilns, clay"
    return Layout(title, (targets + 3, 6, 4), items, tuple(parts), (stream,), numbers.rules())


def burst_row_model(targets: int, numbers: Numbers = Numbers()) -> Model:
    """The same row; its gates stand in the layout's order of signal parts."""
    world = numbers.simpy_world()
    source = Container(BIN_SLOTS * numbers.stack)
    kilns = [Container(numbers.stack) for _ in range(targets)]
    row: list[SimPyNode] = []
    for i in reversed(range(targets + 1)):
        row.insert(0, world.node(source if i == 0 else None, row[0] if row else None))
    below = [world.node(row[i], kilns[i - 1]) for i in range(1, targets + 1)]
    world.nodes = [*below, *row]
    drain = world.inverter(world.gauge(row[0]))
    for _ in _relays_north(targets):
        drain = world.relay(drain)
    shut = world.inverter(world.gauge(row[-1]), drain)
    feeds = [(range(targets + 1 - SOURCE_WEST, targets + 1), shut)]
    trunk = shut
    for number, tap in enumerate(_taps(targets)):
        trunk = world.relay(trunk) if number else trunk
        feeds.append((range(tap - REACH + 1, tap + REACH), world.relay(trunk)))
    for i, node in enumerate(below, 1):
        world.lock(node, *(gate for reach, gate in feeds if i in reach))
    containers: dict[Cell, Container] = {(i, 3, 1): node for i, node in enumerate(below, 1)}
    containers |= {(i, 3, 2): node for i, node in enumerate(row)}
    containers |= {(i, 3, 0): kiln for i, kiln in enumerate(kilns, 1)}
    return Model(world, source, containers)


def _north_run(targets: int) -> list[Part]:
    """From the inverter at the west end to the support at the east end, with relays where its reach runs out."""
    relays = _relays_north(targets)
    run: list[Part] = [Relay((x, 5, 2), "E") if x in relays else Line((x, 5, 2)) for x in range(2, targets + 3)]
    return [*run, Line((targets + 2, 4, 2))]


def _relays_north(targets: int) -> range:
    return range(2 + 13, targets + 2, 13)


def _taps(targets: int) -> range:
    """The columns where a relay feeds the run over the supports: each where the reach of the feed before it ends."""
    return range(targets + 2 - SOURCE_WEST, 1, 1 - REACH)


def _south_run(targets: int) -> list[Part]:
    """A second run west from the inverter, with relays in it, and one relay north of it in each of the columns."""
    taps = _taps(targets)
    if not taps:
        return []
    relays = [tap - 1 for tap in taps[:-1]]
    run: list[Part] = [Line((targets + 2, 1, 2))]
    for x in range(targets + 2, taps[-1] - 1, -1):
        run.append(Relay((x, 0, 2), "W") if x in relays else Line((x, 0, 2)))
    parts: list[Part] = []
    for number, tap in enumerate(taps):  # in the order in which burst_row_model makes its gates
        parts += [part for part in run if number and part.at == (taps[number - 1] - 1, 0, 2)]
        parts.append(Relay((tap, 1, 2), "N"))
    return [*parts, *(part for part in run if isinstance(part, Line))]
