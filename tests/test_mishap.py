"""Where a split went wrong (``sim.analysis.mishap``): tables worked out by hand, and every claim checked against other
sources.

The checks of random builds take nothing from ``sim.analysis.mishap`` but its claims: counts come from the moves of the
recording, locks and contents from shorter trials (``sim.world.trial``), and a cause is put to the test by running the
trial again with the gauge held as it was: then the lock must not change.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commands import LAYOUTS
from halls import locked_hall
from sim.analysis.mishap import Mishap, mishaps
from sim.analysis.mishap.causes import Causes, Reading
from sim.analysis.mishap.lanes import gates_of
from sim.analysis.mishap.stuck import NAMED, what_is_held
from sim.analysis.mishap.turns import OutOfTurn, out_of_turn
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, Direction, step
from sim.world.layout import Layout
from sim.world.parts import Furnace, Gauge, Node, Relay, Support
from sim.world.recording import Move, Recording, record
from sim.world.statement import ItemWord, Mention, Statement
from sim.world.trial import CYCLE_SEARCH_FROM, Arrival, Trial, arrivals_for
from sim.world.world import World
from splitwright.words import english
from splitwright.words.labels import fields_of
from worlds import drawn, random_run

BUILDS = 400
LIMIT = 2 * CYCLE_SEARCH_FROM + 1_000
"""Ticks: time enough to find the short cycles of builds that never rest."""
PATTERNS: tuple[tuple[int, int | None], ...] = ((1, None), (4, None), (5, None), (9, 10), (9, 17), (7, 20), (9, 30))
"""Items of each stream, and the ticks between them (None: at once)."""


def plan(name: str) -> Layout:
    return load_layout(LAYOUTS / f"{name}.plan")


def told(recording: Recording, stream: str = "feed") -> Mishap:
    """The one mishap of a stream."""
    (found,) = (mishap for mishap in mishaps(recording) if mishap.stream == stream)
    return found


def keys(mishap: Mishap) -> list[str]:
    return [statement.key.removeprefix("mishap.") for statement in mishap.statements]


def values(mishap: Mishap, key: str) -> dict[str, object]:
    """What fills a statement, parts by their cells alone."""
    (found,) = (statement for statement in mishap.statements if statement.key == f"mishap.{key}")
    return {name: plain(value) for name, value in found.values.items()}


def plain(value: object) -> object:
    match value:
        case Mention(_, at):
            return at
        case tuple():
            return tuple(plain(one) for one in value)
        case ItemWord(kind):
            return kind
        case _:
            return value


# -- by hand -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """``of``: the name of a plan; what is put in; tick, place, source and rival of the taking out of turn."""

    of: str
    load: int
    every: int | None
    tick: int
    at: Cell
    source: Cell
    rival: Cell
    key: str
    had: int
    behind: int
    also: Mapping[str, Mapping[str, object]]


# A burst row (T0 at x = 0 to T3, B1 to B3 below). An item put in at tick p is taken by T0 in p + 1 and handed on in
# p + 9 (period 8), which leaves T0 empty. Gauge on T0: p + 11; inverter at 1,3,2 lit: p + 13; inverter at 5,0,2 out,
# all B nodes unlocked: p + 15. T1, pushed into in p + 9, cannot hand on before p + 17 (handover 8), so B1, which has
# nothing to wait for, pulls in p + 15, and nothing ever gets to B2 or B3.
GAP = {"gauge": (0, 2, 2), "container": (0, 1, 2)}
BY_HAND = [
    Case(
        "burst-row-of-three", 7, 20, 35, (1, 1, 1), (1, 1, 2), (2, 1, 1), "twice", 2, 0,
        {
            "open_since_empty": {"node": (1, 1, 1), "since": 35, **GAP},
            "gap": {"container": (0, 1, 2), "since": 29, "item": "clay", "next": 41},
            "rival_nothing": {"item": "clay", "rival": (2, 1, 1)},
        },
    ),
    # the second item starts at 30 in place of 20
    Case(
        "burst-row-of-three", 9, 30, 45, (1, 1, 1), (1, 1, 2), (2, 1, 1), "twice", 2, 0,
        {
            "open_since_empty": {"node": (1, 1, 1), "since": 45, **GAP},
            "gap": {"container": (0, 1, 2), "since": 39, "item": "clay", "next": 61},
        },
    ),
    # one every 10: the first one is lost to B1 in tick 15 as above, while T0 gets its next in tick 17; from then on T0
    # is never empty long enough, B1 to B3 take together: B1's one more is never made good
    Case(
        "burst-row-of-three", 6, 10, 15, (1, 1, 1), (1, 1, 2), (2, 1, 1), "alone", 1, 0,
        {
            "open_since_empty": {"node": (1, 1, 1), "since": 15, **GAP},
            "gap": {"container": (0, 1, 2), "since": 9, "item": "clay", "next": 17},
        },
    ),
    # one relay more on the way from that gauge to the lock: 2 ticks later
    Case(
        "burst-row-of-three-one-relay-more", 7, 20, 37, (1, 1, 1), (1, 1, 2), (2, 1, 1), "twice", 2, 0,
        {"open_since_empty": {"node": (1, 1, 1), "since": 37, **GAP}},
    ),
    # B1 pulls in the tick after T1 got the first (its turn came before T1's in tick 9), and again a period later
    Case(
        "row-of-three-unlocked", 54, None, 18, (1, 0, 1), (1, 0, 2), (2, 0, 1), "twice", 2, 0,
        {"never_lockable": {"node": (1, 0, 1)}, "rival_nothing": {"item": "clay", "rival": (2, 0, 1)}},
    ),
    # no drain: an item every 30 runs on to T3 by itself (p + 1, 9, 17, 25), whose gauge opens the lock: p + 27, 29
    Case(
        "row-of-three-no-drain", 9, 30, 59, (3, 1, 1), (3, 1, 2), (1, 1, 1), "twice", 2, 0,
        {"open_since_holding": {"node": (3, 1, 1), "since": 59, "gauge": (4, 1, 2), "container": (3, 1, 2)}},
    ),
]  # fmt: skip


@pytest.mark.parametrize("case", BY_HAND, ids=lambda case: f"{case.of}, {case.load} every {case.every}")
def test_uneven_by_hand(case: Case) -> None:
    mishap = told(record(plan(case.of), loads={"feed": case.load}, every=case.every))
    assert (mishap.kind, mishap.tick, mishap.at) == ("uneven", case.tick, case.at)
    assert values(mishap, case.key) == {
        "tick": case.tick,
        "node": case.at,
        "item": "clay",
        "source": case.source,
        "rival": case.rival,
        "had": case.had,
        "behind": case.behind,
    }
    for key, expected in case.also.items():
        assert values(mishap, key) == expected
    assert ("gap" in keys(mishap)) == ("gap" in case.also or "open_since_empty" in case.also)


def test_one_item_for_three_is_told_as_what_cannot_be_shared() -> None:
    mishap = told(record(plan("burst-row-of-three"), loads={"feed": 1}))
    assert values(mishap, "least_spread") == {"count": 1, "item": "clay", "outputs": 3}
    assert "gap" not in keys(mishap)  # no more was to come
    assert "least_spread" not in keys(told(record(plan("row-of-three-unlocked"), loads={"feed": 4})))


def test_a_row_that_stays_locked() -> None:
    """T0 hands on a period later each: 1, 9, 17, and T3 has it in tick 25; the inverter at 5,0,2 is always lit."""
    mishap = told(record(plan("row-of-three-locked"), loads={"feed": 1}))
    assert (mishap.kind, mishap.tick, mishap.at) == ("nothing", 25, (3, 1, 2))
    assert values(mishap, "holds") == {"container": (3, 1, 2), "count": 1, "item": "clay"}
    assert values(mishap, "row_end") == {"node": (3, 1, 2), "below": (3, 1, 1)}
    assert "leads_nowhere" not in keys(mishap), "the row ends there on purpose"
    assert values(mishap, "below_always_locked") == {"nodes": ((3, 1, 1),)}, "it would have to pull it out"
    assert "always_locked" not in keys(mishap)
    assert values(mishap, "locks") == {"parts": ((5, 0, 2),)}


def test_a_row_without_a_drain() -> None:
    """Even, with one left in each B: they pulled in tick 29, which emptied T3: gauge 31, inverter and lock 33."""
    mishap = told(record(plan("row-of-three-no-drain"), loads={"feed": 6}))
    assert (mishap.kind, mishap.at[2]) == ("left", 1)
    assert "holds" not in keys(mishap), "those that hold as many are told together"
    assert values(mishap, "hold_each") == {"containers": ((3, 1, 1), (2, 1, 1), (1, 1, 1)), "count": 1, "item": "clay"}
    locked = values(mishap, "stays_locked_empty")
    assert locked == {
        "nodes": ((3, 1, 1), (2, 1, 1), (1, 1, 1)),
        "since": 57,
        "gauge": (4, 1, 2),
        "container": (3, 1, 2),
    }


def test_signals_of_another_row_are_named() -> None:
    """The plan of two runs that touch: the gauge at the clay's bin locks the charcoal's node."""
    mishap = told(record(plan("touching-runs"), loads={"clay": 1, "fuel": 1}), "fuel")
    assert mishap.kind == "nothing"
    assert values(mishap, "stays_locked_holding")["gauge"] == (1, 0, 0)
    assert values(mishap, "stays_locked_holding")["container"] == (0, 0, 0)


@pytest.mark.parametrize("name", ["burst-row-of-two", "burst-row-of-three", "burst-row-of-five", "run-beyond-reach"])
def test_nothing_is_told_where_nothing_went_wrong(name: str) -> None:
    assert mishaps(record(plan(name))) == ()


def test_no_load_is_no_mishap() -> None:
    assert mishaps(record(plan("burst-row-of-three"), arrivals=[])) == ()


def test_a_kiln_that_two_streams_feed_has_a_way_of_its_own_for_each() -> None:
    """A hall's kilns get fuel from nodes beside them: the clay's ways are told by the nodes that carry clay alone. The
    row is a burst row: p + 15 with p = 30, as above."""
    layout = locked_hall(4)
    mishap = told(record(layout, loads={"feed-0": 9}, every=30), "feed-0")
    assert (mishap.kind, mishap.tick, mishap.at) == ("uneven", 45, (1, 3, 2))
    assert values(mishap, "twice")["rival"] == (2, 3, 2)


def test_a_longer_relay_in_the_way_of_the_cause() -> None:
    """A relay of delay 2 (4 ticks) in place of 1: unlocked in p + 19 for the first item, 19, and locked again for the
    second, which T0 takes in tick 21, no sooner than 31: T1 gets it in tick 29, and B1 pulls in tick 30."""
    layout = plan("burst-row-of-three-one-relay-more")
    parts = tuple(replace(part, delay=2) if isinstance(part, Relay) else part for part in layout.parts)
    mishap = told(record(replace(layout, parts=parts), loads={"feed": 7}, every=20))
    assert (mishap.tick, mishap.at) == (30, (1, 1, 1))
    assert values(mishap, "open_since_empty") == {"node": (1, 1, 1), "since": 19, **GAP}
    assert values(mishap, "gap") == {"container": (0, 1, 2), "since": 9, "item": "clay", "next": 21}


def test_a_container_that_is_filled_again_in_the_tick_in_which_it_is_read() -> None:
    """With gauges of 8 ticks the one on T0 goes off in the signal phase of tick 17, as T0 was empty from tick 9 on; in
    the machine phase T0 pulls its next. Inverters follow in 19 and 21."""
    layout = plan("burst-row-of-three")
    recording = record(replace(layout, rules={**layout.rules, "gauge_delay": 8}), loads={"feed": 2}, every=10)
    assert [move.tick for move in recording.moves if move.target == (0, 1, 2)] == [1, 17]
    assert recording.locks[(1, 1, 1)][:3] == ((0, 0), (13, 1), (21, 0))
    assert Causes(recording).of_lock((1, 1, 1), 21) == Reading(17, (0, 2, 2), (0, 1, 2), is_empty=True)
    assert Causes(recording).of_lock((1, 1, 1), 13) == Reading(9, (0, 2, 2), (0, 1, 2), is_empty=False)


def test_a_gate_stands_where_signals_lock_however_far_above_the_output() -> None:
    """The burst row one layer higher, over three nodes more that hand down into the kilns: told of B1, as without."""
    low = plan("burst-row-of-three")
    (stream,) = low.streams
    raised = tuple(
        part if isinstance(part, Furnace) else replace(part, at=step(part.at, "U")) for part in low.parts
    )
    layout = replace(
        low,
        size=(low.size[0], low.size[1], low.size[2] + 1),
        parts=(*raised, *(Node(step(output, "U"), "D") for output in stream.outputs)),
        streams=(replace(stream, source=step(stream.source, "U")),),
    )
    mishap = told(record(layout, loads={"feed": 7}, every=20))
    assert (mishap.kind, mishap.tick, mishap.at) == ("uneven", 35, (1, 1, 2))
    assert values(mishap, "twice")["rival"] == (2, 1, 2)


def test_items_that_get_stuck_behind_the_gate() -> None:
    """Sand blocks the first kiln. The node above it, with room for 4, takes more than the other: 4 of 7, all in vain.
    So the kilns themselves tell: the second one got two in a row."""
    layout = drawn(
        "F F / nD nD / nE nE / B .",
        "item sand stack 64\nitem clay stack 4 fires-to brick\nrule node_slots 1\n"
        "holds 0,0,0 sand 1\nstream feed clay from 0,0,3 to 0,0,0 1,0,0",
    )
    recording = record(layout, loads={"feed": 7})
    (result,) = recording.result.streams
    first = result.first_arrival
    assert result.delivered == (0, 3)
    mishap = told(recording)
    assert (mishap.kind, mishap.at) == ("uneven", (1, 0, 0))
    again = next(tick for tick, count in recording.delivered["feed"][1] if count == 2)
    assert (first, mishap.tick) == (recording.delivered["feed"][1][1][0], again)
    assert values(mishap, "twice")["rival"] == (0, 0, 0)
    assert values(mishap, "holds") == {"container": (0, 0, 1), "count": 4, "item": "clay"}
    assert values(mishap, "no_room") == {"container": (0, 0, 0), "node": (0, 0, 1), "item": "clay"}


def test_items_that_lie_behind_the_gate_from_the_start() -> None:
    """The second kiln gets its two from the node above it; the first one gets ahead with its third alone."""
    layout = drawn("F F / nD nD / nE nE / B .", "holds 1,0,1 clay 2\nstream feed clay from 0,0,3 to 0,0,0 1,0,0")
    mishap = told(record(layout, loads={"feed": 3}))
    assert (mishap.kind, mishap.at) == ("uneven", (0, 0, 0))
    claim = values(mishap, "alone")
    assert (claim["had"], claim["behind"], claim["rival"]) == (3, 2, (1, 0, 0))


def test_items_in_nodes_are_told_before_those_in_the_source() -> None:
    mishap = told(record(plan("touching-runs"), loads={"clay": 4, "fuel": 0}), "clay")
    assert (mishap.kind, mishap.at) == ("left", (0, 0, 1))
    assert [plain(s.values["count"]) for s in mishap.statements if s.key == "mishap.holds"] == [1, 2]


def test_what_lies_above_a_bin_that_no_node_empties() -> None:
    layout = drawn("F . / B .", "stream feed clay from 0,0,1 to 0,0,0")
    mishap = told(record(layout, loads={"feed": 2}))
    assert (mishap.kind, mishap.tick, mishap.at, keys(mishap)) == (
        "nothing", 0, (0, 0, 1), ["nothing", "holds", "nothing_takes"],
    )  # fmt: skip


def test_clay_is_no_fuel() -> None:
    """A node pushes clay from the side: only what burns goes in there (rulebook section 3)."""
    layout = drawn("F nW / . B", "stream feed clay from 1,0,1 to 0,0,0")
    mishap = told(record(layout, loads={"feed": 2}))
    assert (mishap.kind, mishap.tick, mishap.at) == ("nothing", 9, (1, 0, 0))
    assert values(mishap, "no_room") == {"container": (0, 0, 0), "node": (1, 0, 0), "item": "clay"}


TWO_GAUGES = (
    "- # ; # gN ; nE B ; # gS ; - # / . . ; . . ; B . ; . . ; . .",
    "stream feed clay from 0,2,1 to 1,2,0",
)
"""The bin that is filled is read from both sides, and either gauge locks the node that fills it."""


def test_no_cause_is_told_where_two_gauges_say_the_same() -> None:
    """Pulled in tick 1, pushed on in tick 9 with another one pulled: both gauges are on, and lock, in tick 11."""
    mishap = told(record(drawn(*TWO_GAUGES), loads={"feed": 2}))
    assert (mishap.kind, mishap.tick, mishap.at) == ("left", 9, (0, 2, 0))
    assert values(mishap, "stays_locked") == {"nodes": ((0, 2, 0),), "since": 11}
    assert values(mishap, "locks") == {"parts": ((1, 3, 0), (1, 1, 0))}


BELOW = (
    "- # ; # gN ; nE B ; # gS ; - # / . . ; . . ; nE . ; . . ; . . / . . ; . . ; B . ; . . ; . .",
    "stream feed clay from 0,2,2 to 1,2,0",
)
"""The same, with a node between the bin and the node that is locked."""
BELOW_ONE = (BELOW[0].replace("# gS ; - #", "# . ; . ."), BELOW[1])
"""With one of the two gauges: it reads the bin that is filled."""
RUN_DRY = (
    ". . nE B ; . # # . ; . # . . / nE nE nE . ; . - - . ; . - . . / B . . . ; gS . . . ; # iW . .",
    "stream feed clay from 0,2,2 to 3,2,0",
)
"""Three nodes on the way to one that is locked once the bin is empty, before anything comes to it."""
LATE = ((0, 1), (40, 1))
"""Ticks, and how many items then."""


def late(layout: Layout, arrivals: Sequence[tuple[int, int]] = LATE) -> Recording:
    return record(layout, arrivals=[Arrival(tick, "feed", count) for tick, count in arrivals])


def test_a_locked_node_that_would_have_to_pull() -> None:
    """The first item goes through (pulled in 1, pulled on in 2, pushed in 10: gauges in 12); the second one, pulled in
    41, stays in the upper node, and the lower one has nothing that it could move on."""
    mishap = told(late(drawn(*BELOW)))
    assert (mishap.kind, mishap.tick, mishap.at) == ("left", 41, (0, 2, 1))
    assert values(mishap, "below_stays_locked") == {"nodes": ((0, 2, 0),), "since": 12}
    mishap = told(late(drawn(*BELOW_ONE)))
    reading = {"gauge": (1, 3, 0), "container": (1, 2, 0)}
    assert values(mishap, "below_stays_locked_holding") == {"nodes": ((0, 2, 0),), "since": 12, **reading}
    assert "The node at 0,2,0 cannot take it out of there: " in english().text(mishap.statements[-1])


def test_a_node_that_was_locked_before_anything_came_to_it() -> None:
    """The bin is empty from tick 9 on: gauge 11, inverter 13. The first item comes to the third node in tick 17."""
    mishap = told(record(drawn(*RUN_DRY), loads={"feed": 2}))
    reading = {"since": 13, "gauge": (0, 1, 2), "container": (0, 2, 2)}
    assert (mishap.kind, mishap.tick, mishap.at) == ("nothing", 25, (2, 2, 1))
    assert values(mishap, "below_stays_locked_empty") == {"nodes": ((2, 2, 0),), **reading}
    assert "stays_locked_empty" not in keys(mishap)


BRIMMED = (
    BELOW[0].removesuffix(". . ; . . ; B . ; . . ; . .") + ". nE ; . . ; B . ; . . ; . .",
    f"holds 0,2,1 clay 2\nholds 1,4,2 clay 5\n{BELOW[1]}",
)


def test_leftovers_beyond_what_the_nodes_started_with() -> None:
    """Of 2 + 5 at the start and 3 put in one is delivered: 9 stay, 2 more than at the start. The node with 5, whose
    outlet leads nowhere, is as it was: nothing is said of it."""
    mishap = told(record(drawn(*BRIMMED), loads={"feed": 3}))
    assert mishap.kind == "left"
    assert values(mishap, "left_beyond") == {"item": "clay", "count": 2, "start": 7}
    assert mishap.statements[0].key == "mishap.left_beyond"
    holds = [s for s in mishap.statements if s.key == "mishap.holds"]
    assert {plain(s.values["container"]): s.values["count"] for s in holds} == {(0, 2, 1): 3, (0, 2, 0): 1}
    assert not any((1, 4, 2) in s.cells for s in mishap.statements)


def test_nodes_that_are_as_full_as_at_the_start_are_no_leftovers() -> None:
    """One put in, one delivered: as many stay as there were."""
    recording = record(drawn(*BRIMMED), loads={"feed": 1})
    (result,) = recording.result.streams
    assert (sum(result.delivered), result.held, result.held_at_start) == (1, 7, 7)
    assert mishaps(recording) == ()


def test_a_stream_that_nothing_was_put_in_for_has_no_mishap() -> None:
    """Even where its nodes hold some from the start, which stay there."""
    held = drawn(BRIMMED[0], f"holds 1,4,2 clay 5\n{BELOW[1]}")
    assert mishaps(record(held, loads={"feed": 0})) == ()
    assert mishaps(record(plan("touching-runs"), loads={"clay": 1, "fuel": 0})) == ()


SIDE = (
    ". B nW . . ; . . # . . ; . . # . . ; . . # . . / . . B . . ; . . gS . . ; . . - . . ; . B gE # . /"
    " . . . . . ; . . . . . ; . . . . . ; . . . nE B / . . . . . ; . . . . . ; . . . . . ; . . . B .",
    "item clay stack 1\nholds 1,0,1 clay 1\nstream feed clay from 2,3,1 to 1,3,0\n"
    "stream fuel charcoal from 3,0,3 to 4,0,2",
)
"""The gauge at 2,0,1 reads a bin that always holds one, and is off while the line beside it says more."""


def test_a_gauge_that_its_side_input_changed_is_no_cause() -> None:
    """The second clay of 3 is pulled in tick 9: the gauge at the clay's bin says 1 from 11 on, and so the line does;
    the other one, no longer held down by more than the 1 that it reads, in 13. What it reads has not changed."""
    recording = record(drawn(*SIDE), loads={"feed": 3, "fuel": 9})
    assert recording.signals[(2, 0, 1)] == ((0, 1), (4, 0), (13, 1))
    causes = Causes(recording)
    assert [causes.of_lock((3, 0, 2), tick) for tick in (4, 13)] == [None, None]
    mishap = told(recording, "fuel")
    assert values(mishap, "stays_locked") == {"nodes": ((3, 0, 2),), "since": 13}
    assert values(mishap, "locks") == {"parts": ((2, 0, 1),)}


REACHING = (". . # # . . / B gE - - # nE", "stream feed clay from 0,0,1 to 5,0,1")
"""A gauge at a bin, and a node two lines away: a reading of 1 fades on the way there, one of 2 locks it."""


@pytest.mark.parametrize(("holds", "is_told"), [("", True), ("\nholds 0,0,1 clay 1", False)])
def test_a_gauge_that_reads_more_of_what_there_was_is_no_cause_by_itself(holds: str, is_told: bool) -> None:
    """27 slots of one item: 2 items read 2 (rulebook section 4). Either way the load before tick 1 makes it 2; but
    where one lay there before, it is no news that the bin holds something."""
    layout = drawn(REACHING[0], f"item clay stack 1{holds}\n{REACHING[1]}")
    recording = record(layout, loads={"feed": 1 if holds else 2})
    assert recording.locks[(5, 0, 1)] == ((0, 0), (2, 1))
    told = Reading(2, (1, 0, 1), (0, 0, 1), is_empty=False)
    assert Causes(recording).of_lock((5, 0, 1), 2) == (told if is_told else None)


FLASHING = (
    "B . . ; gS . . ; # . . / nD . . ; iE # . ; - . . / B . . ; . - . ; . - .",
    "stream feed clay from 0,2,2 to 0,2,0",
)
"""An inverter goes on and off by itself, through a run of lines that comes round to what it hangs on; a gauge has a way
to that run too."""


def test_no_cause_is_told_where_a_part_changed_as_it_noticed() -> None:
    """The first item comes to the bin in tick 10, the gauge reads it in 12, and the inverter, which lit in 12, goes out
    in 14: as it would have without."""
    recording = record(drawn(*FLASHING), loads={"feed": 18}, limit=100)
    assert recording.signals[(0, 1, 0)][:2] == ((0, 0), (12, 1))
    assert {(12, 1), (14, 0)} <= set(recording.locks[(0, 2, 1)])
    assert Causes(recording).of_lock((0, 2, 1), 14) is None


def test_outputs_that_pull_by_themselves_have_no_gate() -> None:
    """The nodes below a row are themselves the outputs: what the row's nodes take goes on to other outputs too."""
    layout = plan("row-of-three-unlocked")
    (stream,) = layout.streams
    stream = replace(stream, outputs=tuple(step(output, "U") for output in stream.outputs))
    recording = record(replace(layout, streams=(stream,)), loads={"feed": 54})
    assert gates_of(recording, stream, Causes(recording).can_be_locked) == ()
    assert told(recording).at == (1, 0, 1)


SELF_READER = (
    ". iE # - - ; . - . . - ; F - - - - / . . . . . ; . . . . . ; B . . . .",
    "stream feed clay from 0,0,1 to 0,0,0",
)
"""An inverter whose run comes round to the support that it hangs on, beside a kiln that gets nothing."""


def test_a_build_that_never_rests() -> None:
    mishap = told(record(drawn(*SELF_READER), loads={"feed": 2}))
    assert (mishap.kind, mishap.at) == ("unrest", (1, 2, 0))
    assert values(mishap, "goes_on") == {"ticks": 100, "parts": ((1, 2, 0),)}
    assert keys(mishap)[0] == "never_rests"
    assert keys(told(record(drawn(*SELF_READER), loads={"feed": 2}, limit=900)))[0] == "no_rest"


def test_a_run_of_so_many_ticks_had_too_little_time() -> None:
    assert mishaps(record(plan("burst-row-of-three"), ticks=30)) == ()
    assert mishaps(record(drawn(*SELF_READER), loads={"feed": 2}, ticks=30)) == ()


def test_a_run_that_is_cut_short_is_not_told_as_uneven() -> None:
    """A row one layer higher, with a node more above the first two kilns that pulls out of B as soon as it has
    something: B1 and B2 pull in tick 29, as T3 has its first in 25, and so do the nodes below them, which push in 37;
    B3 pushes when it is unlocked again, with the next round in tick 53. A round comes every 24 ticks."""
    low = plan("burst-row-of-three")
    (stream,) = low.streams
    first, second, third = stream.outputs
    raised = tuple(part if part.at in (first, second) else replace(part, at=step(part.at, "U")) for part in low.parts)
    layout = replace(
        low,
        size=(low.size[0], low.size[1], low.size[2] + 1),
        parts=(*raised, *(Node(step(output, "U"), "D") for output in (first, second))),
        streams=(replace(stream, source=step(stream.source, "U"), outputs=(first, second, step(third, "U"))),),
    )
    assert record(layout).result.streams[0].delivered == (18, 18, 18)
    cut = {ticks: record(layout, ticks=ticks) for ticks in range(37, 90)}
    uneven = [ticks for ticks, one in cut.items() if one.result.streams[0].spread]
    assert uneven == [ticks for ticks in cut if (ticks - 37) % 24 < 16]
    assert {ticks: mishaps(one) for ticks, one in cut.items()} == dict.fromkeys(cut, ())


def test_a_run_that_was_given_up_is_told_as_no_more_than_that() -> None:
    """One every 20 is uneven from tick 35 on, and the next one is on its way; but nobody knows how it ends."""
    recording = record(plan("burst-row-of-three"), loads={"feed": 7}, every=20, limit=100)
    assert (recording.result.streams[0].spread > 0, recording.result.stopped) == (True, True)
    assert told(recording).kind == "unrest"



# -- turns -------------------------------------------------------------------------------------------------------------


def by_definition(takes: Sequence[Sequence[int]]) -> set[OutOfTurn]:
    """Every taking out of turn of the earliest tick, as the definition has it: tick by tick, nothing clever."""
    totals = [len(of) for of in takes]
    last = max((of[-1] for of in takes if of), default=0)

    def had(lane: int, tick: int) -> int:
        return sum(t <= tick for t in takes[lane])

    found = set()
    for a in range(len(takes)):
        for b in range(len(takes)):
            if totals[b] != min(totals) or totals[a] <= totals[b]:
                continue
            since = next(
                s for s in range(last + 1) if all(had(a, t) > had(b, t) for t in range(s, last + 1))
            )
            its = [t for t in takes[a] if t >= since]
            others = [t for t in takes[b] if t >= since]
            twice = len(its) > 1 and (not others or its[1] < others[0])
            tick = its[1] if twice else since
            found.add(OutOfTurn(tick, a, b, had(a, tick), had(b, tick), twice))
    first = min((one.tick for one in found), default=0)
    return {one for one in found if one.tick == first}


@settings(max_examples=400)
@given(st.lists(st.lists(st.integers(1, 14), max_size=7).map(sorted), min_size=1, max_size=4))
def test_turns_by_definition(takes: list[list[int]]) -> None:
    found = out_of_turn(takes)
    assert (found is None) == (len({len(of) for of in takes}) == 1)
    assert found is None or found in by_definition(takes)


@pytest.mark.parametrize(
    ("takes", "expected"),
    [
        ([[1, 1], [1, 2, 2]], OutOfTurn(2, 1, 0, 3, 2, True)),  # two in one tick
        ([[1, 4], [2, 5], [3]], OutOfTurn(4, 0, 2, 2, 1, False)),  # the last round never completes
        ([[1, 2], [4]], OutOfTurn(2, 0, 1, 2, 0, True)),  # two in a row
        ([[1, 4, 6], [4, 6]], OutOfTurn(1, 0, 1, 1, 0, False)),  # one too many at first, then in step
        ([[2], [2], []], OutOfTurn(2, 0, 2, 1, 0, False)),
        ([[1, 3], [2, 4]], None),
        ([[], []], None),
    ],
)
def test_turns(takes: list[list[int]], expected: OutOfTurn | None) -> None:
    assert out_of_turn(takes) == expected


# -- every claim, against other sources --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Run:
    """A trial that can be recorded, and run again otherwise."""

    name: str
    layout: Layout
    arrivals: tuple[Arrival, ...]
    order: Sequence[Cell] | None = None

    def recording(self) -> Recording:
        return record(self.layout, arrivals=self.arrivals, order=self.order, limit=LIMIT)


def runs() -> Iterator[Run]:
    for path in sorted(LAYOUTS.glob("*.plan")):
        layout = load_layout(path)
        for handover in (7, 8):
            faced = replace(layout, rules={**layout.rules, "handover": handover})
            for load, every in PATTERNS:
                arrivals = arrivals_for(faced, {stream.name: load for stream in faced.streams}, every)
                yield Run(f"{path.stem} {handover} {load} {every}", faced, tuple(arrivals))
    for after in (30, 40, 51):
        yield Run(f"below {after}", drawn(*BELOW_ONE), (Arrival(0, "feed", 1), Arrival(after, "feed", 1)))
    for handover in (7, 8, 9):
        dry = replace(drawn(*RUN_DRY), rules={"handover": handover})
        yield Run(f"run dry {handover}", dry, (Arrival(0, "feed", 2),))
    for seed in range(BUILDS):
        layout, case = random_run(random.Random(f"mishap {seed}"))
        yield Run(f"random {seed}", layout, tuple(arrivals_for(layout, case["loads"], case["every"])), case["order"])


@pytest.fixture(scope="module")
def recorded() -> list[tuple[Run, Recording, tuple[Mishap, ...]]]:
    found = []
    for run in runs():
        recording = run.recording()
        found.append((run, recording, mishaps(recording)))
    return found


Recorded = list[tuple[Run, Recording, tuple[Mishap, ...]]]


def test_every_uneven_stream_has_its_mishap(recorded: Recorded) -> None:
    """With a spread at the end there is one of that kind, not after the last arrival; and its place took an item in
    that tick."""
    uneven = 0
    for run, recording, found in recorded:
        for stream, result in zip(recording.layout.streams, recording.result.streams, strict=True):
            its = [mishap for mishap in found if mishap.stream == stream.name]
            is_told = result.spread > 0 and not recording.result.stopped
            assert [mishap.kind for mishap in its if mishap.kind == "uneven"] == ["uneven"] * is_told, run
            for mishap in its[:is_told]:
                assert result.last_arrival is not None
                assert mishap.tick <= result.last_arrival
                into = {m.target for m in recording.moves if (m.tick, m.kind) == (mishap.tick, stream.item)}
                assert mishap.at in into, run
                uneven += 1
    assert uneven > 150


def test_the_one_ahead_stays_ahead_by_the_counts_told(recorded: Recorded) -> None:
    """Counted from the moves alone: had and behind at that tick; never level again; twice in a row means that."""
    for run, recording, found in recorded:
        for mishap in found:
            if mishap.kind != "uneven":
                continue
            claim = next(s for s in mishap.statements if s.key in ("mishap.twice", "mishap.alone"))
            of = {name: plain(value) for name, value in claim.values.items()}
            its, others = (takes(recording, of[name], of["item"]) for name in ("node", "rival"))
            assert of["tick"] == mishap.tick
            assert Move(mishap.tick, of["item"], of["source"], of["node"]) in recording.moves  # type: ignore[arg-type]
            assert (of["had"], of["behind"]) == (count(its, mishap.tick), count(others, mishap.tick)), run
            for tick in {mishap.tick, *its, *others}:
                assert tick < mishap.tick or count(its, tick) > count(others, tick), run
            if claim.key == "mishap.twice":
                before = max(t for i, t in enumerate(its) if i == of["had"] - 2)  # type: ignore[operator]
                assert not [t for t in others if before <= t <= mishap.tick], run


def takes(recording: Recording, cell: object, kind: object) -> list[int]:
    return [m.tick for m in recording.moves if (m.target, m.kind) == (cell, kind) and m.source is not None]


def count(ticks: Sequence[int], tick: int) -> int:
    return sum(t <= tick for t in ticks)


def test_locks_and_contents_told_are_those_of_shorter_trials(recorded: Recorded) -> None:
    checked: Counter[str] = Counter()
    for run, recording, found in recorded:
        for mishap in found:
            item = next(s.item for s in run.layout.streams if s.name == mishap.stream)
            for statement in mishap.statements:
                of = {name: plain(value) for name, value in statement.values.items()}
                checked[statement.key] += check(run, recording, mishap, statement.key, of, item)
    assert all(checked[f"mishap.{key}"] > 0 for key in CHECKED), checked


CHECKED = (
    "open_since", "open_since_empty", "open_since_holding", "open_from_start", "rival_locked",
    "rival_locked_from_start", "rival_nothing", "rival_full", "holds", "gap",
)  # fmt: skip


def check(run: Run, recording: Recording, mishap: Mishap, key: str, of: Mapping[str, object], item: str) -> bool:
    """Check one statement of a mishap against trials that stop earlier; False: none of those that are checked here."""
    match key.removeprefix("mishap."):
        case "open_since" | "open_since_empty" | "open_since_holding":
            since = of["since"]
            assert isinstance(since, int)
            assert is_locked(run, of["node"], since - 1), (run, key)
            assert not any(is_locked(run, of["node"], tick) for tick in (since, mishap.tick)), (run, key)
        case "open_from_start":
            assert not any(is_locked(run, of["node"], tick) for tick in range(mishap.tick + 1)), run
        case "rival_locked":
            since = of["since"]
            assert isinstance(since, int)
            assert not is_locked(run, of["rival"], since - 1), run
            assert all(is_locked(run, of["rival"], tick) for tick in (since, mishap.tick)), run
        case "rival_locked_from_start":
            assert all(is_locked(run, of["rival"], tick) for tick in range(mishap.tick + 1)), run
        case "rival_nothing":
            assert not any(holds(run, cell, item, mishap.tick) for cell in sources(run.layout, of["rival"])), run
        case "rival_full":
            world = at_tick(run, mishap.tick)
            assert not world.stores[of["rival"]].accepts(item), run  # type: ignore[index]
        case "holds":
            slots = recording.result.contents[of["container"]]  # type: ignore[index]
            assert of["count"] == sum(slot[1] for slot in slots if slot and slot[0] == item), run
        case "gap":
            empty, after = of["since"], of["next"]
            assert isinstance(empty, int)
            assert isinstance(after, int)
            at = of["container"]
            assert at_tick(run, empty - 1).stores[at].items > 0, run  # type: ignore[index]
            assert not any(at_tick(run, tick).stores[at].items for tick in range(empty, after)), run  # type: ignore[index]
            assert any((m.tick, m.target, m.kind) == (after, at, item) for m in recording.moves), run
        case _:
            return False
    return True


def at_tick(run: Run, tick: int) -> World:
    """The world at the end of a tick, with the load due then in."""
    trial = Trial(run.layout, order=run.order)
    trial.run([arrival for arrival in run.arrivals if arrival.tick <= tick], ticks=tick)
    return trial.world


def is_locked(run: Run, node: object, tick: int) -> bool:
    world = at_tick(run, tick)
    return world.is_locked(world.nodes[node])  # type: ignore[index]


def holds(run: Run, cell: Cell, kind: str, tick: int) -> bool:
    return at_tick(run, tick).stores[cell].count(kind) > 0


def sources(layout: Layout, node: object) -> list[Cell]:
    """What hands items to a node: the container above it, and nodes whose outlet leads into it."""
    pushing = [p.at for p in layout.parts if isinstance(p, Node) and step(p.at, p.outlet) == node]
    assert isinstance(node, tuple)
    above = (node[0], node[1], node[2] + 1)
    return pushing + [part.at for part in layout.containers if part.at == above]


OPPOSITE: Mapping[str, Direction] = {"E": "W", "W": "E", "N": "S", "S": "N"}
NEVER = 10**9
CAUSES = (
    "open_since_empty", "open_since_holding", "stays_locked_empty", "stays_locked_holding",
    "below_stays_locked_empty", "below_stays_locked_holding",
)  # fmt: skip


def test_a_cause_told_is_one(recorded: Recorded) -> None:
    """Run again with the gauge going on to read what it read before: the lock does not change in that tick."""
    tried: Counter[str] = Counter()
    for run, _, found in recorded:
        for mishap in found:
            for statement in mishap.statements:
                if (key := statement.key.removeprefix("mishap.")) in CAUSES and tried[key] < 40:
                    of = {name: plain(value) for name, value in statement.values.items()}
                    nodes = of["nodes"] if "nodes" in of else (of["node"],)
                    held_back(run, of, list(nodes), is_open=key.startswith("open"))  # type: ignore[call-overload]
                    tried[key] += 1
    assert all(tried[key] >= 3 for key in CAUSES), tried


def held_back(run: Run, of: Mapping[str, object], nodes: Sequence[Cell], *, is_open: bool) -> None:
    """Assert that the nodes change their lock in tick ``since``, and do not where the gauge stays as it was before."""
    since, gauge, container = of["since"], of["gauge"], of["container"]
    assert isinstance(since, int)
    part = run.layout.by_cell[gauge]  # type: ignore[index]
    assert isinstance(part, Gauge)
    behind = step(part.at, OPPOSITE[part.output])
    beyond = step(behind, OPPOSITE[part.output])
    assert container == (beyond if isinstance(run.layout.by_cell.get(behind), Support) else behind)
    for held in (False, True):
        trial = Trial(run.layout, order=run.order, skip=False)
        world = trial.world
        noticed = last_change(run, gauge, since) - world.rules.gauge_delay
        number = next(i for i, one in enumerate(world.field.wiring.parts) if one.at == gauge)

        def hold(world: World, noticed: int = noticed, number: int = number) -> None:
            """With a change pending that never comes, the gauge schedules none."""
            if world.tick == noticed - 1:
                world.timing.due[number] = NEVER

        if held and noticed == 0:
            world.timing.due[number] = NEVER
        elif held:
            trial.watchers = (hold,)
        trial.run([arrival for arrival in run.arrivals if arrival.tick <= since], ticks=since)
        locks = {world.is_locked(world.nodes[node]) for node in nodes}
        assert locks == {is_open == held}, (run, of, held)


def last_change(run: Run, gauge: object, tick: int) -> int:
    """The last tick up to ``tick`` in which the gauge's output changed."""
    changes = [then for then, _ in run.recording().signals[gauge] if then <= tick]  # type: ignore[index]
    return changes[-1]


# -- words -------------------------------------------------------------------------------------------------------------


def test_every_statement_has_a_phrase_with_just_its_fields(recorded: Recorded) -> None:
    phrases = english().phrases
    for _, _, found in recorded:
        for mishap in found:
            assert mishap.statements
            for statement in mishap.statements:
                fields = fields_of(phrases[statement.key])
                assert fields == set(statement.values), statement.key
                assert english().text(statement).endswith(".")


def told_of_unlike_counts() -> list[Statement]:
    """What is said of six nodes of which no two hold as many."""
    recording = record(plan("row-of-three-no-drain"), loads={"feed": 6})
    held = {cell: 6 - number for number, cell in enumerate(recording.locks) if number < 6}
    return list(what_is_held(recording, Causes(recording), recording.layout.streams[0], held))


def test_only_some_of_many_counts_are_told_one_by_one() -> None:
    held = [one for one in told_of_unlike_counts() if one.key.startswith("mishap.hold")]
    assert [one.key for one in held] == ["mishap.holds"] * NAMED + ["mishap.hold_more"]
    assert [one.values["count"] for one in held] == [6, 5, 4, 3 + 2 + 1]


def test_every_phrase_is_said_somewhere(recorded: Recorded) -> None:
    said = {statement.key for _, _, found in recorded for mishap in found for statement in mishap.statements}
    for drawing in (TWO_GAUGES, SELF_READER, BRIMMED):
        others = mishaps(record(drawn(*drawing), loads={"feed": 3}))
        said |= {statement.key for mishap in others for statement in mishap.statements}
    said |= {statement.key for statement in told(late(drawn(*BELOW))).statements}
    said |= {statement.key for statement in told_of_unlike_counts()}
    assert {key for key in english().phrases if key.startswith("mishap.")} == said
