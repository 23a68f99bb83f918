"""The file order of signal parts, which decides ties between changes (rulebook section 4)."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from typing import Final

from sim.analysis.assure.all_orders import load_counts, loads_text, refuted_order, run_block
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject, Workspace, no_room
from sim.analysis.assure.verdict import Verdict
from sim.world.geometry import Cell

SHUFFLES: Final = 20
"""File orders drawn at random, where there are too many for all of them."""
ALL_UP_TO: Final = 5
"""Signal parts of which every file order is run."""


def file_orders(given: Subject, request: Request) -> Iterator[Verdict]:
    """The file order of signal parts, which decides ties between changes: reversed, shuffled, or every one."""
    cells = [part.at for part in given.tables.wiring.parts]
    few = len(cells) <= ALL_UP_TO
    which = "every one" if few else f"reversed and {SHUFFLES} at random"
    scope = given.scope(f"file order of the signal parts, {which}")
    if not load_counts(given):
        yield no_room("orders", given, scope)
        return
    done = 0
    for file_order in _orders(cells, few, request.seed):
        if request.is_over():
            text = f"even in {done} file orders; then time was up"
            yield Verdict("orders", "open", scope, text, done, given.handover)
            return
        subject = Subject(given.given, given.base, given.handover, file_order)
        done += 1
        orders = subject.order.reshape(1, -1)
        _, bad = run_block(subject, Workspace(subject.tables), orders, [])
        if bad is not None:
            yield refuted_order(subject, orders, bad, scope, done - 1)
            return
    text = f"even in {done} file orders, {loads_text(given)}"
    if few:
        yield Verdict("orders", "proved", scope, text, done, given.handover)
    else:
        yield Verdict("orders", "tried", scope, text, done, given.handover, seed=request.seed)


def _orders(given: list[Cell], few: bool, seed: int) -> Iterator[tuple[Cell, ...]]:
    if few:
        yield from itertools.permutations(given)
        return
    rng = random.Random(seed)
    yield tuple(reversed(given))
    for _ in range(SHUFFLES):
        yield tuple(rng.sample(given, len(given)))
