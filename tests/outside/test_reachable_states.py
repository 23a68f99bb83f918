"""The states that small builds can come into, whatever arrives when, against a Petri net's reachable markings.

State for state: contents, cooldowns, what signal parts deliver and what is pending, in order. The nets are made in
``petri_net`` from the rulebook's text and explored by SNAKES; the search is that of ``sim.analysis.assure.arrivals``.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Collection, Iterator, Sequence

import pytest

from outside.petri_net import BACK, Build, Net, State, beside
from sim.analysis.assure.arrivals import Explorer
from sim.analysis.assure.subject import Subject
from sim.world.geometry import HORIZONTAL, Cell, Direction
from sim.world.kernel import places as p
from sim.world.kernel import reach
from sim.world.kernel.memory import restore
from sim.world.kernel.packing import unpack
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Gauge, Inverter, Node, Part, Relay, Support
from sim.world.rulebook import default_rules

SMALL = {"period": 3, "handover": 2, "node_slots": 2, "bin_slots": 1, "stack": 1}
GROUPS = 4
BUILDS = 6
"""Random builds compared in each group."""
STATES_LEAST, STATES_MOST = 12, 150
TOO_MANY = 5_000


def explored(layout: Layout, sinks: Collection[Cell]) -> tuple[set[State], bool] | None:
    """The states that the search meets, and whether it tells nodes apart by their totals alone; None where there are
    too many."""
    rules = default_rules()
    subject = Subject(layout, rules, layout.rules_in_force(rules).handover)
    subject.sinks = frozenset(sinks)
    subject.tables = Tables(layout, rules, sinks=sinks)
    explorer = Explorer(subject)
    while explorer.end == reach.MORE:
        if explorer.states > TOO_MANY:
            return None
        explorer.piece(TOO_MANY)
    assert explorer.end == reach.DONE
    states = [state_of(explorer, number) for number in range(explorer.states)]
    assert len(set(states)) == len(states), "two rows for one state"
    return set(states), bool(explorer.contents.by_total[0])


def state_of(explorer: Explorer, number: int) -> State:
    """A row of the search in the net's words."""
    w, space = explorer.subject.tables.w, explorer.space
    s = space.s.copy()
    s[p.TICK] = reach.AT_TICK
    unpack(w, s, explorer.contents, space.m, explorer.found.rows[number])
    restore(w, s, space.m, reach.AT_TICK)
    first = w[w[p.FIRST_SLOT] :]
    slots = [
        tuple(int(s[w[p.COUNT] + i]) for i in range(first[store], first[store + 1]))
        for store in explorer.contents.kept
    ]
    cooldowns = [max(0, int(s[w[p.READY] + node]) - reach.AT_TICK) for node in range(w[p.NODES])]
    out = [int(s[w[p.OUT] + part]) for part in range(w[p.PARTS])]
    parts = [part.at for part in explorer.subject.tables.wiring.parts]
    queue = [int(s[w[p.QUEUE] + i]) for i in range(s[p.PENDING])]
    pending = [(parts[part], int(s[w[p.DUE] + part]) - reach.AT_TICK) for part in queue]
    return tuple(slots), tuple(cooldowns), tuple(out), tuple(pending)


def marked(layout: Layout, sinks: Collection[Cell]) -> set[State]:
    """The states that the net comes into."""
    build = Build(layout, frozenset(sinks))
    assert build.is_covered()
    return set(Net(build).states())


def compared(layout: Layout, sinks: Collection[Cell]) -> set[State]:
    """The states, which are the same on both sides."""
    found, theirs = explored(layout, sinks), marked(layout, sinks)
    assert found is not None
    ours, by_totals = found
    if by_totals:
        stack = layout.rules_in_force(default_rules()).stack
        theirs = {(tuple(gathered(slots, stack) for slots in state[0]), *state[1:]) for state in theirs}
    assert not ours - theirs, f"not in the net: {sorted(ours - theirs)[:3]}"
    assert not theirs - ours, f"in the net alone: {sorted(theirs - ours)[:3]}"
    return ours


def gathered(slots: Sequence[int], stack: int) -> tuple[int, ...]:
    """As many items in the first slots."""
    left, found = sum(slots), []
    for _ in slots:
        found.append(min(left, stack))
        left -= found[-1]
    return tuple(found)


def build(parts: Sequence[Part], output: Cell, **rules: int) -> Layout:
    """Parts below a bin at 0,0,2, with one output."""
    stream = Stream("feed", "clay", (0, 0, 2), (output,))
    return Layout("small", (8, 8, 3), {}, (Bin((0, 0, 2)), *parts), (stream,), {**SMALL, **rules})


# -- builds by hand ----------------------------------------------------------------------------------------------------

END = (2, 0, 1)
ROW: list[Part] = [Node((0, 0, 1), "E"), Node((1, 0, 1), "E"), Bin(END)]


@pytest.mark.parametrize("handover", [1, 2, 3, 5])
@pytest.mark.parametrize("backward", [False, True])
def test_two_nodes_into_a_sink(handover: int, backward: bool) -> None:
    layout = build(ROW[::-1] if backward else ROW, END, handover=handover)
    assert len(compared(layout, [END])) > 8


def test_one_node_alone_by_hand() -> None:
    """Period 3 into a sink: nothing in it and cooldown 0; one item and 3, 2, 1; then pushed: none and 3, 2, 1, or
    one more taken in the same turn, which is one item and 3 again. Nothing waits: seven states."""
    layout = build([Node((0, 0, 1), "E"), Bin((1, 0, 1))], (1, 0, 1), node_slots=1)
    expected = {(((0,),), (0,)), *((((items,),), (left,)) for items in (0, 1) for left in (1, 2, 3))}
    assert {(slots, cool) for slots, cool, _, _ in compared(layout, [(1, 0, 1)])} == expected


def test_a_row_that_fills_up() -> None:
    """The last bin keeps what comes, until everything is full."""
    layout = build(ROW, END)
    states = compared(layout, [])
    assert max(sum(map(sum, slots)) for slots, _, _, _ in states) == 2 + 2 + 1


@pytest.mark.parametrize("handover", [2, 3, 5])
def test_a_node_below_takes_from_a_row(handover: int) -> None:
    """It pulls what T1 does not push on first."""
    parts = [*ROW, Node((1, 0, 0), "N"), Bin((1, 1, 0))]
    for sinks in ([(1, 1, 0), END], [(1, 1, 0)]):
        assert len(compared(build(parts, (1, 1, 0), handover=handover), sinks)) > 15


def test_an_inverter_that_locks_a_node_while_it_holds_nothing() -> None:
    """T1 is locked by the inverter below it, which is fixed to a support in front of T1's own gauge."""
    wiring: list[Part] = [Gauge((1, 1, 1), "N"), Support((1, 2, 1)), Inverter((1, 2, 2), "D"), Relay((1, 1, 2), "S")]
    lock = [Support((1, 0, 2))]
    assert len(compared(build([*ROW, *wiring, *lock], END), [END])) > 30


@pytest.mark.parametrize("delay", [1, 2])
def test_short_readings_stretched_by_relays(delay: int) -> None:
    """A gauge on T0, a relay of its own delay, and by two more relays the support that locks T2."""
    row: list[Part] = [Node((0, 0, 1), "E"), Node((1, 0, 1), "E"), Node((2, 0, 1), "E"), Bin((3, 0, 1))]
    wiring: list[Part] = [Gauge((0, 1, 1), "N"), Relay((0, 2, 1), "N", delay), Support((0, 3, 1))]
    lock: list[Part] = [Relay((1, 3, 1), "E"), Support((2, 3, 1)), Relay((2, 2, 1), "S"), Support((2, 1, 1))]
    states = compared(build([*row, *wiring, *lock], (3, 0, 1), stack=1, node_slots=1), [(3, 0, 1)])
    assert any(len(pending) > 1 for _, _, _, pending in states)


# -- random builds -----------------------------------------------------------------------------------------------------


def random_build(rng: random.Random) -> tuple[Layout, frozenset[Cell]]:
    """A row of one to three nodes, now and then one below; ends that keep or do not; signal parts all about."""
    parts: dict[Cell, Part] = {}
    length = rng.randint(1, 3)
    for x in range(length):
        parts[x, 1, 1] = Node((x, 1, 1), "E")
        if x and rng.random() < 0.4:
            parts[x, 1, 0] = Node((x, 1, 0), rng.choice(["N", "S", "E"]))
    parts[length, 1, 1] = Bin((length, 1, 1))
    for node in [part for part in parts.values() if isinstance(part, Node)]:
        parts.setdefault(beside(node.at, node.outlet), Bin(beside(node.at, node.outlet)))
    parts[0, 1, 2] = Bin((0, 1, 2))
    for cell in [(x, y, z) for x in range(4) for y in range(3) for z in range(3)]:
        if cell not in parts and rng.random() < 0.6:
            parts[cell] = _signal_part(rng, parts, cell)
    ends = [cell for cell, part in parts.items() if isinstance(part, Bin) and cell != (0, 1, 2)]
    sinks = frozenset(rng.sample(ends, rng.randint(1, len(ends))))
    chosen = list(parts.values())
    rng.shuffle(chosen)
    rules = {
        "period": rng.randint(1, 4),
        "handover": rng.randint(1, 5),
        "node_slots": rng.randint(1, 2),
        "bin_slots": 1,
        "stack": rng.randint(1, 2),
        "gauge_delay": rng.randint(1, 3),
        "inverter_delay": rng.randint(1, 3),
        "relay_step": rng.randint(1, 2),
    }
    stream = Stream("feed", "clay", (0, 1, 2), (min(sinks),))
    return Layout("random", (5, 3, 3), {}, tuple(chosen), (stream,), rules), sinks


def _signal_part(rng: random.Random, parts: dict[Cell, Part], cell: Cell) -> Part:
    """A gauge where there is a container to read, else one of the others, so that they look at each other."""
    read = [BACK[way] for way in HORIZONTAL if isinstance(parts.get(beside(cell, way)), (Node, Bin))]
    if read and rng.random() < 0.6:
        return Gauge(cell, rng.choice(read))  # type: ignore[arg-type]
    kind = rng.random()
    if kind < 0.45:
        return Support(cell)
    if kind < 0.75:
        mounts: list[Direction] = [*HORIZONTAL, "D"]
        solid = [way for way in mounts if isinstance(parts.get(beside(cell, way)), Support)]
        return Inverter(cell, rng.choice(solid or ["D"]))
    return Relay(cell, rng.choice(HORIZONTAL), rng.randint(1, 2))


def random_builds(group: int) -> Iterator[tuple[int, Layout, frozenset[Cell]]]:
    """Builds that the nets cover, with so many states that they say something and SNAKES is done soon."""
    found, seed = 0, group
    while found < BUILDS:
        seed += GROUPS
        layout, sinks = random_build(random.Random(seed))
        if not Build(layout, sinks).is_covered():
            continue
        met = explored(layout, sinks)
        if met is None or not STATES_LEAST <= len(met[0]) <= STATES_MOST:
            continue
        states, _ = met
        if len({out for _, _, out, _ in states}) < 2 and found % 3:
            continue  # no live signals
        found += 1
        yield seed, layout, sinks


@pytest.mark.parametrize("group", range(GROUPS))
def test_states_of_random_builds_are_those_of_their_nets(group: int) -> None:
    seen: Counter[str] = Counter()
    for seed, layout, sinks in random_builds(group):
        try:
            states = compared(layout, sinks)
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
        seen["states"] += len(states)
        seen["signals change"] += len({out for _, _, out, _ in states}) > 1
        seen["several pending"] += any(len(pending) > 1 for _, _, _, pending in states)
    assert seen["states"] > BUILDS * 30
    assert seen["signals change"] > BUILDS // 2
    assert seen["several pending"] > 0
