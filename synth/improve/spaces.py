"""Sites: of a build with room around it, and no larger than what was found takes."""

from __future__ import annotations

from sim.world.layout import Layout
from synth.model.images import moved


def cropped(build: Layout, found: Layout, room: int) -> tuple[Layout, Layout, tuple[int, int]]:
    """The build, and what was found in that room around it, in a site no larger than it needs; how much farther east
    and north all lies there than in the build's own."""
    low = [min(room, *(part.at[axis] for part in found.parts)) for axis in range(2)]
    high = [max(part.at[axis] + 1 for part in found.parts) for axis in range(3)]
    w, d, h = build.size
    size = max(high[0] - low[0], w + room - low[0]), max(high[1] - low[1], d + room - low[1]), max(high[2], h)
    origin, layout = (moved(one, (-low[0], -low[1], 0), size) for one in (with_room(build, room), found))
    return origin, layout, (room - low[0], room - low[1])


def with_room(build: Layout, room: int) -> Layout:
    """The build with so many free cells on each side of its site and above it."""
    w, d, h = build.size
    return moved(build, (room, room, 0), (w + 2 * room, d + 2 * room, h + room))
