"""A layout under one handover and one file order of its signal parts, made ready for the kernel.

While evenness is asked about, outputs are emptied as they fill (``sinks`` tells which): they take whatever may enter
them and keep none of it. What a full or blocked output does is a hazard, and asked on its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import lcm
from typing import Final

import numpy as np

from sim.analysis.assure.sinks import sinks_of
from sim.analysis.assure.verdict import Counterexample, Question, Verdict
from sim.errors import InputError
from sim.world.case_file import Case, CaseArrival, case_arrivals, case_layout
from sim.world.fairness import is_even
from sim.world.geometry import Cell, cell_text, step
from sim.world.kernel import batch
from sim.world.kernel import places as p
from sim.world.kernel.memory import Memory, new_memory
from sim.world.kernel.places import Numbers
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.parts import Bin, Node
from sim.world.rulebook import Rules
from sim.world.signals.wiring import wiring_of
from sim.world.trial import TrialResult, run_trial

ROUNDS_TRIED: Final = 32
"""Rounds up to which it is found out what nodes keep back."""
TICKS_MOST: Final = 200_000
"""World ticks after the last arrival at which a run that has not come to rest is given up."""


SIGNAL_STATES: Final = 1 << 15
"""Room in the memory of signal states where their numbers must hold for as long as the search goes on."""

Pattern = Sequence[tuple[int, int, int]]
"""Arrivals: (tick, stream number, items), ticks ascending."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one run came to: of each stream what was delivered; items left in nodes; whether it rested, overheated."""

    delivered: tuple[tuple[int, ...], ...]
    held: int
    last_change: int
    rested: bool
    overheated: bool

    @property
    def uneven_stream(self) -> int | None:
        """The first stream that is not as even as its number of items allows; None if all are."""
        return next((i for i, shares in enumerate(self.delivered) if not is_even(shares)), None)

    @property
    def is_even(self) -> bool:
        """It rests, and every stream is as even as its number of items allows."""
        return self.rested and self.uneven_stream is None


def came_to(outcome: Outcome) -> str:
    """What a run came to, in words."""
    if not outcome.rested:
        return "never come to rest"
    return "come to " + " / ".join(str(n) for n in outcome.delivered[outcome.uneven_stream or 0])


class Workspace:
    """State, second state, scratch and memory for one thread at work on a subject."""

    def __init__(self, tables: Tables, states: int = 1 << 12) -> None:
        self.s, self.other = tables.start.copy(), tables.start.copy()
        self.x = tables.scratch()
        self.m: Memory = new_memory(tables.w, states)


class Subject:
    """One layout, with the handover and the file order of signal parts that are in question.

    Raises InputError where there is no stream, or one whose source is not a bin with a node below it.
    """

    def __init__(
        self, layout: Layout, rules: Rules, handover: int, signal_order: tuple[Cell, ...] | None = None
    ) -> None:
        self.given, self.base, self.handover, self.signal_order = layout, rules, handover, signal_order
        self.layout = case_layout(layout, Case(handover=handover, signal_order=signal_order))
        check_streams(layout)
        self.streams = self.layout.streams
        wiring = wiring_of(self.layout)
        bin_slots = self.layout.rules_in_force(rules).bin_slots
        self.sinks = sinks_of(self.layout, wiring.gauges_of_container, bin_slots)
        emptied = case_layout(self.layout, Case(holds=dict.fromkeys(self.sinks, ())))
        self.tables = Tables(emptied, rules, sinks=self.sinks, wiring=wiring)
        self.order = self.tables.order()
        t = self.tables
        self.sources = np.array(
            [
                [t.store_no[s.source], t.kind_no[s.item], t.wiring.nodes.index(step(s.source, "D"))]
                for s in self.streams
            ],
            np.int32,
        )
        self.per_round = lcm(*(len(stream.outputs) for stream in self.streams))

    def scope(self, words: str, *, alike: bool = True) -> str:
        """The scope of a verdict on evenness: ``words``, and what holds of it besides.

        ``alike``: each stream of several is given as many items as the others, at the same times.
        """
        outputs = {cell for stream in self.streams for cell in stream.outputs}
        parts = [words]
        if alike and len(self.streams) > 1:
            parts.append("as many of every stream")
        if self.sinks:
            few = f"{len(self.sinks)} of {len(outputs)} " if len(self.sinks) < len(outputs) else ""
            parts.append(f"{few}outputs emptied as they fill")
        return ", ".join(parts)

    @cached_property
    def held_at_start(self) -> int:
        """Items that nodes start with."""
        nodes = (part for part in self.layout.parts if isinstance(part, Node))
        return sum(slot[1] for part in nodes for slot in part.holds if slot is not None)

    @cached_property
    def room(self) -> int:
        """The items that every source has room for before tick 1."""
        return min(self._room(stream.source, stream.item) for stream in self.streams)

    @cached_property
    def rounds_waiting(self) -> int:
        """Rounds of ``per_round`` items that nodes keep back, as far as the file order shows it: so many that one more
        is the first load of which every stream delivers something. 0 where N items do, or no load tried does."""
        space, t = Workspace(self.tables), self.tables
        rounds = [k for k in range(1, ROUNDS_TRIED + 1) if k * self.per_round <= self.room]
        results = self.new_results(len(rounds))
        batch.each_load(
            t.w, t.start, space.s, space.x, space.m, self.order, self.sources,
            self.loads([k * self.per_round for k in rounds]), TICKS_MOST, results,
        )  # fmt: skip
        delivers = (all(any(shares) for shares in one.delivered) for one in self.outcomes(results))
        return next((k - 1 for k, some in zip(rounds, delivers, strict=True) if some), 0)

    def _room(self, cell: Cell, kind: str) -> int:
        part, rules = self.layout.by_cell[cell], self.tables.rules
        assert isinstance(part, Bin)
        limit = self.layout.stack_limit(rules)(kind)
        held = [slot for slot in part.holds if slot is not None]
        free = rules.bin_slots - len(held)
        return free * limit + sum(limit - count for other, count in held if other == kind)

    def outcomes(self, results: np.ndarray) -> list[Outcome]:
        """The kernel's results, a row each, in words."""
        return [self._outcome([int(n) for n in row]) for row in results]

    def new_results(self, count: int) -> np.ndarray:
        """Room for so many results."""
        return np.zeros((count, batch.FIRST_OUTPUT + int(self.tables.w[p.OUTPUTS])), np.int32)

    def _outcome(self, row: list[int]) -> Outcome:
        delivered, at = [], batch.FIRST_OUTPUT
        for stream in self.streams:
            delivered.append(tuple(row[at : at + len(stream.outputs)]))
            at += len(stream.outputs)
        rested, overheated = row[batch.RESTED] == 1, bool(row[batch.OVERHEATS])
        return Outcome(tuple(delivered), row[batch.HELD], row[batch.LAST], rested, overheated)

    def counterexample(
        self, outcome: Outcome, arrivals: Pattern, text: str, order: Numbers | None = None
    ) -> Counterexample:
        """A case to be run again; ``order`` as machine numbers."""
        stream = outcome.uneven_stream or 0
        cells = None if order is None else tuple(self.tables.machines[i] for i in order)
        case = Case(
            handover=self.handover,
            arrivals=tuple(CaseArrival(tick, self.streams[k].name, count) for tick, k, count in arrivals),
            order=cells,
            signal_order=self.signal_order,
            text=text,
            delivered={s.name: outcome.delivered[i] for i, s in enumerate(self.streams)},
        )
        return Counterexample(self.streams[stream].name, outcome.delivered[stream], case)

    def failed(
        self,
        question: Question,
        scope: str,
        text: str,
        cases: int,
        outcome: Outcome,
        arrivals: Pattern,
        *,
        order: Numbers | None = None,
        states: int | None = None,
        seed: int | None = None,
    ) -> Verdict:
        """The verdict on a run that did not come out even: refuted, with its counterexample; or open, where it was only
        given up before it came to rest. Arguments as those of Verdict and ``counterexample``."""
        example = self.counterexample(outcome, arrivals, f"{question}: {text}", order)
        made = Verdict(question, "refuted", scope, text, cases, self.handover, states, seed, example)
        result = self._as_it_is(example.case)
        if not outcome.rested and (result is None or not any(one.check == "never rests" for one in result.findings)):
            text = f"a run was given up: {text}, or not within {TICKS_MOST:,} ticks, or a source had no room"
            return replace(made, verdict="open", text=text, counterexample=None)
        if result is None:
            return made
        delivered = {one.name: one.delivered for one in result.streams}
        if delivered == example.case.delivered:
            return made
        shares = " / ".join(map(str, delivered[example.stream]))
        text = f"{text} (as long as outputs are emptied; as they are, {shares})"
        case = replace(example.case, text=f"{question}: {text}", delivered=delivered)
        return replace(made, text=text, counterexample=Counterexample(example.stream, delivered[example.stream], case))

    def _as_it_is(self, case: Case) -> TrialResult | None:
        """The case in the simulator, where outputs keep what they get; None where a source has no room for it."""
        try:
            return run_trial(
                case_layout(self.given, case), case_arrivals(case), limit=TICKS_MOST, rules=self.base, order=case.order
            )
        except InputError:
            return None

    def loads(self, counts: Sequence[int]) -> np.ndarray:
        """The same load of every stream, a row for each count."""
        return np.array([[count] * len(self.streams) for count in counts], np.int32).reshape(-1, len(self.streams))

    @cached_property
    def why_not_searched(self) -> str | None:
        """Why the search over all arrivals does not apply to this layout; None if it does."""
        for stream in self.streams:
            part = self.layout.by_cell[stream.source]
            assert isinstance(part, Bin)
            at = cell_text(stream.source)
            if any(slot is not None for slot in part.holds):
                return f"the source at {at} holds something at the start"
            if stream.source in self.tables.wiring.gauges_of_container:
                return f"a gauge reads the source at {at}"
            if any(isinstance(n, Node) and step(n.at, n.outlet) == stream.source for n in self.layout.parts):
                return f"a node pushes into the source at {at}"
        return None


def no_room(question: Question, subject: Subject, scope: str) -> Verdict:
    """The verdict where a source cannot take even N items at once."""
    text = f"not asked: a source has room for {subject.room} of {subject.per_round} items"
    return Verdict(question, "open", scope, text, 0, subject.handover)


def check_streams(layout: Layout) -> None:
    """Raise InputError unless there are streams, each from a bin of its own with a node below it."""
    if not layout.streams:
        raise InputError("there is no stream to be split; name one, with its source and its outputs", field="streams")
    for stream in layout.streams:
        place = f"streams.{stream.name}"
        if not isinstance(layout.by_cell.get(stream.source), Bin):
            raise InputError(f"its source at {cell_text(stream.source)} is no bin; let it begin at one", field=place)
        if not isinstance(layout.by_cell.get(step(stream.source, "D")), Node):
            raise InputError(f"no node below its source at {cell_text(stream.source)}; put one there", field=place)
    if len({stream.source for stream in layout.streams}) < len(layout.streams):
        raise InputError("two streams share a source; give each a bin of its own", field="streams")

