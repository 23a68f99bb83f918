"""What stands in the way when nothing was found: the spec's limits, relaxed one at a time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple

from sim.world.files.places import counted, printable
from synth.ask.spec import AXES, PartLimit, Spec
from synth.search.race import first_layout
from synth.search.request import Request
from synth.search.result import Obstacle
from synth.search.scope import required_handovers

ANYWHERE: Final = "anywhere"


class Relaxation(NamedTuple):
    """A limit that the spec states, what it is relaxed to, and the spec with that one relaxed; then both within a
    sentence: "at most 1 relay", "any number of relays"."""

    limit: str
    relaxed: str
    spec: Spec
    told: str
    instead: str


def relaxations(spec: Spec) -> Iterator[Relaxation]:
    """Every limit that the spec states, relaxed alone. Each is known by its ``limit``, whichever others are relaxed."""
    if spec.blocked:
        easier = replace(spec, blocked=frozenset())
        yield Relaxation("blocked cells", "no cell blocked", easier, "the blocked cells", "no cell blocked")
    for kind, part in spec.limits.items():
        if part.most is not None:
            easier = replace(spec, limits={**spec.limits, kind: PartLimit(None, part.price)})
            told, free = f"at most {counted(part.most, kind)}", f"any number of {kind}s"
            yield Relaxation(f"parts.{kind}.most = {part.most}", free, easier, told, free)
    for i, stream in enumerate(spec.streams):
        pins = {"source": stream.source is not None, "furnaces": bool(stream.outputs_at)}
        freed = {"source": replace(stream, source=None), "furnaces": replace(stream, outputs_at=())}
        for pin in (name for name, is_there in pins.items() if is_there):
            easier = replace(spec, streams=(*spec.streams[:i], freed[pin], *spec.streams[i + 1 :]))
            limit, name = f"the {pin} of {stream.name}", f"the {pin} of {printable(stream.name)}"
            yield Relaxation(limit, ANYWHERE, easier, f"the place of {name}", f"{name} anywhere")
    for axis, name in enumerate(AXES):
        w, d, h = (s + (1 if i == axis else 0) for i, s in enumerate(spec.size))
        size = (w, d, h)
        limit, relaxed = f"{name} {spec.size[axis]}", f"{name} {size[axis]}"
        told = f"the {name} of {spec.size[axis]}"
        yield Relaxation(limit, relaxed, replace(spec, size=size), told, f"a cell more of {name}")


def obstacles(spec: Spec, request: Request) -> list[Obstacle]:
    """Each limit relaxed alone, within ``request.limit_s`` seconds in all: does it help? Late ones stay undecided."""
    todo = list(relaxations(spec))
    end = time.monotonic() + request.limit_s
    found = []
    for done, (limit, relaxed, easier, _, _) in enumerate(todo):
        if request.stop.is_set():
            break
        if time.monotonic() >= end:
            found.append(Obstacle(limit, relaxed, None))
            continue
        request.told(f"would it help to relax {limit}?")
        share_s = (end - time.monotonic()) / (len(todo) - done)  # what one leaves, the next ones have
        share = Request(
            1, share_s, request.workers, request.seed, request.mebibytes, stores=request.stores, stop=request.stop
        )
        answer = first_layout(easier, share)
        ruled_out = answer.rules_out(easier.size, required_handovers(easier))
        found.append(Obstacle(limit, relaxed, True if answer.proposals else False if ruled_out else None))
    return found
