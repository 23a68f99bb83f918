"""Every pattern of arrivals: exhaustive search over the states that the layout can come into
(``sim.world.kernel.reach``).

Even means: whenever nothing more arrives, it comes to rest, and every rest that can be reached is even.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.analysis.assure.replay import outcome_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import SIGNAL_STATES, Subject, Workspace, came_to
from sim.analysis.assure.verdict import Answer, Verdict
from sim.world.files.places import counted
from sim.world.kernel import reach
from sim.world.kernel.packing import Contents, new_contents, row_size
from sim.world.kernel.places import NOTHING, Numbers
from sim.world.kernel.running import start
from sim.world.parts import FURNACE_SLOTS, Furnace, Node

FIRST_ROOM: Final = 1 << 14
ANY_NUMBER: Final = 2**31 - 1
PIECE: Final = 20_000
"""States expanded between two looks at the clock."""
ROUNDS: Final = 2
"""Where all states are too many: those in which so many items for each output wait beyond what waits at rest."""
OVERHEAD: Final = 8 + 4 + 16
"""Bytes that a state takes beside its row: the way back, the quiet successor, its share of the hash table at most."""

STOPPED_BY: Final = {
    reach.TOO_LARGE: "a count that grew beyond what a state can hold",
    reach.TOO_MANY_CONTENTS: "more contents of nodes than states can tell apart",
    reach.TOO_MANY_SIGNALS: "more states of the signals than were kept",
}


@dataclass(frozen=True, slots=True)
class Search:
    """How far a search came. ``end``: a code of ``sim.world.kernel.reach``, or MORE when a limit came first.

    ``arrivals``: the shortest way to the state found uneven, as (tick, stream number, items).
    ``rests``: how many states are at rest; ``spread``: the largest of any of them.
    """

    end: int
    why: str
    states: int
    expanded: int
    arrivals: tuple[tuple[int, int, int], ...] = ()
    rests: int = 0
    spread: int = 0


class Explorer:
    """The search over one subject's states, in pieces. ``order``: machine numbers (default: the file order). ``most``:
    items that may wait in nodes at once, or else no more is put in."""

    def __init__(self, subject: Subject, order: Numbers | None = None, most: int = ANY_NUMBER) -> None:
        self.subject, self.most = subject, most
        self.contents = contents_of(subject)
        self.space = Workspace(subject.tables, SIGNAL_STATES)
        self.found = reach.new_explored(row_size(subject.tables.w, self.contents), FIRST_ROOM)
        self.begin(subject.order if order is None else order)

    def begin(self, order: Numbers) -> None:
        """Search from the start, in that order; what is known of signals and contents is kept."""
        t, space = self.subject.tables, self.space
        self.order = order
        space.s[:] = t.start
        start(t.w, space.s, space.m)
        self.found.counts[:] = 0
        self.found.find.fill(NOTHING)
        self.end: int = reach.begin(t.w, space.s, self.contents, self.found)

    @property
    def states(self) -> int:
        """How many have been met."""
        return int(self.found.counts[reach.ROWS])

    @property
    def edges(self) -> int:
        """How many transitions have been looked at."""
        return int(self.found.counts[reach.EDGES])

    @property
    def expanded(self) -> int:
        """How many have had their successors looked at."""
        return int(self.found.counts[reach.EXPANDED])

    @property
    def mebibytes(self) -> float:
        """What the states take, with room to grow."""
        rows = self.found.rows
        return float(len(rows) * (rows.shape[1] + OVERHEAD) / 2**20)

    def piece(self, budget: int = PIECE) -> int:
        """Go on for a while; the code that it ended with."""
        t, space = self.subject.tables, self.space
        self.end = reach.explore(
            t.w, space.s, space.x, space.m, self.contents, self.found, self.order, self.subject.sources,
            self.most, budget,
        )  # fmt: skip
        return self.end

    def held_at_rest(self) -> int:
        """The most items in nodes at any rest met so far."""
        t, space = self.subject.tables, self.space
        return int(reach.most_held(t.w, space.s, self.contents, space.m, self.found, self.subject.sources))

    def grow(self) -> None:
        """Twice the room."""
        self.found = reach.grown(self.found, 2 * len(self.found.rows))

    def arrivals_to(self, row: int) -> tuple[tuple[int, int, int], ...]:
        """A shortest way from the start to a state: (tick, stream number, items), ticks ascending."""
        choices: list[int] = []
        streams = len(self.subject.streams)
        while row:
            before = int(self.found.parent[row])
            choices.append(before & ((1 << streams) - 1))
            row = before >> streams
        choices.reverse()
        return tuple((tick, k, 1) for tick, choice in enumerate(choices) for k in range(streams) if choice >> k & 1)

    def restless(self) -> int | None:
        """After the last piece: a state from which no rest is reached though nothing arrives; None if there is none."""
        row = reach.never_rests(self.found, np.zeros(self.states, np.int32))
        return None if row == NOTHING else int(row)


def contents_of(subject: Subject) -> Contents:
    """What the rows of a subject's states tell of: every container but the sources and the sinks."""
    t, layout = subject.tables, subject.layout
    apart = subject.sinks | {stream.source for stream in subject.streams}
    kept = [i for i, part in enumerate(t.containers) if part.at not in apart]
    furnaces = [part.at for part in t.containers if isinstance(part, Furnace)]
    acting = [i for i, cell in enumerate(furnaces) if cell not in subject.sinks]
    slots = {Node: t.rules.node_slots, Furnace: len(FURNACE_SLOTS)}
    most = max((slots.get(type(layout.by_cell[t.containers[i].at]), t.rules.bin_slots) for i in kept), default=1)
    nodes_alone = all(isinstance(t.containers[i], Node) for i in kept) and not acting
    kinds = {stream.item for stream in layout.streams}
    kinds |= {slot[0] for i in kept for slot in layout.by_cell[t.containers[i].at].holds if slot}  # type: ignore[union-attr]
    by_total = nodes_alone and len(kinds) == 1
    return new_contents(np.array(kept, np.int32), np.array(acting, np.int32), most, by_total=by_total)


def searched(explorer: Explorer, request: Request, mebibytes: float) -> Search:
    """Search until nothing is left, something uneven is found, or a limit comes."""
    end = explorer.end
    while end in (reach.MORE, reach.NO_ROOM):
        if request.is_over():
            return Search(reach.MORE, "time was up", explorer.states, explorer.expanded)
        if end == reach.NO_ROOM:
            if explorer.mebibytes * 3 > mebibytes:  # the old rows are there until the new ones are filled
                return Search(reach.MORE, "the memory limit was reached", explorer.states, explorer.expanded)
            explorer.grow()
        end = explorer.piece()
    if end == reach.UNEVEN:
        way = explorer.arrivals_to(int(explorer.found.counts[reach.FOUND]))
        return Search(end, "", explorer.states, explorer.expanded, way)
    if end == reach.DONE:
        row = explorer.restless()
        if row is not None:
            return Search(reach.UNEVEN, "", explorer.states, explorer.expanded, explorer.arrivals_to(row))
    rests, spread = (int(explorer.found.counts[which]) for which in (reach.RESTS, reach.SPREAD))
    why = STOPPED_BY.get(end, "")
    return Search(end, why, explorer.states, explorer.expanded, rests=rests, spread=spread)


def every_arrival(subject: Subject, request: Request, mebibytes: float) -> Iterator[Verdict]:
    """Every pattern of arrivals in the file order; where these are too many for the memory, then those in which not too
    many items wait at once. Time and memory: linear in the states that can be reached."""
    scope = subject.scope("every pattern of arrivals, however many items", alike=False)
    if subject.why_not_searched is not None:
        text = f"not searched: {subject.why_not_searched}"
        yield Verdict("arrivals", "open", scope, text, 0, subject.handover)
        return
    explorer = Explorer(subject)
    search = searched(explorer, request, mebibytes)
    yield _verdict(subject, scope, search)
    if search.end in (reach.DONE, reach.UNEVEN) or request.is_over():
        return
    at_rest, each = explorer.held_at_rest(), sum(len(stream.outputs) for stream in subject.streams)
    del explorer  # its memory is wanted
    yield from _with_fewer_waiting(subject, request, mebibytes, at_rest, each)


def _with_fewer_waiting(
    subject: Subject, request: Request, mebibytes: float, at_rest: int, each: int
) -> Iterator[Verdict]:
    """Patterns in which ever more items wait, as long as time and memory last: the last one that was settled.

    ``at_rest``: items that may wait whatever comes; ``each``: items of a round.
    """
    settled, most = None, at_rest + ROUNDS * each
    while settled is None or settled.verdict == "proved":
        search = searched(Explorer(subject, most=most), request, mebibytes)
        if search.end not in (reach.DONE, reach.UNEVEN):
            break
        waiting = f"every pattern of arrivals in which at most {most} items wait in nodes at once, however many come"
        settled = _verdict(subject, subject.scope(waiting, alike=False), search)
        most += most - at_rest
    if settled is not None:
        yield settled


def _verdict(subject: Subject, scope: str, search: Search) -> Verdict:
    if search.end == reach.UNEVEN:
        outcome = outcome_of(subject, search.arrivals)
        text = f"{in_words(search)} {came_to(outcome)}; no counterexample ends sooner"
        return subject.failed("arrivals", scope, text, search.expanded, outcome, search.arrivals, states=search.states)
    if search.end == reach.DONE:
        answer: Answer = "proved"
        text = f"{even_text(search)} ({search.states:,} states)"
    else:
        answer = "open"
        text = (f"{search.why}: {search.expanded:,} of the {search.states:,} states met so far were looked at, "
                "none is uneven at rest")
    return Verdict("arrivals", answer, scope, text, search.expanded, subject.handover, states=search.states)


def even_text(search: Search) -> str:
    """What a search that came to its end has shown."""
    where = f"at each of the {search.rests:,} rests that can be reached"
    if not search.spread:
        return f"spread 0 {where}"
    return f"spread at most {search.spread} {where}, 0 where the number delivered can be shared out"


def in_words(search: Search) -> str:
    """The arrivals that a search has found."""
    last = search.arrivals[-1][0] if search.arrivals else 0
    return f"{counted(len(search.arrivals), 'item')}, the last one after tick {last},"
