"""The eight facts that every build of this world obeys (rulebook section 5), each on its hand-made layout.

Source of all of them: common practice, no source. Ticks are worked out by hand from the laws of sections 3 and 4.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sim.analysis.checks import design_findings
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Node
from sim.world.trial import StreamResult, Trial, TrialResult, arrivals_for, run_trial
from sim.world.world import World

LAYOUTS = Path(__file__).resolve().parent.parent / "specs" / "layouts"
EVEN_ROWS = {2: "burst-row-of-two", 3: "burst-row-of-three", 5: "burst-row-of-five"}
EXPECTED_CHECKS = {
    "row-of-three-locked": ["always locked"] * 3,
    "touching-runs": ["touching runs"],
    "run-beyond-reach": ["dead line"],
}


def layout(name: str, handover: int = 8) -> Layout:
    read = load_layout(LAYOUTS / f"{name}.plan")
    return replace(read, rules={**read.rules, "handover": handover})


def run(name: str, handover: int = 8, **loads: int) -> TrialResult:
    read = layout(name, handover)
    result = run_trial(read, arrivals_for(read, loads), limit=10_000)
    assert result.at_rest
    assert result.findings == ()
    return result


def items_in(result: TrialResult, cell: Cell) -> dict[str, int]:
    """Items in a container, by kind."""
    held: dict[str, int] = {}
    for slot in result.contents[cell]:
        if slot is not None:
            held[slot[0]] = held.get(slot[0], 0) + slot[1]
    return held


def nodes_with_items(result: TrialResult, read: Layout) -> dict[Cell, dict[str, int]]:
    found = {part.at: items_in(result, part.at) for part in read.parts if isinstance(part, Node)}
    return {cell: held for cell, held in found.items() if held}


def feed_of(result: TrialResult) -> StreamResult:
    (stream,) = result.streams
    return stream


@pytest.mark.parametrize("path", sorted(LAYOUTS.iterdir()), ids=lambda path: path.stem)
def test_design_checks_say_what_is_wrong_with_each_layout_and_no_more(path: Path) -> None:
    assert [finding.check for finding in design_findings(load_layout(path))] == EXPECTED_CHECKS.get(path.stem, [])


def test_1_a_single_item_ends_in_the_first_target_of_an_unlocked_row() -> None:
    result = run("row-of-three-unlocked", feed=1)
    # T0 pulls at 1 and pushes at 9; B1, whose turn comes before T0's, pulls at 10 and pushes at 18.
    assert feed_of(result) == StreamResult("feed", (1, 0, 0), 1, 0, 0, 18, 18, 1, 18, given=1)
    assert result.tick == 18


def test_2_with_the_b_nodes_locked_it_ends_in_the_last_t() -> None:
    result = run("row-of-three-locked", feed=1)
    assert feed_of(result).delivered == (0, 0, 0)
    assert result.tick == 25  # T0 pulls at 1, pushes at 9, T1 at 17, T2 at 25
    assert nodes_with_items(result, layout("row-of-three-locked")) == {(3, 1, 2): {"clay": 1}}
    assert result.locked == ((1, 1, 1), (2, 1, 1), (3, 1, 1))


ONE_IN_EACH_B = {(1, 1, 1): {"clay": 1}, (2, 1, 1): {"clay": 1}, (3, 1, 1): {"clay": 1}}


@pytest.mark.parametrize("handover", [8, 7])
def test_3_without_a_drain_the_first_items_stay_in_the_b_nodes(handover: int) -> None:
    read = layout("row-of-three-no-drain", handover)
    trial = Trial(read)
    first = trial.run(arrivals_for(read, {"feed": 3}), limit=1000)
    assert feed_of(first).delivered == (0, 0, 0)
    assert nodes_with_items(first, read) == ONE_IN_EACH_B
    second = trial.run(arrivals_for(read, {"feed": 3}), limit=1000)
    assert feed_of(second).delivered == (1, 1, 1)
    assert nodes_with_items(second, read) == ONE_IN_EACH_B


def test_3_ticks() -> None:
    # T3 gets item 1 at 25: gauge 27, inverter out 29, all B nodes pull at 29; gauge 31, inverter lit 33.
    assert run("row-of-three-no-drain", feed=3).tick == 33
    # Items come every 8 ticks, so T3 gets the next one of each round 24 ticks later.
    result = run("row-of-three-no-drain", feed=6)
    assert feed_of(result) == StreamResult("feed", (1, 1, 1), 0, 0, 3, 53, 53, given=6)
    assert result.tick == 57


@pytest.mark.parametrize(
    ("targets", "handover", "load", "first", "last"),
    [
        # T0 pulls at 1 and pushes at 9, 17, ..; with handover 8 an item reaches TN at 1 + 8N, with handover 7 at
        # 9 + 7(N-1); 4 ticks later (5 targets: 6) the B nodes pull, and they push at the next unlocking, 8N later, or
        # in the drain 8 later.
        (2, 8, 2, 29, 29),
        (2, 8, 36, 37, 301),
        (2, 7, 36, 36, 300),
        (3, 8, 3, 37, 37),
        (3, 8, 54, 53, 445),
        (3, 7, 3, 35, 35),
        (3, 7, 54, 51, 443),
        (5, 8, 5, 55, 55),
        (5, 8, 90, 87, 735),
        (5, 7, 90, 83, 731),
    ],
)
def test_4_with_a_drain_every_load_of_whole_rounds_is_split_evenly_and_every_node_ends_empty(
    targets: int, handover: int, load: int, first: int, last: int
) -> None:
    result = run(EVEN_ROWS[targets], handover, feed=load)
    assert feed_of(result) == StreamResult("feed", (load // targets,) * targets, 0, 0, 0, first, last, given=load)
    assert nodes_with_items(result, layout(EVEN_ROWS[targets])) == {}
    assert result.locked == ()


def test_4_fifty_four_items_over_three_targets_give_eighteen_each() -> None:
    result = run("burst-row-of-three", feed=54)
    assert [items_in(result, (x, 1, 0)) for x in (1, 2, 3)] == [{"clay": 18}] * 3


@pytest.mark.parametrize("targets", EVEN_ROWS)
def test_4_no_t_is_ever_locked(targets: int) -> None:
    """What section 5 takes for granted of every row, at every tick of a run."""
    read = layout(EVEN_ROWS[targets])
    row = [(x, 1, 2) for x in range(targets + 1)]
    locked: set[Cell] = set()
    trial = Trial(read, watchers=[lambda world: locked.update(_locked(world))])
    trial.run(arrivals_for(read, {"feed": 4 * targets}), limit=1000)
    assert set(row) <= {part.at for part in read.parts if isinstance(part, Node)}
    assert locked == {(x, 1, 1) for x in range(1, targets + 1)}


def _locked(world: World) -> list[Cell]:
    return [cell for cell, node in world.nodes.items() if world.is_locked(node)]


@pytest.mark.parametrize("handover", [8, 7])
def test_5_transit_time_grows_with_the_number_of_nodes_on_the_way(handover: int) -> None:
    firsts, lasts = [], []
    for targets, name in EVEN_ROWS.items():
        stream = feed_of(run(name, handover, feed=targets))
        firsts.append(stream.first_arrival)
        lasts.append(stream.last_arrival)
    assert firsts == {8: [29, 37, 55], 7: [28, 35, 51]}[handover]
    assert lasts == firsts


def test_6_runs_that_touch_become_one_run() -> None:
    """The clay arrives at 9 and its gauge locks both nodes at 13; the first charcoal would have arrived at 17."""
    clay, fuel = run("touching-runs", clay=5, fuel=5).streams
    assert (clay.delivered, clay.first_arrival) == ((1,), 9)
    assert (fuel.delivered, fuel.held) == ((0,), 5)


def test_6_runs_with_a_gap_between_them_stay_two() -> None:
    clay, fuel = run("runs-apart", clay=5, fuel=5).streams
    assert (clay.delivered, clay.last_arrival) == ((1,), 9)
    assert (fuel.delivered, fuel.last_arrival) == ((1,), 17)


def test_6_a_run_longer_than_its_reach_goes_dead() -> None:
    result = run("run-beyond-reach", feed=18)
    assert [result.signals[x, 0, 0] for x in range(3, 20)] == [*range(15, 0, -1), 0, 0]
    assert feed_of(result).delivered == (18,)
    assert result.locked == ()


def test_6_a_relay_carries_it_on() -> None:
    result = run("run-with-relay", feed=18)
    assert [result.signals[x, 0, 0] for x in range(3, 20)] == [*range(15, 7, -1), 1, *range(15, 7, -1)]
    assert feed_of(result).delivered == (0,)
    assert result.locked == ((21, 0, 0),)


@pytest.mark.parametrize("handover", [8, 7])
@pytest.mark.parametrize("rounds", [1, 2, 18])
def test_7_one_relay_at_its_lowest_delay_may_be_added_between_t0_and_the_lock(handover: int, rounds: int) -> None:
    name = "burst-row-of-three-one-relay-more"
    result = run(name, handover, feed=3 * rounds)
    assert feed_of(result).delivered == (rounds,) * 3
    assert nodes_with_items(result, layout(name)) == {}


def test_7_the_relay_is_really_on_that_way() -> None:
    """The B nodes are locked 8 ticks after T0 first gets an item (at 1), with the relay; 6 without it."""
    locked_at = {}
    for name in ("burst-row-of-three", "burst-row-of-three-one-relay-more"):
        read = layout(name)
        locked_ticks: list[int] = []
        trial = Trial(read, watchers=[lambda w, ticks=locked_ticks: ticks.append(w.tick) if _locked(w) else None])
        trial.run(arrivals_for(read, {"feed": 3}), limit=1000)
        locked_at[name] = locked_ticks[0]
    assert locked_at == {"burst-row-of-three": 7, "burst-row-of-three-one-relay-more": 9}


def test_8_only_finished_products_leave_a_furnace_at_the_bottom() -> None:
    result = run("kiln-gives-products-only", clay=10, fuel=2)
    assert items_in(result, (0, 0, 0)) == {"brick": 10}
    # Clay and charcoal arrive at 9, the furnace lights at 10 and fires every 200 ticks: the tenth brick at 2009; the
    # node below, whose turn comes before the furnace's, pulls at 2010 and pushes at 2018.
    assert result.tick == 2018


def test_8_fuel_and_unfinished_items_stay_put() -> None:
    result = run("kiln-gives-products-only", clay=10, fuel=1)
    assert items_in(result, (0, 0, 0)) == {"brick": 8}
    assert result.contents[0, 0, 2] == (("clay", 2), None, None)
    cold = run("kiln-gives-products-only", clay=0, fuel=3)
    assert items_in(cold, (0, 0, 0)) == {}
    assert cold.contents[0, 0, 2] == (None, ("charcoal", 3), None)
