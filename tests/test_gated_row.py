"""The gated row: the laws of the model that it is the first to need, its builds, and what is shown of them.

Its windows on ideal locks: here, and with those of the other schemes in tests/test_synth_schemes.py.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest

from ideal_locks import RULES, drawn_arrivals, drawn_order, outcome, splits, straight_row
from sim.analysis.assure.all_orders import load_counts
from sim.analysis.assure.arrivals import every_arrival
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.items.store import Store
from sim.world.layout import Layout
from sim.world.parts import Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, Trial
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.membership import is_admitted
from synth.improve.reading import meant_by
from synth.model.plots import Plot, question_for, windows
from synth.model.states import rows_that_tell, states_of
from synth.read.layout import spec_of_layout
from synth.read.spec_file import load_spec
from synth.schemes.filling import count_reading, stacked
from synth.schemes.registry import scheme_named, why_not
from synth.search.known.atlas import atlas

SPECS = Path(__file__).resolve().parent.parent / "specs"
SCHEME = scheme_named("gated row")


@cache
def build(name: str = "three") -> Layout:
    return load_layout(str(SPECS / "layouts" / f"gated-row-of-{name}.plan"))


def spec_for(layout: Layout) -> Spec:
    plain = load_spec(SPECS / "results" / "any-site.toml")
    outputs = len(layout.streams[0].outputs)
    return replace(
        plain, outputs=outputs, scheme="gated row", size=layout.size, even_for="stream", leftovers="hold",
        streams=(replace(plain.streams[0], name="feed", item="clay"),),
    )  # fmt: skip


# -- the scheme -------------------------------------------------------------------------------------------------------


def test_a_node_of_five_slots_reads_two_from_23_items_on() -> None:
    """Rulebook section 4, "Fill level", by hand: 1 + 14 * 23 / 320 is just above 2, 1 + 14 * 22 / 320 just below."""
    assert 1 + 14 * 22 / 320 < 2 < 1 + 14 * 23 / 320
    assert count_reading(2, 64, RULES) == 23 == SCHEME.held(4, RULES, 64) + 1
    for stack, level in product((1, 16, 64), range(1, 16)):
        count = count_reading(level, stack, RULES)
        fills = [Store(5, lambda _: stack, stacked("clay", n, stack)).fill_level(15) for n in (count - 1, count)]  # noqa: B023
        assert fills[0] < level <= fills[1]


def test_it_is_for_no_more_outputs_than_a_round_that_the_gate_can_tell() -> None:
    spec = replace(spec_for(build()), outputs=23)
    assert why_not(SCHEME, spec) is None
    assert why_not(SCHEME, replace(spec, outputs=24)) == "it is for 23 outputs at most"
    small = replace(spec, items={"clay": replace(spec.items["clay"], stack=16)})
    assert why_not(SCHEME, small) == "it is for 6 outputs at most"


@pytest.mark.parametrize(("outputs", "handover"), [(5, 8), (6, 7), (7, 7), (12, 8), (23, 8)])
def test_longer_rows_split_inside_their_windows(outputs: int, handover: int) -> None:
    """At random: update orders, arrivals, and delays at the ends of the windows."""
    rng = random.Random(outputs)
    found = SCHEME.windows(RULES, outputs, handover)
    for _ in range(10):
        delays = {label: rng.choice(range(max(2, w.least + w.least % 2), w.most + 1, 2)) for label, w in found.items()}
        arrivals = drawn_arrivals(rng, outputs, whole=False, waiting=22)
        order = drawn_order(rng, straight_row(SCHEME, outputs, handover))
        result = outcome(SCHEME, outputs, handover, delays, arrivals, order)
        assert splits(SCHEME, outputs, result, sum(arrivals.values())), (delays, arrivals, order)


def test_a_row_of_a_period_is_too_long_for_a_shorter_handover() -> None:
    for outputs in (7, 8):
        due = SCHEME.windows(RULES, outputs, 7)["due"]
        assert (due.least <= due.most) is (outputs < RULES.period)


def test_no_delays_are_known_for_a_handover_longer_than_the_period() -> None:
    """Found by trial: period 4, handover 5, with the delays that a handover of 4 has: 2 and 4 items."""
    rules = replace(RULES, period=4, handover=5)
    due = SCHEME.windows(rules, 2, 5)["due"]
    assert due.least > due.most
    assert SCHEME.windows(rules, 2, 4)["due"].least <= SCHEME.windows(rules, 2, 4)["due"].most


def test_the_longest_row_for_a_shorter_handover_answers_a_tick_later() -> None:
    """Found by trial: N = 7 under handover 7 with a delay of 7 from T6, 22 items and then one a tick: 2/4/3/3/3/3/3."""
    assert SCHEME.windows(RULES, 7, 7)["due"].least == 8
    assert SCHEME.windows(RULES, 6, 7)["due"].least == 6


def test_without_its_gate_it_is_uneven_for_a_trickle() -> None:
    """The same row whose G is never locked: what trickles in runs on, as in a burst row."""
    open_gate = replace(
        SCHEME, table=tuple(replace(r, locked=(False, False, False, r.locked[3])) for r in SCHEME.table)
    )
    delays = {"gate": 4, "head": 4, "due": 4, "tail": 4}
    arrivals = dict.fromkeys(range(0, 54 * 20, 20), 1)
    delivered, _ = outcome(open_gate, 3, 8, delays, arrivals)
    assert len(set(delivered)) > 1
    assert splits(SCHEME, 3, outcome(SCHEME, 3, 8, delays, arrivals), 54)


# -- the model --------------------------------------------------------------------------------------------------------


def test_the_rows_that_the_model_looks_at_show_each_class_all_that_can_act_on_it() -> None:
    rows = rows_that_tell(SCHEME)
    assert len(rows) < len(SCHEME.table)
    for nodes in SCHEME.classes:
        views = {tuple(r for w, r in zip(SCHEME.watches, row.reads, strict=True) if nodes in w.locks) for row in rows}
        acting = sum(nodes in watch.locks for watch in SCHEME.watches)
        assert views == set(product((False, True), repeat=acting)), nodes
    for name in ("burst row", "muster row", "brimmed row"):
        assert rows_that_tell(scheme_named(name)) == scheme_named(name).table


def test_where_nodes_of_other_rows_stand_the_model_looks_at_the_whole_table() -> None:
    """They are of no class, so that anything may act on them."""
    layout = build()
    spec = spec_for(layout)
    question = question_for(spec, Plot((0, 0, 0), layout.size), windows(spec, (8,)))
    rows = {row for row, _ in states_of(replace(question, standing={(0, 0, 3): "node"}))}
    assert rows == set(SCHEME.table)


def test_the_model_looks_at_every_reading_below_the_level() -> None:
    layout = build()
    spec = spec_for(layout)
    states = list(states_of(question_for(spec, Plot((0, 0, 0), layout.size), windows(spec, (8,)))))
    gate = {readings[0] for _, readings in states}
    assert gate == {0, 1, 2}
    assert all((readings[0] >= 2) == row.reads[0] for row, readings in states)


@pytest.mark.parametrize("name", ["three", "six", "eight"])
def test_the_model_admits_the_builds(name: str) -> None:
    layout = build(name)
    spec = spec_for(layout)
    assert is_admitted(layout, spec, windows(spec, (8,)))
    _, (reading,) = spec_of_layout(layout)
    assert reading.scheme == SCHEME


def without(layout: Layout, *cells: tuple[int, int, int]) -> Layout:
    return replace(layout, parts=tuple(part for part in layout.parts if part.at not in cells))


@pytest.mark.parametrize(
    ("gone", "cells"),
    [
        ("the gauge on G", ((2, 2, 2),)),
        ("the gauge on T2", ((5, 2, 2),)),
        ("the inverter that locks G", ((3, 4, 1),)),
        ("the last line before the support below G", ((1, 1, 1),)),
        ("the second line of the run from G, on which the gauge of T0 stands too", ((3, 3, 2), (3, 2, 2))),
    ],
)
def test_what_the_build_cannot_do_without(gone: str, cells: tuple[Cell, ...]) -> None:
    """The model admits it no more, and its locks are not read as a gated row's."""
    layout = build()
    spoilt = replace(layout, parts=tuple(part for part in layout.parts if part.at not in cells))
    assert len(spoilt.parts) == len(layout.parts) - len(cells)
    spec = spec_for(layout)
    assert not is_admitted(spoilt, spec, windows(spec, (8,)))
    _, (reading,) = spec_of_layout(spoilt)
    assert reading.scheme != SCHEME


# -- what is shown ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "handovers"), [("three", (8, 7)), ("six", (8, 7)), ("eight", (8,))])
def test_the_builds_pass_every_trial(name: str, handovers: tuple[int, ...]) -> None:
    """Loads and arrivals; in the second simulator: tests/outside/test_atlas_against_oracle.py."""
    layout = build(name)
    judge = Judge(spec_for(layout), handovers)
    assert judge.accepts(layout)
    measures = judge.as_it_is(layout).measures
    assert measures.handovers == handovers
    assert 0 < measures.held <= 22
    assert set(measures.spread.values()) == {0}


@pytest.mark.parametrize(("name", "handover"), [("three", 8), ("three", 7), ("six", 7), ("eight", 8)])
def test_every_pattern_of_arrivals_is_shown(name: str, handover: int) -> None:
    """However many items come: some hundred thousand states, all of them looked at."""
    (verdict,) = every_arrival(Subject(build(name), default_rules(), handover), Request(), mebibytes=1024)
    assert verdict.verdict == "proved"
    assert "however many items" in verdict.scope
    assert verdict.states is not None
    assert verdict.states > 100_000


def test_orders_are_tried_with_loads_of_which_something_comes_out() -> None:
    """Seven rounds of three wait in the gate: 24 items are the first load that is delivered."""
    subject = Subject(build(), default_rules(), 8)
    assert subject.rounds_waiting == 7
    assert load_counts(subject) == [24, 6]
    plain = Subject(load_layout(str(SPECS / "layouts" / "burst-row-of-three.plan")), default_rules(), 8)
    assert (plain.rounds_waiting, load_counts(plain)) == (0, [3, 6])


def test_a_spoilt_gated_row_is_improved_as_one_and_for_streams() -> None:
    """Without its relay it passes every load that is there at once, and is still no gated row that passes."""
    layout = build()
    spoilt = replace(layout, parts=tuple(part for part in layout.parts if part.at != (5, 3, 2)))
    meant = meant_by(spoilt, None)
    assert [scheme.name for scheme in meant.schemes] == ["gated row"]
    spec = meant.under(SCHEME)
    assert spec.even_for == "stream"
    assert not Judge(spec, (8,)).accepts(spoilt)
    assert Judge(meant_by(layout, None).under(SCHEME), (8,)).accepts(layout)


@pytest.mark.parametrize("outputs", range(3, 13))
def test_known_builds(outputs: int) -> None:
    """For three to twelve kilns one is known, none has anything to fill in, and each passes its trials again."""
    builds = atlas().builds("gated row", "top", outputs)
    assert builds
    for known in builds:
        assert not any(part.holds for part in known.layout.parts if isinstance(part, Node))
        assert Judge(spec_for(known.layout), known.handovers).accepts(known.layout)


def test_only_the_gate_holds_what_is_left() -> None:
    """Loads without reset: nothing is delivered until 23 have come, then round after round while G reads 2 or more."""
    trial, left = Trial(build()), []
    for load in (22, 1, 5, 40):
        result = trial.run([Arrival(0, "feed", load)], limit=20_000)
        assert result.at_rest
        held = {cell: trial.world.stores[cell].items for cell in trial.world.nodes if trial.world.stores[cell].items}
        assert set(held) == {(2, 1, 2)}
        left.append((result.streams[0].delivered, held[2, 1, 2]))
    assert left == [((0, 0, 0), 22), ((1, 1, 1), 20), ((2, 2, 2), 22), ((16, 16, 16), 20)]
