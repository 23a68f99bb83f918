"""Known builds on a site: turned, mirrored and moved to where the spec has room for them, in the spec's own words.

What comes of it is a candidate, no more: the judge decides. Of the 48 symmetries of the cuboid (turnings and mirror
images) the eight that keep "up" as it is are tried (``synth/model/images``). Builds stand on the ground; where cells
are pinned or blocked they are lifted too, with supports for what stood on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Node, Part, Relay, Support
from synth.ask.spec import Spec
from synth.model.decode import items_of, reading_order
from synth.model.images import images, moved
from synth.model.plots import Plot, Size, is_open, source_cells
from synth.schemes.registry import scheme_named
from synth.search.known.build import KnownBuild
from synth.search.known.stretching import row_of


def placements(build: KnownBuild, spec: Spec) -> Iterator[Layout]:
    """Each image of the build that the site has room for, at the first place that will do.

    Places are not tried one by one: where a build stands makes no difference to how it splits.
    """
    if not _is_asked_for(build, spec):
        return
    dressed = _dressed(build, spec)
    seen = set()
    for image in images(dressed):
        image = replace(image, parts=tuple(sorted(image.parts, key=lambda part: reading_order(part.at))))
        if image.parts in seen:
            continue
        seen.add(image.parts)
        heights = range(1 if is_open(spec) else spec.size[2] - image.size[2] + 1)
        raised = (up for height in heights if _is_within_limits(up := lifted(image, height), spec))
        ways = ((by, up) for up in raised for by in _offsets(up, spec))
        if (way := next(ways, None)) is not None:
            by, up = way
            yield _pinned(moved(up, by, up.size if is_open(spec) else spec.size), spec)


def lifted(image: Layout, height: int) -> Layout:
    """The build so many layers up, a support below each part that needs one and had the ground."""
    if not height:
        return image
    wide, deep, high = image.size
    up = moved(image, (0, 0, height), (wide, deep, high + height))
    grounded = (part for part in up.parts if part.at[2] == height and _needs_ground(part))
    parts = (*up.parts, *(Support(step(part.at, "D")) for part in grounded))
    return replace(up, parts=tuple(sorted(parts, key=lambda part: reading_order(part.at))))


def _needs_ground(part: Part) -> bool:
    return isinstance(part, (Line, Gauge, Relay)) or (isinstance(part, Inverter) and part.mount == "D")


def fits(box: Size, site: Size) -> bool:
    """The site is large enough for the box, turned if need be."""
    (w, d, h), (width, depth, height) = box, site
    return h <= height and ((w <= width and d <= depth) or (d <= width and w <= depth))


def is_straight(layout: Layout) -> bool:
    """The row never bends."""
    row = row_of(layout)
    return any(len({cell[axis] for cell in row}) == 1 for axis in (0, 1))


def _is_asked_for(build: KnownBuild, spec: Spec) -> bool:
    """The build is of the spec's row, and keeps to what is asked of the row and of parts."""
    if len(spec.streams) != 1 or (build.face, build.outputs) != (spec.streams[0].enters, spec.outputs):
        return False
    if spec.row == "straight" and not is_straight(build.layout):
        return False
    return fits(build.layout.size, spec.size) and _is_within_limits(build.layout, spec)


def _is_within_limits(layout: Layout, spec: Spec) -> bool:
    """No more parts of a kind than the spec allows."""
    kinds = [part.kind for part in layout.parts]
    return all(limit.most is None or kinds.count(kind) <= limit.most for kind, limit in spec.limits.items())


def _dressed(build: KnownBuild, spec: Spec) -> Layout:
    """The build with the spec's title, stream, items and rules; where nodes start with something, with what the spec's
    item makes of it."""
    (asked,), layout = spec.streams, build.layout
    start = scheme_named(build.scheme).start(asked.item, spec.stack_of(asked.item), spec.rules)
    parts = tuple(
        replace(part, holds=start) if isinstance(part, Node) and part.holds else part for part in layout.parts
    )
    stream = replace(layout.streams[0], name=asked.name, item=asked.item)
    return replace(
        layout, title=spec.title, items=items_of(spec), parts=parts, streams=(stream,), rules=dict(spec.overrides)
    )


def _offsets(image: Layout, spec: Spec) -> Iterator[Cell]:
    """Where the image may stand in the site."""
    room = [s - own for s, own in zip(spec.size, image.size, strict=True)]
    if min(room) < 0:
        return
    allowed = source_cells(spec, spec.streams[0], Plot((0, 0, 0), spec.size))
    pinned = set(spec.streams[0].outputs_at)
    for dx, dy in product(range(room[0] + 1), range(room[1] + 1)):

        def there(cell: Cell, dx: int = dx, dy: int = dy) -> Cell:
            return cell[0] + dx, cell[1] + dy, cell[2]

        (stream,) = image.streams
        if any(there(part.at) in spec.blocked for part in image.parts):
            continue
        if allowed is not None and there(stream.source) not in allowed:
            continue
        if pinned and pinned != set(map(there, stream.outputs)):
            continue
        yield dx, dy, 0


def _pinned(layout: Layout, spec: Spec) -> Layout:
    """The outputs in the order in which the spec pins them."""
    pinned = spec.streams[0].outputs_at
    return replace(layout, streams=(replace(layout.streams[0], outputs=pinned),)) if pinned else layout
