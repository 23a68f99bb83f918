"""Changes in words, one sentence each, in an order in which they can be made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sim.analysis.couplings.rows import rows_of
from sim.world.files.places import with_article
from sim.world.geometry import OPPOSITE, Cell, cell_text, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Container, Gauge, Inverter, Node, Part, Relay, Support, direction_of
from synth.improve.differences import Change
from synth.model.decode import reading_order

Names = Mapping[Cell, str]


def node_labels(layout: Layout) -> dict[Cell, str]:
    """T0, B1 and so on as the outlets have them, with the stream's name where there are several."""
    labels = {cell: label for cell, label in rows_of(layout).labels.items() if isinstance(layout.by_cell[cell], Node)}
    return labels if len(layout.streams) > 1 else {cell: label.split(" of ")[0] for cell, label in labels.items()}


def in_order(changes: Iterable[Change]) -> list[Change]:
    """What goes first, from the top down; then supports; then the rest from the ground up: nothing lacks what it
    stands on or hangs on when it comes."""
    return sorted(changes, key=_turn)


def _turn(change: Change) -> tuple[int, int, tuple[int, int, int]]:
    if change.after is None:
        return 0, -change.at[2], reading_order(change.at)
    return (1 if isinstance(change.after, Support) else 2), change.at[2], reading_order(change.at)


def sentence(change: Change, after: Layout, names: Names) -> str:
    """The change in words. ``after``: the layout with all changes made; ``names``: of its nodes, as T0."""
    before, now = change.before, change.after
    at = cell_text(change.at)
    match change.action:
        case "add":
            assert now is not None
            return f"add {with_article(now.kind)} at {at}{_set_up(now)}{_reads(now, after, names)}"
        case "remove":
            assert before is not None
            return f"remove the {before.kind} at {at}"
        case "turn" | "set":
            assert before is not None
            assert now is not None
            which = f" {names[now.at]}" if now.at in names else ""
            return f"{change.action} the {now.kind}{which} at {at} {_turned(before, now)}{_reads(now, after, names)}"
        case "replace":
            assert before is not None
            assert now is not None
            new = f"put {with_article(now.kind)}{_set_up(now)} in the place of the {before.kind} at {at}"
            return new + _reads(now, after, names)


def _set_up(part: Part) -> str:
    match part:
        case Node(outlet=outlet):
            return f" with outlet {outlet}"
        case Relay(output=output, delay=delay):
            return f" with output {output} and delay {delay}"
        case Gauge(output=output):
            return f" with output {output}"
        case Inverter(mount=mount):
            return f" with mount {mount}"
        case Bin(finish="marked"):
            return " that is marked"
    return ""


def _turned(before: Part, after: Part) -> str:
    ways = []
    if direction_of(before) != direction_of(after):
        ways.append(f"from {direction_of(before)} to {direction_of(after)}")
    if isinstance(before, Relay) and isinstance(after, Relay) and before.delay != after.delay:
        ways.append(f"from delay {before.delay} to {after.delay}")
    if isinstance(before, Bin) and isinstance(after, Bin):
        ways.append(f"from {before.finish} to {after.finish}")
    return " and ".join(ways)


def _reads(part: Part, layout: Layout, names: Names) -> str:
    """What a gauge reads (rulebook, section 4), in brackets."""
    if not isinstance(part, Gauge):
        return ""
    cell = step(part.at, OPPOSITE[part.output])
    if isinstance(layout.by_cell.get(cell), Support):
        cell = step(cell, OPPOSITE[part.output])
    read = layout.by_cell.get(cell)
    if not isinstance(read, Container):
        return " (reads nothing)"
    return f" (reads {names.get(cell) or 'the ' + read.kind} at {cell_text(cell)})"
