"""A hall put together from a kit: wings along each side, as close as they can stand without coupling."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.analysis.idle_wiring import idle_wiring
from sim.analysis.production.lines import product_lines
from sim.world.files.places import box_text, counted
from sim.world.geometry import HORIZONTAL, Cell, cell_text, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin
from synth.ask.hall_spec import PRODUCT, HallSpec, HallStream
from synth.ask.spec import AXES
from synth.hall.gated import with_gates
from synth.hall.inputs import with_one_input
from synth.hall.joining import Gaps, Joined, joined, pairs_of
from synth.hall.kits import Kit
from synth.hall.measures import output_wanted
from synth.hall.pieces import WIRING
from synth.hall.wing import Wing
from synth.model.images import TURNS, boxed, moved, turned
from synth.schemes.registry import scheme_named

COLUMNS_MOST = 3
"""Free columns between wings that are tried."""
CELLS_TOLD = 3
"""Blocked cells in the way that are listed one by one."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """Why the site has no room for a hall (``text``), and what would give it room.

    ``layout``: the hall on the least enlarged site that takes it, blocked cells staying where they are; ``growth``: by
    how many cells that site is wider, deeper, higher. The fewest in all three together count as the least.
    """

    text: str
    layout: Layout
    growth: tuple[int, int, int]

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class OtherBins:
    """A hall whose product comes to at least ``places`` bins, or at most; the spec wants ``wanted``."""

    places: int
    wanted: int

    def __str__(self) -> str:
        return f"has places for {counted(self.places, 'product bin')}; the spec wants {self.wanted}"


def shared_out(items: int, among: int) -> list[int]:
    """As evenly as can be, the larger shares first."""
    return [items // among + (i < items % among) for i in range(among)]


def wings_of(spec: HallSpec, furnaces: int, rows: int, kit: Kit) -> list[list[Wing]] | None:
    """The wings of each side, ``rows`` of them on a side that has as many furnaces; None: no room was found for the
    gates that they are to have."""
    holds = {
        stream.enters: scheme_named(row.scheme).start(stream.item, spec.stack_of(stream.item), spec.rules)
        for stream, row in ((spec.feed, kit.feed), (spec.fuel_stream, kit.fuel))
    }
    finishes = {stream.enters: stream.finish for stream in spec.streams}
    numbers = [shared_out(side, min(rows, side)) for side in shared_out(furnaces, spec.sides) if side]
    wings: dict[int, Wing] = {}
    for n in dict.fromkeys(n for side in numbers for n in side):
        wing = with_gates(Wing(n, kit.feed, kit.fuel, kit.end, holds, finishes), spec.rules)
        if wing is None:
            return None
        wings[n] = wing
    return [[wings[n] for n in side] for side in numbers]


def put_together(spec: HallSpec, sides: list[list[Wing]]) -> tuple[Layout | None, str | Misfit | OtherBins]:
    """The hall with the smallest gaps that have no design finding, turned where the site asks for it; or why not.

    Linear in the furnaces but for the design checks.
    """
    numbers = sorted({wing.n for side in sides for wing in side})
    if spec.inputs is not None and len(numbers) > 1:
        return None, f"its rows have {' and '.join(map(str, numbers))} furnaces; from one input all must have as many"
    in_line = sides[0][0].goes_straight_on
    places = len(pairs_of(sides)) if in_line else max(map(len, sides))
    if spec.product_bins is not None and not (places if in_line else 1) <= spec.product_bins <= places:
        return None, OtherBins(places, spec.product_bins)
    neighbours = sum(map(len, sides)) if in_line else places
    fault = ""
    for columns in range(COLUMNS_MOST + 1 if neighbours > 1 else 1):
        for hall in _with_inputs(spec, joined(sides, Gaps(columns), spec.product_bins)):
            layout = layout_of(spec, hall)
            if fault := _too_slow(spec, layout):
                return None, fault
            fault = _first_fault(layout, spec)
            if not fault:
                layout = _without_idle(layout, spec)
                over = next(_over_limits(spec, layout), "")
                return (None, over) if over else _on_site(spec, layout)
    return None, fault


def _too_slow(spec: HallSpec, layout: Layout) -> str:
    """The product lines are too few; "": they are not. (Their number does not depend on gaps.)"""
    carried = sum((line.rate for line in product_lines(layout, spec.rules)), Fraction(0))
    wanted = output_wanted(layout, spec)
    if carried >= wanted:
        return ""
    return f"its product lines carry {float(carried):.0f} an hour at most; the spec wants {float(wanted):.0f}"


def _without_idle(layout: Layout, spec: HallSpec) -> Layout:
    """The hall without wiring that does nothing, of which pieces may have some: what comes of it is tried like any."""
    wiring = {part.at for part in layout.parts if part.kind in WIRING}
    rules = layout.rules_in_force(spec.rules)
    while idle := {finding.at for finding in idle_wiring(layout, rules)} & wiring:
        wiring -= idle
        layout = replace(layout, parts=tuple(part for part in layout.parts if part.at not in idle))
    return layout


def _first_fault(layout: Layout, spec: HallSpec) -> str:
    """What a design check finds, that of couplings first, as it runs nothing; "": none finds anything."""
    found = next(iter(couplings(layout, spec.rules)), None)
    return found.text if found else next((one.text for one in design_findings(layout, spec.rules)), "")


def _with_inputs(spec: HallSpec, hall: Joined) -> Iterator[Joined]:
    """The hall with as many source bins as are wanted: as it is, or with splits in front of its wings, the lowest
    first."""
    if spec.inputs is None:
        yield hall
        return
    taken = frozenset(part.at for part in hall.parts())
    for fuel in with_one_input(hall.bins("side"), taken):
        beside = taken | {part.at for part in fuel.parts}
        for feed in with_one_input(hall.bins("top"), beside):
            yield replace(hall, fronts={"side": fuel, "top": feed})


def _over_limits(spec: HallSpec, layout: Layout) -> Iterator[str]:
    """What is used more often than the spec allows."""
    for kind, used in Counter(part.kind for part in layout.parts).items():
        most = spec.limit(kind).most
        if most is not None and used > most:
            yield f"takes {counted(used, kind)}; {most} are allowed"


def layout_of(spec: HallSpec, hall: Joined) -> Layout:
    """The layout of wings in their places."""
    streams = [stream for one in spec.streams for stream in hall.streams(one.enters, one.name, one.item)]
    items = {**spec.items}
    items.setdefault(spec.product, ItemKind())
    layout = Layout(
        title=spec.title,
        size=hall.size,
        items=items,
        parts=tuple(hall.parts(spec.product_finish)),
        streams=tuple(streams),
        rules=dict(spec.overrides),
    )
    return boxed(layout) if hall.fronts else layout


def _on_site(spec: HallSpec, layout: Layout) -> tuple[Layout | None, str | Misfit]:
    """The layout where the site has room for it: as it is, or turned, or mirrored; or why there is none.

    Time: parts x blocked cells + cells of the site's ground, eight times.
    """
    if spec.size is None and not spec.blocked:
        return layout, ""
    site = spec.size or _wide_enough(layout, spec.blocked)
    tried: list[_Image] = []
    for one in (layout, *(turned(layout, turn) for turn in TURNS[1:])):
        if any(one.by_cell.keys() == other.layout.by_cell.keys() for other in tried):
            continue
        image = _Image(one, site, _in_the_way(one, site, spec.blocked))
        growth, placed = image.least_grown()
        if not any(growth):
            return placed, ""
        tried.append(image)
    growth, placed = min((image.least_grown() for image in tried), key=lambda found: sum(found[0]))
    return None, Misfit(_no_room(layout, site, tried, spec.blocked), placed, growth)


def _wide_enough(layout: Layout, blocked: frozenset[Cell]) -> tuple[int, int, int]:
    """A site without a limit, as far as it matters."""
    side = max(layout.size) + max(max(cell) for cell in blocked) + 1
    return side, side, side


def _in_the_way(layout: Layout, site: tuple[int, int, int], blocked: frozenset[Cell]) -> NDArray[np.int32]:
    """How many blocked cells are in the way of a layout whose corner is put at (x, y), by x and y; up to where it
    begins just beyond the site, and so beyond all of them."""
    found = np.zeros((site[0] + 1, site[1] + 1), np.int32)
    layers = {z: np.array([(x, y) for x, y, at in blocked if at == z]) for z in {z for _, _, z in blocked}}
    for x, y, z in layout.by_cell:
        if z in layers:
            corners = layers[z] - (x, y)
            at = corners[(corners >= 0).all(axis=1)]
            found[at[:, 0], at[:, 1]] += 1
    return found


@dataclass(frozen=True, slots=True)
class _Image:
    """A hall turned in one way, and what is in its way on the site, by the place of its corner (``_in_the_way``)."""

    layout: Layout
    site: tuple[int, int, int]
    in_the_way: NDArray[np.int32]

    @property
    def over(self) -> tuple[int, int, int]:
        """By how much the hall is too wide, too deep, too high; each 0 where it is not."""
        w, d, h = (max(0, mine - most) for mine, most in zip(self.layout.size, self.site, strict=True))
        return w, d, h

    def least_grown(self) -> tuple[tuple[int, int, int], Layout]:
        """By how much the site must grow for the hall to stand in it clear of blocked cells, and the hall there; the
        first such place, by x and then y."""
        growth = self._growth()
        free = np.where(self.in_the_way == 0, growth, growth.max() + 1)
        x, y = divmod(int(free.argmin()), free.shape[1])
        (w, d, _), (width, depth, height) = self.layout.size, self.site
        wider, deeper, higher = max(0, x + w - width), max(0, y + d - depth), self.over[2]
        size = (width + wider, depth + deeper, height + higher)
        return (wider, deeper, higher), moved(self.layout, (x, y, 0), size)

    def within(self) -> Iterator[tuple[int, int, int]]:
        """Each place within the site: how many cells are in the way there; x, y."""
        if not self.over[2]:
            for x, y in np.argwhere(self._growth() == 0).tolist():
                yield int(self.in_the_way[x, y]), x, y

    def _growth(self) -> NDArray[np.int64]:
        """By how much the site must be wider and deeper, by the place of the corner."""
        wider, deeper = (
            np.maximum(0, np.arange(self.site[axis] + 1) + self.layout.size[axis] - self.site[axis]) for axis in (0, 1)
        )
        found: NDArray[np.int64] = wider[:, None] + deeper[None, :]
        return found


def _no_room(layout: Layout, site: tuple[int, int, int], tried: Sequence[_Image], blocked: frozenset[Cell]) -> str:
    """Which limits of the site clash with the hall."""
    closest = min(tried, key=lambda image: sum(image.over))
    turn = "" if closest.layout.size == layout.size else f" (turned: {box_text(closest.layout.size)})"
    takes = f"takes {box_text(layout.size)} cells{turn}"
    if any(closest.over):
        short = [
            f"the {axis} of {has} is {over} too small"
            for axis, has, over in zip(AXES, site, closest.over, strict=True) if over
        ]  # fmt: skip
        return f"{takes}: {' and '.join(filter(None, (', '.join(short[:-1]), short[-1])))}"
    places = [(count, x, y, image.layout) for image in tried for count, x, y in image.within()]
    count, x, y, best = min(places, key=lambda place: place[:3])
    where = "the only place it could take"
    if len(places) > 1:
        where = f"each of the {len(places)} places it could take, turned and mirrored ones too; in the best"
    cells = sorted(cell for cell in blocked if (cell[0] - x, cell[1] - y, cell[2]) in best.by_cell)
    told = "; ".join(map(cell_text, cells[:CELLS_TOLD])) + ("" if count <= CELLS_TOLD else "; ...")
    return f"{takes}: blocked cells are in the way in {where}, {counted(count, 'cell')}: {told}"


def out_of_reach(spec: HallSpec, layout: Layout) -> Iterator[str]:
    """Bins that must be in reach by hand and have no free cell beside them, or above, from which one gets outside."""
    free = _from_outside(layout, spec.blocked)
    for name, cell in _bins(spec, layout):
        around = [step(cell, "U"), *(step(cell, d) for d in HORIZONTAL)]
        if name in spec.reachable and not any(other in free for other in around):
            yield f"the {name} bin at {','.join(map(str, cell))} has no free cell in front that leads outside"


def _bins(spec: HallSpec, layout: Layout) -> Iterator[tuple[str, Cell]]:
    by_item: dict[str, HallStream] = {stream.item: stream for stream in spec.streams}
    sources = {stream.source: by_item[stream.item].name for stream in layout.streams}
    for part in layout.parts:
        if isinstance(part, Bin):
            yield sources.get(part.at, PRODUCT), part.at


def _from_outside(layout: Layout, blocked: frozenset[Cell]) -> set[Cell]:
    """Free cells, near the hall, that hang together with those around it. Linear in the cells of the box around what is
    taken: outside of that box, however large the site is, all cells are free."""
    taken = layout.by_cell.keys() | blocked
    (west, east), (south, north), (_, top) = ((min(along) - 1, max(along) + 1) for along in zip(*taken, strict=True))
    reached: set[Cell] = {(west, south, 0)}
    ahead = list(reached)
    while ahead:
        cell = ahead.pop()
        for other in (step(cell, "U"), step(cell, "D"), *(step(cell, side) for side in HORIZONTAL)):
            x, y, z = other
            inside = west <= x <= east and south <= y <= north and 0 <= z <= top
            if inside and other not in taken and other not in reached:
                reached.add(other)
                ahead.append(other)
    return reached
