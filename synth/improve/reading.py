"""What a build is meant to do, read off its item network alone: its wiring, even its nodes, may be at fault."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from sim.errors import InputError
from sim.world.geometry import HORIZONTAL, OPPOSITE, Cell, cell_text, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Furnace, Node
from sim.world.rulebook import load_rulebook
from synth.ask.spec import EvenFor, Face, Spec, StreamSpec
from synth.model.question import Standing
from synth.read.layout import first_number, serves_apart, spec_of_layout
from synth.schemes.registry import admissible, scheme_named, schemes, why_not
from synth.schemes.scheme import Scheme

_BURST: Final[EvenFor] = "burst"


@dataclass(frozen=True, slots=True)
class Meant:
    """What a build is meant to do: the spec with bins and furnaces pinned where they stand, the schemes to be tried,
    and the containers that belong to no row of its streams."""

    spec: Spec
    schemes: tuple[Scheme, ...]
    standing: dict[Cell, Standing]

    def under(self, scheme: Scheme) -> Spec:
        """The spec with that scheme pinned."""
        return replace(self.spec, scheme=scheme.name, even_for=wanted_of(scheme), leftovers=scheme.leaves)

    def placed(self, build: Layout, east: int = 0, north: int = 0) -> Meant:
        """The same task in a larger site, in which everything lies so much farther east and north."""
        there = {stream.name: stream for stream in build.streams}
        pinned = (replace(s, source=there[s.name].source, outputs_at=there[s.name].outputs) for s in self.spec.streams)
        spec = replace(self.spec, size=build.size, streams=tuple(pinned))
        standing = {(x + east, y + north, z): kind for (x, y, z), kind in self.standing.items()}
        return Meant(spec, self.schemes, standing)


def meant_by(layout: Layout, scheme: str | None) -> Meant:
    """What the build is meant to do. Raises InputError where that is beyond this search.

    Without a scheme named: the one that its locks keep, if they keep one, else all that deliver a burst to the last
    item, the most promising first.
    """
    if not layout.streams:
        raise InputError("there is no stream to be split", field="streams")
    _check_outputs(layout)
    spec = Spec(
        title=layout.title,
        outputs=len(layout.streams[0].outputs),
        size=layout.size,
        streams=tuple(
            StreamSpec(s.name, s.item, face_of(layout, s), s.source, s.outputs) for s in layout.streams
        ),
        rulebook=load_rulebook(),
        items=dict(layout.items),
        overrides=dict(layout.rules),
    )
    return Meant(spec, _schemes(layout, spec, scheme), dict(_standing(layout)))


def face_of(layout: Layout, stream: Stream) -> Face:
    """The face by which most outputs of the stream are served as the build stands (a tie: the top)."""
    top = side = 0
    for cell in stream.outputs:
        above = layout.by_cell.get(step(cell, "U"))
        top += isinstance(above, Node) and above.outlet == "D"
        for direction in HORIZONTAL:
            beside = layout.by_cell.get(step(cell, direction))
            side += isinstance(beside, Node) and beside.outlet == OPPOSITE[direction]
    return "side" if side > top else "top"


def _check_outputs(layout: Layout) -> None:
    for stream in layout.streams:
        for cell in stream.outputs:
            if not isinstance(layout.by_cell.get(cell), Furnace):
                fault = f"its output {cell_text(cell)} is no furnace; rows that serve furnaces alone can be improved"
                raise InputError(fault, field=f"streams.{stream.name}")
    if serves_apart(layout):
        raise InputError("the streams have different outputs; all must feed the same furnaces", field="streams")
    served = {cell for stream in layout.streams for cell in stream.outputs}
    for part in layout.parts:
        if isinstance(part, Furnace) and part.at not in served:
            fault = f"the furnace at {cell_text(part.at)} is no stream's output; name it as one"
            raise InputError(fault, field="parts")


def _schemes(layout: Layout, spec: Spec, name: str | None) -> tuple[Scheme, ...]:
    if name is not None:
        scheme = scheme_named(name)
        if scheme.brimmed:
            raise InputError(f"the {name} starts with filled nodes, which are no parts; pin another scheme")
        if spec.outputs < scheme.outputs_least:
            raise InputError(f"the {name} is for {scheme.outputs_least} outputs or more, not {spec.outputs}")
        return (scheme,)
    kept = _scheme_kept(layout)
    if kept is not None and not kept.brimmed:
        return (kept,)
    if alone := _of_its_nodes(layout, spec):
        return alone
    return tuple(scheme for scheme in admissible(spec) if not scheme.brimmed)


def _of_its_nodes(layout: Layout, spec: Spec) -> tuple[Scheme, ...]:
    """The schemes that have nodes ahead of T0, where all rows of the build have as many; else none."""
    firsts = {first_number(layout, stream) for stream in layout.streams}
    return tuple(one for one in schemes().values() if {one.first} == firsts and one.ahead and _serves(one, spec))


def _serves(scheme: Scheme, spec: Spec) -> bool:
    return why_not(scheme, replace(spec, even_for=wanted_of(scheme), leftovers=scheme.leaves)) is None


def _scheme_kept(layout: Layout) -> Scheme | None:
    """The scheme whose lock table the build keeps as it stands; None: none, or its rows cannot be read."""
    try:
        _, readings = spec_of_layout(layout)
    except InputError:
        return None
    first = readings[0].scheme
    return first if all(reading.scheme == first for reading in readings) else None


def wanted_of(scheme: Scheme) -> EvenFor:
    """A burst where the scheme is even for one: what a build passes for first. But a scheme that keeps items back is
    wanted for streams alone, and small loads would say nothing of it."""
    keeps_back = scheme.leaves == "hold" and "stream" in scheme.even_for
    return _BURST if _BURST in scheme.even_for and not keeps_back else scheme.even_for[-1]


def _standing(layout: Layout) -> Iterator[tuple[Cell, Standing]]:
    """Bins that are no source; nodes below them or below a furnace, and those that these push into."""
    sources = {stream.source for stream in layout.streams}
    todo: list[Cell] = []
    for part in layout.parts:
        if isinstance(part, Furnace) or (isinstance(part, Bin) and part.at not in sources):
            todo.append(step(part.at, "D"))
        if isinstance(part, Bin) and part.at not in sources:
            yield part.at, "bin"
    seen: set[Cell] = set()
    while todo:
        node = layout.by_cell.get(todo.pop())
        if isinstance(node, Node) and node.at not in seen:
            seen.add(node.at)
            todo.append(step(node.at, node.outlet))
            yield node.at, "node"
