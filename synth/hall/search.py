"""The search for a hall: kits of pieces, joined to wings and sides, each hall checked and run in the simulator.

What is proved is said of pieces (``PieceClaim``); of the whole it is the best that was found among the halls put
together in this way.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from math import prod
from time import monotonic
from typing import Final

from sim.world.files.places import box_text, counted
from sim.world.geometry import Cell
from sim.world.layout import Layout
from synth.ask.hall_spec import HallSpec
from synth.confirm.trials import Terms, TrialRecord
from synth.hall.confirm import hall_trials
from synth.hall.joining import Gaps, joined
from synth.hall.kits import Kit, Tools, handovers_for, kits
from synth.hall.lanes import STRAIGHT_ON
from synth.hall.measures import hall_measured, hall_rank, output_wanted
from synth.hall.piece_file import Pieces
from synth.hall.putting_together import Misfit, OtherBins, out_of_reach, put_together, wings_of
from synth.hall.result import HallAnswer, HallProposal, Room
from synth.hall.short_row import short_row
from synth.hall.spec_checks import row_spec
from synth.hall.wing import Wing
from synth.schemes.registry import scheme_named
from synth.sizing.size import size_of
from synth.solving.budget import Budget
from synth.solving.parallel.work import Slots

MORE_ROWS: Final = 1
"""Halls with more rows a side than the fewest that will do are looked at, so many of them."""
ROWS_TRIED: Final = 4
"""Rows a side beyond the fewest that reach that are tried, while none is fast enough."""
EXTENTS: Final[Mapping[str, Callable[[Cell], int]]] = {
    "volume": prod,
    "footprint": lambda size: size[0] * size[1],
    "height": lambda size: size[2],
}
"""Measures that are known from the site alone."""
STOPPED: Final = "stopped"
"""What speaks against a hall that could not be tried to the end."""


@dataclass(slots=True)
class HallRequest:
    """How a search is to run: K halls, seconds in all, parallel workers, seed; ``pieces``: where pieces are kept;
    ``slots``: where they are solved (None: in processes on this machine).

    ``told`` is called with one line on what is being done, ``found`` with each hall; ``stop`` ends the search and keeps
    what was found.
    """

    pieces: Pieces
    top: int = 3
    limit_s: float = 600.0
    workers: int = 2
    seed: int = 0
    slots: Slots | None = None
    told: Callable[[str], None] = field(default=lambda _: None)
    found: Callable[[HallProposal], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)


def propose_hall(spec: HallSpec, request: HallRequest) -> HallAnswer:
    """The best halls found, ranked as the spec asks; where the site has no room for any, which site would do."""
    return _Search(spec, request).run()


@dataclass(frozen=True, slots=True)
class _WithoutRoom:
    """A hall that the site has no room for."""

    kit: Kit
    rows: int
    sides: list[list[Wing]]
    misfit: Misfit

    def rank(self) -> tuple[int, int]:
        """How much larger the site must be; how large it is then."""
        return sum(self.misfit.growth), prod(self.misfit.layout.size)


class _Search:
    def __init__(self, spec: HallSpec, request: HallRequest) -> None:
        self.spec, self.request = spec, request
        self.budget = Budget(request.limit_s, request.stop)
        self.answer = HallAnswer(size_of(spec).furnaces)
        self.without_room: list[_WithoutRoom] = []

    def run(self) -> HallAnswer:
        request, answer = self.request, self.answer
        tools = Tools(request.pieces, self.budget, request.workers, request.seed, request.told, request.slots)
        began = monotonic()
        for kit in kits(self.spec, self._least_reach(), tools):
            answer.pieces_s += monotonic() - began
            began = monotonic()
            taken = 0
            for rows in self._rows(kit):
                taken += self._try(kit, rows)
                if taken > MORE_ROWS:
                    break
            answer.joining_s += monotonic() - began
            began = monotonic()
        answer.pieces_s += monotonic() - began
        answer.complete = not self.budget.is_over
        began = monotonic()
        if not answer.proposals:
            answer.room = self._room()
        answer.joining_s += monotonic() - began
        answer.proposals.sort(key=self._rank)
        del answer.proposals[request.top :]
        answer.bound = next((one.bound(self.spec.rules) for one in answer.proposals), None)
        return answer

    @property
    def _side(self) -> int:
        """Furnaces of the larger side."""
        return -(-self.answer.furnaces // self.spec.sides)

    def _least_reach(self) -> int | None:
        """Furnaces that a wing must reach, where the spec says how many rows there are to be on a side."""
        return None if self.spec.rows is None else -(-self._side // self.spec.rows)

    def _rows(self, kit: Kit) -> Iterator[int]:
        fewest = -(-self._side // max(1, kit.longest))
        if self.spec.rows is None:
            yield from range(fewest, min(fewest + ROWS_TRIED, self._side) + 1)
        elif fewest <= self.spec.rows:
            yield self.spec.rows

    def _try(self, kit: Kit, rows: int) -> bool:
        """Put one hall together; True if it is taken."""
        if self.budget.is_over:
            return False
        self.request.told(f"a hall with {counted(rows, 'wing')} a side")
        sides = wings_of(self.spec, self.answer.furnaces, rows, kit)
        if sides is None:
            return self._refused(kit, rows, "no room was found for its gates beside its lanes")
        if self._is_worse(sides):
            return False
        layout, fault = put_together(self.spec, sides)
        if isinstance(fault, Misfit):
            self.without_room.append(_WithoutRoom(kit, rows, sides, fault))
        if isinstance(fault, OtherBins):
            self.answer.places.append(fault.places)
        if layout is None:
            return self._refused(kit, rows, str(fault))
        proposal = self._judged(layout, kit, sides, lambda: self.budget.is_over)
        if isinstance(proposal, str):
            return self._refused(kit, rows, proposal)
        self.answer.proposals.append(proposal)
        self.request.found(proposal)
        return True

    def _is_worse(self, sides: list[list[Wing]]) -> bool:
        """As many halls as are wanted are found, and none of them is as large by the first measure of the ranking as
        this one is at least, before it is put together."""
        extent = EXTENTS.get(self.spec.order[0])
        if extent is None or len(self.answer.proposals) < self.request.top:
            return False
        found = sorted(extent(one.layout.size) for one in self.answer.proposals)
        return extent(joined(sides, Gaps(0)).size) > found[self.request.top - 1]

    def _judged(
        self, layout: Layout, kit: Kit, sides: list[list[Wing]], stopped: Callable[[], bool]
    ) -> HallProposal | str:
        """The hall, confirmed; or what speaks against it."""
        spec = self.spec
        if fault := next(out_of_reach(spec, layout), ""):
            return fault
        trials = list(self._trials(layout, kit, sum(map(len, sides)), stopped))
        fault = next((f"{trial.what}: {trial.fault}" for trial in trials if trial.fault), "")
        if fault or not trials or stopped():
            return fault or STOPPED
        if fault := next(self._not_shown(kit, sides), ""):
            return fault
        from sim.analysis.production.run import settled_output  # the compiled kernel is loaded where it is used alone

        output = settled_output(layout, spec.rules)
        measures = hall_measured(layout, trials, output, spec)
        wanted = output_wanted(layout, spec)
        if output < wanted:
            return f"makes {float(output):.0f} an hour; the spec wants {float(wanted):.0f}"
        return HallProposal(layout, measures, kit, tuple(tuple(wing.n for wing in side) for side in sides))

    def _room(self) -> Room | None:
        """The first of the enlarged sites, the least first, whose hall is confirmed, or is not refused before time is
        over; None: there is none, and what speaks against each hall stands among the refusals."""
        for one in sorted(self.without_room, key=_WithoutRoom.rank):
            layout = one.misfit.layout
            size = box_text(layout.size)
            if self.budget.is_over:
                return Room(layout.size, is_confirmed=False)
            self.request.told(f"whether a site of {size} would do")
            verdict = self._judged(layout, one.kit, one.sides, lambda: self.budget.is_over)
            if isinstance(verdict, HallProposal):
                return Room(layout.size, is_confirmed=True)
            if verdict == STOPPED:
                return Room(layout.size, is_confirmed=False)
            self._refused(one.kit, one.rows, f"on a site of {size}: {verdict}")
        return None

    def _refused(self, kit: Kit, rows: int, why: str) -> bool:
        leaves = kit.end if kit.end == STRAIGHT_ON else f"at the {kit.end}"
        self.answer.refusals.append(f"{counted(rows, 'wing')} a side, product leaving {leaves}: {why}")
        return False

    def _trials(
        self, layout: Layout, kit: Kit, wings: int, stopped: Callable[[], bool]
    ) -> Iterator[TrialRecord]:
        """Until one fails."""
        terms = self._terms(layout, kit, wings)
        for trial in hall_trials(layout, self.spec.rules, handovers_for(self.spec), terms, stopped):
            yield trial
            if trial.fault:
                return

    def _not_shown(self, kit: Kit, sides: list[list[Wing]]) -> Iterator[str]:
        """What the spec demands beyond trials and is not shown of the rows, each by itself: no row acts on another."""
        spec = self.spec
        if not spec.demands.beyond_trials:
            return
        from synth.confirm.shown import demands_met  # as above

        for n, wing in {wing.n: wing for side in sides for wing in side}.items():
            for stream, row in ((spec.feed, kit.feed), (spec.fuel_stream, kit.fuel)):
                self.request.told(f"what is shown of the {stream.name} row of {n}")
                alone = short_row(row, row.lane, n, spec.rules, wing.gates.get(row.face, ()))
                verdict = demands_met(alone, row_spec(spec, stream, n), handovers_for(spec))
                if verdict != "shown":
                    yield f"the {stream.name} row of {n} by itself: what [split] demands of it is {verdict}"

    def _terms(self, layout: Layout, kit: Kit, wings: int) -> Mapping[str, Terms]:
        asked = {stream.item: stream for stream in self.spec.streams}
        rows = {row.face: row for row in (kit.feed, kit.fuel)}
        found = {}
        for stream in layout.streams:
            one = asked[stream.item]
            scheme, stack = scheme_named(rows[one.enters].scheme), self.spec.stack_of(stream.item)
            held = scheme.held(len(stream.outputs), self.spec.rules, stack)
            if self.spec.inputs is not None:  # in each row, and one less than there are rows in the splits in front
                held = held * wings + wings - 1
            found[stream.name] = Terms(held, one.even_for == "stream")
        return found

    def _rank(self, proposal: HallProposal) -> tuple[float, ...]:
        return hall_rank(proposal.measures, self.spec.order)
