"""What stands in the way when nothing was found: the spec's limits, relaxed one at a time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace

from synth.propose import first_layout
from synth.request import Request
from synth.result import Obstacle
from synth.scope import required_handovers
from synth.spec import PartLimit, Spec

AXES = ("width", "depth", "height")


def relaxations(spec: Spec) -> Iterator[tuple[str, str, Spec]]:
    """(limit, how it was relaxed, the relaxed spec) for every limit that the spec states."""
    if spec.blocked:
        yield "blocked cells", "no cell blocked", replace(spec, blocked=frozenset())
    for kind, limit in spec.limits.items():
        if limit.most is not None:
            limits = {**spec.limits, kind: PartLimit(None, limit.price)}
            yield f"parts.{kind}.most = {limit.most}", f"any number of {kind}s", replace(spec, limits=limits)
    for i, stream in enumerate(spec.streams):
        others = (spec.streams[:i], spec.streams[i + 1 :])
        if stream.source is not None:
            free = replace(stream, source=None)
            yield f"the source of {stream.name}", "anywhere", replace(spec, streams=(*others[0], free, *others[1]))
        if stream.outputs_at:
            free = replace(stream, outputs_at=())
            yield f"the furnaces of {stream.name}", "anywhere", replace(spec, streams=(*others[0], free, *others[1]))
    for axis, name in enumerate(AXES):
        w, d, h = (s + (1 if i == axis else 0) for i, s in enumerate(spec.size))
        size = (w, d, h)
        yield f"{name} {spec.size[axis]}", f"{name} {size[axis]}", replace(spec, size=size)


def obstacles(spec: Spec, request: Request) -> list[Obstacle]:
    """Each limit relaxed alone, within ``request.limit_s`` seconds in all: does it help? Late ones stay undecided."""
    todo = list(relaxations(spec))
    end = time.monotonic() + request.limit_s
    found = []
    for done, (limit, relaxed, easier) in enumerate(todo):
        if request.stop.is_set():
            break
        if time.monotonic() >= end:
            found.append(Obstacle(limit, relaxed, None))
            continue
        request.told(f"would it help to relax {limit}?")
        share_s = (end - time.monotonic()) / (len(todo) - done)  # what one leaves, the next ones have
        share = Request(1, share_s, request.workers, request.seed, stop=request.stop)
        answer = first_layout(easier, share)
        ruled_out = answer.rules_out(easier.size, required_handovers(easier))
        found.append(Obstacle(limit, relaxed, True if answer.proposals else False if ruled_out else None))
    return found
