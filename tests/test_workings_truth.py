"""What is said of how a layout works is so: each sentence against the simulator, filling by filling, tick by tick."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings

from building_table import BRIMMED
from halls import locked_hall
from outside.rows import burst_row_layout
from outside.wirings import wiring_without_loops
from sim.analysis.workings import Topic, workings
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, neighbours, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Container, Gauge, Holds, Inverter, Line, Node, Part, Relay, Slot, Support
from sim.world.signals.structure import points_into
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.statement import Mention, Statement
from sim.world.world import World
from strategies import layouts

SPECS = Path(__file__).resolve().parent.parent / "specs"
PLANS = sorted((SPECS / "layouts").glob("*.plan")) + sorted((SPECS / "results").glob("*.plan"))
FILLINGS_MOST = 150
"""Fillings that are tried of one layout; where there are fewer, all of them."""

MUSTER = """splitwright-plan/1
item   clay     fires-to brick
stream feed clay from 0,0,3 to 0,0,0 0,1,0 0,2,0
layer 0
F    #    -    -
F    iN   #    .
F    .    #    .
layer 1
nD   gE   #    iS
nD   #    gE   #
nD   #    gE   #
layer 2
nN   .    -    .
nN   r1S  #    #
nN   -    iN   iD
layer 3
.    .    .    .
.    .    -    -
B    .    .    #
"""
"""A muster row of three, as ``splitwright propose`` found it."""
LOOP = """splitwright-plan/1
item   clay
stream feed clay from 1,1,1 to 2,1,0
layer 0
#   nE  B
iN  .   .
layer 1
-   B   .
-   .   .
"""
"""An inverter whose lines energise the support that it hangs on, and that locks the node."""
LATCHED = """splitwright-plan/1
item   clay
layer 0
B   gE  r1E #   nE
.   .   gN  .   .
.   .   B   .   .
"""
"""A relay that a gauge at its side latches."""
PART_FULL = """splitwright-plan/1
item   clay
stream feed clay from 0,0,0 to 7,0,0
layer 0
B   gE  -   -   -   -   #   nE
"""
"""A run of four lines from a gauge: the node is locked from reading 4 on."""
FROM_TWO = """splitwright-plan/1
item   clay
layer 0
B   gE  -   -   #   nE
"""
"""A run of two lines from a gauge: a single item does not lock the node, a reading of 2 does."""
HELD_BACK = """splitwright-plan/1
item   clay
layer 0
B   gE  r1E -   .   .
.   .   .   -   .   .
.   B   #   gE  #   nE
.   .   .   B   .   .
"""
"""A gauge that looks through a support and is held back at its side while the northern bin holds something."""
ALWAYS = """splitwright-plan/1
item   clay
layer 0
.  .  iS
B  gE #
layer 1
.  .  #
.  .  nE
"""
"""The gauge locks the node while the bin holds something, the inverter while it does not."""
NEVER = """splitwright-plan/1
item   clay
layer 0
.  .  iS -  .  .
B  gE #  -  .  .
.  .  .  #  iW nE
"""
"""The gauge or the inverter lights the run; so the inverter beside the node is never lit."""
TWO_WAYS = """splitwright-plan/1
item   clay
layer 0
.  .  #
.  .  r1N
B  gE #
layer 1
.  .  -
.  .  #
.  .  nE
"""
"""The gauge locks the node at once, and once more by way of a relay."""


def bench(row: str) -> Layout:
    """Bins in a column, each with a gauge that leads into one run; the run locks one node, and another is locked
    while it is dark. By letters, the run is lit while a bin: h holds something, e is empty, f is full, n is not full, d
    is filled to reading so and so (the run begins at the gauge)."""
    parts: list[Part] = [Support((4, 0, 0)), Node((5, 0, 0), "E"), Inverter((3, 0, 0), "E"), Node((2, 0, 0), "W")]
    y = 2
    for letter in row:
        parts += [Bin((0, y, 0)), Gauge((1, y, 0), "E")]
        if letter in "hf":
            parts += [Relay((2, y, 0), "E"), Line((3, y, 0))]
        elif letter == "d":
            parts += [Line((2, y, 0)), Line((3, y, 0))]
        else:
            parts += [Support((2, y, 0)), Inverter((3, y, 0), "W")]
        if letter in "fn":  # full readings alone: a side input of 15
            parts += [Line((1, y + 1, 0)), Inverter((1, y + 1, 1), "W"), Support((0, y + 1, 1))]
        last, y = y, y + (3 if letter in "fn" else 2)
    parts += [Line((4, north, 0)) for north in range(1, last + 1)]
    return Layout("", (6, y + 1, 2), {"clay": ItemKind(64)}, tuple(parts))


BENCHES = ("hh", "ee", "he", "hhe", "eeh", "f", "n", "fh", "nh", "nn", "fne", "d", "dh", "dd", "hehehe", "h" * 7)


def plan(text: str) -> Layout:
    return layout_from_plan(text)


LAYOUTS: dict[str, Callable[[], Layout]] = {
    **{path.stem: lambda path=path: load_layout(path) for path in PLANS},
    "brimmed": lambda: plan(BRIMMED),
    "muster": lambda: plan(MUSTER),
    "loop": lambda: plan(LOOP),
    "latched": lambda: plan(LATCHED),
    "held back": lambda: plan(HELD_BACK),
    "from two": lambda: plan(FROM_TWO),
    "part full": lambda: plan(PART_FULL),
    "always": lambda: plan(ALWAYS),
    "never": lambda: plan(NEVER),
    "two ways": lambda: plan(TWO_WAYS),
    **{f"bench {row}": lambda row=row: bench(row) for row in BENCHES},
    "locked hall": lambda: locked_hall(2, 2),
    "burst row of eight": lambda: burst_row_layout(8),
}


# -- fillings ---------------------------------------------------------------------------------------------------------


def read_containers(layout: Layout) -> list[Cell]:
    """What gauges of the layout read."""
    return sorted({cell for cell in wiring_of(layout).reads if cell is not None})


def contents(world: World, cell: Cell) -> list[Holds]:
    """Ways to fill a container: empty, one item, less than full by one, full, and each reading in between."""
    store, full = world.stores[cell], world.rules.reach
    kind, slots = next(iter(world.layout.items), "clay"), len(world.stores[cell].kinds)
    limit = store.limit(kind)
    room = limit * slots
    wanted = {0, 1, room - 1, room}
    if full <= 15:
        wanted |= {-(-room * level // (full - 1 or 1)) for level in range(full)}
    found: list[Holds] = []
    for count in sorted(wanted & set(range(room + 1))):
        whole, rest = divmod(count, limit)
        filled: list[Slot | None] = [(kind, limit)] * whole + ([(kind, rest)] if rest else [])
        found.append(tuple(filled))
    return found


def fillings(layout: Layout, rng: random.Random, most: int = FILLINGS_MOST) -> Iterator[Mapping[Cell, Holds]]:
    """Fillings of what gauges read: all of them, or some with empty and full ones preferred."""
    world, cells = World(layout), read_containers(layout)
    ways = [contents(world, cell) for cell in cells]
    size = 1
    for choices in ways:
        size *= len(choices)
    if size <= most:
        yield from (dict(zip(cells, chosen, strict=True)) for chosen in product(*ways))
        return
    for _ in range(most):
        yield {cell: drawn(choices, rng) for cell, choices in zip(cells, ways, strict=True)}


def drawn(choices: Sequence[Holds], rng: random.Random) -> Holds:
    """One of the ways to fill a container: mostly empty, with one item, all but full or full."""
    ends = [choices[0], choices[0], choices[1], *choices[-2:]]
    return rng.choice(choices if rng.random() < 0.3 else ends)


def filled(layout: Layout, contents_of: Mapping[Cell, Holds], wiring: Wiring) -> World:
    """The settled world with these contents and nothing else anywhere."""
    parts = tuple(
        replace(part, holds=contents_of.get(part.at, ())) if isinstance(part, Container) else part  # type: ignore[arg-type]
        for part in layout.parts
    )
    return World(replace(layout, parts=parts), wiring=wiring)


# -- sentences read back ----------------------------------------------------------------------------------------------


def cells_of(statement: Statement, name: str) -> list[Cell]:
    match statement.values.get(name):
        case Mention(at=cell):
            return [cell]
        case tuple() as mentions:
            return [one.at for one in mentions]
        case _:
            return []


def name_of(statement: Statement) -> str:
    return statement.key.removeprefix("workings.")


Holding = Callable[[World], bool]


@dataclass
class Told:
    """What the sentences say of the lock of one set of nodes."""

    lock: list[Holding] = field(default_factory=list)
    unlock: list[Holding] = field(default_factory=list)
    is_untold: bool = False
    constant: bool | None = None


def condition(statement: Statement) -> Holding:
    """A sentence's condition, in the words of stores."""
    least, most = statement.values.get("least", 0), statement.values.get("most", 1_000_000)
    assert isinstance(least, int)
    assert isinstance(most, int)

    def holds(world: World) -> bool:
        stores = world.stores
        return (
            all(stores[cell].is_empty() for cell in (*cells_of(statement, "empty"), *cells_of(statement, "head")))
            and not any(stores[cell].is_empty() for cell in cells_of(statement, "holding"))
            and all(stores[cell].is_full() for cell in cells_of(statement, "full"))
            and not any(stores[cell].is_full() for cell in cells_of(statement, "room"))
            and all(least <= world.reading(cell) <= most for cell in cells_of(statement, "container"))
        )

    return holds


def case(statement: Statement) -> Holding:
    """One line of a listed case."""
    (cell,) = cells_of(statement, "container")
    least, most = statement.values.get("least", 0), statement.values.get("most", 1_000_000)
    assert isinstance(least, int)
    assert isinstance(most, int)

    def holds(world: World) -> bool:
        store = world.stores[cell]
        match name_of(statement):
            case "case_empty":
                return store.is_empty()
            case "case_holding":
                return not store.is_empty()
            case "case_full":
                return store.is_full()
            case "case_room":
                return not store.is_full()
            case _:
                return least <= world.reading(cell) <= most

    return holds


def told_logic(topic: Topic) -> dict[tuple[Cell, ...], Told]:
    found: dict[tuple[Cell, ...], Told] = {}
    statements = list(topic.statements)
    while statements:
        statement = statements.pop(0)
        name, nodes = name_of(statement), tuple(cells_of(statement, "nodes"))
        if name in ("logic_none", "logic_settled", "reading_means"):
            continue
        told = found.setdefault(nodes, Told())
        if name in ("logic_loop", "logic_many"):
            told.is_untold = True
        elif name in ("logic_locked", "logic_free"):
            told.constant = name == "logic_locked"
        elif name in ("lock_case", "unlock_case"):
            count = statement.values["count"]
            assert isinstance(count, int)
            lines = [case(statements.pop(0)) for _ in range(count)]
            both = told.lock if name == "lock_case" else told.unlock
            both.append(lambda world, lines=lines: all(line(world) for line in lines))
        elif name == "drain" or name.startswith("unlock_"):
            told.unlock.append(condition(statement))
        else:
            assert name.startswith("lock_"), name
            told.lock.append(condition(statement))
    return found


# -- each topic against a settled world -------------------------------------------------------------------------------


@dataclass
class Account:
    """The topics of a layout, by key."""

    layout: Layout

    def __post_init__(self) -> None:
        self.topics = {topic.key: topic for topic in workings(self.layout)}
        self.wiring = wiring_of(self.layout)
        self.logic = told_logic(self.topics["logic"])

    def of(self, topic: str, *names: str) -> list[Statement]:
        return [one for one in self.topics[topic].statements if name_of(one) in names]

    def never(self) -> set[Cell]:
        return {cell for one in self.of("locks", "locks_never") for cell in cells_of(one, "nodes")}

    def always(self) -> set[Cell]:
        return {cell for one in self.of("locks", "locks_always") for cell in cells_of(one, "nodes")}

    def pointed(self, line: Cell) -> list[Cell]:
        """The cells that a line points into."""
        return [step(line, side) for side in points_into(self.layout.by_cell, line)]

    def check(self, world: World) -> None:
        """Every sentence on signals in one settled world."""
        out = {part.at: world.field.out[i] for i, part in enumerate(world.field.wiring.parts)}
        level = dict(zip(world.field.wiring.lines, world.field.level, strict=True))
        energised = dict(zip(world.field.wiring.solids, world.field.energised, strict=True))
        locked = dict(zip(world.field.wiring.nodes, world.field.locked, strict=True))
        signal = {**out, **level, **energised}
        self.check_logic(world, locked)
        if world.settled:
            self.check_gauges(world, out, level)
            self.check_wires(signal, energised)
            self.check_locks(signal, level, locked)

    def check_logic(self, world: World, locked: Mapping[Cell, bool]) -> None:
        for nodes, told in self.logic.items():
            for node in nodes:
                if told.constant is not None:
                    assert locked[node] == told.constant
                elif not told.is_untold:
                    assert told.lock or told.unlock
                    if told.lock:
                        assert locked[node] == any(holds(world) for holds in told.lock)
                    if told.unlock:
                        assert locked[node] != any(holds(world) for holds in told.unlock)
        assert not any(locked[node] for node in self.never())
        assert all(locked[node] for node in self.always())

    def check_gauges(self, world: World, out: Mapping[Cell, int], level: Mapping[Cell, int]) -> None:
        statements = self.topics["gauges"].statements
        for idle in self.of("gauges", "gauge_idle"):
            assert out[cells_of(idle, "gauge")[0]] == 0
        for first, second in pairwise(statements):
            if not name_of(first).startswith("gauge_reads"):
                continue
            (gauge,), (cell,) = cells_of(first, "gauge"), cells_of(first, "container")
            assert cells_of(second, "container") == [cell]
            store, sides = world.stores[cell], cells_of(second, "sides")
            match name_of(second):
                case "gauge_on":
                    passes = not store.is_empty()
                case "gauge_full":
                    passes = store.is_full()
                case "gauge_from":
                    passes = world.reading(cell) >= second.values["level"]  # type: ignore[operator]
                case other:
                    assert other == "gauge_held_at_times"
                    side = max({**out, **level}[one] for one in sides)
                    passes = not store.is_empty() and side <= world.reading(cell)
            assert out[gauge] == (world.reading(cell) if passes else 0)

    def check_wires(self, signal: Mapping[Cell, int], energised: Mapping[Cell, bool]) -> None:
        latched = {cells_of(one, "relay")[0] for one in self.of("wires", "relay_latched")}
        for one in self.topics["wires"].statements:
            cells = {name: cells_of(one, name) for name in one.values}
            match name_of(one):
                case "run_fed":
                    assert any(signal[c] for c in cells["lines"]) == any(signal[c] for c in cells["sources"])
                case "run_dead":
                    assert not any(signal[c] for c in cells["lines"])
                case "inverter":
                    assert bool(signal[cells["inverter"][0]]) != any(signal[c] for c in cells["sources"])
                    assert energised[cells["base"][0]] == any(signal[c] for c in cells["sources"])
                case "inverter_lit":
                    assert signal[cells["inverter"][0]]
                    assert not energised.get(cells["base"][0], False)
                case "inverter_dark":
                    assert not signal[cells["inverter"][0]]
                    assert energised[cells["base"][0]]
                case "relay" if cells["relay"][0] not in latched:
                    assert bool(signal[cells["relay"][0]]) == bool(signal[cells["behind"][0]])
                case "relay_off":
                    assert not signal[cells["relay"][0]]

    def check_locks(
        self, signal: Mapping[Cell, int], level: Mapping[Cell, int], locked: Mapping[Cell, bool]
    ) -> None:
        lockers: dict[Cell, list[bool]] = {node: [] for node in locked}
        for one in self.topics["locks"].statements:
            cells = {name: cells_of(one, name) for name in one.values}
            match name_of(one):
                case "run_by_solids" | "part_by_solid":
                    solids = cells.get("solids", cells.get("solid", []))
                    sources = cells.get("lines", cells.get("part", []))
                    if any(signal[c] for c in sources) and name_of(one) == "part_by_solid":
                        assert all(signal[c] for c in solids)
                    for node in cells["nodes"]:
                        beside = [signal[c] for c in solids if c in neighbours(node)]
                        assert beside
                        lockers[node].append(any(beside))
                case "part_straight":
                    for node in cells["nodes"]:
                        lockers[node].append(bool(signal[cells["part"][0]]))
                case "run_straight":
                    for node in cells["nodes"]:
                        pointing = [c for c in cells["lines"] if node in self.pointed(c)]
                        assert pointing
                        lockers[node].append(any(level[c] for c in pointing))
        for node, causes in lockers.items():
            assert locked[node] == any(causes)


def check_everything(layout: Layout, seed: int = 1, most: int = FILLINGS_MOST) -> Account:
    account = Account(layout)
    nodes = list(wiring_of(layout).nodes)
    told = [*account.never(), *account.always(), *(cell for group in account.logic for cell in group)]
    assert sorted(told) == sorted(nodes), "every node is told of once"
    for filling in fillings(layout, random.Random(seed), most):
        account.check(filled(layout, filling, account.wiring))
    return account


# -- delays -----------------------------------------------------------------------------------------------------------


def lock_change(world: World, cell: Cell, holds: Holds, node: Cell) -> list[int]:
    """The ticks in which the lock of a node changes once a container holds something else, nothing moving."""
    number = world.field.wiring.nodes.index(node)
    world.stores[cell].restore(holds)
    timing, seen, ticks = world.timing, world.field.locked[number], []
    timing.notice(range(len(world.field.wiring.parts)), 0)
    for tick in range(1, 400):
        timing.run_due(tick)
        if world.field.locked[number] != seen:
            seen = not seen
            ticks.append(tick)
        if not timing.agenda:
            break
    return ticks


def check_delays(account: Account, rng: random.Random, tries: int = 60) -> int:
    """Each delay, wherever a change in one container changes the lock; how many changes were seen."""
    layout, seen = account.layout, 0
    world = World(layout)
    ways = {cell: contents(world, cell) for cell in read_containers(layout)}
    for one in account.of("timing", "delay", "delay_between"):
        (container,) = cells_of(one, "container")
        for _ in range(tries):
            before = {cell: drawn(choices, rng) for cell, choices in ways.items()}
            after = drawn(ways[container], rng)
            for node in cells_of(one, "nodes"):
                was = filled(layout, before, account.wiring)
                now = filled(layout, {**before, container: after}, account.wiring)
                number = was.field.wiring.nodes.index(node)
                if was.field.locked[number] == now.field.locked[number]:
                    continue
                ticks = lock_change(was, container, after, node)
                seen += 1
                if name_of(one) == "delay":
                    assert ticks == [one.values["ticks"]]
                else:
                    least, most = one.values["least"], one.values["most"]
                    assert isinstance(least, int)
                    assert isinstance(most, int)
                    assert least < most
                    assert least <= ticks[0] <= ticks[-1] <= most
    return seen


# -- tests ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_sentence_on_signals_is_so_for_every_filling(name: str) -> None:
    account = check_everything(LAYOUTS[name]())
    delays = account.of("timing", "delay", "delay_between")
    assert (check_delays(account, random.Random(2), 12) > 0) == bool(delays)


@pytest.mark.parametrize("seed", range(30))
def test_on_random_wirings_too(seed: int) -> None:
    account = check_everything(wiring_without_loops(seed), seed, 60)
    check_delays(account, random.Random(seed), 6)


@pytest.mark.parametrize("seed", range(8))
def test_on_random_benches(seed: int) -> None:
    rng = random.Random(seed)
    account = check_everything(bench("".join(rng.choice("heheddfn") for _ in range(rng.randint(1, 4)))), seed, 150)
    check_delays(account, rng, 8)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30, 130))
def test_on_many_random_wirings(seed: int) -> None:
    account = check_everything(wiring_without_loops(seed), seed, 150)
    check_delays(account, random.Random(seed), 20)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(layouts(most_parts=20))
def test_whatever_is_built_is_told_and_told_truly(layout: Layout) -> None:
    assume(layout.rules.get("reach", 15) <= 15)
    assume(all(number <= 12 for number in layout.rules.values()))
    check_everything(replace(layout, rules={**layout.rules}), most=12)
