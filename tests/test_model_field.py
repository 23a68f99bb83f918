"""The constraint model's signal field against the simulator's, cell by cell; and where the model lets parts stand.

Random wirings stand around a short row placed by hand. In the model every cell is fixed by unit clauses, so that its
field has one solution at most; the simulator settles the same build with the watched nodes empty or holding one item.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from itertools import product

import networkx as nx
import pytest

from sim.analysis.checks.standing import no_support
from sim.world.geometry import HORIZONTAL, Cell, cell_text, is_ground, neighbours, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import MOUNTS, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.signals.structure import faces_a_side, is_solid, links, points_into, read_container
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.world import World
from synth.model.clauses import FALSE, TRUE, Clauses, Lit
from synth.model.field import RowField
from synth.model.grid import Grid
from synth.model.influence import edges
from synth.model.links import Links
from synth.model.placement import every_part_supported, one_part_per_cell
from synth.model.question import Question, StreamQuestion
from synth.model.separation import streams_do_not_couple
from synth.model.timing import chains_are_bounded
from synth.model.vocabulary import (
    EMPTY,
    FURNACE,
    LINE,
    SUPPORT,
    Kind,
    Vocabulary,
    drop_node,
    gauge,
    inverter,
    relay,
    row_node,
)
from synth.schemes.filling import count_reading, stacked
from synth.solving.cp_sat import Answer, CpSat, Effort

FILLINGS = 150
"""Wirings without feedback that are compared, at the least."""
SIGNAL_PARTS_MOST = 8
DELAYS_DRAWN = (1, 2)
STAGES = 32
"""Ticks: eight relays of the longest delay drawn in a chain; delays do not matter to a settled field."""
SECONDS = 60.0
STATES = ((0, 0), (1, 0), (0, 1), (1, 1), (2, 0), (2, 1), (1, 3), (15, 2))
"""What the nodes at both ends of the row read: each row of the burst row's lock table, then readings that differ."""
RULES = default_rules()
Filling = dict[Cell, Part]


def question(size: tuple[int, int, int]) -> Question:
    return Question(
        grid=Grid(size),
        outputs=2,
        streams=(StreamQuestion("feed", "top"),),
        reach=RULES.reach,
        inverter_delay=RULES.inverter_delay,
        gauge_delay=RULES.gauge_delay,
        relay_step=RULES.relay_step,
        stages=STAGES,
        windows={},
        levels=RULES.reach,
    )


# -- the two sides of the comparison ----------------------------------------------------------------------------------


class Model:
    """The field of each row of the lock table for one box, nothing else; and its answer for one filling."""

    def __init__(self, size: tuple[int, int, int]) -> None:
        self.v = Vocabulary(question(size))
        links = Links(self.v)
        self.fields = []
        for head, tail in STATES:
            field = RowField(self.v, links)
            field.state({(0, "head"): head, (0, "tail"): tail})
            self.fields.append(field)
        self.causes = {(i, cell): f.lock_causes(cell) for i, f in enumerate(self.fields) for cell in self.v.cells}
        chains_are_bounded(self.v, edges(self.v, links))

    def answer(self, filling: Filling, row_of: dict[Cell, int]) -> Answer:
        """The solver's answer with every cell fixed."""
        units: list[Lit] = []
        for cell, kinds in self.v.kind.items():
            part = filling.get(cell)
            chosen = kind_of(filling, part, row_of)
            assert chosen in kinds
            units += [lit if kind == chosen else -lit for kind, lit in kinds.items()]
            delay = part.delay if isinstance(part, Relay) else 1
            units += [lit if d == delay else -lit for d, lit in self.v.delay[cell].items()]
        return CpSat(reduced(self.v.clauses, units)).solve(Effort(SECONDS))

    def shown(self, answer: Answer, row: int, filling: Filling) -> dict[str, int]:
        """What the model says of one row of the lock table, cell by cell, in the words of ``settled``."""

        def holds(lit: Lit) -> bool:
            return {TRUE: True, FALSE: False}.get(lit) if abs(lit) == 1 else answer.holds(lit)  # type: ignore[return-value]

        field, shown = self.fields[row], {}
        for cell, part in filling.items():
            at = cell_text(cell)
            match part:
                case Line():
                    shown[f"level {at}"] = sum(holds(field.at_least(cell, k)) for k in field.levels)
                case Inverter():
                    shown[f"lit {at}"] = int(holds(field.lit(cell)))
                case Relay():
                    shown[f"on {at}"] = int(holds(field.relay_on(cell, part.output)))
                case Gauge():
                    shown[f"gauge {at}"] = int(holds(field.gauge_on(cell, part.output)))
                case Support() | Furnace():
                    shown[f"energised {at}"] = int(holds(field.energised(cell)))
                case Node():
                    shown[f"locked {at}"] = int(any(holds(lit) for lit in self.causes[row, cell]))
        return shown


def settled(filling: Filling, row: int, row_of: dict[Cell, int]) -> dict[str, int]:
    """What the simulator's settled field is with the watched nodes as the row of the lock table says."""
    readings = dict(zip((0, 2), STATES[row], strict=True))
    parts = []
    for cell, part in filling.items():
        reading = readings.get(row_of.get(cell, -1), 0)
        if isinstance(part, Node) and reading:
            part = replace(part, holds=stacked("clay", count_reading(reading, RULES.stack, RULES), RULES.stack))
        parts.append(part)
    world = World(layout(parts))
    assert world.settled
    field, wiring = world.field, world.field.wiring
    shown = {f"level {cell_text(c)}": field.level[i] for i, c in enumerate(wiring.lines)}
    for i, part in enumerate(wiring.parts):
        word = {"inverter": "lit", "relay": "on", "gauge": "gauge"}[part.kind]
        shown[f"{word} {cell_text(part.at)}"] = int(field.out[i] > 0)
    for i, cell in enumerate(wiring.solids):
        if not is_ground(cell):
            shown[f"energised {cell_text(cell)}"] = int(field.energised[i])
    for i, cell in enumerate(wiring.nodes):
        shown[f"locked {cell_text(cell)}"] = int(field.locked[i])
    return shown


def reduced(clauses: Clauses, units: list[Lit]) -> Clauses:
    """The same constraints once the units are known: what they satisfy is left out, what they refute shortened.

    A few passes without any search; what else follows from the units is left to the solver.
    """
    known = set(units)
    left: list[tuple[Lit, ...]] = list(clauses.clauses)
    for _ in range(3):
        refuted = {-lit for lit in known}
        shortened = [
            clause if refuted.isdisjoint(clause) else tuple(lit for lit in clause if lit not in refuted)
            for clause in left
            if known.isdisjoint(clause)
        ]
        known.update(clause[0] for clause in shortened if len(clause) == 1)
        left = [clause for clause in shortened if len(clause) != 1]
    few = Clauses(count=clauses.count)
    few.exactly_one_groups, few.sums = clauses.exactly_one_groups, clauses.sums
    for clause in (*left, *((lit,) for lit in known)):
        few.add(*clause)
    return few


def kind_of(filling: Filling, part: Part | None, row_of: dict[Cell, int]) -> Kind:
    match part:
        case None:
            return EMPTY
        case Support():
            return SUPPORT
        case Line():
            return LINE
        case Furnace():
            return FURNACE
        case Inverter():
            return inverter(part.mount)
        case Relay():
            return relay(part.output)
        case Gauge():
            read = read_container(filling, part)
            assert read is not None
            return gauge(part.output, 0, {0: "head", 2: "tail"}[row_of[read]])
        case Node():
            return row_node(0, row_of[part.at]) if part.at in row_of else drop_node(0, "D")
    raise AssertionError(part)


def layout(parts: list[Part], size: tuple[int, int, int] = (9, 9, 9)) -> Layout:
    return Layout("", size, {"clay": ItemKind(stack=64, fires_to="brick")}, tuple(parts))


# -- random wirings ---------------------------------------------------------------------------------------------------


ROWS = {
    "straight": ((4, 3, 3), ((0, 1, 2), (1, 1, 2), (2, 1, 2))),
    "bent": ((3, 3, 3), ((0, 0, 2), (1, 0, 2), (1, 1, 2))),
    "low": ((4, 3, 2), ((1, 1, 1), (2, 1, 1), (2, 2, 1))),
}
"""Boxes, and T0, T1, T2 placed in them by hand; B1, B2 and (where there is room) the furnaces hang below."""


def placed_row(cells: tuple[Cell, ...]) -> Filling:
    placed: Filling = {cell: Node(cell, "E") for cell in cells}
    for cell in cells[1:]:
        below = step(cell, "D")
        placed[below] = Node(below, "D")
        if below[2] > 0:
            placed[step(below, "D")] = Furnace(step(below, "D"))
    return placed


def random_filling(rng: random.Random, size: tuple[int, int, int], row: tuple[Cell, ...]) -> Filling:
    """The row, and around it parts that all stand as they must; gauges read T0 or T2; no relay is latched."""
    filling = placed_row(row)
    watched = {row[0], row[2]}
    for end in sorted(watched):
        place_gauge(rng, filling, end, size)
    cells = [c for c in product(*map(range, size)) if c not in filling]
    rng.shuffle(cells)
    for cell in cells[: rng.randint(0, len(cells) // 2)]:
        filling[cell] = Support(cell)
    rng.shuffle(cells)
    most = rng.randint(4, SIGNAL_PARTS_MOST)
    for cell in cells:
        fitting: list[Part] = []
        if cell not in filling:
            fitting = fitting_parts(rng, filling, cell, watched)
        if fitting and rng.random() < 0.8:
            part = rng.choice(fitting)
            signal_parts = sum(isinstance(p, (Inverter, Relay, Gauge)) for p in filling.values())
            if isinstance(part, Line) or signal_parts < most:
                filling[cell] = part
    return filling


def place_gauge(rng: random.Random, filling: Filling, end: Cell, size: tuple[int, int, int]) -> None:
    """Now and then a gauge right beside the node, with what it stands on and something in front of it."""
    for side in HORIZONTAL:
        at = step(end, side)
        below, ahead = step(at, "D"), step(at, side)
        free = all(c not in filling and all(0 <= x < s for x, s in zip(c, size, strict=True)) for c in (at, below))
        if not free or rng.random() < 0.7:
            continue
        filling[at], filling[below] = Gauge(at, side), Support(below)
        if ahead not in filling and all(0 <= x < s for x, s in zip(ahead, size, strict=True)):
            under = step(ahead, "D")
            if under not in filling and rng.random() < 0.7:
                filling[under] = Support(under)
            if isinstance(filling.get(under), Support):
                filling[ahead] = rng.choice([Line(ahead), Relay(ahead, side, 1), Support(ahead)])


def fitting_parts(rng: random.Random, filling: Filling, cell: Cell, watched: set[Cell]) -> list[Part]:
    fitting: list[Part] = [Inverter(cell, m) for m in MOUNTS if is_solid(filling, step(cell, m))]
    if is_solid(filling, step(cell, "D")):
        gauges = [Gauge(cell, d) for d in HORIZONTAL]
        reading = [g for g in gauges if read_container(filling, g) in watched]
        relays = [Relay(cell, d, rng.choice(DELAYS_DRAWN)) for d in HORIZONTAL]
        fitting += [Line(cell)] * 4 + reading * 4 + relays
    return [part for part in fitting if not latches({**filling, cell: part}, part)]


def latches(filling: Filling, part: Part) -> bool:
    """The part latches a relay that stands already, or is a latched relay itself."""
    around = [filling.get(c) for c in neighbours(part.at)]
    return any(
        isinstance(one, Relay) and isinstance(other, (Relay, Gauge)) and faces_a_side(other, one)
        for beside in around
        for one, other in ((part, beside), (beside, part))
    )


def gauges_still_read(filling: Filling, watched: set[Cell]) -> bool:
    return all(read_container(filling, p) in watched for p in filling.values() if isinstance(p, Gauge))


def feeds_back(wiring: Wiring) -> bool:
    """Some signal part can act on itself, by the simulator's tables of who acts on whom."""
    graph = nx.DiGraph()
    graph.add_nodes_from(("part", i) for i in range(len(wiring.parts)))
    for i in range(len(wiring.parts)):
        graph.add_edges_from((("part", i), ("strong", s)) for s in wiring.strong_into[i])
        graph.add_edges_from((("part", i), ("line", n)) for n in wiring.feeds_lines[i])
        graph.add_edges_from((("part", i), ("part", p)) for p in wiring.readers_of_part[i])
    for s in range(len(wiring.solids)):
        graph.add_edge(("strong", s), ("solid", s))
        graph.add_edges_from((("strong", s), ("line", n)) for n in wiring.lines_of_solid[s])
        graph.add_edges_from((("solid", s), ("part", p)) for p in wiring.readers_of_solid[s])
    for n in range(len(wiring.lines)):
        graph.add_edges_from((("line", n), ("line", m)) for m in wiring.linked[n])
        graph.add_edges_from((("line", n), ("solid", s)) for s in wiring.weak_into[n])
        graph.add_edges_from((("line", n), ("part", p)) for p in wiring.readers_of_line[n])
    knots = [knot for knot in nx.strongly_connected_components(graph) if len(knot) > 1]
    loops = {vertex for vertex, other in graph.edges if vertex == other}
    return any(vertex[0] == "part" for vertex in (*loops, *(v for knot in knots for v in knot)))


# -- the field --------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_models_field_is_the_simulators() -> None:
    """Levels, lit inverters, relays, gauges, energised cells and locks agree in all four rows of the lock table; and
    just the wirings with feedback are those that the model refuses."""
    rng = random.Random(20)
    models = {name: Model(size) for name, (size, _) in ROWS.items()}
    compared = 0
    seen: Counter[str] = Counter()
    turn = 0
    while compared < FILLINGS:
        name = list(ROWS)[turn % len(ROWS)]
        turn += 1
        size, row = ROWS[name]
        row_of = {cell: i for i, cell in enumerate(row)}
        filling = random_filling(rng, size, row)
        if not gauges_still_read(filling, {row[0], row[2]}):
            continue
        assert not list(no_support(layout(list(filling.values())), RULES))
        loops = feeds_back(wiring_of(layout(list(filling.values()))))
        answer = models[name].answer(filling, row_of)
        drawn = f"filling {turn} in {name}: {list(filling.values())}"
        assert answer.outcome == ("none exists" if loops else "found"), drawn
        if loops:
            continue
        compared += 1
        for number in range(len(STATES)):
            ours, theirs = models[name].shown(answer, number, filling), settled(filling, number, row_of)
            assert ours == theirs, f"row {number}, {drawn}"
            seen.update(f"{key.split()[0]} {min(value, 2)}" for key, value in ours.items())
    # the comparison was of something: every kind of thing was seen both off and on, levels above 1 too
    words = ("level", "lit", "on", "gauge", "energised", "locked")
    assert all(seen[f"{word} {value}"] >= 10 for word in words for value in (0, 1)), seen
    assert seen["level 2"] >= 20


RING = {
    **{c: Line(c) for c in ((0, 0, 0), (2, 0, 0), (2, 1, 0), (2, 2, 0), (1, 2, 0), (0, 2, 0), (0, 1, 0))},
    (1, 0, 0): Relay((1, 0, 0), "E"),
}
"""A relay whose line comes round to it."""
SELF_READER = {
    (0, 0, 0): Support((0, 0, 0)),
    (1, 0, 0): Inverter((1, 0, 0), "W"),
    (1, 0, 1): Support((1, 0, 1)),
    (0, 0, 1): Line((0, 0, 1)),
}
"""An inverter below a cell that feeds a line on the cell that the inverter reads."""


@pytest.mark.parametrize(
    ("size", "filling", "loops"),
    [
        ((3, 3, 1), RING, True),
        ((3, 3, 1), {c: p for c, p in RING.items() if c != (0, 1, 0)}, False),
        ((3, 3, 1), {**RING, (1, 2, 0): Relay((1, 2, 0), "W", 4)}, True),
        ((3, 3, 1), {**RING, (1, 2, 0): Relay((1, 2, 0), "E", 4)}, False),
        ((2, 1, 2), SELF_READER, True),
        ((2, 1, 2), {c: p for c, p in SELF_READER.items() if c != (0, 0, 1)}, False),
    ],
)
def test_feedback_is_refused(size: tuple[int, int, int], filling: Filling, loops: bool) -> None:
    """A part that can act on itself, and the same build without what closes the loop."""
    assert feeds_back(wiring_of(layout(list(filling.values())))) is loops
    model = Model(size)
    answer = model.answer(filling, {})
    assert answer.outcome == ("none exists" if loops else "found")
    if not loops:
        for row in range(len(STATES)):
            assert model.shown(answer, row, filling) == settled(filling, row, {})


@pytest.mark.slow
def test_the_models_links_and_pointing_are_the_laws() -> None:
    """Every line of random fillings points into the same sides, and links to the same lines."""
    rng = random.Random(7)
    size, row = ROWS["straight"]
    row_of = {cell: i for i, cell in enumerate(row)}
    v = Vocabulary(question(size))
    model_links = Links(v)
    pointing = {key: model_links.points_into[key] for key in product(v.cells, HORIZONTAL)}
    sloping = {cell: model_links.sloping(cell) for cell in v.cells}
    lines = 0
    for _ in range(40):
        filling = random_filling(rng, size, row)
        if not gauges_still_read(filling, {row[0], row[2]}):
            continue
        units = [
            lit if kind == kind_of(filling, filling.get(cell), row_of) else -lit
            for cell, kinds in v.kind.items()
            for kind, lit in kinds.items()
        ]
        answer = CpSat(reduced(v.clauses, units)).solve(Effort(SECONDS))
        assert answer.outcome == "found"
        for cell in (c for c, part in filling.items() if isinstance(part, Line)):
            lines += 1
            sides = {d for d in HORIZONTAL if answer.holds(pointing[cell, d])}
            assert sides == set(points_into(filling, cell)), (cell, filling)
            linked = {other for lit, other in sloping[cell] if lit != FALSE and answer.holds(lit)}
            linked |= {c for c in model_links.level_neighbours(cell) if isinstance(filling.get(c), Line)}
            assert linked == set(links(filling, cell)), (cell, filling)
    assert lines >= 60


# -- streams that keep apart -------------------------------------------------------------------------------------------


GAUGES = {
    (0, 0, 0): row_node(0, 0),
    (1, 0, 0): gauge("E", 0, "head"),
    (5, 0, 0): gauge("W", 1, "head"),
    (6, 0, 0): row_node(1, 0),
}
"""Two gauges of two streams that face each other, three cells between them."""


@pytest.mark.parametrize(
    ("more", "apart"),
    [
        ({}, True),
        ({(2, 0, 0): LINE, (4, 0, 0): LINE}, True),
        ({(2, 0, 0): LINE, (3, 0, 0): LINE, (4, 0, 0): LINE}, False),  # one run
        ({(2, 0, 0): LINE, (3, 0, 0): SUPPORT, (4, 0, 0): LINE}, False),  # one cell energised from both sides
        ({(2, 0, 0): row_node(0, 1)}, True),  # its own node
        ({(2, 0, 0): row_node(1, 1)}, False),  # a node of the other stream
        ({(2, 0, 0): drop_node(1, "D")}, False),
        ({(2, 0, 0): LINE, (3, 0, 0): relay("E"), (4, 0, 0): LINE}, False),  # through a part
        ({(2, 0, 0): LINE, (3, 0, 0): SUPPORT}, True),
        ({(2, 0, 0): SUPPORT, (3, 0, 0): row_node(1, 1)}, False),  # an energised cell locks what is beside it
        ({(2, 0, 0): SUPPORT, (3, 0, 0): row_node(0, 1)}, True),
    ],
)
def test_streams_keep_apart(more: dict[Cell, Kind], apart: bool) -> None:
    """What the separation constraint allows of two streams' gauges, cell by cell given."""
    both = (StreamQuestion("clay", "top"), StreamQuestion("charcoal", "top"))
    v = Vocabulary(replace(question((7, 1, 1)), streams=both))
    streams_do_not_couple(v, list(edges(v, Links(v))))
    placed = {**GAUGES, **more}
    for cell, kinds in v.kind.items():
        for kind, lit in kinds.items():
            v.clauses.add(lit if kind == placed.get(cell, EMPTY) else -lit)
        for delay, lit in v.delay[cell].items():
            v.clauses.add(lit if delay == 1 else -lit)
    assert CpSat(v.clauses).solve(Effort(SECONDS)).outcome == ("found" if apart else "none exists")


# -- where parts may stand --------------------------------------------------------------------------------------------


PLACED: tuple[Kind, ...] = (
    EMPTY,
    SUPPORT,
    LINE,
    FURNACE,
    *(inverter(m) for m in MOUNTS),
    *(relay(d) for d in HORIZONTAL),
    *(gauge(d, 0, "head") for d in HORIZONTAL),
    row_node(0, 0),
)


def part_for(kind: Kind, cell: Cell) -> Part | None:
    match kind.name:
        case "support":
            return Support(cell)
        case "line":
            return Line(cell)
        case "furnace":
            return Furnace(cell)
        case "inverter":
            return Inverter(cell, kind.direction or "D")
        case "relay":
            return Relay(cell, kind.direction or "E")
        case "gauge":
            return Gauge(cell, kind.direction or "E")
        case "row":
            return Node(cell, "E")
    return None


@pytest.mark.parametrize("size", [(1, 1, 2), (2, 1, 1), (1, 2, 1), (1, 1, 3)], ids=str)
def test_the_model_lets_parts_stand_where_the_design_checks_do(size: tuple[int, int, int]) -> None:
    """Exhaustively: the solver's answers to all fillings of a tiny box are those without a "no support" finding."""
    v = Vocabulary(replace(question(size), outputs=1))
    one_part_per_cell(v)
    every_part_supported(v)
    for cell in v.cells:  # one kind of node stands for all, one end for both
        for kind, lit in v.kind[cell].items():
            if kind not in PLACED:
                v.clauses.add(-lit)
        v.clauses.implies([v.clauses.any_of(v.of_name(cell, "relay"))], v.delay[cell][1])
    accepted = allowed(v)
    expected = set()
    for kinds in product(PLACED, repeat=len(v.cells)):
        parts = [part for cell, kind in zip(v.cells, kinds, strict=True) if (part := part_for(kind, cell))]
        if not list(no_support(layout(parts), RULES)):
            expected.add(kinds)
    assert len(expected) > len(PLACED) ** (len(v.cells) - 1)
    assert accepted == expected


def allowed(v: Vocabulary) -> set[tuple[Kind, ...]]:
    """Everything that the clauses let the cells hold, by a search over kinds with the clauses on kinds alone.

    A clause all of whose literals are kinds or delays decides; the rest only defines further literals from them, so the
    solver is asked once for each filling that is left.
    """
    fixed = {lit for kinds in v.kind.values() for lit in kinds.values()}
    plain = [clause for clause in v.clauses.clauses if all(abs(lit) in fixed for lit in clause)]
    result = set()
    for kinds in product(PLACED, repeat=len(v.cells)):
        true = {v.kind[cell][kind] for cell, kind in zip(v.cells, kinds, strict=True)}
        fits = all(any((lit > 0) == (abs(lit) in true) for lit in clause) for clause in plain)
        if fits and _solvable(v, true, fixed):
            result.add(kinds)
    return result


def _solvable(v: Vocabulary, true: set[Lit], fixed: set[Lit]) -> bool:
    """Unit propagation, then the solver only if something is left open."""
    known = {lit if lit in true else -lit for lit in fixed} | {TRUE}
    grown = True
    while grown:
        grown = False
        for clause in v.clauses.clauses:
            if any(lit in known for lit in clause):
                continue
            left = [lit for lit in clause if -lit not in known]
            if not left:
                return False
            if len(left) == 1:
                known.add(left[0])
                grown = True
    open_clauses = [c for c in v.clauses.clauses if not any(lit in known for lit in c)]
    assert not open_clauses, "kinds and delays decide everything"
    return True
