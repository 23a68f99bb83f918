"""Which loads fit: for small stacks and small bins, held against what the simulator takes and delivers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from commands import LAYOUTS
from faults import fault_of
from sim.errors import InputError
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Furnace, Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from synth.ask.spec import Spec
from synth.confirm.confirmation import confirm, terms_of, works_at_all
from synth.confirm.loads import LOADS, Load, Room, gaps_tried, loads_text, loads_tried, room_in, room_of
from synth.confirm.measures import loads_of, measured, single_loads
from synth.confirm.proposal import Proposal
from synth.confirm.trials import Terms
from synth.read.spec_file import load_spec, spec_from_toml
from synth.schemes.registry import scheme_named
from synth.search.race import propose
from synth.search.request import Request

RULES = default_rules()
SPECS = LAYOUTS.parent
STACKS = (1, 2, 3, 5, 16, 64)
PLAIN_SPLIT = '[split]\noutputs = 3\n[site]\nsize = [4, 3, 4]\n[streams.feed]\nitem = "clay"\n'
PLAN = "splitwright-plan/1\nitem clay\nstream feed clay from 0,0,3 to 0,0,0 0,1,0\n"
UNDRAINED = PLAN + """
layer 0
F    r1W  -
F    -    -
layer 1
nD   #    #
nD   .    iN
layer 2
nN   gE   -
nN   .    .
layer 3
.    .    .
B    .    .
"""
MUSTER = PLAN + """
layer 0
F   #   -   iS
F   iN  #   #
layer 1
nD  gE  #   .
nD  #   gE  -
layer 2
nN  .   .   .
nN  .   .   .
layer 3
.   .   .   .
B   .   .   .
"""
BRIMMED = PLAN + """holds 0,1,2 clay 64 64 64 64 63
holds 0,0,2 clay 64 64 64 64 63
layer 0
F    r1W  -    iS
F    r1W  -    #
layer 1
nD   .    #    .
nD   .    #    -
layer 2
nN   .    -    .
nN   #    gE   #
layer 3
.    .    iS   .
B    .    #    .
"""
GOOD: Mapping[str, tuple[str, Layout]] = {
    "burst row of two": ("burst row", load_layout(LAYOUTS / "burst-row-of-two.plan")),
    "burst row of three": ("burst row", load_layout(LAYOUTS / "burst-row-of-three.plan")),
    "smallest for three": ("burst row", load_layout(SPECS / "results" / "three-kilns-smallest.plan")),
    "undrained row of two": ("undrained row", layout_from_plan(UNDRAINED)),
    "undrained row of three": ("undrained row", load_layout(LAYOUTS / "row-of-three-no-drain.plan")),
    "muster row of two": ("muster row", layout_from_plan(MUSTER)),
    "brimmed row of two": ("brimmed row", layout_from_plan(BRIMMED)),
}
"""Layouts that split evenly with a stack of 64, and their schemes."""


def stacked(layout: Layout, scheme: str, stack: int) -> Layout:
    """The same with another stack limit of its item; nodes that start with something start as the scheme says."""
    start = scheme_named(scheme).start("clay", stack, RULES)
    parts = (replace(one, holds=start) if isinstance(one, Node) and one.holds else one for one in layout.parts)
    return replace(layout, items={"clay": replace(layout.items["clay"], stack=stack)}, parts=tuple(parts))


def spec_of(scheme: str, stack: int | None = None, outputs: int = 3, more: str = "") -> Spec:
    said = scheme_named(scheme)
    limit = "" if stack is None else f"[items.clay]\nstack = {stack}\n"
    return spec_from_toml(
        f'[split]\noutputs = {outputs}\nscheme = "{scheme}"\neven_for = "{said.even_for[-1]}"\n'
        f'leftovers = "{said.leaves}"\n[site]\nsize = [9, 9, 9]\n[streams.feed]\nitem = "clay"\n{limit}{more}'
    )


# -- which loads ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scheme", "stack", "loads"),
    [
        ("burst row", None, LOADS),
        ("burst row", 64, LOADS),
        ("burst row", 36, LOADS),
        ("burst row", 35, ((1, 1), (2, 1), (18, 1), (1, 2), (17, 2))),
        ("burst row", 16, ((1, 1), (2, 1), (16, 1), (1, 2), (8, 2))),
        ("burst row", 3, ((1, 1), (2, 1), (3, 1), (1, 2))),
        ("burst row", 2, ((1, 1), (2, 1), (1, 2))),
        ("burst row", 1, ((1, 1),)),
        ("undrained row", 16, ((1, 1), (2, 1), (17, 1), (1, 2), (8, 2))),
        ("undrained row", 1, ((1, 1), (2, 1), (1, 2))),
        ("brimmed row", None, LOADS),
        ("brimmed row", 1, ((1, 1), (2, 1), (1, 2))),
    ],
)
def test_the_loads_by_hand(scheme: str, stack: int | None, loads: tuple[Load, ...]) -> None:
    """What nodes keep of a load, one item a target, needs no room in a furnace
    (else, with a stack of 1, nothing would ever be delivered)."""
    assert room_of(spec_of(scheme, stack)).loads() == loads


def test_a_source_may_be_the_narrower_one() -> None:
    """One slot of 16 for three targets: 5 each."""
    assert room_of(spec_of("burst row", 16, more="[rules]\nbin_slots = 1\n")) == Room(5, 16)
    assert Room(5, 16).loads() == ((1, 1), (2, 1), (5, 1), (1, 2), (5, 2))
    assert (Room(5, 16).trickled, Room(3, 16).trickled, Room(5, 1).trickled) == (4, 3, 1)


def test_the_narrowest_of_several_streams_counts() -> None:
    fuelled = load_spec(SPECS / "two-kilns-fuelled.toml")
    items = {**fuelled.items, "charcoal": replace(fuelled.items["charcoal"], stack=5)}
    assert room_of(replace(fuelled, items=items)) == Room(27 * 5 // 2, 5)


@pytest.mark.parametrize("room", [Room(0, 64), Room(64, 0)])
def test_no_room_at_all_is_told(room: Room) -> None:
    with pytest.raises(InputError, match="has no room"):
        room.loads()


@pytest.mark.parametrize("stack", STACKS)
@pytest.mark.parametrize("name", GOOD)
def test_a_layout_has_the_room_that_its_spec_says(name: str, stack: int) -> None:
    scheme, layout = GOOD[name]
    spec = spec_of(scheme, stack, len(layout.streams[0].outputs))
    assert room_in(stacked(layout, scheme, stack), RULES, {"feed": terms_of(spec).held_most}) == room_of(spec)


def test_what_is_there_at_the_start_takes_room() -> None:
    layout = GOOD["burst row of two"][1]
    holds = {"bin": (("clay", 60), ("brick", 1)), "furnace": (("clay", 50), None, ("brick", 9))}
    parts = tuple(replace(one, holds=holds.get(one.kind, ())) if one.kind in holds else one for one in layout.parts)
    started = replace(layout, parts=parts)
    assert room_in(started, RULES, {"feed": 0}) == Room((4 + 25 * 64) // 2, 14)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (
            "[rules]\nbin_slots = 1\nstack = 2\n",
            "split.outputs: is more than a source has room for: a load has one item for each furnace at least",
        ),
        (
            '[streams.fuel]\nitem = "clay"\nenters = "side"\n[items.clay]\nburn = 200\n',
            'streams.fuel.item: is "clay", as is that of streams.feed; what each one delivers could not be told',
        ),
    ],
)
def test_specs_of_which_no_trial_could_tell(more: str, told: str) -> None:
    assert fault_of(lambda: spec_of("burst row", more=more)) == told


def test_a_flow_is_asked_for_where_two_loads_fit() -> None:
    asked = PLAIN_SPLIT.replace("outputs", "throughput = 8000\noutputs")
    assert spec_from_toml(asked + "[rules]\nstack = 2\n").demands.throughput == 8000
    told = "split.throughput: is told by loads of N and 2N items, and there is room for N only"
    for rules in ("stack = 1", "stack = 4\nbin_slots = 1"):
        assert fault_of(lambda said=rules: spec_from_toml(f"{asked}[rules]\n{said}\n")) == told


# -- against the simulator --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stack", STACKS)
@pytest.mark.parametrize("name", GOOD)
def test_good_layouts_are_confirmed_whatever_the_stack(name: str, stack: int) -> None:
    """Every load goes in, and all of it comes out but what the scheme keeps."""
    scheme, good = GOOD[name]
    layout = stacked(good, scheme, stack)
    targets = len(layout.streams[0].outputs)
    terms = terms_of(spec_of(scheme, stack, targets))
    confirmation = confirm(layout, RULES, needed=(8,), terms=terms)
    assert 8 in confirmation.handovers, confirmation.first_failure(8)
    assert works_at_all(layout, RULES, (8,), terms)
    keeps = int(terms.held_most > 0)
    for record in confirmation.under(8):
        (stream,) = record.result.streams
        assert stream.delivered == (record.per_target * record.times - keeps,) * targets
    assert any(sum(record.result.streams[0].delivered) for record in confirmation.under(8)), "something was shown"


@pytest.mark.parametrize("stack", [2, 3, 5, 16])
@pytest.mark.parametrize("name", ["burst row of two", "muster row of two", "undrained row of three"])
def test_none_larger_would_fit(name: str, stack: int) -> None:
    """One more a target, and not all of it is delivered though the split is even."""
    scheme, good = GOOD[name]
    layout = stacked(good, scheme, stack)
    targets = len(layout.streams[0].outputs)
    held = terms_of(spec_of(scheme, stack, targets)).held_most
    largest = max(each for each, times in room_in(layout, RULES, {"feed": held}).loads() if times == 1)
    for each, kept in ((largest, held), (largest + 1, held + targets)):
        (stream,) = run_trial(layout, [Arrival(0, "feed", each * targets)]).streams
        assert (stream.spread, stream.held) == (0, kept)


def test_a_bad_layout_is_refused_whatever_the_stack() -> None:
    for name in ("row-of-three-unlocked", "row-of-three-locked"):
        for stack in STACKS:
            layout = stacked(load_layout(LAYOUTS / f"{name}.plan"), "burst row", stack)
            for held in (0, 3):
                assert confirm(layout, RULES, needed=(8,), terms=Terms(held)).handovers == ()


def test_small_bins_take_what_they_are_given() -> None:
    row = replace(GOOD["burst row of three"][1], rules={"bin_slots": 1, "stack": 16})
    tight = replace(row, items={"clay": replace(row.items["clay"], stack=None)})
    confirmation = confirm(tight, RULES, needed=(8,))
    assert 8 in confirmation.handovers
    assert loads_of(confirmation.under(8)) == Room(5, 16).loads()
    roomless = replace(tight, rules={"bin_slots": 1, "stack": 2})
    assert fault_of(lambda: confirm(roomless, RULES, needed=(8,))) == (
        "streams: a source has no room for one item for each output"
    )


def test_a_furnace_that_starts_with_something_gets_what_it_has_room_for() -> None:
    layout = GOOD["burst row of three"][1]
    parts = (replace(one, holds=(("clay", 60),)) if isinstance(one, Furnace) else one for one in layout.parts)
    confirmation = confirm(replace(layout, parts=tuple(parts)), RULES, needed=(8,))
    assert 8 in confirmation.handovers
    assert loads_of(confirmation.under(8)) == ((1, 1), (2, 1), (4, 1), (1, 2), (2, 2))


@pytest.mark.slow
@pytest.mark.parametrize("stack", [16, 1])
def test_a_small_stack_rules_nothing_out(stack: int) -> None:
    """The smallest muster row for two has 18 parts in 4 x 2 x 4 with a stack of 64 (tests/test_synth_turns.py)."""
    spec = replace(spec_of("muster row", stack, 2), size=(4, 2, 4))
    (best,) = propose(spec, Request(1, 240.0, 2)).proposals
    assert (best.measures.volume, best.measures.parts) == (32, 18)
    assert best.measures.handovers == (8, 7)
    assert best.measures.loads == room_of(spec).loads()


# -- measures ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stack", STACKS)
@pytest.mark.parametrize("name", ["burst row of three", "undrained row of three"])
def test_measures_of_the_loads_that_fit(name: str, stack: int) -> None:
    """Throughput and steady flow from runs of their own, for the two largest loads."""
    scheme, good = GOOD[name]
    layout, spec = stacked(good, scheme, stack), spec_of(scheme, stack)
    confirmation = confirm(layout, RULES, needed=(8,), terms=terms_of(spec))
    m = measured(layout, confirmation, spec)
    assert m.loads == room_of(spec).loads()
    sizes = [record.per_target for record in single_loads(confirmation.under(8))]
    assert sizes == sorted({each for each, times in m.loads if times == 1})
    came = {}
    for each in sizes:
        (stream,) = run_trial(layout, [Arrival(0, "feed", 3 * each)]).streams
        came[each] = sum(stream.delivered), stream.last_arrival or 0
    hour = 20 * 3600
    items, ticks = came[sizes[-1]]
    assert m.throughput == pytest.approx(items * hour / ticks)
    if len(sizes) == 1:
        assert m.steady is None
        assert Proposal(layout, m).as_json()["steady"] is None
    else:
        less, sooner = came[sizes[-2]]
        assert m.steady == pytest.approx((items - less) * hour / (ticks - sooner))
        assert m.steady == pytest.approx(9000) or not less, "an item each period: nothing fills up, nothing runs dry"
    first = run_trial(layout, [Arrival(0, "feed", 3)]).streams[0]
    if first.last_arrival is not None:
        assert (m.first_arrival, m.latency) == (first.first_arrival, first.last_arrival)
    else:
        second = run_trial(layout, [Arrival(0, "feed", 3), Arrival(1000, "feed", 3)]).streams[0]
        assert m.latency == (second.last_arrival or 0) - 1000


def test_the_latency_of_what_keeps_a_first_load_is_that_of_the_second() -> None:
    scheme, layout = GOOD["undrained row of three"]
    confirmation = confirm(layout, RULES, needed=(8,), terms=Terms(3))
    twice = next(record for record in confirmation.under(8) if record.load == (1, 2))
    assert twice.began > 0
    m = measured(layout, confirmation, spec_of(scheme))
    assert m.latency == (twice.result.streams[0].last_arrival or 0) - twice.began > 0


# -- words ------------------------------------------------------------------------------------------------------------


def test_what_was_tried_in_words() -> None:
    assert loads_text(LOADS) == "N, 2N and 18N items at once, N and 18N twice without reset"
    assert loads_text([(1, 1)]) == "N items at once"
    said = "tried with loads of N, 2N and 16N items at once, N and 8N twice without reset"
    assert loads_tried(spec_of("burst row", 16)) == said
    assert loads_tried(spec_of("burst row", 2)) == "tried with loads of N and 2N items at once, N twice without reset"
    gaps = "items one by one, 1 to 40 ticks apart and with 12 draws of gaps"
    assert gaps_tried(spec_of("muster row")) == f"tried with 4N {gaps}"
    assert gaps_tried(spec_of("muster row", 1)) == f"tried with N {gaps}"


@pytest.mark.parametrize("stack", STACKS)
@pytest.mark.parametrize("name", ["muster row of two", "brimmed row of two"])
def test_the_words_are_those_of_the_trials(name: str, stack: int) -> None:
    scheme, good = GOOD[name]
    spec = spec_of(scheme, stack, 2)
    records = confirm(stacked(good, scheme, stack), RULES, needed=(8,), terms=terms_of(spec)).under(8)
    assert loads_tried(spec) == f"tried with loads of {loads_text(loads_of(records))}"
    trickled = [record for record in records if record.pattern]
    assert {f"tried with {record.what.split(' (')[0]}" for record in trickled} == {gaps_tried(spec).split(",")[0]}
    assert len(trickled) == 40 + 12
