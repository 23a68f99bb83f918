"""Outputs emptied as they fill: which ones may be taken so, and that no verdict proves what a plain trial refutes.

In each build of ``FLOWS_ON`` an output passes on what it gets, and what is passed on makes a difference to what is
delivered: were it emptied at once, every load would be shared out evenly.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import pytest

import hall_plans
import halls
from emptying import emptied_outputs
from flowing_builds import random_build
from sim.analysis.assure.asking import ask
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Question, Verdict
from sim.world.fairness import is_even
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Furnace, Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, Trial, TrialResult, arrivals_for, run_trial
from sim.world.world import World
from test_assure_load import FULL_FIRST, LIMIT, RESULTS, SMALL, asked, comes_to_what_it_says
from worlds import drawn

RULES = "rule bin_slots 6\nitem clay stack 4 fires-to brick\nitem brick stack 8\n"


def west_and_east(west: str, east: str, outputs: str) -> str:
    """Two streams of clay to the same outputs."""
    return f"{RULES}stream west clay from {west} to {outputs}\nstream east clay from {east} to {outputs}\n"


FLOWS_ON = {
    "to an output": drawn(". nE B / nE B nD / B . B", west_and_east("0,0,2", "2,0,2", "1,0,1 2,0,0")),
    "by nodes and a bin to an output": drawn(
        ". nE B / . nD nD / . B* B / . nD . / nE B . / B . .", west_and_east("0,0,5", "2,0,2", "1,0,4 2,0,0")
    ),
    "to a node above an output": drawn(
        ". . B / . nE nD / nE B nD / B . B", west_and_east("0,0,3", "2,0,3", "1,0,2 2,0,0")
    ),
    "as bricks to an output of another stream": drawn(
        "nE B B* / F nD nD / nD B B* / B . .",
        RULES + "holds 0,0,1 . charcoal 3\nstream feed clay from 0,0,3 to 0,0,1\n"
        "stream one brick from 1,0,2 to 1,0,0 2,0,0\nstream two brick from 2,0,2 to 1,0,0 2,0,0",
    ),
    "to a bin that a gauge reads": drawn(
        ". nE B gE # . / nE B . . nE B / B . . . B .", west_and_east("0,0,2", "4,0,2", "1,0,1 5,0,1")
    ),
    "to where other items give way": drawn(
        "B nW . . . ; . . . . . / . B nW . . ; . . . . . / . nE nE nE nE ; . . nN nN . / "
        ". B . . . ; . . B B* nW / . . . . . ; . . . . B",
        "rule bin_slots 2\nrule node_slots 1\nitem clay stack 4\n"
        + "".join(
            f"stream {name} clay from {cell} to 3,0,3 1,1,1\n"
            for name, cell in (("east", "4,0,4"), ("west", "1,1,3"), ("south", "2,0,3"))
        ),
    ),
    "round and round": drawn(". nE nW / nE B . / B . .", RULES + "stream feed clay from 0,0,2 to 1,0,1"),
}
"""Of "to where other items give way": half of what two streams bring goes into the last two nodes of the row, which
hold eight items; what the output above them passes on goes there as well."""

MIXED = drawn(
    ". F . . F / nE nD nW . nD / B . B . B",
    west_and_east("0,0,2", "4,0,2", "1,0,0 4,0,0")
    + "stream fuel charcoal from 2,0,2 to 1,0,0\norder 2,0,1 0,0,1 1,0,1 4,0,1 1,0,0 4,0,0",
)
"""Clay and charcoal come into one kiln from above: the first piece of charcoal keeps all clay out."""

EVENNESS: tuple[Question, ...] = ("load", "drift", "gaps", "arrivals", "orders", "handover")


def plain(layout: Layout, **loads: int) -> TrialResult:
    """A load at once, outputs as they are."""
    return run_trial(layout, arrivals_for(layout, loads), limit=LIMIT)


def verdicts(layout: Layout, *handovers: int, seconds: float = 4.0) -> list[Verdict]:
    """All verdicts on evenness."""
    request = Request(questions=EVENNESS, workers=1, limit_s=seconds, mebibytes=64)
    return ask(layout, request, handovers=handovers or (8,)).verdicts


# -- builds whose outputs flow on -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*FLOWS_ON, "mixed"])
def test_a_plain_trial_is_uneven_or_never_rests(name: str) -> None:
    layout = FLOWS_ON.get(name, MIXED)
    result = plain(layout, **{stream.name: 8 for stream in layout.streams})
    assert max(stream.spread for stream in result.streams) > 1 or (name == "round and round" and result.repeats)


def test_what_the_issue_told() -> None:
    """18 / 36, of 18 items in each of two sources."""
    layout = replace(FLOWS_ON["to an output"], rules={})
    assert [one.delivered for one in plain(layout, west=18, east=18).streams] == [(18, 36)] * 2


@pytest.mark.parametrize("name", [*FLOWS_ON, "mixed"])
def test_nothing_is_proved_of_it(name: str) -> None:
    """One load of any size, too, is refuted; and every counterexample is one in a plain trial."""
    layout = FLOWS_ON.get(name, MIXED)
    found = verdicts(layout)
    assert {one.verdict for one in found} <= {"refuted", "open"}, found
    assert [one.verdict for one in found if one.question == "load"] == ["refuted"] * 2
    for one in found:
        if one.verdict == "refuted":
            comes_to_what_it_says(layout, one)
            assert "as they are" not in one.text


@pytest.mark.parametrize("name", FLOWS_ON)
def test_without_the_way_below_it_is_even(name: str) -> None:
    """The same build with nothing below the outputs: then they may be emptied, and every load is proved."""
    layout = FLOWS_ON[name]
    below = {step(cell, "D") for stream in layout.streams for cell in stream.outputs}
    cut = replace(layout, parts=tuple(p for p in layout.parts if not (isinstance(p, Node) and p.at in below)))
    sinks = Subject(cut, default_rules(), 8).sinks
    assert sinks == {cell for stream in layout.streams for cell in stream.outputs}
    assert [one.verdict for one in asked(cut, "load")] == ["proved"] * 2


# -- outputs that are emptied -----------------------------------------------------------------------------------------

HALLS = {
    "two kilns": hall_plans.hall(2),
    "four kilns": hall_plans.hall(4),
    "rows": halls.hall(halls.ROW_HALL),
    "bins": halls.hall(),
    "smallest three": load_layout(RESULTS / "three-kilns-smallest.plan"),
}


@pytest.mark.parametrize("name", HALLS)
def test_kilns_with_product_lanes_are_emptied(name: str) -> None:
    """Nodes below them lead to a bin that nothing reads and that is no output."""
    layout = HALLS[name]
    outputs = {cell for stream in layout.streams for cell in stream.outputs}
    assert Subject(layout, default_rules(), 8).sinks == outputs
    lanes = [cell for cell in outputs if isinstance(layout.by_cell.get(step(cell, "D")), Node)]
    assert lanes or name == "smallest three"


BUILDS = {**FLOWS_ON, **HALLS, **SMALL, "mixed": MIXED}


@pytest.mark.parametrize("name", BUILDS)
def test_which_outputs_are_emptied(name: str) -> None:
    """As worked out step by step."""
    assert Subject(BUILDS[name], default_rules(), 8).sinks == emptied_outputs(BUILDS[name])


def test_an_output_that_is_a_source_is_not_emptied() -> None:
    """The first stream's output is the second one's source."""
    layout = drawn(
        ". . B / . nE . / nE B . / B . .",
        RULES + "stream first clay from 0,0,3 to 1,0,2\nstream second clay from 1,0,2 to 2,0,0",
    )
    assert (1, 0, 2) not in Subject(layout, default_rules(), 8).sinks


def test_bins_take_as_many_kinds_as_they_have_slots() -> None:
    for slots, emptied in ((1, False), (2, True)):
        lines = f"rule bin_slots {slots}\nstream clay clay from 0,0,1 to 1,0,0\nstream tile tile from 2,0,1 to 1,0,0"
        layout = drawn("nE B nW / B . B", lines)
        assert bool(Subject(layout, default_rules(), 8).sinks) == emptied


# -- what verdicts say ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["brimmed", "full first", "two streams", "row of kilns"])
def test_verdicts_say_that_outputs_are_emptied(name: str) -> None:
    """All of those on evenness do, and no other; only where there is an output that is."""
    layout = {**SMALL, "full first": FULL_FIRST}.get(name, HALLS["smallest three"])
    found = ask(layout, Request(limit_s=10.0, workers=1), handovers=(8,)).verdicts
    emptied = bool(emptied_outputs(layout))
    assert emptied == (name != "full first")
    for one in found:
        assert ("outputs emptied as they fill" in one.scope) == (emptied and one.question != "hazards"), one
        tells = (one.question, one.verdict) == ("load", "proved")
        assert ("while outputs are emptied" in one.text) == (emptied and tells)


def test_some_outputs_of_several() -> None:
    (first, _) = asked(FLOWS_ON["to an output"], "load")
    assert first.scope.endswith(", as many of every stream, 1 of 2 outputs emptied as they fill")


# -- random builds ----------------------------------------------------------------------------------------------------

GROUPS = 6
BUILDS_OF_A_GROUP = 12
CASES = 6
"""Trials of each verdict."""


@dataclass
class Trials:
    """Trials of a layout as it is. ``emptied``: outputs that the verdicts take to be emptied."""

    layout: Layout
    emptied: frozenset[Cell]
    seen: Counter[str]

    def run(self, loads: Sequence[Sequence[tuple[int, str, int]]], order: Sequence[Cell] | None) -> bool | None:
        """Loads one after another, each as arrivals from rest on, when every cooldown is over: is each one even at
        rest? None: an output that was to be emptied got full, or a source; nothing is said of that."""
        self.full = False
        trial = Trial(self.layout, order=order, watchers=[self._watch])
        for arrivals in loads:
            result = trial.run([Arrival(*one) for one in arrivals], limit=LIMIT)
            if self.full:
                return None
            if arrivals and not (result.at_rest and all(is_even(stream.delivered) for stream in result.streams)):
                return False
            trial.run((), ticks=max(0, *(node.ready_at - trial.world.tick for node in trial.world.nodes.values())))
        several = [one.delivered for one in result.streams if len(one.delivered) > 1]
        self.seen["shared out"] += any(map(sum, several))
        keeps = any(cell not in self.emptied for stream in self.layout.streams for cell in stream.outputs)
        self.seen["shared out, an output kept"] += keeps and any(map(sum, several))
        return True

    def _watch(self, world: World) -> None:
        for cell in self.emptied:
            slots = world.stores[cell].slots()
            taking = slots[:2] if isinstance(self.layout.by_cell[cell], Furnace) else slots
            limits = [slot is not None and slot[1] == self.layout.items[slot[0]].stack for slot in taking]
            self.full |= any(limits) if len(taking) < len(slots) else any(limits) and None not in slots


def cases_of(verdict: Verdict, subject: Subject, rng: random.Random) -> Iterator[list[list[tuple[int, str, int]]]]:
    """Some of what a verdict is about: loads one after another."""
    names, n, room = [stream.name for stream in subject.streams], subject.per_round, subject.room
    for _ in range(CASES):
        any_number = rng.randint(1, min(room, 4 * n))
        multiple = n * rng.randint(1, max(1, min(room // n, 4)))
        match verdict.question, "k*" in verdict.scope:
            case "load", several:
                yield [[(0, name, multiple if several else any_number) for name in names]]
            case "drift", several:
                waits: list[list[tuple[int, str, int]]] = [[]] if rng.random() < 0.5 else []
                counts = [n * rng.randint(1, room // n) if several else rng.randint(1, any_number) for _ in range(4)]
                yield [*waits, *([(0, name, count) for name in names] for count in counts)]
            case "gaps", True:
                gap = rng.choice((rng.randint(1, 40), rng.randint(1, 200), 1000))
                yield [[(i * gap, name, 1) for i in range(multiple) for name in names]]
            case "orders", _ if verdict.scope.startswith("loads"):
                yield [[(0, name, times * n) for name in names] for times in (1, 2) if times * n <= room]
            case ("arrivals" | "orders"), False if "every pattern" in verdict.scope:
                yield [sorted((rng.randint(0, 60), name, 1) for name in names for _ in range(rng.randint(0, 6)))]


@pytest.mark.parametrize("group", range(GROUPS))
def test_what_is_proved_of_random_builds_holds_in_plain_trials(group: int) -> None:
    """Outputs as they are, in any update order where the verdict is about orders, until one of them is full."""
    seen: Counter[str] = Counter()
    seed = group
    while seen["builds"] < BUILDS_OF_A_GROUP:
        seed += GROUPS
        rng = random.Random(seed)
        layout = random_build(rng)
        if layout is None:
            continue
        subject = Subject(layout, default_rules(), layout.rules["handover"])
        assert subject.sinks == emptied_outputs(layout), f"seed {seed}"
        if not any(one.verdict == "proved" for one in asked(layout, "load", subject.handover)):
            continue
        seen["builds"] += 1
        trials = Trials(layout, subject.sinks, seen)
        for verdict in verdicts(layout, subject.handover, seconds=1.0):
            if verdict.verdict == "proved":
                for loads in cases_of(verdict, subject, rng):
                    machines = [part.at for part in layout.machines]
                    order = rng.sample(machines, len(machines)) if "update order" in verdict.scope else None
                    assert trials.run(loads, order) is not False, f"seed {seed}: {verdict.scope}: {loads} in {order}"
    assert seen["shared out"] > 20, seen
