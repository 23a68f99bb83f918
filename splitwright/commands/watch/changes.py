"""What an edit has changed in a layout: parts put in, taken away, turned, set otherwise; and what else differs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from sim.world.files.places import with_article
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Bin, Container, Gauge, Inverter, Node, Part, Relay, direction_of

What = Literal["added", "removed", "turned", "replaced", "set", "other"]


@dataclass(frozen=True, slots=True)
class Change:
    """One change. ``at`` None: not of one cell. ``text``: in words."""

    what: What
    at: Cell | None
    text: str

    def as_json(self) -> dict[str, Any]:
        """The change as it stands in ``--json`` documents; ``at`` only where it applies."""
        return {"what": self.what, **({"at": list(self.at)} if self.at is not None else {}), "text": self.text}


def changes(before: Layout, after: Layout) -> list[Change]:
    """What sets ``after`` apart from ``before``, cell by cell from the ground up; then what is of no one cell."""
    cells = sorted(before.by_cell.keys() | after.by_cell.keys(), key=lambda cell: cell[::-1])
    found = [
        change for cell in cells for change in _of_cell(cell, before.by_cell.get(cell), after.by_cell.get(cell))
    ]
    return [*found, *_of_no_cell(before, after)]


def _of_cell(cell: Cell, was: Part | None, now: Part | None) -> Iterator[Change]:
    at = cell_text(cell)
    if was == now:
        return
    if was is None:
        assert now is not None
        yield Change("added", cell, f"added {_full(now)} at {at}")
    elif now is None:
        yield Change("removed", cell, f"removed the {was.kind} at {at}")
    elif was.kind != now.kind:
        yield Change("replaced", cell, f"put {_full(now)} in the place of the {was.kind} at {at}")
    else:
        yield from _of_part(at, was, now)


def _of_part(at: str, was: Part, now: Part) -> Iterator[Change]:
    """Of a part that stayed: each of its attributes that differs."""
    if (old := direction_of(was)) != (new := direction_of(now)):
        yield Change("turned", now.at, f"turned the {now.kind} at {at} from {old} to {new}")
    if isinstance(was, Relay) and isinstance(now, Relay) and was.delay != now.delay:
        yield Change("set", now.at, f"set the relay at {at} from delay {was.delay} to {now.delay}")
    if isinstance(was, Bin) and isinstance(now, Bin) and was.finish != now.finish:
        yield Change("set", now.at, f"made the bin at {at} {now.finish}, which was {was.finish}")
    if isinstance(was, Container) and isinstance(now, Container) and was.holds != now.holds:
        yield Change("set", now.at, f"changed what the {now.kind} at {at} holds")


def _of_no_cell(before: Layout, after: Layout) -> Iterator[Change]:
    names = ("title", "size", "items", "streams", "rules")
    for name in names:
        if getattr(before, name) != getattr(after, name):
            yield Change("other", None, f"changed the {name}")
    stayed = before.by_cell.keys() & after.by_cell.keys()
    if [part.at for part in before.parts if part.at in stayed] != [p.at for p in after.parts if p.at in stayed]:
        yield Change("other", None, "changed the order of the parts")


def _full(part: Part) -> str:
    """``a relay, output W, delay 2``."""
    words = [with_article(part.kind)]
    match part:
        case Node(outlet=outlet):
            words.append(f"outlet {outlet}")
        case Relay(output=output, delay=delay):
            words += [f"output {output}", f"delay {delay}"]
        case Gauge(output=output):
            words.append(f"output {output}")
        case Inverter(mount=mount):
            words.append(f"mount {mount}")
        case Bin(finish="marked"):
            words.append("marked")
    return ", ".join(words)
