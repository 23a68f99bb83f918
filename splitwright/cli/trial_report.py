"""What a trial came to, for people: tables and one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final

from rich.table import Table

from sim.world.case_file import Case
from sim.world.fairness import is_even
from sim.world.files.places import counted, printable
from sim.world.geometry import cell_text
from sim.world.layout import Layout, Stream
from sim.world.parts import Slot
from sim.world.rulebook import Rules
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, StreamResult, TrialResult
from splitwright.cli.findings import findings_table
from splitwright.cli.tables import plain_table

LAYOUTS_ORDER: Final = "the layout's update order"
ROWS_MOST: Final = 24
"""Containers that are listed one by one."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a trial was made under: what was put in, by stream; all of it in words, the scope of every claim; rules.

    ``briefly``: how the load came and the handover, in a few words."""

    loads: Mapping[str, str]
    scope: str
    rules: Rules
    briefly: str

    @classmethod
    def of(
        cls, layout: Layout, rules: Rules, loads: Mapping[str, int], every: int | None, order: Path | None
    ) -> Circumstances:
        """Those of loads by stream, at once or one item ``every`` ticks; streams not in ``loads`` get the default."""
        counts = {**default_counts(layout), **{name: str(count) for name, count in loads.items()}}
        arrival = "there at once" if every is None else f"one item every {counted(every, 'tick')}"
        turns = LAYOUTS_ORDER
        if order is not None:
            turns = f"the update order of {printable(str(order))}"
        briefly = f"{arrival.removeprefix('there ')}, handover {rules.handover}"
        return cls(counts, scope_of(counts, arrival, turns, str(rules.handover)), rules, briefly)

    @classmethod
    def of_case(cls, layout: Layout, rules: Rules, case: Case, path: Path) -> Circumstances:
        """Those of the case in the file at ``path``, of ``layout`` as the case has it."""
        loads = {stream.name: _case_load(case, stream) for stream in layout.streams}
        ticks = [arrival.tick for arrival in case.arrivals]
        arrival = f"in {counted(len(ticks), 'arrival')}, the last after tick {max(ticks)}" if any(ticks) else "at once"
        own = [
            LAYOUTS_ORDER if case.order is None else "its update order",
            *(["its order of signal parts"] if case.signal_order is not None else []),
            *(["its starting contents"] if case.holds else []),
        ]
        load = f"{_listed(loads)}, {arrival}" if ticks else "no load"
        scope = f"for the one case of {printable(str(path))} ({load}), {', '.join(own)} and handover {rules.handover}"
        return cls(loads, scope, rules, f"as {printable(str(path))} says")

    def time(self, tick: int) -> str:
        """``41 ticks (2.05 s)``."""
        return f"{counted(tick, 'tick')} ({seconds(tick, self.rules)} s)"


def default_counts(layout: Layout) -> dict[str, str]:
    """The default load, by stream."""
    return {stream.name: str(DEFAULT_LOAD_PER_TARGET * len(stream.outputs)) for stream in layout.streams}


def scope_of(counts: Mapping[str, str], arrival: str, turns: str, handover: str) -> str:
    """``for this one load (feed=54, there at once), the layout's update order and handover 8``."""
    return f"for this one load ({_listed(counts)}, {arrival}), {turns} and handover {handover}"


def _listed(loads: Mapping[str, str]) -> str:
    return ", ".join(f"{printable(name)}={load}" for name, load in loads.items())


def _case_load(case: Case, stream: Stream) -> str:
    """``54``, ``4 + 1 sand``: the stream's own item first, without its name."""
    counts: Counter[str] = Counter({stream.item: 0})
    for arrival in case.arrivals:
        if arrival.stream == stream.name:
            counts[arrival.kind or stream.item] += arrival.count
    own = str(counts.pop(stream.item))
    return " + ".join([own, *(f"{count} {printable(kind)}" for kind, count in counts.items())])


def seconds(tick: int, rules: Rules) -> str:
    """World time of a tick, in seconds."""
    return f"{tick / rules.ticks_per_second:,.2f}"


def trial_tables(layout: Layout, result: TrialResult, circumstances: Circumstances, verbose: bool) -> Iterator[Table]:
    """Streams; what is left in the containers that are no outputs; findings; ``verbose``: how fair it was at every tick
    too. Only those that have a row."""
    if result.streams:
        yield _streams_table(layout, result, circumstances)
    fairness = [_fairness_table(result, circumstances)] if verbose else []
    for table in (*fairness, _left_table(layout, result)):
        if table.row_count:
            yield table
    if result.findings:
        yield findings_table(result.findings)


def verdict(result: TrialResult, circumstances: Circumstances, *, interrupted: bool = False) -> str:
    """The answer in one line."""
    loads = circumstances.loads
    if result.stopped:
        reason = "stopped by Ctrl-C" if interrupted else "neither at rest nor repeating"
        so_far = f"; so far {_delivered_text(result, loads)}" if result.streams else ""
        return f"No answer: {reason} after {circumstances.time(result.tick)}{so_far}."
    found = f", with {counted(len(result.findings), 'finding')}" if result.findings else ""
    if not result.streams:
        return f"Nothing to judge: the layout names no stream{found}."
    return f"{_outcome_text(result)}: {_delivered_text(result, loads)} ({circumstances.briefly}){found}."


def holds_for(result: TrialResult, circumstances: Circumstances) -> str:
    """What the answer holds for, in a line."""
    ended = "at rest after" if result.at_rest else "not at rest after"
    return f"This holds {circumstances.scope}; {ended} {circumstances.time(result.tick)}."


def as_even_as_can_be(result: TrialResult) -> bool:
    """It is not even, but of as many items as came out no other sharing is evener."""
    return result.outcome == "uneven" and result.at_rest and all(is_even(one.delivered) for one in result.streams)


def is_left_wanting(result: TrialResult) -> bool:
    """It is at rest, and of something that was put in nothing came out."""
    return result.at_rest and result.outcome == "nothing"


def _outcome_text(result: TrialResult) -> str:
    """``Even``; ``Nothing delivered of fuel``, where something was of other streams."""
    if as_even_as_can_be(result):
        uneven = [sum(one.delivered) for one in result.streams if one.spread]
        return f"As even as {' and '.join(map(str, uneven))} can be"
    if result.outcome == "uneven":
        return "Uneven"
    if result.outcome == "nothing":
        return nothing_text(result)
    if not any(any(stream.delivered) for stream in result.streams):
        put_in = any(stream.given for stream in result.streams)
        return "Nothing delivered so far" if put_in else "Nothing to share out"
    return "Even" if result.outcome == "even" else "Even so far"


def nothing_text(result: TrialResult) -> str:
    """``Nothing delivered``; where something was of other streams, of which nothing was: of those it was put in for."""
    if not any(any(stream.delivered) for stream in result.streams):
        return "Nothing delivered"
    return f"Nothing delivered of {' and '.join(printable(one.name) for one in result.streams if one.is_starved)}"


def case_note(result: TrialResult, case: Case, path: Path) -> tuple[bool, str] | None:
    """Whether a trial that ran to its end came to what its case says, and a sentence that says so.

    None where the case says nothing. A stream that it does not name may come to anything.
    """
    if case.delivered is None:
        return None
    found = {stream.name: stream.delivered for stream in result.streams}
    name = printable(str(path))
    for stream, said in case.delivered.items():
        if found[stream] != said:
            shares = f"{printable(stream)} {_shares_text(found[stream])}, not {_shares_text(said)}"
            return False, f"{name}: comes to {shares} as it says; the layout or the rulebook is another"
    return True, f"As {name} says."


def _streams_table(layout: Layout, result: TrialResult, circumstances: Circumstances) -> Table:
    headings = ("stream", "load", "delivered", "spread", "held", "arrivals, tick", "second")
    table = plain_table(*headings, right=("load", "spread", "held"))
    items = {stream.name: stream.item for stream in layout.streams}
    for stream in result.streams:
        table.add_row(
            printable(f"{stream.name} ({items[stream.name]})"),
            circumstances.loads[stream.name],
            _shares_text(stream.delivered),
            str(stream.spread),
            str(stream.held) if stream.held_at_start == 0 else f"{stream.held} (at the start {stream.held_at_start})",
            *_arrivals(stream, circumstances.rules),
        )
    return table


def _fairness_table(result: TrialResult, circumstances: Circumstances) -> Table:
    """Of streams that have outputs to be fair to."""
    table = plain_table("fairness", "Jain's index", "largest lag", right=("Jain's index",))
    for stream in result.streams:
        if len(stream.delivered) > 1:
            table.add_row(printable(stream.name), index_text(stream.jain), _lag_text(stream, circumstances.rules))
    return table


def index_text(index: Fraction) -> str:
    """``0.818``, cut, not rounded, so that only 1 reads 1."""
    return "1" if index == 1 else f"0.{int(index * 1000):03d}"


def _lag_text(stream: StreamResult, rules: Rules) -> str:
    tick = stream.largest_lag_tick
    if tick is None:
        return "0 at every tick"
    return f"{stream.largest_lag}, first at tick {tick} ({seconds(tick, rules)} s)"


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


def _delivered_text(result: TrialResult, loads: Mapping[str, str]) -> str:
    return ", ".join(_stream_text(stream, loads[stream.name]) for stream in result.streams)


def _stream_text(stream: StreamResult, load: str) -> str:
    held = f", {stream.held} left in nodes" if stream.held else ""
    return f"{printable(stream.name)} {_shares_text(stream.delivered)} of {load}{held}"


def _shares_text(shares: Iterable[int]) -> str:
    return " / ".join(map(str, shares))
