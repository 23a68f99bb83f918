"""Streams keep apart: nothing that one stream's gauges can act on is acted on by another's."""

from __future__ import annotations

from collections.abc import Iterable

from sim.geometry import HORIZONTAL
from synth.model.clauses import Lit
from synth.model.influence import Edge, Place, tracked_places
from synth.model.vocabulary import ENDS, Vocabulary, gauge


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
                for end in ENDS:
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
