"""Which T nodes may be locked, and when, on ideal locks: what lock tables ask of them is needed, and no more is."""

from __future__ import annotations

import random
from itertools import product

import pytest

from ideal_locks import RULES, Also, Delays, drawn_arrivals, drawn_order, outcome, splits, straight_row
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import Scheme

HANDOVERS = (8, 7)
LOADS = (1, 2, 18)
"""Items a target of the trials that no candidate passes without (``synth/confirm/confirmation``)."""
LATER = (0, 2, 4, 6)
"""Ticks more on the way to the lock of a T than to those of the B nodes."""


def window(scheme: Scheme, outputs: int, handover: int) -> range:
    """The even delays from TN that the scheme allows."""
    (found,) = (one for label, one in scheme.windows(RULES, outputs, handover).items() if label == "tail")
    return range(found.least + found.least % 2 or 2, found.most + 1, 2)


def splits_all(scheme: Scheme, outputs: int, handover: int, delays: Delays, also: Also, later: int) -> bool:
    """Every load of the trials is split as the scheme says."""
    numbers = dict.fromkeys(also, later)
    loads = (outputs * each for each in LOADS)
    return all(
        splits(scheme, outputs, outcome(scheme, outputs, handover, delays, {0: load}, later=numbers, also=also), load)
        for load in loads
    )


@pytest.mark.parametrize(("outputs", "handover"), [(3, 8), (3, 7), (4, 8), (5, 7)])
def test_a_burst_row_needs_what_its_table_asks_of_the_row(outputs: int, handover: int) -> None:
    """Whatever the delays, within a period: a locked T0 lets nothing out, a locked Ti gives target i about half."""
    scheme = scheme_named("burst row")
    needed = [(0, (False, False)), (0, (True, False)), *((i, (True, False)) for i in range(1, outputs))]
    for (i, reads), head, tail in product(needed, (2, 8), window(scheme, outputs, handover)):
        for later in LATER:
            if max(head, tail) + later <= RULES.period:
                delays = {"head": head, "tail": tail}
                assert not splits_all(scheme, outputs, handover, delays, {("T", i): [reads]}, later), (i, reads, delays)


@pytest.mark.parametrize(("name", "outputs"), [("undrained row", 3), ("headed undrained row", 3), ("undrained row", 4)])
def test_an_undrained_row_needs_what_its_table_asks_of_the_row(name: str, outputs: int) -> None:
    scheme = scheme_named(name)
    for i, tail in product(scheme.numbers("T", outputs)[:-1], window(scheme, outputs, 8)):
        assert not splits_all(scheme, outputs, 8, {"tail": tail}, {("T", i): [(False,)]}, 0), i


MUSTER = {1: [(False, True), (True, True)], 2: [(False, False), (False, True), (True, True)]}


@pytest.mark.parametrize(("outputs", "number"), [(3, 1), (4, 1), (4, 2)])
def test_a_brimmed_row_needs_what_its_table_asks_of_the_row(outputs: int, number: int) -> None:
    """A T1 that is locked while it is not full takes nothing from the bin; a T2 passes on too little."""
    scheme = scheme_named("brimmed row")
    for brim, handover in product((2, 4, 6, 8), HANDOVERS):
        assert not splits_all(scheme, outputs, handover, {"brim": brim}, {("T", number): [(False,)]}, 0), brim


@pytest.mark.parametrize("outputs", [3, 4])
def test_a_brimmed_row_may_have_its_row_locked_where_the_table_is_silent(outputs: int) -> None:
    """T(N-1) until T1 is full, and the T before it while it is: each alone, and all together."""
    scheme, last = scheme_named("brimmed row"), outputs - 1
    singles: list[Also] = [{("T", last): [(False,)]}, *({("T", i): [(True,)]} for i in range(1, outputs))]
    together: Also = {("T", last): [(False,)], **{("T", i): [(True,)] for i in range(1, last)}}
    for also, (brim, handover) in product([*singles, together], [(2, 8), (8, 7)]):
        assert splits_all(scheme, outputs, handover, {"brim": brim}, also, 0), (also, brim, handover)


def test_a_muster_row_needs_what_its_table_asks_of_the_row() -> None:
    """No item comes past a T that is locked while its B holds, none into a T1 that is locked while all is empty."""
    scheme = scheme_named("muster row")
    needed = [(1, (False, False)), (1, (True, False)), (2, (True, False))]
    for (i, reads), own, tail in product(needed, (2, 8), (2, 6)):
        assert not splits_all(scheme, 3, 8, {"own": own, "tail": tail}, {("T", i): [reads]}, 0), (i, reads)


@pytest.mark.parametrize(("handover", "own", "tail"), [(8, 2, 6), (7, 6, 2)])
def test_a_muster_row_may_have_its_row_locked_where_the_table_is_silent(handover: int, own: int, tail: int) -> None:
    """Loads, and items one by one: each T alone, and all together, in all of these rows of the table."""
    scheme, rng, delays = scheme_named("muster row"), random.Random(handover), {"own": own, "tail": tail}
    singles: list[Also] = [{("T", i): silent} for i, silent in MUSTER.items()]
    for also in (*singles, {("T", i): silent for i, silent in MUSTER.items()}):
        assert splits_all(scheme, 3, handover, delays, also, 0), also
        arrivals = drawn_arrivals(rng, 3, True)
        result = outcome(scheme, 3, handover, delays, arrivals, also=also)
        assert splits(scheme, 3, result, sum(arrivals.values())), (also, arrivals)


@pytest.mark.parametrize("name", list(schemes()))
def test_the_last_t_may_be_locked_at_any_time(name: str) -> None:
    """It neither pulls nor pushes: what a row comes to is the same, item for item."""
    scheme = scheme_named(name)
    every = [row.reads for row in scheme.table]
    for seed in range(12):
        rng = random.Random(seed)
        outputs, handover = rng.choice((3, 4)), rng.choice(HANDOVERS)
        delays = {watch.label: rng.choice((2, 4, 6)) for watch in scheme.watches}
        arrivals, order = drawn_arrivals(rng, outputs, False), drawn_order(rng, straight_row(scheme, outputs, handover))
        rows = rng.sample(every, rng.randint(1, len(every)))
        plain = outcome(scheme, outputs, handover, delays, arrivals, order)
        assert outcome(scheme, outputs, handover, delays, arrivals, order, also={("T", outputs): rows}) == plain


@pytest.mark.parametrize("outputs", [3, 4])
def test_a_burst_row_may_have_its_row_locked_where_the_table_is_silent(outputs: int) -> None:
    """With the lock of a T as quick as those of the B nodes, in every row of the table that says nothing of it."""
    scheme = scheme_named("burst row")
    silent = {0: [(False, True), (True, True)], 1: [(False, False), (False, True), (True, True)]}
    for i, handover in product(range(outputs), HANDOVERS):
        for tail in window(scheme, outputs, handover):
            also: Also = {("T", i): silent[min(i, 1)]}
            assert splits_all(scheme, outputs, handover, {"head": tail, "tail": tail}, also, 0), (i, handover, tail)
