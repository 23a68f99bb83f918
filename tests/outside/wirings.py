"""Random small builds: lines, supports, inverters, relays and gauges around containers of fixed contents."""

from __future__ import annotations

import random
from collections.abc import Callable

from outside.influence import has_loops
from outside.static_verilog import COMPASS, DOWN, EAST, NORTH, SIX, SLOTS, SOUTH, UP, WEST, Cell, minus, plus
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Slot, Support

ITEMS = {"clay": ItemKind(64), "slab": ItemKind(16), "tile": ItemKind(1)}
LIMITS = {"clay": 64, "slab": 16, "tile": 1}
LETTER = {EAST: "E", WEST: "W", NORTH: "N", SOUTH: "S", DOWN: "D"}
BATCHES = (8, 20)

Build = dict[Cell, Part]


def wiring_without_loops(seed: int) -> Layout:
    """The random wiring of a seed, grown piece by piece; what could close a loop is rejected.

    Its parts stand in a random file order.
    """
    rng = random.Random(seed)
    size = (rng.randint(4, 20), rng.randint(3, 8), rng.randint(1, 4))
    build: Build = {}
    for _ in range(rng.randint(*BATCHES)):
        grown = build
        for _ in range(8):
            grown = _grown(grown, size, rng)
        while has_loops(grown):  # take back half of what was added, at random, until no loop is left
            added = [at for at in grown if at not in build]
            grown = build | {at: grown[at] for at in rng.sample(added, len(added) // 2)}
        build = grown
    order = list(build.values())
    rng.shuffle(order)
    return Layout(f"wiring {seed}", size, ITEMS, tuple(order))


def _grown(build: Build, size: Cell, rng: random.Random) -> Build:
    """The build with one more piece, mostly beside what is there; the same one when the piece does not fit."""
    piece = rng.choices(list(PIECES), list(PIECES.values()))[0]
    at = tuple(rng.randrange(n) for n in size)
    if build and rng.random() < 0.85:
        at = plus(rng.choice(list(build)), rng.choice(SIX))
    return _with(build, piece(at, build, rng), size, rng) or build


def _with(build: Build, piece: list[Part], size: Cell, rng: random.Random) -> Build | None:
    """The build with the parts of a piece and the supports that they stand on; None where something is in the way.

    A few parts get no support: the laws of signals hold for them as well.
    """
    grown = dict(build)
    for part in piece:
        if part.at in grown or not all(0 <= n < limit for n, limit in zip(part.at, size, strict=True)):
            if isinstance(part, Line) and part is not piece[0]:
                continue  # a run is cut where something stands in its way
            return None
        grown[part.at] = part
        below = plus(part.at, DOWN)
        if isinstance(part, (Line, Relay, Gauge)) and below[2] >= 0 and below not in grown and rng.random() < 0.96:
            grown[below] = Support(below)
    return grown


def _run(at: Cell, build: Build, rng: random.Random) -> list[Part]:
    """A run of lines, mostly straight, with steps up and down."""
    way, cells = rng.choice(COMPASS), [at]
    for _ in range(rng.choice((0, 1, 2, 4, 16, 16))):
        if rng.random() < 0.08:
            way = rng.choice(COMPASS)
        cells.append(plus(plus(cells[-1], way), rng.choice((UP, DOWN, *((0, 0, 0),) * 20))))
    return [Line(cell) for cell in cells]


def _relay(at: Cell, build: Build, rng: random.Random) -> list[Part]:
    """A relay, mostly one that has something behind it."""
    ways = [way for way in COMPASS if minus(at, way) in build]
    return [Relay(at, LETTER[rng.choice(ways or COMPASS)], rng.randint(1, 4))]


def _inverter(at: Cell, build: Build, rng: random.Random) -> list[Part]:
    """An inverter, mostly on a support; sometimes under a fresh one, which it then powers."""
    mounts = [way for way in (*COMPASS, DOWN) if isinstance(build.get(plus(at, way)), (Support, Furnace))]
    mount = rng.choice(mounts if mounts and rng.random() < 0.9 else [*COMPASS, DOWN])
    roof: list[Part] = [Support(plus(at, UP))] if rng.random() < 0.3 else []
    return [Inverter(at, LETTER[mount]), *roof]


def _gauge(at: Cell, build: Build, rng: random.Random) -> list[Part]:
    """A gauge with its container, directly behind or behind a support; sometimes fed from a side by a second one."""
    way = rng.choice(COMPASS)
    behind = minus(at, way)
    piece: list[Part] = [Gauge(at, LETTER[way])]
    if rng.random() < 0.25:
        piece.append(Support(behind))
        behind = minus(behind, way)
    if rng.random() < 0.95 and not isinstance(build.get(behind), (Bin, Node, Furnace)):
        piece.append(_container(behind, rng))
    return piece


def _gauge_and_run(at: Cell, build: Build, rng: random.Random) -> list[Part]:
    """A gauge that feeds a straight run, so that a run starts at any level and ends at a low one."""
    way = rng.choice((*COMPASS, EAST, WEST))
    run: list[Part] = [Line(at)]
    while len(run) < 16:
        run.append(Line(plus(run[-1].at, way)))
    gauge = minus(at, way)
    return [*run, Gauge(gauge, LETTER[way]), _container(minus(gauge, way), rng)]


def _container(at: Cell, rng: random.Random) -> Part:
    return rng.choice((_bin, _bin, _node, _furnace))(at, rng)


def _bin(at: Cell, rng: random.Random) -> Part:
    return Bin(at, "plain", _random_contents("bin", rng))


def _node(at: Cell, rng: random.Random) -> Part:
    return Node(at, LETTER[rng.choice((*COMPASS, DOWN))], _random_contents("node", rng))


def _furnace(at: Cell, rng: random.Random) -> Part:
    return Furnace(at, _random_contents("furnace", rng))


def _random_contents(kind: str, rng: random.Random) -> tuple[Slot | None, ...]:
    slots: list[Slot | None] = []
    used, full = rng.choice((0.0, 0.1, 0.5, 1.0, 1.0)), rng.choice((0.0, 0.5, 1.0))
    for _ in range(SLOTS[kind]):
        item = rng.choice(list(LIMITS))
        count = LIMITS[item] if rng.random() < full else rng.randint(1, LIMITS[item])
        slots.append((item, count) if rng.random() < used else None)
    return tuple(slots)


PIECES: dict[Callable[[Cell, Build, random.Random], list[Part]], int] = {
    _run: 30,
    _relay: 22,
    _inverter: 20,
    _gauge: 12,
    _gauge_and_run: 12,
    lambda at, _, rng: [Support(at)]: 24,
    lambda at, _, rng: [_node(at, rng)]: 10,
}
"""What a build grows by, with weights."""
