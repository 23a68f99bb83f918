"""What keeps apart: nothing that one stream's gauges can act on is acted on by another's; and, where the scheme asks
for it, the gauges of one number in a row act on the nodes of that number alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from sim.world.geometry import HORIZONTAL, Cell
from synth.model.clauses import Lit
from synth.model.edges import Edge, Place
from synth.model.influence import tracked_places
from synth.model.vocabulary import SUPPORT, Vocabulary, back, gauge
from synth.schemes.scheme import Role, Watch

ROLES: Final[tuple[Role, ...]] = ("T", "B")


def streams_do_not_couple(v: Vocabulary, edges: Iterable[Edge]) -> None:
    """No part, line or solid is under the influence of two streams, and no node under that of another stream."""
    if len(v.streams) < 2:
        return
    under: list[dict[Place, Lit]] = [
        {place: v.clauses.new() for place in tracked_places(v)}
        for _ in v.streams
    ]
    for s in v.streams:
        for cell in v.cells:
            for output in HORIZONTAL:
                for end in v.labels:
                    v.clauses.add(-v.is_(cell, gauge(output, s, end)), under[s]["part", cell])
    for edge in edges:
        for s in v.streams:
            source = under[s].get(edge.source)
            if source is None:
                continue
            if edge.target[0] == "node":
                for other in v.streams:
                    if other != s:
                        v.clauses.implies((*edge.given, source, v.is_row(edge.target[1], other)))
                        v.clauses.implies((*edge.given, source, v.is_drop(edge.target[1], other)))
            elif edge.target in under[s]:
                v.clauses.implies((*edge.given, source), under[s][edge.target])
    for place in under[0]:
        for s in v.streams:
            for other in range(s):
                v.clauses.add(-under[s][place], -under[other][place])


def gauges_act_on_their_own_classes(v: Vocabulary, edges: Iterable[Edge], stream: int) -> None:
    """A gauge acts on no node of its stream but those of the classes that its watch names, whatever the levels."""
    every = list(edges)
    for watch in v.question.scheme.watches:
        if watch.locks:
            _acts_on_classes_alone(v, every, stream, watch)


def _acts_on_classes_alone(v: Vocabulary, edges: list[Edge], stream: int, watch: Watch) -> None:
    under = _places(v)
    for cell in v.cells:
        for output in HORIZONTAL:
            v.clauses.add(-v.is_(cell, gauge(output, stream, watch.label)), under["part", cell])

    def mine(at: Cell, _role: Role) -> list[Lit]:
        return [v.is_among(at, stream, nodes) for nodes in watch.locks]

    _spreads(v, edges, stream, under, mine)


def numbers_do_not_couple(v: Vocabulary, edges: Iterable[Edge]) -> None:
    """A gauge that reads a node of some number acts on no node of another number, where the scheme has them apart."""
    every = list(edges)
    for watch in v.question.scheme.watches:
        if watch.apart:
            for s in v.streams:
                for number in v.question.scheme.members(watch.nodes, v.question.outputs):
                    _acts_on_its_own_alone(v, every, s, watch, number)


def _acts_on_its_own_alone(v: Vocabulary, edges: list[Edge], stream: int, watch: Watch, number: int) -> None:
    under = _places(v)
    role, reading = watch.nodes.role, []
    for cell in v.cells:
        for output in HORIZONTAL:
            here, near = v.is_(cell, gauge(output, stream, watch.label)), back(cell, output)
            own = v.is_number(near, stream, role, number), v.is_number(back(near, output), stream, role, number)
            v.clauses.implies((here, own[0]), under["part", cell])
            v.clauses.implies((here, v.is_(near, SUPPORT), own[1]), under["part", cell])
            reading += [v.clauses.both(here, own[0]), v.clauses.both(here, v.is_(near, SUPPORT), own[1])]
    v.clauses.add(*reading)  # the locks of that number depend on it (redundant, found by propagation late)

    def mine(at: Cell, role: Role) -> list[Lit]:
        return [v.is_number(at, stream, role, number)]

    _spreads(v, edges, stream, under, mine)


def _places(v: Vocabulary) -> dict[Place, Lit]:
    """A literal for each place: some gauges in question act on it."""
    return {place: v.clauses.new() for place in tracked_places(v)}


def _spreads(
    v: Vocabulary,
    edges: Iterable[Edge],
    stream: int,
    under: Mapping[Place, Lit],
    mine: Callable[[Cell, Role], list[Lit]],
) -> None:
    """What acts on a place acts on what that place acts on; a node of the stream it may act on only where ``mine``, of
    its cell and role, holds."""
    for edge in edges:
        source = under.get(edge.source)
        if source is None:
            continue
        if edge.target[0] == "node":
            at = edge.target[1]
            for role in ROLES:
                node = v.is_row(at, stream) if role == "T" else v.is_drop(at, stream)
                v.clauses.implies((*edge.given, source, node), *mine(at, role))
        elif edge.target in under:
            v.clauses.implies((*edge.given, source), under[edge.target])
