"""Design checks: each on the smallest layouts that show it, and on ones beside them that do not."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from law_table import TWO_INVERTERS
from oracle.random_builds import random_layout
from printed import ONE_KILN
from sim.analysis.checks import CHECKS, design_findings
from sim.analysis.checks.locks import bounds
from sim.analysis.checks.running import loads_that_fit, run_findings
from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json
from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from sim.world.world import World
from symmetries import Symmetry, all_symmetries
from worlds import drawn


@dataclass(frozen=True)
class Case:
    """``found``: check and cell of every finding, parted by ``;``. ``lines``: further lines of a plan."""

    what: str
    drawing: str
    found: str = ""
    lines: str = ""


FEED_DOWN = "stream feed clay from 0,0,2 to 0,0,0"
CLOCK = "- - - ; - . - ; # iW -"

STANDING = (
    Case("an empty site", "."),
    Case("a line on the ground", "-"),
    Case(
        "a line, a relay and a gauge on nothing",
        ". . . . / - r1E gW B",
        "no support 0,0,1;no support 1,0,1;no support 2,0,1",
    ),
    Case("... on supports and a furnace", "# F # . / - r1E gW B"),
    Case("a line on a bin", "B / -", "no support 0,0,1"),
    Case("a line on a node", "nE B / - .", "no support 0,0,1"),
    Case("inverters on a support and on the ground", "# iW iD"),
    Case("an inverter on nothing", ". iW", "no support 1,0,0"),
    Case("an inverter on a bin", "B iW", "no support 1,0,0"),
    Case("an inverter that hangs on what is outside of the site", "iW", "no support 0,0,0"),
    Case("an inverter that hangs on what is outside, with a support on another side", "iW #", "no support 0,0,0"),
    Case("an inverter that hangs on what is outside, with room on another side", "iW .", "no support 0,0,0"),
    Case("gauges that read a bin, a furnace, a node and a bin through a support", "B gE . F gE B nW gE . B # gE"),
    Case("a gauge with nothing behind", ". gE", "reads nothing 1,0,0"),
    Case("a gauge that looks away from the bin", "B gW", "reads nothing 1,0,0"),
    Case("a gauge behind two supports", "B # # gE", "reads nothing 3,0,0"),
    Case("bins side by side, west and east", "B B", "merging bins 0,0,0"),
    Case("bins side by side, south and north", "B ; B", "merging bins 0,0,0"),
    Case("three marked bins in a row", "B* B* B*", "merging bins 0,0,0;merging bins 1,0,0"),
    Case("bins of different finish", "B B*"),
    Case("bins on top of each other", "B / B"),
    Case("bins corner to corner", "B . ; . B"),
)

OUTLETS = (
    Case("outlets into a bin, a node and, from above, a furnace", "F B / nD nD / nE nW"),
    Case("an outlet into nothing", "nE .", "leads nowhere 0,0,0"),
    Case("an outlet out of the site", "nW", "leads nowhere 0,0,0"),
    Case("an outlet into the ground", "nD", "leads nowhere 0,0,0"),
    Case("an outlet into a support", "nE #", "leads nowhere 0,0,0"),
    Case("the last node of a row: a node directly below pulls from it", "nE B / nW ."),
    Case("... a bin below pulls nothing", "B / nW", "leads nowhere 0,0,1"),
    Case(
        "clay into the side of a furnace",
        "nE F / B .",
        "leads nowhere 0,0,0;unreachable 1,0,0",
        "stream feed clay from 0,0,1 to 1,0,0",
    ),
    Case("charcoal into the side of a furnace", "nE F / B .", "", "stream fuel charcoal from 0,0,1 to 1,0,0"),
    Case("who knows what into the side of a furnace", "nE F"),
    Case("clay that the node holds at the start", "nE F", "leads nowhere 0,0,0", "holds 0,0,0 clay 1"),
    Case("clay and charcoal: some of it burns", "nE F", "", "holds 0,0,0 clay 1 charcoal 1"),
    Case("bricks of a furnace into another's side", "nE F / F .", "leads nowhere 0,0,0", "holds 0,0,1 clay 1"),
    Case("... bricks that are there at the start", "nE F / F .", "leads nowhere 0,0,0", "holds 0,0,1 . . brick 1"),
    Case("... what is in its fuel slot is never pulled out", "nE F / F .", "", "holds 0,0,1 . brick 1"),
    Case("an output that a node feeds", "B / nD / B", "", FEED_DOWN),
    Case(
        "an output that no node feeds",
        "B . B / nD . . / B . .",
        "unreachable 2,0,0",
        "stream feed clay from 0,0,2 to 0,0,0 2,0,0",
    ),
    Case("a source with no node below", "B / . / B", "unreachable 0,0,0", FEED_DOWN),
    Case(
        "clay does not come out of a furnace",
        "B / nD / F / nD / B",
        "unreachable 0,0,0",
        "stream feed clay from 0,0,4 to 0,0,2 0,0,0",
    ),
)

RUN_LENGTHS = (
    Case("a run within reach", "iD" + " -" * 15),
    Case("a run beyond reach", "iD" + " -" * 16, "dead line 16,0,0"),
    Case("... with a relay in it", "iD" + " -" * 15 + " r1E -"),
    Case("a run without a source", "- -"),
    Case("two sources that reach every line", "iD" + " -" * 30 + " iD"),
    Case("two sources with a gap between", "iD" + " -" * 31 + " iD", "dead line 16,0,0"),
    Case("two dead branches of one run", "iD" + " -" * 16 + " ; ." + " ." * 14 + " - -", "dead line 16,1,0"),
    Case("a gauge that may deliver the full level", "B gE" + " -" * 15),
    Case("a relay that nothing drives may deliver the full level", "- r1E - -"),
    Case("a gauge that reads nothing is no source", ". gE" + " -" * 16, "reads nothing 1,0,0"),
    Case("reach by the rulebook", "iD - - -", "dead line 3,0,0", "rule reach 2"),
)


def two_streams(first: str, second: str) -> str:
    """Two streams, each from a bin to that bin itself: their gauges stand right beside."""
    return f"stream clay clay from {first} to {first}\nstream fuel charcoal from {second} to {second}"


TOUCHING = (
    Case("two runs that touch", "B gE - - gW B", "touching runs 2,0,0", two_streams("0,0,0", "5,0,0")),
    Case("two runs with a gap", "B gE - . - gW B", "", two_streams("0,0,0", "6,0,0")),
    Case("one run of one stream", "B gE - - gW B", "", "stream clay clay from 0,0,0 to 0,0,0"),
    Case("a gauge on what both streams share", "B gE - - gW B", "", two_streams("0,0,0", "0,0,0")),
    Case("one line fed by both", "B gE - gW B", "touching runs 2,0,0", two_streams("0,0,0", "4,0,0")),
    Case(
        "runs that touch one step up",
        "B gE - # # # . / . . . - - gW B",
        "touching runs 4,0,1",
        two_streams("0,0,0", "6,0,1"),
    ),
    Case("a solid cell that both energise", "B gE # gW B", "touching runs 2,0,0", two_streams("0,0,0", "4,0,0")),
    Case(
        "a relay that one drives and the other latches",
        ". . B ; . . gS ; B gE r1E",
        "touching runs 2,0,0",
        two_streams("0,0,0", "2,2,0"),
    ),
    Case(
        "a gauge of one with a side input of the other",
        ". B ; . gS ; B gE",
        "touching runs 1,0,0",
        two_streams("0,0,0", "1,2,0"),
    ),
    Case(
        "through an inverter and a relay",
        "B gE # iW - r1W gW B",
        "touching runs 4,0,0",
        two_streams("0,0,0", "7,0,0"),
    ),
    Case(
        "through a line and a relay, at a solid cell",
        "B gE - r1E # gW B",
        "touching runs 4,0,0",
        two_streams("0,0,0", "6,0,0"),
    ),
    Case(
        "told once, not of all that the run drives further on",
        ". . # . . . ; . . r1N . . . ; . . - . . . ; B gE - - gW B",
        "touching runs 2,0,0",
        two_streams("0,0,0", "5,0,0"),
    ),
    Case(
        "in a ring that a relay closes",
        "B gE - - - gW B ; . . - r1E - . .",
        "touching runs 4,1,0",
        two_streams("0,1,0", "6,1,0"),
    ),
    Case(
        "a kiln belongs to both: the gauge on it and the gauge on the charcoal's node drive one run",
        "- - ; gN gN ; F nW / . . ; . . ; nD B / . . ; . . ; B .",
        "",
        "stream clay clay from 0,0,2 to 0,0,0\nstream fuel charcoal from 1,0,1 to 0,0,0",
    ),
)

LOCKS = (
    Case(
        "an inverter that nothing puts out delivers into the node",
        "B # / nD iD / B .",
        "always locked 0,0,1",
        FEED_DOWN,
    ),
    Case("... a line from it points into the node", "B # # / nD - iD / B . .", "always locked 0,0,1", FEED_DOWN),
    Case("... it energises a cell beside the node", "B . # # / nD # - iD / B . . .", "always locked 0,0,1", FEED_DOWN),
    Case("... through a relay", "B # # / nD r1W iD / B . .", "always locked 0,0,1", FEED_DOWN),
    Case("a node on no stream's way", "B # / nD iD / B ."),
    Case("an inverter that is always out", "B . . # # / nD iE # - iD / B . . . .", "", FEED_DOWN),
    Case("an inverter that a gauge may put out", "B . . # . / nD iE # gW B / B . . . .", "", FEED_DOWN),
    Case(
        # While the signals settle the western relay comes on by an inverter that starts lit, and is then latched for
        # good; so the inverter beside the node is out, though nothing drives the relay any more.
        "an inverter that a latched relay keeps out",
        "B nW iE # r1W iE # - iD ; . . . . r1N . . . . ; . . . . iD . . . . / "
        ". B . . . . . . . ; . . . . . . . . . ; . . . . . . . . .",
        "",
        "stream feed clay from 1,2,1 to 0,2,0",
    ),
    Case(
        "a loop that happens to hold the lock",
        TWO_INVERTERS + " / nE B . . ; . . . . ; . . . . / B . . . ; . . . . ; . . . .",
        "",
        "stream feed clay from 0,2,2 to 1,2,1",
    ),
)

RUNNING = (
    Case("an inverter that energises its own mount cell", CLOCK, "never settles;overheats 1,0,0;never rests"),
    Case("... slowly, through a relay", "- r4W - ; - . - ; # iW -", "never settles;never rests"),
    Case("two inverters that hold each other", TWO_INVERTERS),
    Case(
        # With handover 7 the second node is empty for a tick out of 8; gauge and inverter are fast enough to see it.
        "overheats with handover 7 only",
        ". # iW ; . gN . ; nE nE B / . . . ; . . . ; B . .",
        "overheats 2,2,0",
        "stream feed clay from 0,0,1 to 2,0,0\nrule gauge_delay 1\nrule inverter_delay 1",
    ),
)


CASES = (*STANDING, *OUTLETS, *RUN_LENGTHS, *TOUCHING, *LOCKS, *RUNNING)


def found_in(layout: Layout) -> list[str]:
    return [
        finding.check + (f" {cell_text(finding.at)}" if finding.at else "") for finding in design_findings(layout)
    ]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.what)
def test_findings(case: Case) -> None:
    assert found_in(drawn(case.drawing, case.lines)) == (case.found.split(";") if case.found else [])


TEXTS = {
    "a line, a relay and a gauge on nothing": "the line at 0,0,1 stands on nothing at 0,0,0; put a support there",
    "a line on a bin": (
        "the line at 0,0,1 stands on a bin at 0,0,0, which is not solid; put a support there, or move it"
    ),
    "an inverter on nothing": (
        "the inverter at 1,0,0 hangs on nothing at 0,0,0; put a support there, or turn its mount to a solid cell"
    ),
    "an inverter that hangs on what is outside, with a support on another side": (
        "the inverter at 0,0,0 hangs on nothing at -1,0,0; that is outside the layout, so turn its mount to E"
    ),
    "an inverter that hangs on what is outside, with room on another side": (
        "the inverter at 0,0,0 hangs on nothing at -1,0,0; that is outside the layout, so put a support at 1,0,0, and "
        "turn its mount to E"
    ),
    "a gauge with nothing behind": (
        "the gauge at 1,0,0 reads nothing; put a bin, node or furnace at 0,0,0 (or right behind a support there), "
        "or turn the gauge"
    ),
    "bins side by side, west and east": (
        "the bins at 0,0,0 and 1,0,0 merge into one; give one of them the other finish, or keep a cell between "
        "them"
    ),
    "an outlet into nothing": (
        "the node at 0,0,0 pushes E into 1,0,0, where nothing stands; put a bin, node or furnace there or turn "
        "the outlet"
    ),
    "clay into the side of a furnace": (
        "the node at 0,0,0 pushes E into the side of the furnace at 1,0,0, which takes only what burns, and clay "
        "does not; push it in from above"
    ),
    "an output that no node feeds": (
        'stream "feed": no clay can get from 0,0,2 to the output at 2,0,0; follow the nodes from the source and '
        "close the gap"
    ),
    "a run beyond reach": (
        "the line at 16,0,0 is dead, beyond the reach of 15 cells from every source; put a relay into the run at "
        "15,0,0 or nearer to the source"
    ),
    "two dead branches of one run": (
        "the line at 16,1,0 and 2 more of its run are dead, beyond the reach of 15 cells from every source; put a "
        "relay into the run at 15,1,0 or nearer to the source"
    ),
    "two runs that touch": (
        'the lines at 2,0,0 and 3,0,0 join signals of "clay" (the gauge at 1,0,0 reads 0,0,0) and "fuel" (the '
        "gauge at 4,0,0 reads 5,0,0); keep a free cell between the runs of different streams"
    ),
    "a solid cell that both energise": (
        'the solid cell at 2,0,0 is energised by "clay" (the gauge at 1,0,0 reads 0,0,0) and "fuel" (the gauge at '
        "3,0,0 reads 4,0,0); let each stream energise a cell of its own"
    ),
    "an inverter that nothing puts out delivers into the node": (
        "the node at 0,0,1 is always locked: the inverter at 1,0,1 delivers into it, whatever the gauges read; "
        "let a gauge switch that off, or take it away"
    ),
    "overheats with handover 7 only": (
        "the inverter at 2,2,0 switches off 8 times within 60 ticks (with handover 7 only); slow down what drives "
        "it, or break the loop that it is in"
    ),
}


@pytest.mark.parametrize("what", TEXTS)
def test_a_finding_says_in_one_line_where_and_what_to_do(what: str) -> None:
    (case,) = (case for case in CASES if case.what == what)
    assert design_findings(drawn(case.drawing, case.lines))[0].text == TEXTS[what]


def test_the_layout_of_the_formats_page_is_clean() -> None:
    assert design_findings(layout_from_json(ONE_KILN)) == []


def test_rules_given_are_those_that_the_layout_overrides() -> None:
    short = replace(default_rules(), reach=2)
    run = drawn("iD - - -")
    assert [finding.check for finding in design_findings(run, short)] == ["dead line"]
    assert design_findings(replace(run, rules={"reach": 3}), short) == []


def test_a_default_load_that_the_source_has_no_room_for_is_cut_to_what_fits() -> None:
    layout = drawn("B / nD / B", FEED_DOWN + "\nrule bin_slots 1\nitem clay stack 2\nholds 0,0,2 clay 1")
    assert loads_that_fit(layout, default_rules()) == {"feed": 1}
    assert design_findings(layout) == []
    assert loads_that_fit(drawn("B / nD / B", FEED_DOWN), default_rules()) == {"feed": 18}


def test_streams_that_share_a_source_share_its_room() -> None:
    streams = "stream clay clay from 0,0,2 to 0,0,0\nstream fuel charcoal from 0,0,2 to 0,0,0\n"
    layout = drawn("B / nD / B", streams + "rule bin_slots 2\nitem clay stack 10\nitem charcoal stack 10")
    assert loads_that_fit(layout, default_rules()) == {"clay": 18, "fuel": 0}


# -- any build ---------------------------------------------------------------------------------------------------------

SEEDS = st.integers(min_value=0, max_value=2**32 - 1)
FROM_THE_PARTS_ALONE = [check for check in CHECKS if check is not run_findings]


def random_build(seed: int) -> Layout:
    return layout_from_json(random_layout(random.Random(seed)))


def checks_found(layout: Layout) -> Counter[str]:
    rules = layout.rules_in_force(default_rules())
    return Counter(finding.check for check in FROM_THE_PARTS_ALONE for finding in check(layout, rules))


@settings(max_examples=60)
@given(SEEDS, st.sampled_from(list(all_symmetries())[1:]))
def test_turning_and_mirroring_finds_the_same(seed: int, symmetry: Symmetry) -> None:
    layout = random_build(seed)
    assert checks_found(symmetry.layout(layout)) == checks_found(layout)


@settings(max_examples=20)
@given(SEEDS)
def test_every_finding_is_one_line_and_in_its_place(seed: int) -> None:
    layout = random_build(seed)
    for finding in design_findings(layout):
        assert finding.check
        assert finding.text.isprintable()
        assert finding.at is None or finding.at in layout.by_cell


@settings(max_examples=100)
@given(SEEDS)
def test_bounds_of_parts_hold_at_every_tick(seed: int) -> None:
    """What ``always locked`` rests on: once settled, no part ever delivers less or more than the analysis says."""
    layout = random_build(seed)
    world = World(layout)
    assume(world.settled)
    try:
        world.put([(stream.source, stream.item, 9) for stream in layout.streams])
    except InputError:
        assume(False)
    least, most = bounds(world.field.wiring, world.rules.reach)
    for _ in range(120):
        for low, out, high in zip(least.out, world.field.out, most.out, strict=True):
            assert low <= out <= high
        for always, locked in zip(least.locked, world.field.locked, strict=True):
            assert locked or not always
        world.advance()


def test_random_builds_show_most_checks_that_look_at_the_parts_alone() -> None:
    """Else the properties above would say little. Dead lines and touching runs are rare in random builds."""
    found = sum((checks_found(random_build(seed)) for seed in range(60)), Counter[str]())
    often = {"no support", "reads nothing", "merging bins", "leads nowhere", "unreachable", "always locked"}
    assert often <= set(found)
