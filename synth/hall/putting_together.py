"""A hall put together from a kit: wings along each side, as close as they can stand without coupling."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sim.checks import design_findings
from sim.files.places import counted
from sim.geometry import HORIZONTAL, Cell, step
from sim.layout import ItemKind, Layout
from sim.parts import Bin
from synth.hall.joining import Gaps, Joined, joined
from synth.hall.kits import Kit
from synth.hall.spec import PRODUCT, HallSpec, HallStream
from synth.hall.wing import Wing
from synth.images import TURNS, moved, turned
from synth.schemes.registry import scheme_named

COLUMNS_MOST = 3
"""Free columns between wings that are tried."""


def shared_out(items: int, among: int) -> list[int]:
    """As evenly as can be, the larger shares first."""
    return [items // among + (i < items % among) for i in range(among)]


def wings_of(spec: HallSpec, furnaces: int, rows: int, kit: Kit) -> list[list[Wing]]:
    """The wings of each side, ``rows`` of them on a side that has as many furnaces."""
    holds = {
        stream.enters: scheme_named(row.scheme).start(stream.item, spec.stack_of(stream.item), spec.rules)
        for stream, row in ((spec.feed, kit.feed), (spec.fuel_stream, kit.fuel))
    }
    finishes = {stream.enters: stream.finish for stream in spec.streams}
    return [
        [Wing(n, kit.feed, kit.fuel, kit.end, holds, finishes) for n in shared_out(side, min(rows, side))]
        for side in shared_out(furnaces, spec.sides)
        if side
    ]


def put_together(spec: HallSpec, sides: list[list[Wing]]) -> tuple[Layout | None, str]:
    """The hall with the smallest gaps that have no design finding, turned where the site asks for it; or why not.

    Linear in the furnaces but for the design checks.
    """
    places = max(map(len, sides))
    fault = f"has places for {places} product bins; wanted are {spec.product_bins}"
    if spec.product_bins is not None and spec.product_bins > places:
        return None, fault
    for columns in range(COLUMNS_MOST + 1 if places > 1 else 1):
        layout = layout_of(spec, joined(sides, Gaps(columns), spec.product_bins))
        findings = design_findings(layout, spec.rules)
        if not findings:
            over = next(_over_limits(spec, layout), "")
            return (None, over) if over else _on_site(spec, layout)
        fault = findings[0].text
    return None, fault


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
    return Layout(
        title=spec.title,
        size=hall.size,
        items=items,
        parts=tuple(hall.parts(spec.product_finish)),
        streams=tuple(streams),
        rules=dict(spec.overrides),
    )


def _on_site(spec: HallSpec, layout: Layout) -> tuple[Layout | None, str]:
    """The layout where the site has room for it: as it is, or turned, or mirrored."""
    if spec.size is None and not spec.blocked:
        return layout, ""
    for one in (layout, *(turned(layout, turn) for turn in TURNS[1:])):
        size = spec.size or tuple(one.size[i] + max((c[i] for c in spec.blocked), default=0) + 1 for i in range(3))
        for dx in range(size[0] - one.size[0] + 1):
            for dy in range(size[1] - one.size[1] + 1):
                if one.size[2] <= size[2] and not _taken(one, spec.blocked, dx, dy):
                    return moved(one, (dx, dy, 0), (size[0], size[1], size[2])), ""
    w, d, h = layout.size
    return None, f"takes {w} x {d} x {h} cells, for which the site has no room"


def _taken(layout: Layout, blocked: frozenset[Cell], dx: int, dy: int) -> bool:
    return any((part.at[0] + dx, part.at[1] + dy, part.at[2]) in blocked for part in layout.parts)


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
    """Free cells that hang together with the free cells around the hall. Linear in the cells of the box."""
    w, d, h = layout.size
    taken = layout.by_cell.keys() | blocked
    reached: set[Cell] = {(-1, -1, 0)}
    ahead = list(reached)
    while ahead:
        cell = ahead.pop()
        for other in (step(cell, "U"), step(cell, "D"), *(step(cell, side) for side in HORIZONTAL)):
            x, y, z = other
            inside = -1 <= x <= w and -1 <= y <= d and 0 <= z <= h
            if inside and other not in taken and other not in reached:
                reached.add(other)
                ahead.append(other)
    return reached
