"""Batched rows: a gate that measures its batches by time, in front of burst rows; by itself, and with its row."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ideal_locks import drawn_arrivals, drawn_order
from sim.analysis.assure.arrivals import every_arrival
from sim.analysis.assure.request import Request as Questions
from sim.analysis.assure.subject import Subject
from sim.analysis.checks import design_findings
from sim.analysis.idle_wiring import builders_findings
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Part, Relay
from sim.world.rulebook import Rules, default_rules
from sim.world.trial import Arrival, Trial
from sim.world.world import World
from synth.ask.spec import Face
from synth.confirm.judge import Judge
from synth.schemes.batched_row import JOINED
from synth.schemes.registry import admissible, admissible_joined, every_admissible, schemes, why_not
from synth.search.known.atlas import atlas
from synth.search.known.batched import BatchedRows
from synth.search.known.build import KnownBuild
from synth.search.known.gate import BIN, OUT, delay_line, gate
from synth.search.known.matching import placements
from synth.search.race import propose
from synth.search.request import Request
from test_atlas_builds import spec_of

RULES = default_rules()
STORE = BatchedRows()
NUMBERS = range(2, 24)
WAITS = 22
"""A node of five slots of 64 reads 2 from 23 items on (rulebook section 4)."""


@cache
def builds(face: Face, outputs: int) -> list[KnownBuild]:
    return list(STORE.builds(JOINED.name, face, outputs))


def gate_alone(outputs: int, parts: list[Part] | None = None) -> Layout:
    """The gate, and what it feeds: a bin, below which a node takes all that comes to a furnace."""
    own = list(gate(outputs, RULES)) if parts is None else parts
    x, y, z = OUT
    sink: tuple[Part, ...] = (Bin(OUT, "marked"), Node((x, y, z - 1), "D"), Furnace((x, y, z - 2)))
    up = 12
    moved = [replace(part, at=there(part.at, up)) for part in (*own, *sink)]
    stream = Stream("feed", "charcoal", there(BIN, up), (there((x, y, z - 2), up),))
    return Layout("", (16, 32, 16), {"charcoal": ItemKind(burn=1600)}, tuple(moved), (stream,))


def there(cell: Cell, by: int) -> Cell:
    return cell[0] + 1, cell[1] + by * 2, cell[2] + 3


def pushed(layout: Layout, arrivals: dict[int, int], rules: Rules, order: list[Cell]) -> list[int]:
    """The ticks at which an item came to the bin behind the gate."""
    ticks: list[int] = []
    x, y, z = there(OUT, 12)
    behind = [(x, y, z), (x, y, z - 1), (x, y, z - 2)]
    seen = 0

    def look(world: World) -> None:
        nonlocal seen
        held = sum(world.stores[at].count("charcoal") for at in behind)
        ticks.extend([world.tick] * (held - seen))
        seen = held

    trial = Trial(layout, rules, order, watchers=(look,))
    trial.run([Arrival(tick, "feed", count) for tick, count in arrivals.items()], limit=100_000)
    return ticks


def batches(ticks: list[int], rules: Rules) -> list[int]:
    """How many came without a gap, one time after the other."""
    found = [1] if ticks else []
    for before, tick in pairwise(ticks):
        if tick - before == rules.period:
            found[-1] += 1
        else:
            assert tick - before > rules.period, "never two in one period"
            found.append(1)
    return found


# -- the gate by itself -----------------------------------------------------------------------------------------------


def test_the_delay_line_locks_after_the_last_push_of_a_batch_and_before_the_next() -> None:
    """A gauge's delay and the relays', against the ticks 0, 8, 16, ... at which G pushes (rulebook section 3)."""
    for n in NUMBERS:
        delays = delay_line(n, RULES)
        assert set(delays) <= {1, 2, 3, 4}
        assert 8 * (n - 1) < 2 + 2 * sum(delays) <= 8 * n
        relays = [part for part in gate(n, RULES) if isinstance(part, Relay)]
        assert [part.delay for part in relays] == delays, "in the order in which the signal passes them"


@pytest.mark.parametrize("outputs", NUMBERS)
def test_a_gate_takes_no_cell_twice_and_no_check_finds_anything(outputs: int) -> None:
    layout = gate_alone(outputs)
    assert len(layout.by_cell) == len(layout.parts)
    assert not design_findings(layout, RULES)
    assert not builders_findings(layout)


@settings(max_examples=60, deadline=None)
@given(outputs=st.sampled_from((2, 3, 4, 7, 8, 16, 23)), handover=st.sampled_from((7, 8)), seed=st.integers(0, 10**6))
def test_whatever_comes_batches_of_n_leave_without_a_gap(outputs: int, handover: int, seed: int) -> None:
    """As many batches as bulk service of N makes of k items where 22 wait (queueing: the general bulk service rule, a
    server that starts with 23 in the queue and takes N; closed form by hand)."""
    rng, rules = random.Random(seed), RULES.with_overrides({"handover": handover})
    layout = gate_alone(outputs)
    arrivals = drawn_arrivals(rng, outputs, whole=False, waiting=WAITS + outputs)
    ticks = pushed(layout, arrivals, rules, drawn_order(rng, layout))
    came = sum(arrivals.values())
    assert batches(ticks, rules) == [outputs] * max(0, -(-(came - WAITS) // outputs))
    rests = [tick - before for before, tick in pairwise(ticks) if tick - before > rules.period]
    assert all(rest > rules.period * outputs for rest in rests), "a row behind it has as long to itself"


@pytest.mark.parametrize(("outputs", "steps", "let_out"), [(8, -2, 7), (3, 4, 4)])
def test_a_delay_line_that_is_too_short_or_too_long_lets_another_number_out(
    outputs: int, steps: int, let_out: int
) -> None:
    parts, one = list(gate(outputs, RULES)), 1 if steps > 0 else -1
    for _ in range(abs(steps)):
        k, relay = next(
            (i, part) for i, part in enumerate(parts) if isinstance(part, Relay) and part.delay + one in (1, 2, 3, 4)
        )
        parts[k] = replace(relay, delay=relay.delay + one)
    layout = gate_alone(outputs, parts)
    ticks = pushed(layout, {0: 60}, RULES, [part.at for part in layout.machines])
    assert set(batches(ticks, RULES)) == {let_out}


# -- rows behind it ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("outputs", "face"), [*((n, "top") for n in (2, 3, 4, 5, 6, 8, 12)), (3, "side"), (6, "side")])
def test_it_is_even_however_the_items_come(outputs: int, face: Face) -> None:
    rng = random.Random(outputs)
    for build in builds(face, outputs):
        layout = build.layout
        assert not builders_findings(layout)
        for _ in range(4):
            trial = Trial(layout, RULES, drawn_order(rng, layout))
            arrivals = drawn_arrivals(rng, outputs, whole=False, waiting=WAITS + outputs)
            result = trial.run([Arrival(tick, "feed", count) for tick, count in arrivals.items()], limit=100_000)
            delivered = result.streams[0].delivered
            assert len(set(delivered)) == 1
            assert 0 <= sum(arrivals.values()) - sum(delivered) <= WAITS


@pytest.mark.parametrize(("outputs", "face"), [*((n, "top") for n in (2, 4, 8, 16, 23)), (12, "side")])
def test_every_pattern_of_arrivals_is_shown(outputs: int, face: Face) -> None:
    """However many items come: a few thousand states, as the gate never holds more than 23 items; all looked at."""
    for build in builds(face, outputs)[:1]:
        (verdict,) = every_arrival(Subject(build.layout, RULES, 8), Questions(), mebibytes=256)
        assert verdict.verdict == "proved"
        assert "however many items" in verdict.scope
        assert verdict.states is not None
        assert verdict.states < 40_000


def test_a_gate_of_eight_is_shown_under_both_handovers() -> None:
    """More than a gated row can do, whose gate hears T(N-1) too early there (``gated_row.windows``)."""
    shown = [
        all(
            verdict.verdict == "proved"
            for handover in (8, 7)
            for verdict in every_arrival(Subject(build.layout, RULES, handover), Questions(), mebibytes=256)
        )
        for build in builds("top", 8)
    ]
    assert any(shown)


@pytest.mark.parametrize("outputs", [2, 4, 6])
def test_some_are_right_under_both_handovers_where_the_row_is(outputs: int) -> None:
    spec = replace(spec_of(JOINED.name, "top", outputs, (20, 20, 8)), even_for="stream", leftovers="hold")
    judge = Judge(spec, (8, 7))
    assert any(judge.accepts(layout) for build in builds("top", outputs) for layout in placements(build, spec))


def test_the_row_is_as_it_was() -> None:
    """All parts of some known burst row are there: what was shown of it for loads at once holds behind the gate."""
    layout = builds("top", 4)[0].layout
    rows = [build.layout for build in atlas().builds("burst row", "top", 4)]
    kinds = sorted(part.kind for part in layout.parts)
    for part in gate(4, RULES):
        kinds.remove(part.kind)
    left = [sorted(part.kind for part in row.parts) for row in rows]
    assert any(kinds == [*one] or sorted([*one, *["node"] * (len(kinds) - len(one))]) == kinds for one in left)


def test_it_is_no_scheme_that_is_searched_or_claimed_about() -> None:
    assert JOINED.name not in schemes()
    spec = replace(spec_of(JOINED.name, "top", 8, (20, 20, 8)), scheme=None)
    assert JOINED not in admissible(spec)
    assert admissible_joined(spec) == [JOINED]
    assert every_admissible(spec) == [*admissible(spec), JOINED]
    assert why_not(JOINED, replace(spec, outputs=24)) == "it is for 23 outputs at most"
    assert why_not(JOINED, replace(spec, leftovers="deliver")) == "it leaves items in the nodes"


def test_propose_finds_it_and_claims_nothing_about_it() -> None:
    spec = replace(spec_of(JOINED.name, "top", 4, (9, 4, 5)), holds_most=WAITS)
    answer = propose(spec, Request(limit_s=60, workers=1, stores=(STORE,)))
    assert [one.scheme for one in answer.proposals] == [JOINED.name]
    assert not answer.complete
    assert not answer.claims
