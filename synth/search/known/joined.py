"""Split trees, joined from known builds: copies of a row side by side, and a split in front that feeds their bins.

The split in front stands above: its outputs are bins, below each bin a node, and nodes from there along the layer above
the copies to the bin of one of them. So nothing of its wiring stands beside theirs. Two such trees are copies in turn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Bin, Finish, Furnace, Node, Part
from synth.ask.spec import Face
from synth.model.decode import reading_order
from synth.model.images import mirrored, moved, turned
from synth.schemes.split_tree import BRANCHES, JOINED, branches
from synth.search.known.atlas import atlas
from synth.search.known.build import at_origin
from synth.search.known.constructed import Constructed
from synth.search.known.laid import horseshoes
from synth.search.known.matching import lifted

FRONT: Final = "muster row"
FINISHES: Final[tuple[Finish, ...]] = ("plain", "marked")
"""Of bins side by side, which would merge if they were alike."""


class SplitTrees(Constructed):
    """All trees that can be joined."""

    def made(self, scheme: str, face: Face, outputs: int) -> Iterator[tuple[str, Layout]]:
        """One for each shape of the gated row."""
        if scheme == JOINED.name:
            yield from (("joined from a split in front and gated rows", one) for one in trees(face, outputs))


def trees(face: Face, outputs: int) -> Iterator[Layout]:
    """The trees of so many outputs, one for each shape of the gated row."""
    if not (p := branches(outputs)):
        return
    for row in horseshoes(face, outputs // p):
        tree: Layout | None = at_origin(row)
        for width in BRANCHES[p]:
            tree = None if tree is None else joined(tree, width)
        if tree is not None:
            yield tree


def joined(below: Layout, width: int) -> Layout | None:
    """``width`` copies of a split with a split of so many in front; the copies side by side along the shorter way, an
    empty column between them. None: no split of so many is known."""
    along_x = below.size[0] <= below.size[1]
    if not along_x:
        across = joined_along_x(turned(below, mirrored), width)
        return None if across is None else turned(across, mirrored)
    return joined_along_x(below, width)


def joined_along_x(below: Layout, width: int) -> Layout | None:
    """The same, along x."""
    pitch = below.size[0] + 1
    copies = [moved(below, (k * pitch, 0, 0), below.size) for k in range(width)]
    front = in_front([copy.streams[0].source for copy in copies])
    if front is None:
        return None
    parts = [*(part for copy in copies for part in copy.parts), *front.parts]
    (stream,) = below.streams
    outputs = tuple(output for copy in copies for output in copy.streams[0].outputs)
    return at_origin(
        replace(
            below,
            parts=tuple(sorted(parts, key=lambda part: reading_order(part.at))),
            streams=(replace(stream, source=front.source, outputs=outputs),),
        )
    )


@dataclass(frozen=True, slots=True)
class Front:
    """A split that stands in front of others: its parts, with the nodes that lead to their bins; its own source bin."""

    parts: tuple[Part, ...]
    source: Cell


def in_front(bins: Sequence[Cell], raised: int = 0) -> Front | None:
    """A split that feeds these bins, which stand in a line along x in that order, from the layer above them, or from
    ``raised`` layers further up. None: no split of so many is known."""
    front = _front(len(bins))
    if front is None:
        return None
    middle = (len(bins) - 1) // 2  # the split stands so that one of its outputs is right above this bin
    x, y, z = bins[middle]
    first, level = x - middle, z + 1 + raised
    front = moved(lifted(front, level + 1), (first, y, 0), front.size)
    parts: list[Part] = []
    parts += (Bin(part.at, FINISHES[part.at[0] % 2]) if isinstance(part, Furnace) else part for part in front.parts)
    for k, (to, _, _) in enumerate(bins):
        parts += _way(first + k, to, y, level)
        parts += (Node((to, y, below), "D") for below in range(z + 1, level))
    return Front(tuple(parts), front.streams[0].source)


def _front(width: int) -> Layout | None:
    """A known split of so many whose outputs stand in a line along x, the lowest build there is."""
    for build in sorted(atlas().builds(FRONT, "top", width), key=lambda one: len(one.layout.parts)):
        for image in (build.layout, turned(build.layout, mirrored)):
            targets = sorted(image.streams[0].outputs)
            if targets == [(k, 0, 0) for k in range(width)]:
                return image
    return None


def _way(begin: int, end: int, y: int, z: int) -> Iterator[Part]:
    """Nodes from below a bin along x to right above another one."""
    along: Direction = "E" if end > begin else "W"
    for x in range(begin, end, 1 if end > begin else -1):
        yield Node((x, y, z), along)
    yield Node((end, y, z), "D")
