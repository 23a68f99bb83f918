"""What a trial came to, for people: tables and one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from rich.table import Table

from sim.files.places import counted, printable
from sim.geometry import cell_text
from sim.layout import Layout
from sim.parts import Slot
from sim.rulebook import Rules
from sim.trial import DEFAULT_LOAD_PER_TARGET, StreamResult, TrialResult
from splitwright.findings import findings_table
from splitwright.tables import plain_table

ROWS_MOST: Final = 24
"""Containers that are listed one by one."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a trial was made under: loads by stream, how they came, handover, update order."""

    loads: Mapping[str, int]
    every: int | None
    rules: Rules
    order: Path | None

    @classmethod
    def of(
        cls, layout: Layout, rules: Rules, loads: Mapping[str, int], every: int | None, order: Path | None
    ) -> Circumstances:
        """The circumstances, with the loads of streams that ``loads`` does not name."""
        default = {stream.name: DEFAULT_LOAD_PER_TARGET * len(stream.outputs) for stream in layout.streams}
        return cls({**default, **loads}, every, rules, order)

    def time(self, tick: int) -> str:
        """``41 ticks (2.05 s)``."""
        return f"{counted(tick, 'tick')} ({seconds(tick, self.rules)} s)"

    def text(self) -> str:
        """The scope of what is claimed."""
        arrival = "there at once" if self.every is None else f"one item every {counted(self.every, 'tick')}"
        loads = ", ".join(f"{printable(name)}={count}" for name, count in self.loads.items())
        order = "the layout's update order"
        if self.order is not None:
            order = f"the update order of {printable(str(self.order))}"
        return f"for this one load ({loads}, {arrival}), {order} and handover {self.rules.handover}"


def seconds(tick: int, rules: Rules) -> str:
    """World time of a tick, in seconds."""
    return f"{tick / rules.ticks_per_second:,.2f}"


def trial_tables(layout: Layout, result: TrialResult, circumstances: Circumstances) -> Iterator[Table]:
    """Streams; what is left in the containers that are no outputs; findings. Only those that have a row."""
    if result.streams:
        yield _streams_table(layout, result, circumstances)
    left = _left_table(layout, result)
    if left.row_count:
        yield left
    if result.findings:
        yield findings_table(result.findings)


def verdict(result: TrialResult, circumstances: Circumstances, *, interrupted: bool = False) -> str:
    """The answer in one sentence, with its scope."""
    if result.stopped:
        reason = "interrupted" if interrupted else "neither at rest nor repeating"
        so_far = f"; so far {_delivered_text(result)}" if result.streams else ""
        return f"No answer: {reason} after {circumstances.time(result.tick)}{so_far}."
    ended = "at rest since tick" if result.at_rest else "not at rest at tick"
    when = f"{ended} {result.tick} ({seconds(result.tick, circumstances.rules)} s)"
    if not result.streams:
        claim = "Nothing to judge: the layout names no stream"
    elif not result.is_even:
        claim = f"Uneven: {_delivered_text(result)} {circumstances.text()}"
    elif not any(sum(stream.delivered) for stream in result.streams):
        claim = f"Nothing delivered: {_delivered_text(result)} {circumstances.text()}"
    else:
        claim = f"Even{'' if result.at_rest else ' so far'}: {_delivered_text(result)} {circumstances.text()}"
    found = f", with {counted(len(result.findings), 'finding')}" if result.findings else ""
    return f"{claim}{found}; {when}."


def _streams_table(layout: Layout, result: TrialResult, circumstances: Circumstances) -> Table:
    headings = ("stream", "load", "delivered", "spread", "held", "arrivals, tick", "second")
    table = plain_table(*headings, right=("load", "spread", "held"))
    items = {stream.name: stream.item for stream in layout.streams}
    for stream in result.streams:
        table.add_row(
            printable(f"{stream.name} ({items[stream.name]})"),
            str(circumstances.loads[stream.name]),
            " / ".join(map(str, stream.delivered)),
            str(stream.spread),
            str(stream.held) if stream.held_at_start == 0 else f"{stream.held} (at the start {stream.held_at_start})",
            *_arrivals(stream, circumstances.rules),
        )
    return table


def _arrivals(stream: StreamResult, rules: Rules) -> tuple[str, str]:
    """First to last arrival, as ticks and as seconds of world time."""
    first, last = stream.first_arrival, stream.last_arrival
    if first is None or last is None:
        return "none", ""
    return f"{first} to {last}", f"{seconds(first, rules)} to {seconds(last, rules)}"


def _left_table(layout: Layout, result: TrialResult) -> Table:
    outputs = {cell for stream in layout.streams for cell in stream.outputs}
    left = [part for part in layout.containers if part.at not in outputs and any(result.contents[part.at])]
    table = plain_table("left in", "at", "items")
    for part in left[:ROWS_MOST]:
        table.add_row(part.kind, cell_text(part.at), _contents_text(result.contents[part.at]))
    if len(left) > ROWS_MOST:
        table.add_row("…", "", f"and {len(left) - ROWS_MOST} more")
    return table


def _contents_text(slots: tuple[Slot | None, ...]) -> str:
    counts: Counter[str] = Counter()
    for slot in slots:
        if slot is not None:
            counts[slot[0]] += slot[1]
    return ", ".join(f"{count} {printable(kind)}" for kind, count in counts.items())


def _delivered_text(result: TrialResult) -> str:
    return ", ".join(map(_stream_text, result.streams))


def _stream_text(stream: StreamResult) -> str:
    shares = " / ".join(map(str, stream.delivered))
    held = f", {stream.held} held in nodes" if stream.held else ""
    return f"{printable(stream.name)} {shares} (spread {stream.spread}{held})"
