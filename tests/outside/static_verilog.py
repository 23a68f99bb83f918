"""A layout's signals at one instant as a Verilog module (IEEE Std 1364-2005), law by law from RULEBOOK.md, section 4.

Made from the text alone: it reads the parts of a layout and nothing else of the simulator. Levels are thermometer
codes, ``[15:1]`` with bit k set when the level is at least k: the largest of several levels is their bitwise OR, and
"the level of a linked line, less one" is a shift by one place. Bit k of a line then depends on bits k+1 of its linked
lines only, so that what looks like a cycle between the lines of a run is none, and the values are the least solution.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from math import floor

from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support

Cell = tuple[int, int, int]

FULL = 15  # section 2: "level 0-15"; section 4: "15 for a relay that is on"
SLOTS = {"bin": 27, "node": 5, "furnace": 3}  # section 2
STACK = 64  # section 3

EAST, WEST, NORTH, SOUTH, UP, DOWN = (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)
TOWARDS = {"E": EAST, "W": WEST, "N": NORTH, "S": SOUTH, "U": UP, "D": DOWN}
COMPASS = (EAST, WEST, NORTH, SOUTH)
SIX = (*COMPASS, UP, DOWN)


def plus(cell: Cell, way: Cell) -> Cell:
    return cell[0] + way[0], cell[1] + way[1], cell[2] + way[2]


def minus(cell: Cell, way: Cell) -> Cell:
    return cell[0] - way[0], cell[1] - way[1], cell[2] - way[2]


def back(way: Cell) -> Cell:
    return -way[0], -way[1], -way[2]


class StaticVerilog:
    """The static laws of one layout as equations between wires.

    ``kept``: the state of each relay that is latched. Where the static laws leave it open ("keeps its state"), it is an
    input of the module; a relay that is not latched never looks at it, nor does one that was latched from the start.
    """

    def __init__(self, layout: Layout, kept: Mapping[Cell, bool] | None = None) -> None:
        self.layout = layout
        self.kept = kept or {}
        self.at: dict[Cell, Part] = {part.at: part for part in layout.parts}

    # -- the text ----------------------------------------------------------------------------------------------------

    def module(self, name: str) -> str:
        """The module. It shows ``<name> s <cell> <value>`` for each signal part, ``e`` for each solid cell that is a
        part or beside one (1: energised), ``n`` for each node (1: locked) and ``l`` for each relay (1: latched)."""
        equations = [equation for cell in self._solids() for equation in self._solid_equations(cell)]
        equations += [equation for part in self.layout.parts for equation in self._part_equations(part)]
        body = [f"wire {wire};" for wire, _ in equations]
        body += [f"assign {wire.split()[-1]} = {value};" for wire, value in equations]
        shows = [("e", cell, f"e{_id(cell)}") for cell in self._solids()]
        shows += [show for part in self.layout.parts for show in _shows(part)]
        body += ["initial begin #1", *(self._display(name, *show) for show in shows)]
        return "\n  ".join([f"module {name};", HEIGHT, *body, "end"]) + "\nendmodule\n"

    def _solid_equations(self, cell: Cell) -> list[tuple[str, str]]:
        here = _id(cell)
        weak = _any(f"{wire}[1]" for wire in self.weak(cell))
        return [(f"[15:1] s{here}", _largest(self.strong(cell))), (f"e{here}", f"s{here}[1] | {weak}")]

    def _part_equations(self, part: Part) -> list[tuple[str, str]]:
        """p: what the part delivers; q: lit or on; h: latched; r, i: a gauge's reading and side input; k: locked."""
        here = _id(part.at)
        match part:
            case Line():
                return [(f"[15:1] p{here}", _largest(self.level(part.at)))]
            case Inverter():
                mount = self._energised(plus(part.at, TOWARDS[part.mount]))
                return [(f"q{here}", f"~{mount}"), (f"[15:1] p{here}", f"{{15{{q{here}}}}}")]
            case Relay():
                kept = int(self.kept.get(part.at, False) and not self.latched_throughout(part))
                state = f"h{here} ? 1'b{kept} : ({_any(self.relay_input(part))})"
                latched = _any(self.latching(part))
                return [(f"h{here}", latched), (f"q{here}", state), (f"[15:1] p{here}", f"{{15{{q{here}}}}}")]
            case Gauge():
                reading, side = _thermometer(self.reading(part)), _largest(self.side_input(part))
                out = f"(i{here} > r{here}) ? 15'd0 : r{here}"
                return [(f"[15:1] r{here}", reading), (f"[15:1] i{here}", side), (f"[15:1] p{here}", out)]
            case Node():
                return [(f"k{here}", _any(self.locking(part)))]
        return []

    @staticmethod
    def _display(name: str, what: str, cell: Cell, value: str) -> str:
        return f'  $display("{name} {what} {cell[0]},{cell[1]},{cell[2]} %0d", {value});'

    # -- the laws: each yields the things of which the law takes the largest (any, for bits) -------------------------

    def is_solid(self, cell: Cell) -> bool:
        """Solid cells: support, furnace, the ground (section 2)."""
        return cell[2] < 0 or isinstance(self.at.get(cell), (Support, Furnace))

    def strong(self, q: Cell) -> Iterable[str]:
        """A relay that is on with q in front; a gauge with q in front; a lit inverter directly below q."""
        for way in COMPASS:
            other = self.at.get(minus(q, way))
            if isinstance(other, (Relay, Gauge)) and TOWARDS[other.output] == way:
                yield f"p{_id(other.at)}"
        below = self.at.get(plus(q, DOWN))
        if isinstance(below, Inverter):
            yield f"p{_id(below.at)}"

    def weak(self, q: Cell) -> Iterable[str]:
        """A line directly on top of q, or a horizontally adjacent line that points into q."""
        if isinstance(self.at.get(plus(q, UP)), Line):
            yield f"p{_id(plus(q, UP))}"
        for way in COMPASS:
            line = minus(q, way)
            if isinstance(self.at.get(line), Line) and self.points(line, way):
                yield f"p{_id(line)}"

    def level(self, p: Cell) -> Iterable[str]:
        """The level of a line: sources beside it, strong solids beside it, linked lines less one."""
        for way in SIX:
            other = self.at.get(plus(p, way))
            if isinstance(other, (Relay, Gauge)) and plus(other.at, TOWARDS[other.output]) == p:
                yield f"p{_id(other.at)}"
            if isinstance(other, Inverter) and plus(other.at, TOWARDS[other.mount]) != p:
                yield f"p{_id(other.at)}"
            if self.is_solid(plus(p, way)):
                yield f"s{_id(plus(p, way))}"
        for way in COMPASS:
            for linked in self.linked(p, way):
                yield f"(p{_id(linked)} >> 1)"

    def linked(self, p: Cell, way: Cell) -> list[Cell]:
        """The lines that p links to in one direction, with q the horizontal neighbour cell there."""
        q = plus(p, way)
        found = [q]
        if self.is_solid(q) and not self.is_solid(plus(p, UP)):
            found.append(plus(q, UP))
        if not self.is_solid(q):
            found.append(plus(q, DOWN))
        return [cell for cell in found if isinstance(self.at.get(cell), Line)]

    def connects(self, p: Cell, way: Cell) -> bool:
        """A linked line that way, an inverter, a gauge, or a relay in line with it."""
        beside = self.at.get(plus(p, way))
        in_line = isinstance(beside, Relay) and TOWARDS[beside.output] in (way, back(way))
        return bool(self.linked(p, way)) or isinstance(beside, (Inverter, Gauge)) or in_line

    def points(self, p: Cell, way: Cell) -> bool:
        """Something connects there, or nothing connects on the two sides across it."""
        across = (EAST, WEST) if way in (NORTH, SOUTH) else (NORTH, SOUTH)
        return self.connects(p, way) or not any(self.connects(p, side) for side in across)

    def relay_input(self, relay: Relay) -> Iterable[str]:
        """The cell behind: energised, a line above 0, a lit inverter, a relay or gauge facing the same way."""
        place = minus(relay.at, TOWARDS[relay.output])
        other = self.at.get(place)
        if self.is_solid(place):
            yield self._energised(place)
        if isinstance(other, (Line, Inverter)) or (isinstance(other, (Relay, Gauge)) and other.output == relay.output):
            yield f"p{_id(place)}[1]"

    def latching(self, relay: Relay) -> Iterable[str]:
        """A relay that is on, or a gauge above 0, faces one of its sides."""
        return (f"p{_id(other.at)}[1]" for other in self._facing_a_side(relay))

    def latched_throughout(self, relay: Relay) -> bool:
        """A gauge that nothing can hold down latches the relay from the first round of settling on, which goes through
        the gauges before the relays: the relay keeps the state that settling starts from, off."""
        gauges = [other for other in self._facing_a_side(relay) if isinstance(other, Gauge)]
        return any(self.reading(gauge) > 0 and not list(self.side_input(gauge)) for gauge in gauges)

    def side_input(self, gauge: Gauge) -> Iterable[str]:
        """A line on either side, a relay that is on or a gauge facing it from a side."""
        for way in _sides(gauge):
            if isinstance(self.at.get(plus(gauge.at, way)), Line):
                yield f"p{_id(plus(gauge.at, way))}"
        for other in self._facing_a_side(gauge):
            yield f"p{_id(other.at)}"

    def reading(self, gauge: Gauge) -> int:
        """The fill level of the container behind, or of one right behind a support there; no container: 0."""
        way = TOWARDS[gauge.output]
        place = minus(gauge.at, way)
        if isinstance(self.at.get(place), Support):
            place = minus(place, way)
        container = self.at.get(place)
        return self.fill_level(container) if isinstance(container, (Bin, Node, Furnace)) else 0

    def fill_level(self, container: Bin | Node | Furnace) -> int:
        """0 if empty, else floor(1 + 14 * mean over all slots of count/limit), exactly."""
        held = [slot for slot in container.holds if slot is not None]
        if not held:
            return 0
        limits = {kind: item.stack or STACK for kind, item in self.layout.items.items()}
        total = sum((Fraction(count, limits.get(kind, STACK)) for kind, count in held), Fraction())
        return floor(1 + (FULL - 1) * total / SLOTS[container.kind])

    def locking(self, node: Node) -> Iterable[str]:
        """An energised solid neighbour; a part that delivers into the node; a line that points into it."""
        for way in SIX:
            place = plus(node.at, way)
            other = self.at.get(place)
            if self.is_solid(place):
                yield self._energised(place)
            if isinstance(other, (Relay, Gauge)) and plus(place, TOWARDS[other.output]) == node.at:
                yield f"p{_id(place)}[1]"
            if isinstance(other, Inverter) and plus(place, TOWARDS[other.mount]) != node.at:
                yield f"p{_id(place)}[1]"
            if isinstance(other, Line) and way in COMPASS and self.points(place, back(way)):
                yield f"p{_id(place)}[1]"

    # -- helpers -----------------------------------------------------------------------------------------------------

    def _facing_a_side(self, part: Relay | Gauge) -> list[Relay | Gauge]:
        beside = [(way, self.at.get(plus(part.at, way))) for way in _sides(part)]
        return [o for way, o in beside if isinstance(o, (Relay, Gauge)) and TOWARDS[o.output] == back(way)]

    def _energised(self, cell: Cell) -> str:
        return f"e{_id(cell)}" if self.is_solid(cell) else "1'b0"

    def _solids(self) -> list[Cell]:
        near = {plus(part.at, way) for part in self.layout.parts for way in (*SIX, (0, 0, 0))}
        return sorted(cell for cell in near if self.is_solid(cell))


HEIGHT = """function [3:0] height(input [15:1] code);
    integer k;
    begin
      height = 0;
      for (k = 1; k <= 15; k = k + 1) height = height + code[k];
    end
  endfunction"""


def _sides(part: Relay | Gauge) -> tuple[Cell, Cell]:
    return (NORTH, SOUTH) if TOWARDS[part.output] in (EAST, WEST) else (EAST, WEST)


def _id(cell: Cell) -> str:
    return "_".join(str(n) if n >= 0 else f"m{-n}" for n in cell)


def _shows(part: Part) -> list[tuple[str, Cell, str]]:
    here = _id(part.at)
    match part:
        case Line() | Gauge():
            return [("s", part.at, f"height(p{here})")]
        case Inverter():
            return [("s", part.at, f"q{here}")]
        case Relay():
            return [("s", part.at, f"q{here}"), ("l", part.at, f"h{here}")]
        case Node():
            return [("n", part.at, f"k{here}")]
    return []


def _largest(levels: Iterable[str]) -> str:
    return " | ".join(levels) or "15'd0"


def _any(bits: Iterable[str]) -> str:
    return " | ".join(bits) or "1'b0"


def _thermometer(level: int) -> str:
    return f"15'd{(1 << level) - 1}"
