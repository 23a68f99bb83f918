"""The gate of a batched row: it lets N items out at a time, one a period without a gap, whenever they came.

Seen from above, the line of nodes at the north end, all at one level (C below the source bin, b the bin that is fed):

    . C b .      C -> G -> H -> b
    S G H .      S: locks G when it is energised by the delay line
    r g a .      g, a: gauges on G and on H
    r q q .      q: supports that the gauges energise; two lines below them say "G reads 2, or H holds something"
    - . r .      r: relays, the delay line: from H's support south, and back to S
    - - - .

G is locked by an inverter while it reads less than 2 and H is empty; and by the delay line, which says what H's gauge
says, so many ticks later that G has pushed N items by then. A node of five slots of 64 reads 2 from 23 items on, so a
batch of up to 23 comes without a gap. While H's gauge is heard from the delay line, after the last item has gone, G
stays locked for as long again: no batch begins before the one ahead of it has been split. Below C an inverter turns
G's lock round: C is locked while G is not waiting for more, so that G never holds more than it takes to read 2. So the
gate has few states, whatever comes, and they can all be looked at (``sim.analysis.assure``).
"""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import replace
from typing import Final

from sim.world.geometry import Cell, Direction, step
from sim.world.parts import DELAYS, Bin, Finish, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import Rules
from synth.model.images import TURNS, Turn, turned_cell, turned_direction, turned_part

BIN: Final[Cell] = (1, 1, 1)
"""The source bin; nodes stand at z = 0."""
OUT: Final[Cell] = (2, 1, 0)
"""The cell that H pushes into."""


def delay_line(outputs: int, rules: Rules) -> list[int]:
    """Delays of the relays, in steps: together one period for each item but the first, so that with what a gauge takes
    G is locked after its Nth push and before the next. Three at the least, as the way is that long."""
    most = max(DELAYS)
    steps = rules.period * (outputs - 1) // rules.relay_step
    count = max(3, -(-steps // most))
    return [steps // count + (i < steps % count) for i in range(count)]


def gate(outputs: int, rules: Rules) -> Iterator[Part]:
    """All parts but the bin that is fed. Linear in the outputs."""
    yield from (Bin(BIN), Node((1, 1, 0), "S"), Node((1, 0, 0), "E"), Node((2, 0, 0), "N"))
    for x in (1, 2):
        yield from (Gauge((x, -1, 0), "S"), Support((x, -1, -1)), Support((x, -2, 0)))
        yield from (Line((x, -2, -1)), Support((x, -2, -2)))
    yield from (Support((3, -2, -1)), Inverter((3, -1, -1), "S"), Support((1, 0, -1)), Inverter((1, 1, -1), "S"))
    for x in (2, 3):
        yield from (Line((x, 0, -1)), Support((x, 0, -2)))
    for part in _delay_line(delay_line(outputs, rules)):
        yield from (part, Support((part.at[0], part.at[1], -1)))
    yield Support((0, 0, 0))


def _delay_line(delays: list[int]) -> Iterator[Part]:
    """South along x = 2, west, and north along x = 0: relays, and lines where there are none to fill the way."""
    south = max(1, (len(delays) - 1) // 2)
    turn = -3 - south
    north = delays[south:]
    for k in range(south):
        yield Relay((2, -3 - k, 0), "S", delays[k])
    yield from (Line((x, turn, 0)) for x in (2, 1, 0))
    for k, y in enumerate(range(-1, turn, -1)):
        yield Relay((0, y, 0), "N", north[k]) if k < len(north) else Line((0, y, 0))


# -- where it may stand -----------------------------------------------------------------------------------------------


def beside(
    bin_at: Cell, taken: Set[Cell], parts: tuple[Part, ...], longest: int, finish: Finish = "plain"
) -> Iterator[tuple[Part, ...]]:
    """The ``parts`` of a gate in every place from which it can feed that bin, with up to ``longest`` nodes in a line
    between them: into the side of the bin, or from above. No cell is taken twice, none lies below the ground."""
    for turn in TURNS:
        out, along = turned_cell(OUT, turn), turned_direction("N", turn)
        for nodes, down in ((n, d) for n in range(longest + 1) for d in (False, True) if n or not d):
            way = list(_way(bin_at, along, nodes, down))
            begin = way[0].at if way else bin_at
            dx, dy, dz = (b - o for b, o in zip(begin, out, strict=True))

            def there(cell: Cell, turn: Turn = turn, dx: int = dx, dy: int = dy, dz: int = dz) -> Cell:
                x, y, z = turned_cell(cell, turn)
                return x + dx, y + dy, z + dz

            moved = (turned_part(part, turn, there) for part in parts)
            placed = (*(replace(one, finish=finish) if isinstance(one, Bin) else one for one in moved), *way)
            cells = {part.at for part in placed}
            if len(cells) == len(placed) and not cells & taken and all(z >= 0 for _, _, z in cells):
                yield placed


def source_of(placed: tuple[Part, ...]) -> Cell:
    """The gate's own source bin, among its parts."""
    return next(part.at for part in placed if isinstance(part, Bin))


def _way(bin_at: Cell, along: Direction, nodes: int, down: bool) -> Iterator[Node]:
    """So many nodes in a line toward the bin: into its side, or, the last one above it, down."""
    x, y, z = bin_at
    dx, dy, _ = step((0, 0, 0), along)
    for k in range(nodes, 0, -1):
        back = k - 1 if down else k
        yield Node((x - dx * back, y - dy * back, z + down), "D" if down and k == 1 else along)
