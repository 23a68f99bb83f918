"""Rows that are known to work, laid over a row of a build: what is missing, turned or in the way shows as a difference.

They come from the build itself (its other rows, each by itself), from the pieces of halls and from the atlas.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from typing import Final

import networkx as nx

from sim.analysis.couplings.graph import Vertex
from sim.analysis.couplings.study import Study
from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Container, Gauge, Inverter, Line, Node, Part, Relay
from sim.world.rulebook import Rules
from sim.world.signals.structure import mount_cell
from synth.ask.spec import Face
from synth.hall.piece_file import shipped_file
from synth.hall.piece_json import pieces_from_json
from synth.hall.short_row import short_row
from synth.improve.differences import is_same
from synth.model.images import images, moved
from synth.search.known.atlas import atlas

OPTIONS_MOST: Final = 8
"""Patterns of one row that are looked at, those with the fewest differences first."""
TRIED_MOST: Final = 64
"""Choices of patterns for all rows that are tried."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """A row by itself that works as that scheme has it."""

    scheme: str
    row: Layout


@dataclass(frozen=True, slots=True)
class Laid:
    """A pattern where it stands in a build. ``number``: the pattern's; ``cost``: cells in which the build differs."""

    number: int
    scheme: str
    parts: tuple[Part, ...]
    cost: int


def known_patterns(face: Face, outputs: int, rules: Rules) -> Iterator[Pattern]:
    """Rows of the pieces that come with splitwright, then those of the atlas; none that starts with filled nodes."""
    for one in json.loads(shipped_file().read_text(encoding="utf-8"))["pieces"]:
        pieces = pieces_from_json(one)
        if pieces.face == face and pieces.lead < outputs <= pieces.longest:
            yield Pattern(pieces.scheme, short_row(pieces, pieces.lane, outputs, rules))
    for name in ("undrained row", "burst row", "headed undrained row", "muster row"):
        for build in atlas().builds(name, face, outputs):
            yield Pattern(name, build.layout)


def alone(study: Study, stream: Stream) -> Layout:
    """One row of a layout by itself: its containers, the wiring by which its gauges and locks are linked, and what that
    stands on."""
    layout, rows = study.layout, study.rows
    mine = {cell for cell, names in rows.of.items() if stream.name in names} | {stream.source, *stream.outputs}
    graph: nx.DiGraph[Vertex] = nx.compose(study.graph.varying, study.graph.steady)
    found = {one for origin, gauges in study.gauges.items() if stream.name in origin for one in gauges}
    for vertex in list(graph):
        if vertex.kind == "node" and study.graph.cell(vertex) in mine:
            found |= nx.ancestors(graph, vertex)
    cells = {study.graph.cell(vertex) for vertex in found} | mine
    cells |= {below for cell in cells & layout.by_cell.keys() if (below := _mount(layout.by_cell[cell])) is not None}
    parts = tuple(part for part in layout.parts if part.at in cells)
    return replace(layout, parts=tuple(one for one in parts if one.at in mine or not isinstance(one, Container)),
                   streams=(stream,))  # fmt: skip


def _mount(part: Part) -> Cell | None:
    """The cell that a part hangs on or stands on."""
    match part:
        case Line() | Relay() | Gauge():
            return step(part.at, "D")
        case Inverter():
            return mount_cell(part)
    return None


def laid_over(build: Layout, stream: Stream, patterns: Iterable[Pattern]) -> list[Laid]:
    """The patterns in every way in which source and furnaces come to lie where the stream has them, within the site;
    those with the fewest differences first."""
    found: dict[frozenset[Part], Laid] = {}
    for number, pattern in enumerate(patterns):
        for image in images(pattern.row):
            if (parts := _onto(build, stream, image)) is not None:
                found.setdefault(frozenset(parts), Laid(number, pattern.scheme, parts, _differences(build, parts)))
    return sorted(found.values(), key=lambda laid: (laid.cost, len(laid.parts)))


def _onto(build: Layout, stream: Stream, image: Layout) -> tuple[Part, ...] | None:
    """The image's parts with its source where the stream has it; None: its furnaces are elsewhere, or it leaves the
    site."""
    (own,) = image.streams
    dx, dy, dz = (there - here for there, here in zip(stream.source, own.source, strict=True))
    there = moved(image, (dx, dy, dz), build.size)
    within = all(0 <= at < side for part in there.parts for at, side in zip(part.at, build.size, strict=True))
    if not within or set(there.streams[0].outputs) != set(stream.outputs):
        return None
    return tuple(part for part in there.parts if part.at not in (stream.source, *stream.outputs))


def _differences(build: Layout, parts: Iterable[Part]) -> int:
    return sum(not is_same(build.by_cell.get(part.at), part) for part in parts)


def choices(options: Mapping[str, Sequence[Laid]], alike: Callable[[str], object]) -> Iterator[dict[str, Laid]]:
    """One pattern for each row, no two in one cell, the fewest differences in all first; rows that are ``alike`` have
    the same pattern. At most ``TRIED_MOST`` choices."""
    groups: dict[object, list[str]] = {}
    for name in options:
        groups.setdefault(alike(name), []).append(name)
    ways = [list(_of_group(options, names)) for names in groups.values()]
    together = [{name: laid for part in way for name, laid in part.items()} for way in product(*ways)]
    together.sort(key=lambda way: sum(laid.cost for laid in way.values()))
    return islice((way for way in together if _are_apart(way.values())), TRIED_MOST)


def _of_group(options: Mapping[str, Sequence[Laid]], names: Sequence[str]) -> Iterator[dict[str, Laid]]:
    """The least differing pattern for each row; then each pattern that all of them can have."""
    numbers = {laid.number for laid in options[names[0]]}
    for number in sorted(numbers):
        of_each = [next((laid for laid in options[name] if laid.number == number), None) for name in names]
        if all(of_each):
            yield {name: laid for name, laid in zip(names, of_each, strict=True) if laid is not None}


def _are_apart(laid: Iterable[Laid]) -> bool:
    there: dict[Cell, Part] = {}
    return all(there.setdefault(part.at, part) == part for one in laid for part in one.parts)


def overlaid(build: Layout, laid: Iterable[Laid], kept: Iterable[Part]) -> Layout:
    """The build with the patterns' parts, of its own parts only what is ``kept``; what stays is in its order."""
    new, staying = {part.at: part for one in laid for part in one.parts}, {part.at for part in kept}
    parts: list[Part] = []
    for part in build.parts:
        other = new.pop(part.at, None)
        if other is not None:
            parts.append(part if is_same(part, other) else _with_contents(part, other))
        elif part.at in staying:
            parts.append(part)
    return replace(build, parts=(*parts, *new.values()))


def _with_contents(part: Part, other: Part) -> Part:
    return replace(other, holds=part.holds) if isinstance(part, Node) and isinstance(other, Node) else other

