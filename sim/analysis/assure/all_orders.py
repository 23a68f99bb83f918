"""Every update order that can matter: the same loads in each of them; and, of small layouts, every arrival in each."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Final

import numpy as np

from sim.analysis.assure.arrivals import Explorer, in_words, searched
from sim.analysis.assure.orders import blocks_of_orders, exchange_graph
from sim.analysis.assure.replay import arrivals_of, outcome_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import TICKS_MOST, Outcome, Subject, Workspace, came_to, no_room
from sim.analysis.assure.verdict import Verdict
from sim.world.kernel import reach
from sim.world.kernel.batch import FIRST_OUTPUT, RESTED, run_orders
from sim.world.kernel.places import Numbers
from sim.world.kernel.running import AT_REST

LOADS: Final = (1, 2)
"""Times N items, one load after the other, as far as the sources have room; where nodes keep back two rounds or more,
the first load has as many more."""


def every_order(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Loads of N and 2N (where nodes keep some back, of as many more) in every update order that can matter.

    Time: linear in the acyclic orientations of the exchange graph, which may be exponentially many.
    """
    scope = subject.scope(f"{loads_text(subject)} in every update order that can matter")
    if not load_counts(subject):
        yield no_room("orders", subject, scope)
        return
    done, cut = 0, False
    for orders, bad in _outcomes(subject, request, _whole_orders(subject)):
        if bad is not None:
            yield refuted_order(subject, orders, bad, scope, done)
            return
        done += len(orders)
        cut = not len(orders)
    if cut:
        yield Verdict("orders", "open", scope, f"even in {done:,} orders; then time was up", done, subject.handover)
        return
    text = f"even in all {done:,} (acyclic orientations of the exchange graph)"
    yield Verdict("orders", "proved", scope, text, done, subject.handover)


def _whole_orders(subject: Subject) -> Iterator[Numbers]:
    """Every update order that can matter, as blocks of machine numbers: behind the machines of the exchange graph stand
    those that never act."""
    graph = exchange_graph(subject.layout, subject.sinks)
    cells = list(graph.nodes)
    numbers = subject.tables.order((*cells, *(cell for cell in subject.tables.machines if cell not in graph)))
    tail = np.arange(len(cells), len(numbers), dtype=np.int32)
    for block in blocks_of_orders(graph, cells):
        yield numbers[np.hstack([block, np.tile(tail, (len(block), 1))])]


def _outcomes(
    subject: Subject, request: Request, blocks: Iterator[Numbers]
) -> Iterator[tuple[Numbers, list[Outcome] | None]]:
    """What each block comes to, in their order, so many at once as there are workers; an empty one when time is up."""
    spaces = [Workspace(subject.tables) for _ in range(request.workers)]
    running: deque[Future[tuple[Numbers, list[Outcome] | None]]] = deque()
    with ThreadPoolExecutor(request.workers) as pool:
        for orders in blocks:
            if request.is_over():
                yield orders[:0], None
                return
            if len(running) == request.workers:
                yield running.popleft().result()
            running.append(pool.submit(run_block, subject, spaces.pop(), orders, spaces))
        while running:
            yield running.popleft().result()


def run_block(
    subject: Subject, space: Workspace, orders: Numbers, spaces: list[Workspace]
) -> tuple[Numbers, list[Outcome] | None]:
    """The orders of a block, and their outcomes if one of them is uneven (None: all are even)."""
    t = subject.tables
    loads = subject.loads(load_counts(subject))
    results = subject.new_results(len(orders) * len(loads))
    run_orders(
        t.w, t.start, space.s, space.x, space.m, orders, subject.sources, loads, TICKS_MOST, results
    )
    spaces.append(space)
    shown, rested = results[:, FIRST_OUTPUT:], results[:, RESTED]
    alike = all(bool((shown[i :: len(loads)] == shown[i]).all()) for i in range(len(loads)))
    outcomes = subject.outcomes(results[: len(loads)] if alike and bool((rested == AT_REST).all()) else results)
    return orders, None if all(outcome.is_even for outcome in outcomes) else outcomes


def refuted_order(subject: Subject, orders: Numbers, outcomes: list[Outcome], scope: str, done: int) -> Verdict:
    """The first order of a block that is uneven; the loads up to the uneven one as arrivals that can be run again."""
    counts = load_counts(subject)
    at = next(i for i, outcome in enumerate(outcomes) if not outcome.is_even)
    order = orders[at // len(counts)]
    arrivals = arrivals_of(subject, counts[: at % len(counts) + 1], order)
    outcome = outcome_of(subject, arrivals, order)
    text = f"{' then '.join(str(c) for _, k, c in arrivals if not k)} items in another update order {came_to(outcome)}"
    return subject.failed("orders", scope, text, done + at // len(counts) + 1, outcome, arrivals, order=order)


def load_counts(subject: Subject) -> list[int]:
    """The loads that are run in each order, of which something is delivered."""
    first, *later = LOADS
    waiting = subject.rounds_waiting if subject.rounds_waiting > 1 else 0
    counts = (times * subject.per_round for times in (first + waiting, *later))
    return [count for count in counts if count <= subject.room]


def loads_text(subject: Subject) -> str:
    """The same in words."""
    return f"loads of {' then '.join(map(str, load_counts(subject)))} items"


def every_arrival_in_every_order(subject: Subject, request: Request, mebibytes: float) -> Iterator[Verdict]:
    """The search over all arrivals once more for each update order that can matter, of layouts with few states."""
    scope = subject.scope("every pattern of arrivals in every update order that can matter", alike=False)
    done, states, spread = 0, 0, 0
    explorer = Explorer(subject)
    for block in _whole_orders(subject):
        for order in block:
            explorer.begin(order)
            search = searched(explorer, request, mebibytes)
            states += search.states
            spread = max(spread, search.spread)
            if search.end == reach.UNEVEN:
                outcome = outcome_of(subject, search.arrivals, order)
                text = f"{in_words(search)} in another update order {came_to(outcome)}"
                yield subject.failed(
                    "orders", scope, text, done + 1, outcome, search.arrivals, order=order, states=states
                )
                return
            if search.end != reach.DONE:
                text = f"even in {done:,} orders; {search.why}"
                yield Verdict("orders", "open", scope, text, done, subject.handover, states=states)
                return
            done += 1
    at_rest = f"spread {'at most ' if spread else ''}{spread} at every rest"
    text = f"{at_rest} in all {done:,} orders ({states:,} states in all)"
    yield Verdict("orders", "proved", scope, text, done, subject.handover, states=states)
