"""The graph of influence against the simulator: whatever a change of one reading changes, the graph has a way to."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hall_plans import VARIANTS, hall, hall_with
from oracle.random_builds import random_layout
from sim.analysis.couplings.found import couplings_in
from sim.analysis.couplings.graph import InfluenceGraph, Vertex, gauge_vertices, influence_graph
from sim.analysis.couplings.sources import always_lit, self_driven
from sim.analysis.couplings.study import study_of
from sim.analysis.couplings.ways import tree_of, way_to
from sim.world.files.consistency import slots_of
from sim.world.files.layout_json import layout_from_json
from sim.world.geometry import Cell, Direction, step
from sim.world.layout import Layout
from sim.world.parts import OUTPUTS, Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Slot, Support
from sim.world.rulebook import default_rules
from sim.world.world import World
from strategies import layouts
from worlds import drawn

TICKS = 60
SEEDS = st.integers(min_value=0, max_value=2**32 - 1)


def graph_of(layout: Layout) -> InfluenceGraph:
    return influence_graph(layout, layout.rules_in_force(default_rules()))


def reached(graph: InfluenceGraph, container: Cell) -> set[tuple[str, int]]:
    """What the gauges on a container have a way to."""
    gauges = [vertex for vertex, cell in gauge_vertices(graph) if cell == container]
    return {(vertex.kind, vertex.number) for vertex in tree_of(graph.varying, gauges)}


def field_of(world: World) -> dict[tuple[str, int], int]:
    """Everything that signals come to at this instant."""
    field = world.field
    values: dict[str, Sequence[int]] = {
        "part": field.out,
        "line": field.level,
        "strong": field.strong,
        "solid": field.energised,
        "node": field.locked,
    }
    return {(kind, number): value for kind, row in values.items() for number, value in enumerate(row)}


def filling(rng: random.Random, layout: Layout, part: Bin | Node | Furnace) -> tuple[Slot | None, ...]:
    """Some contents: nothing, a little, or as much as goes in."""
    rules = layout.rules_in_force(default_rules())
    slots = {Bin: rules.bin_slots, Node: rules.node_slots}.get(type(part), 3)
    slots = min(slots, 30)
    share = rng.choice([0.0, 0.2, 1.0, 1.0])
    most = min(layout.items["clay"].stack or rules.stack if "clay" in layout.items else rules.stack, 64)
    return tuple(("clay", rng.randint(1, most)) if rng.random() < share else None for _ in range(slots))


def filled(layout: Layout, cell: Cell, holds: tuple[Slot | None, ...]) -> Layout:
    parts = tuple(
        replace(part, holds=holds) if part.at == cell and isinstance(part, (Bin, Node, Furnace)) else part
        for part in layout.parts
    )
    return replace(layout, parts=parts)


def signals(world: World, refill: tuple[int, Cell, tuple[Slot | None, ...]] | None = None) -> Iterator[World]:
    """The world at the end of each tick with its machines at a standstill; ``refill``: new contents at a tick."""
    world.start()
    yield world
    for tick in range(1, TICKS):
        world.timing.run_due(tick)
        if refill is not None and refill[0] == tick:
            _, cell, holds = refill
            world.stores[cell].restore(list(holds))
            world.timing.notice(world.field.wiring.gauges_of_container[cell], tick)
        yield world


@dataclass
class Shown:
    """How often something differed, by kind: else the property would say little."""

    differed: Counter[str]


def check_build(layout: Layout, rng: random.Random, shown: Shown) -> None:
    graph = graph_of(layout)
    for cell in {cell for _, cell in gauge_vertices(graph)}:
        part = layout.by_cell[cell]
        assert isinstance(part, (Bin, Node, Furnace))
        ways = reached(graph, cell)
        one, other = filling(rng, layout, part), filling(rng, layout, part)
        first, second = World(filled(layout, cell, one)), World(filled(layout, cell, other))
        if not (first.settled and second.settled):
            continue
        refill = (rng.randint(3, 12), cell, filling(rng, layout, part)) if rng.random() < 0.5 else None
        for here, there in zip(signals(first), signals(second, refill), strict=True):
            before, after = field_of(here), field_of(there)
            differing = {thing for thing in before if before[thing] != after[thing]}
            assert differing <= ways, (differing - ways, cell)
            shown.differed.update(kind for kind, _ in differing)


def shrunk(layout: Layout) -> Layout:
    """Small slots, so that readings of every height come up."""
    return replace(layout, rules={**layout.rules, "node_slots": 2, "bin_slots": 3})


@settings(max_examples=120)
@given(SEEDS)
def test_what_a_reading_changes_the_graph_has_a_way_to(seed: int) -> None:
    rng = random.Random(seed)
    check_build(layout_from_json(random_layout(rng)), rng, Shown(Counter()))


@settings(max_examples=60)
@given(layouts(most_parts=16), SEEDS)
def test_what_a_reading_changes_the_graph_has_a_way_to_in_builds_that_need_not_work(layout: Layout, seed: int) -> None:
    rules = {name: value for name, value in layout.rules.items() if value < 1000}
    emptied = replace(layout, items={}, rules=rules)
    for part in layout.containers:
        emptied = filled(emptied, part.at, ())
    check_build(shrunk(emptied), random.Random(seed), Shown(Counter()))


def dense_build(rng: random.Random) -> Layout:
    """A box of 4 x 4 x 2 on the ground, every cell a part of some kind, mostly such as carry signals."""
    cells = [(x, y, z) for z in range(2) for y in range(4) for x in range(4)]
    words = ["-"] * 8 + ["#"] * 5 + ["iE", "iW", "iN", "iS", "iD", "r1E", "r1W", "r2N", "r1S", "gE", "gW", "gN", "gS"]
    words += ["nE", "nD", "B", "B*", "F", ".", "."]
    drawing = {cell: rng.choice(words) for cell in cells}
    return drawn(
        " / ".join(
            " ; ".join(" ".join(drawing[x, y, z] for x in range(4)) for y in reversed(range(4))) for z in range(2)
        ),
        "rule node_slots 2\nrule bin_slots 3",
    )


def test_dense_builds_show_differences_of_every_kind_and_all_have_ways() -> None:
    shown = Shown(Counter())
    for seed in range(600):
        rng = random.Random(seed)
        check_build(dense_build(rng), rng, shown)
    assert all(shown.differed[kind] > 100 for kind in ("part", "line", "strong", "solid", "node")), shown.differed


def test_ways_are_as_short_as_networkx_finds_them() -> None:
    compared = 0
    for layout in [hall_with(*more) for more in VARIANTS.values()] + [
        dense_build(random.Random(n)) for n in range(100)
    ]:
        graph = graph_of(layout).varying
        for source in [vertex for vertex in graph if vertex.kind == "part"]:
            tree = tree_of(graph, [source])
            lengths = nx.single_source_shortest_path_length(graph, source)
            assert {vertex: len(way_to(tree, vertex)) - 1 for vertex in tree} == lengths
            compared += len(lengths)
    assert compared > 500


@dataclass(frozen=True)
class Law:
    """``way``: the laws along a way from a gauge to a node in the drawing."""

    what: str
    drawing: str
    way: str


LAWS = (
    Law("in front of a gauge", "B gE nW", "in front"),
    Law("a line that points into it", "B gE - nW", "in front;points into"),
    Law("a line that links to one a step up", "B gE - # . / . . . - nW", "in front;links to;points into"),
    Law("a line on top of a cell", ". . # nW / B gE - .", "in front;on top of;locks"),
    Law("a cell that a gauge energises", "B gE # nW", "in front;energises strongly;locks"),
    Law("a line beside such a cell", "B gE # - nW", "in front;feeds;points into"),
    Law("a line that points into a cell", "B gE - # nW", "in front;points into;locks"),
    Law("an inverter by its mount", "B gE # iW nW", "in front;energises strongly;mount;beside"),
    Law(
        "a cell above an inverter",
        "B gE # iW nW / . . . # nW",
        "in front;energises strongly;mount;directly below;energises strongly;locks",
    ),
    Law("a relay behind a cell", "B gE # r1E nW", "in front;energises strongly;behind;in front"),
    Law("a relay behind a gauge", "B gE r1E nW", "behind;in front"),
    Law("a relay behind a line", "B gE - r1E nW", "in front;behind;in front"),
    Law("a relay that a gauge latches", "B* gE # r1E nW ; . . . gN . ; . . . B .", "latches;in front"),
    Law("a gauge with another at its side", "B gE nW ; . gN . ; . B* .", "side input;in front"),
    Law("a gauge with a line at its side", "B gE nW ; . - . ; . gN . ; . B* .", "in front;side input;in front"),
)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.what)
def test_each_law_is_an_edge(law: Law) -> None:
    graph = graph_of(drawn(law.drawing))
    assert law.way in ways_to_nodes(graph, [vertex for vertex, _ in gauge_vertices(graph)])


def ways_to_nodes(graph: InfluenceGraph, sources: list[Vertex], *, steady: bool = False) -> list[str]:
    """The laws along a shortest way from each source to each node that it reaches."""
    edges = graph.steady if steady else graph.varying
    trees = [tree_of(edges, [source]) for source in sources]
    ways = [way_to(tree, end) for tree in trees for end in tree if end.kind == "node"]
    return [";".join(edges.edges[edge]["law"] for edge in nx.utils.pairwise(way)) for way in ways]


@pytest.mark.parametrize(
    ("what", "drawing", "lines"),
    [
        ("a run that ends beyond reach", "B gE" + " -" * 16 + " nW", ""),
        ("... by the rulebook", "B gE - - - nW", "rule reach 2"),
        ("a gauge that reads nothing", ". gE - nW", ""),
        ("a relay that is always on", ". gE r1E nW ; . . iD . ; . . . .", ""),
        ("a node that is locked anyhow", "B gE - nW iD", ""),
        ("an inverter that is always out", "B gE - # iW nW ; . . . - . . ; . . . iD . .", ""),
        ("a gauge behind a relay that faces another way", "B gE r1N . ; . . . .", ""),
    ],
)
def test_nothing_is_carried_by_what_never_changes(what: str, drawing: str, lines: str) -> None:
    graph = graph_of(drawn(drawing, lines))
    assert ways_to_nodes(graph, [vertex for vertex, _ in gauge_vertices(graph)]) == []


def test_a_run_reaches_as_far_as_the_rulebook_says() -> None:
    graph = graph_of(drawn("B gE" + " -" * 15 + " nW"))
    (way,) = ways_to_nodes(graph, [vertex for vertex, _ in gauge_vertices(graph)])
    assert way == "in front;" + "links to;" * 14 + "points into"


def test_what_is_on_by_no_gauges_doing() -> None:
    lit = graph_of(drawn("# iW r1E nW"))
    assert [lit.cell(vertex) for vertex in always_lit(lit)] == [(1, 0, 0)]
    assert ways_to_nodes(lit, list(always_lit(lit)), steady=True) == ["behind;in front"]
    assert self_driven(lit) == ()
    clock = graph_of(drawn("- - - nW ; - . - . ; # iW - ."))
    assert [clock.cell(vertex) for vertex in self_driven(clock)] == [(1, 0, 0)]
    assert always_lit(clock) == ()


def disturbed_hall(rng: random.Random) -> Layout:
    """The clean hall with gauges beside some of its containers and lines and the like strewn over its free cells."""
    layout = hall()
    parts: dict[Cell, Part] = dict(layout.by_cell)
    for part in rng.sample(layout.containers, 8):
        side = rng.choice(OUTPUTS)
        at = step(part.at, side)
        if all(0 <= place < limit for place, limit in zip(at, layout.size, strict=True)):
            parts.setdefault(at, Gauge(at, side))
    free = [cell for cell in product(*map(range, layout.size)) if cell not in parts]
    for cell in rng.sample(free, rng.randint(30, 80)):
        parts[cell] = rng.choice(WIRES)(cell, rng.choice(OUTPUTS))
    return replace(layout, parts=tuple(parts.values()))


WIRES: tuple[Callable[[Cell, Direction], Part], ...] = (
    *[lambda at, side: Line(at)] * 12,
    *[lambda at, side: Support(at)] * 6,
    *[Relay] * 3,
    Inverter,
)


def test_a_node_that_another_rows_reading_locks_is_told() -> None:
    """Every node whose lock changes with a container of a row that it does not belong to is in some coupling."""
    crossed = 0
    for seed in range(120):
        rng = random.Random(seed)
        layout = disturbed_hall(rng)
        study = study_of(layout)
        found = couplings_in(study)
        told = {node for coupling in found for node in coupling.nodes}
        for part in layout.containers:
            origin = study.rows.of.get(part.at, ())
            if part.at not in study.graph.wiring.gauges_of_container or len(origin) != 1:
                continue
            contents = [(), (("clay", 64),) * slots_of(part, default_rules()), filling(rng, layout, part)]
            worlds = [World(filled(layout, part.at, holds)) for holds in contents]
            if all(world.settled for world in worlds):
                for number, node in enumerate(study.graph.wiring.nodes):
                    owners = study.owners(number)
                    if owners and origin[0] not in owners and len({world.field.locked[number] for world in worlds}) > 1:
                        crossed += 1
                        assert node in told, (seed, node, part.at)
    assert crossed > 25, crossed
