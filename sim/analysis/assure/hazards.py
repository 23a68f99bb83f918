"""Mishaps outside of what a split is built for: what each one does to it, and what to do.

A mishap is *felt* when the outputs that it does not strike are served less evenly than without it, or when items wait
in nodes that would be delivered otherwise. It is run in the readable simulator, outputs as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import TICKS_MOST, Subject
from sim.analysis.assure.verdict import Counterexample, Verdict
from sim.world.case_file import Case, CaseArrival, case_arrivals, case_layout
from sim.world.fairness import is_even
from sim.world.files.places import counted
from sim.world.geometry import Cell, cell_text, step
from sim.world.items.furnace import FEED, FUEL
from sim.world.layout import Stream
from sim.world.parts import FURNACE_SLOTS, Bin, Furnace, Holds, Node, Slot
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, TrialResult, run_trial

FOREIGN: Final = "rubble"
"""A kind that no layout lists: it neither fires nor burns."""


@dataclass(frozen=True, slots=True)
class Mishap:
    """One mishap at one place: the case that shows it, the output that it strikes (None: none), its words."""

    case: Case
    struck: Cell | None
    what: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """A named hazard: its mishaps, and what to do about it."""

    name: str
    mishaps: Callable[[Subject], Iterator[Mishap]]
    remedy: str


def hazards(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Every hazard, one verdict each. Time: one run for each place that it can strike."""
    plain = _run(subject, Case(subject.handover, _loads(subject)))
    works = all(is_even(one.delivered) and sum(one.delivered) for one in plain.streams)
    for hazard in HAZARDS:
        if not works:
            yield _verdict(subject, hazard, "open", "the default load is not split evenly even without it", 0)
        elif request.is_over():
            yield _verdict(subject, hazard, "open", "time was up", 0)
        else:
            yield _asked(subject, hazard)


def _asked(subject: Subject, hazard: Hazard) -> Verdict:
    done, waiting = 0, ""
    for mishap in hazard.mishaps(subject):
        result = _run(subject, mishap.case)
        done += 1
        stream = _who_feels(subject, mishap, result)
        if stream is not None:
            text = f"{mishap.what}: {_told(subject, stream, result)}; what helps: {hazard.remedy}"
            shares = {one.name: one.delivered for one in result.streams}
            case = replace(mishap.case, text=f"hazard, {hazard.name}: {text}", delivered=shares)
            example = Counterexample(stream.name, shares[stream.name], case)
            return _verdict(subject, hazard, "refuted", text, done, example)
        waiting = waiting or _waiting(subject, result)
    if not done:
        return _verdict(subject, hazard, "open", "there is nothing in this layout that it could strike", 0)
    meanwhile = f"; meanwhile {waiting}; what helps: {hazard.remedy}" if waiting else ""
    return _verdict(subject, hazard, "tried", f"the other outputs are served as ever{meanwhile}", done)


def _verdict(
    subject: Subject, hazard: Hazard, answer: str, text: str, cases: int, example: Counterexample | None = None
) -> Verdict:
    made = Verdict("hazards", "open", hazard.name, text, cases, subject.handover, counterexample=example, decides=False)
    match answer:
        case "refuted":
            return replace(made, verdict="refuted")
        case "tried":
            return replace(made, verdict="tried")
    return made


def _run(subject: Subject, case: Case) -> TrialResult:
    return run_trial(case_layout(subject.given, case), case_arrivals(case), limit=TICKS_MOST, rules=subject.base)


def _who_feels(subject: Subject, mishap: Mishap, result: TrialResult) -> Stream | None:
    """The first stream of which the outputs that are not struck are served unevenly, or not at all; None if none is."""
    for stream, shares in zip(subject.streams, result.streams, strict=True):
        others = [n for cell, n in zip(stream.outputs, shares.delivered, strict=True) if cell != mishap.struck]
        if not is_even(others) or _in_source(stream, result) or not result.at_rest:
            return stream
    return None


def _told(subject: Subject, stream: Stream, result: TrialResult) -> str:
    """What a stream came to, and what waits where."""
    shares = next(one.delivered for one in result.streams if one.name == stream.name)
    told = [f"{stream.name} comes to {' / '.join(map(str, shares))}"]
    if waiting := _waiting(subject, result):
        told.append(waiting)
    if left := _in_source(stream, result):
        told.append(f"{counted(left, 'item')} left in the source")
    return ", ".join(told)


def _waiting(subject: Subject, result: TrialResult) -> str:
    """The items that wait in nodes, and where the most of them; empty if none do."""
    nodes = [part.at for part in subject.layout.parts if isinstance(part, Node)]
    stuck = {cell: n for cell in nodes if (n := _count(result.contents[cell]))}
    if not stuck:
        return ""
    cell, most = max(stuck.items(), key=lambda one: one[1])
    return f"{counted(sum(stuck.values()), 'item')} waiting in nodes (most, {most}, at {cell_text(cell)})"


def _in_source(stream: Stream, result: TrialResult) -> int:
    return _count(result.contents[stream.source])


def _count(slots: Sequence[Slot | None]) -> int:
    return sum(slot[1] for slot in slots if slot is not None)


# -- the hazards ------------------------------------------------------------------------------------------------------


def _outputs(subject: Subject) -> Iterator[tuple[Stream, Cell]]:
    for stream in subject.streams:
        for cell in stream.outputs:
            yield stream, cell


def _loads(subject: Subject, per: int = DEFAULT_LOAD_PER_TARGET) -> tuple[CaseArrival, ...]:
    n = min(per * subject.per_round, subject.room)
    return tuple(CaseArrival(0, stream.name, n) for stream in subject.streams)


def _stack(subject: Subject, kind: str) -> int:
    return subject.layout.stack_limit(subject.tables.rules)(kind)


def _filled(subject: Subject, stream: Stream, cell: Cell, kind: str, count: int) -> Holds:
    """Starting contents of an output, with so many of a kind where the stream's items enter."""
    part = subject.layout.by_cell[cell]
    if not isinstance(part, Furnace):
        return ((kind, count),)
    slots: list[Slot | None] = [*part.holds, *[None] * len(FURNACE_SLOTS)][: len(FURNACE_SLOTS)]
    slots[_entry(subject, stream, cell)] = (kind, count)
    return tuple(slots)


def _entry(subject: Subject, stream: Stream, cell: Cell) -> int:
    """The slot of a furnace that the stream's items enter: fuel where they burn and some node serves it from a side."""
    item = subject.layout.items.get(stream.item)
    nodes = [part for part in subject.layout.parts if isinstance(part, Node) and step(part.at, part.outlet) == cell]
    beside = any(node.outlet != "D" for node in nodes)
    return FUEL if beside and item is not None and item.burn else FEED


def _blocked(subject: Subject) -> Iterator[Mishap]:
    for stream, cell in _outputs(subject):
        holds = _filled(subject, stream, cell, FOREIGN, _stack(subject, FOREIGN))
        if isinstance(subject.layout.by_cell[cell], Bin):
            holds *= subject.tables.rules.bin_slots
        case = Case(subject.handover, _loads(subject), holds={cell: holds})
        yield Mishap(case, cell, f"the output at {cell_text(cell)} takes nothing")


def _half_full(subject: Subject) -> Iterator[Mishap]:
    """With half of its stack there already, and a load that the others have room for."""
    for stream, cell in _outputs(subject):
        stack = _stack(subject, stream.item)
        holds = _filled(subject, stream, cell, stream.item, max(1, stack // 2))
        case = Case(subject.handover, _loads(subject, stack - 1), holds={cell: holds})
        yield Mishap(case, cell, f"the output at {cell_text(cell)} is half full and fills up first")


def _full_bin_below(subject: Subject) -> Iterator[Mishap]:
    """The bin at the end of a product line is full, and so are the nodes on the way and the furnace's product slot."""
    build = subject.layout.by_cell
    for stream, cell in _outputs(subject):
        furnace, below = build[cell], build.get(step(cell, "D"))
        if not isinstance(furnace, Furnace) or not isinstance(below, Node):
            continue
        holds: dict[Cell, Holds] = {}
        kind = next((item.fires_to for item in subject.layout.items.values() if item.fires_to), FOREIGN)
        at = step(cell, "D")
        while isinstance(node := build.get(at), Node) and at not in holds:
            holds[at] = ((kind, _stack(subject, kind)),) * subject.tables.rules.node_slots
            at = step(at, node.outlet)
        if isinstance(build.get(at), Bin):
            holds[at] = ((kind, _stack(subject, kind)),) * subject.tables.rules.bin_slots
        feed, fuel, _ = (*furnace.holds, None, None, None)[:3]
        holds[cell] = (feed, fuel, (kind, _stack(subject, kind)))
        case = Case(subject.handover, _loads(subject, _stack(subject, stream.item) + 2), holds=holds)
        yield Mishap(case, cell, f"the product of {cell_text(cell)} has nowhere to go")


def _second_kind(subject: Subject) -> Iterator[Mishap]:
    """One item of another kind in the stream: before all others, or behind them."""
    for stream in subject.streams:
        beside = _stack(subject, stream.item)  # a stray item takes a slot of its own
        if subject.room <= beside:
            return
        loads = tuple(replace(one, count=min(one.count, subject.room - beside)) for one in _loads(subject))
        other = tuple(one for one in loads if one.stream != stream.name)
        mine = next(one for one in loads if one.stream == stream.name)
        stray = CaseArrival(0, stream.name, 1, FOREIGN)
        for arrivals, where in (((stray, mine), "before"), ((mine, stray), "behind")):
            what = f"one item of another kind comes {where} the {mine.count} of {stream.name}"
            yield Mishap(Case(subject.handover, (*arrivals, *other)), None, what)


HAZARDS: Final = (
    Hazard(
        "an output that takes nothing", _blocked,
        "clear the slot by which it is fed; the nodes that wait go on by themselves",
    ),
    Hazard(
        "a half-full output", _half_full,
        "empty the outputs, or keep loads below what the fullest of them has room for",
    ),
    Hazard(
        "a full bin below", _full_bin_below,
        "empty the product bin, or give it a second one, before the furnaces fill up",
    ),
    Hazard(
        "a second kind in the stream", _second_kind,
        "take the stray item out of where it has come to rest, and keep other kinds out of the source",
    ),
)
