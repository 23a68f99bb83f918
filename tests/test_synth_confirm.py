"""Confirmation, measures, ranking and stripping, on layouts built by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from commands import LAYOUTS
from sim.analysis.checks.standing import no_support
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Line, Support
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from synth.ask.spec import PartLimit, Spec
from synth.confirm.built import box_of
from synth.confirm.confirmation import confirm, handovers_to_try, works_at_all
from synth.confirm.loads import LOADS, load_text
from synth.confirm.measures import Measures, measured, rank_key
from synth.confirm.stripping import stripped
from synth.read.spec_file import load_spec

RULES = default_rules()


def layout_called(name: str) -> Layout:
    return load_layout(LAYOUTS / f"{name}.plan")


def spec_for(**changes: object) -> Spec:
    return replace(load_spec(LAYOUTS.parent / "three-kilns.toml"), **changes)  # type: ignore[arg-type]


# -- confirmation -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["burst-row-of-two", "burst-row-of-three", "burst-row-of-three-one-relay-more"])
def test_a_good_row_is_confirmed(name: str) -> None:
    confirmation = confirm(layout_called(name), RULES, needed=(8,))
    assert 8 in confirmation.handovers
    under = confirmation.under(8)
    assert [record.load for record in under] == list(LOADS)
    assert all(r.passed for r in under)
    assert confirmation.first_failure(8) is None
    for record in under:
        (stream,) = record.result.streams
        assert set(stream.delivered) == {record.per_target * record.times}
        assert stream.held == 0


@pytest.mark.parametrize("name", ["row-of-three-no-drain", "row-of-three-unlocked", "row-of-three-locked"])
def test_a_bad_row_is_refused(name: str) -> None:
    layout = layout_called(name)
    confirmation = confirm(layout, RULES, needed=(8, 7))
    assert confirmation.handovers == ()
    failure = confirmation.first_failure(8)
    assert failure is not None
    assert not failure.passed
    assert confirmation.records[-1] == failure, "the first failure under a needed handover decides"
    assert not works_at_all(layout, RULES, (8,))


def test_every_trial_counts() -> None:
    """Items left in the nodes are a refusal even where all targets are served alike (rulebook, facts of practice 3)."""
    no_drain = layout_called("row-of-three-no-drain")
    result = run_trial(no_drain, [Arrival(0, "feed", 6)])
    assert result.streams[0].delivered == (1, 1, 1)
    assert result.streams[0].held == 3
    assert confirm(no_drain, RULES, needed=(8,)).handovers == ()


def test_both_handovers_are_tried_and_told_apart() -> None:
    """The handover in force first; one that is needed ends the trials when it fails, another does not."""
    assert handovers_to_try(RULES) == (8, 7)
    assert handovers_to_try(RULES.with_overrides({"handover": 7})) == (7, 8)
    assert handovers_to_try(RULES.with_overrides({"handover": 5})) == (5, 8, 7)
    five = layout_called("burst-row-of-five")
    confirmation = confirm(five, RULES, needed=(8,))
    expected = tuple(h for h in (8, 7) if all(split_evenly(five, h, each, times) for each, times in LOADS))
    assert 8 in expected
    assert confirmation.handovers == expected


def split_evenly(layout: Layout, handover: int, each: int, times: int) -> bool:
    """The trial of one load, run here; without reset by loads far apart."""
    under = replace(layout, rules={**layout.rules, "handover": handover})
    n = len(layout.streams[0].outputs)
    arrivals = [Arrival(20_000 * turn, "feed", each * n) for turn in range(times)]
    result = run_trial(under, arrivals, limit=60_000)
    stream = result.streams[0]
    return set(stream.delivered) == {each * times} and stream.held == 0 and result.at_rest and not result.findings


# -- measures ---------------------------------------------------------------------------------------------------------


def test_measures_by_hand() -> None:
    """Counted from the plan: 6 wide, 4 deep, 4 high; and arrivals as a run of its own tells them."""
    layout = layout_called("burst-row-of-three")
    prices = {"gauge": PartLimit(None, 4), "support": PartLimit(None, 0), "inverter": PartLimit(None, 2)}
    spec = spec_for(limits=prices)
    m = measured(layout, confirm(layout, RULES, needed=(8,)), spec)
    assert (m.box, m.volume, m.footprint, m.height) == ((6, 4, 4), 96, 24, 4)
    # plan, layer by layer: 3 F; T0..T3 and B1..B3; one bin; gN and gE; iW and iN; "#" and "-" counted
    assert m.by_kind == {"bin": 1, "furnace": 3, "gauge": 2, "inverter": 2, "line": 10, "node": 7, "support": 14}
    assert m.parts == 39
    assert m.price == 1 + 3 + 2 * 4 + 2 * 2 + 10 + 7
    short = run_trial(layout, [Arrival(0, "feed", 3)]).streams[0]
    assert (m.first_arrival, m.latency) == (short.first_arrival, short.last_arrival)
    long = run_trial(layout, [Arrival(0, "feed", 54)]).streams[0]
    assert m.throughput == pytest.approx(54 * 20 * 3600 / (long.last_arrival or 0))
    assert m.spread == {"N": 0, "2N": 0, "18N": 0, "N twice": 0, "18N twice": 0}
    assert 8 in m.handovers


def test_the_box_is_around_the_parts() -> None:
    layout = Layout("", (9, 9, 9), parts=(Support((2, 3, 0)), Support((4, 3, 1))))
    assert box_of(layout) == (3, 1, 2)
    assert [load_text(*load) for load in LOADS] == ["N", "2N", "18N", "N twice", "18N twice"]


def figures(**changes: object) -> Measures:
    usual = Measures(
        box=(4, 3, 4), volume=48, footprint=12, height=4, parts=30, by_kind={}, price=30, first_arrival=30, latency=39,
        throughput=8000.0, spread={}, handovers=(8,), loads=LOADS,
    )  # fmt: skip
    return replace(usual, **changes)  # type: ignore[arg-type]


def test_ranking_follows_the_order_of_the_spec() -> None:
    small, few = figures(volume=40, parts=35), figures(volume=48, parts=20)
    assert rank_key(small, ("volume", "parts")) < rank_key(few, ("volume", "parts"))
    assert rank_key(few, ("parts", "volume")) < rank_key(small, ("parts", "volume"))
    quick = figures(latency=31)
    assert rank_key(quick, ("volume", "latency")) < rank_key(figures(), ("volume", "latency"))
    much = figures(throughput=9000.0)
    assert rank_key(much, ("throughput",)) < rank_key(figures(), ("throughput",)), "more items an hour are better"
    assert rank_key(figures(height=3), ("height",)) < rank_key(figures(), ("height",))
    assert rank_key(figures(price=7), ("price", "volume")) == (7, 48)


# -- stripping --------------------------------------------------------------------------------------------------------


def test_stripping_takes_out_what_is_needless() -> None:
    """Whatever it leaves works, stands, and has nothing more to take out; the item network stays whole."""
    clean = layout_called("burst-row-of-two")
    taken = {part.at for part in clean.parts}
    free = [c for c in ((x, y, z) for z in (0, 3) for x in range(5) for y in range(4)) if c not in taken]
    corner = next(c for c in free if c[2] == 0 and (c[0], c[1], 1) not in taken)
    extra = (Support(corner), Line((corner[0], corner[1], 1)))
    cluttered = replace(clean, parts=(*clean.parts, *extra))
    assert not list(no_support(cluttered, RULES))
    assert 8 in confirm(cluttered, RULES, needed=(8,)).handovers, "the clutter does no harm"

    def quickly(one: Layout) -> bool:
        return works_at_all(one, RULES, (8,))

    def fully(one: Layout) -> bool:
        return 8 in confirm(one, RULES, needed=(8,)).handovers

    bare = stripped(cluttered, RULES, quickly, fully)
    assert not set(extra) & set(bare.parts)
    assert set(bare.parts) <= set(cluttered.parts)
    assert fully(bare)
    assert not list(no_support(bare, RULES))
    counts = Counter(part.kind for part in bare.parts)
    assert (counts["bin"], counts["node"], counts["furnace"], counts["gauge"]) == (1, 5, 2, 2)
    for part in bare.parts:
        if part.kind in ("line", "inverter", "relay", "gauge", "support"):
            less = replace(bare, parts=tuple(other for other in bare.parts if other != part))
            assert list(no_support(less, RULES)) or not fully(less), f"{part} is needless"


def test_what_the_quick_screen_lets_pass_is_checked_in_full() -> None:
    """A screen that accepts everything: then the full check decides each removal."""
    clean = layout_called("burst-row-of-two")
    asked: list[int] = []

    def fully(one: Layout) -> bool:
        asked.append(len(one.parts))
        return works_at_all(one, RULES, (8,))

    bare = stripped(clean, RULES, lambda _: True, fully)
    assert works_at_all(bare, RULES, (8,))
    assert min(asked) < len(bare.parts), "what the screen left was refused"
