"""Verdicts on one load: smallest uneven load by brute force, samples of what is proved, cases run again.

The reference is the readable simulator, run load by load; what stands here beside the tests (layouts, the reference
with outputs that are emptied, the replay of a case file) serves the other tests of ``assure`` too.
"""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from dataclasses import dataclass

import pytest

from commands import LAYOUTS, REPOSITORY
from emptying import emptied_outputs
from sim.analysis.assure.asking import ask
from sim.analysis.assure.load import outcomes_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Outcome, Subject
from sim.analysis.assure.verdict import Counterexample, Question, Verdict
from sim.errors import InputError
from sim.world.case_file import Case, case_arrivals, case_document, case_from, case_layout
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Gauge, Node
from sim.world.rulebook import default_rules
from sim.world.signals.wiring import wiring_of
from sim.world.trial import Arrival, Trial, TrialResult
from sim.world.world import World
from worlds import drawn

RESULTS = REPOSITORY / "specs" / "results"
LIMIT = 100_000
"""Ticks after which a run of the reference is given up."""
Pattern = Sequence[tuple[int, int, int]]
"""Arrivals: (tick, stream number, items), ticks ascending."""

# -- layouts ----------------------------------------------------------------------------------------------------------

BRIMMED = (
    ". . . . ; . B B . ; . . . . ; . . . . ; . . . . / . # # # ; . nD nD # ; # # . # ; # . . # ; . . . . / "
    ". - - - ; nE nE nE - ; - gS . - ; iD # iW - ; . . . . / . . . . ; B . . . ; . . . . ; . . . . ; . . . ."
)
BRIMMED_LINES = "rule node_slots 1\nitem tile stack 2\nstream feed tile from 0,3,3 to 1,3,0 2,3,0\n"


def brimmed(holds: str = "holds 2,3,2 tile 2") -> Layout:
    """A row of two in which a gauge passes only a full T1: it unlocks both B nodes, and each takes one.

    Nodes hold two items at most, so that its states are few. ``holds``: the row's starting contents.
    """
    return drawn(BRIMMED, BRIMMED_LINES + holds)


TWO_STREAMS = drawn(
    ". B . / nE nD nW / B . B",
    "rule node_slots 1\nitem tile stack 1\nstream west tile from 0,0,2 to 1,0,0\nstream east clay from 2,0,2 to 1,0,0",
)
"""Tiles and clay meet in one node: it has room for a single tile."""

FULL_FIRST = drawn(
    "nN . / nE nN / B .", "item tile stack 3\nrule node_slots 1\nstream feed tile from 0,0,2 to 0,0,0 1,0,1"
)
"""Two nodes as outputs, each with room for three: the lower one takes the first three, the other one what follows."""

RESTLESS = drawn(
    ". . . . . . - - - ; . . . . . . - . - ; nE nE gE # iW - # iW - / "
    ". . . . . . . . . ; . . . . . . . . . ; B . . . . . . . .",
    "stream feed clay from 0,0,1 to 1,0,0",
)
"""An item in the eastern node ends the hold on an inverter that reads itself: from then on it goes on and off."""

FILL_GAUGE = drawn(
    "- - . . . ; - r1E # # . ; . . nE B . ; B . . . . / . iE # . . ; . . gN gW B ; . . B . . ; . . . . .",
    "item clay stack 14\nrule bin_slots 1\nholds 4,2,1 clay 9\nstream feed clay from 2,1,1 to 3,1,0 0,0,0",
)
"""The source's node is unlocked while the source holds ten items or more; all it passes on goes to the first output."""


def plan(name: str, stack: int | None = None, *rules: str) -> Layout:
    """A layout of the set; ``stack``: another stack limit for its clay; ``rules``: further lines."""
    text = (LAYOUTS / f"{name}.plan").read_text(encoding="utf-8")
    if stack is not None:
        text = text.replace("item   clay stack 64", f"item   clay stack {stack}")
    return layout_from_plan(text.replace("title", "\n".join([*rules, "title"]), 1))


SMALL: dict[str, Layout] = {
    "two, small": plan("burst-row-of-two", 2, "rule node_slots 1", "rule bin_slots 12"),
    "three, small": plan("burst-row-of-three", 2, "rule node_slots 1", "rule bin_slots 12"),
    "three, tiny": plan("burst-row-of-three", 1, "rule node_slots 1", "rule bin_slots 15"),
    "no drain, small": plan("row-of-three-no-drain", 1, "rule node_slots 2", "rule bin_slots 15"),
    "locked, small": plan("row-of-three-locked", 2, "rule node_slots 1", "rule bin_slots 12"),
    "unlocked": plan("row-of-three-unlocked", 1, "rule bin_slots 12"),
    "brimmed": brimmed(),
    "brimmed from nothing": brimmed(""),
    "full first": drawn(
        "nN . / nE nN / B .",
        "item tile stack 3\nrule node_slots 1\nrule bin_slots 3\nstream feed tile from 0,0,2 to 0,0,0 1,0,1",
    ),
    "fill gauge": FILL_GAUGE,
    "two streams": TWO_STREAMS,
}
"""Layouts with sources so small that every load can be run in the reference."""

LARGE: dict[str, Layout] = {
    "two": plan("burst-row-of-two"),
    "no drain": plan("row-of-three-no-drain"),
    "three, smallest": load_layout(RESULTS / "three-kilns-smallest.plan"),
}


def with_handover(layout: Layout, handover: int) -> Layout:
    """The layout under another handover."""
    return case_layout(layout, Case(handover=handover))


# -- the reference ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Came:
    """What a run came to; as ``sim.analysis.assure.subject.Outcome`` has it."""

    delivered: tuple[tuple[int, ...], ...]
    held: int
    last_change: int
    rested: bool

    @property
    def is_uneven(self) -> bool:
        """Some output is two items behind another one, or the build never comes to rest.

        (Where the number delivered can be shared out, a spread of one is impossible.)
        """
        return not self.rested or any(max(shares) - min(shares) > 1 for shares in self.delivered)


def told(outcome: Outcome) -> Came:
    return Came(outcome.delivered, outcome.held, outcome.last_change, outcome.rested)


class Emptied:
    """The readable simulator with somebody who empties the outputs at the end of each tick."""

    def __init__(self, layout: Layout, order: Sequence[Cell] | None = None) -> None:
        self.layout, self.outputs = layout, emptied_outputs(layout)
        self.trial = Trial(layout, order=order, watchers=[self._empty])

    def _empty(self, world: World) -> None:
        for cell in self.outputs:
            world.stores[cell].restore(())

    def run(self, arrivals: Pattern) -> Came:
        """Arrivals by ticks from now, then to rest."""
        names = [stream.name for stream in self.layout.streams]
        result = self.trial.run([Arrival(tick, names[k], count) for tick, k, count in arrivals], limit=LIMIT)
        nodes = self.trial.world.nodes.values()
        held = sum(node.store.items for node in nodes)
        return Came(tuple(s.delivered for s in result.streams), held, self.trial.world.last_change, result.at_rest)

    def cool_down(self) -> int:
        """Let every cooldown end (as from rest on they do by themselves); the ticks that have gone by then."""
        world = self.trial.world
        left = max(node.ready_at - world.tick for node in world.nodes.values())
        self.trial.run((), ticks=max(0, left))
        return world.tick


def reference(layout: Layout, arrivals: Pattern, order: Sequence[Cell] | None = None) -> Came:
    """What a pattern of arrivals comes to."""
    return Emptied(layout, order).run(arrivals)


def at_once(layout: Layout, count: int) -> list[tuple[int, int, int]]:
    """One load of every stream before tick 1."""
    return [(0, k, count) for k in range(len(layout.streams))]


def room_of(layout: Layout) -> int:
    """The items that each source takes before tick 1, found by putting them in."""
    rooms = []
    for stream in layout.streams:
        store, count = World(layout).stores[stream.source], 0
        while store.put(stream.item):
            count += 1
        rooms.append(count)
    return min(rooms)


# -- asking, and running a case again ---------------------------------------------------------------------------------


def asked(layout: Layout, question: Question, *handovers: int, **limits: int | float) -> list[Verdict]:
    """The verdicts on one question (default: under handover 8)."""
    request = Request(questions=(question,), workers=1, **limits)  # type: ignore[arg-type]
    return ask(layout, request, handovers=handovers or (8,)).verdicts


def replayed(layout: Layout, example: Counterexample) -> TrialResult:
    """A counterexample by way of its file's text, run as ``trial LAYOUT --case FILE`` runs it."""
    case = case_from(json.dumps(case_document(example.case)), layout)
    run = Trial(case_layout(layout, case), order=case.order)
    return run.run(case_arrivals(case), limit=LIMIT)


def comes_to_what_it_says(layout: Layout, verdict: Verdict) -> TrialResult:
    """The case delivers exactly what it says, and that is uneven."""
    example = verdict.counterexample
    assert example is not None
    result = replayed(layout, example)
    delivered = {stream.name: stream.delivered for stream in result.streams}
    assert delivered == example.case.delivered
    assert delivered[example.stream] == example.delivered
    never_rests = any(finding.check == "never rests" for finding in result.findings)
    assert never_rests or max(example.delivered) - min(example.delivered) > 1
    shares = " / ".join(map(str, example.delivered))
    assert never_rests or f"come to {shares}" in verdict.text
    assert example.case.text.endswith(verdict.text) or verdict.text.endswith(example.case.text.partition(": ")[2])
    return result


def counts_put_in(verdict: Verdict) -> list[int]:
    """The loads of a counterexample's first stream, in order."""
    assert verdict.counterexample is not None
    case = verdict.counterexample.case
    return [one.count for one in case.arrivals if one.stream == case.arrivals[0].stream]


# -- the tests --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("handover", [7, 8])
@pytest.mark.parametrize("name", SMALL)
def test_every_load_is_as_the_reference_has_it(name: str, handover: int) -> None:
    """All loads up to full sources: what each came to, and both verdicts."""
    layout = SMALL[name]
    given = with_handover(layout, handover)
    every = {count: reference(given, at_once(layout, count)) for count in range(1, room_of(layout) + 1)}
    subject = Subject(layout, default_rules(), handover)
    found = {count: told(outcome) for count, outcome in outcomes_of(subject, Request(), list(every))}
    assert found == every
    per_round = subject.per_round
    scopes = (range(per_round, len(every) + 1, per_round), every)
    for verdict, counts in zip(asked(layout, "load", handover), scopes, strict=True):
        uneven = [count for count in counts if every[count].is_uneven]
        if uneven:
            assert (verdict.verdict, counts_put_in(verdict)[0]) == ("refuted", uneven[0])
            assert verdict.cases == len([count for count in counts if count <= uneven[0]])
        else:
            assert (verdict.verdict, verdict.cases) == ("proved", len(counts))
            assert_text_fits(verdict, layout, [every[count] for count in counts])


def assert_text_fits(verdict: Verdict, layout: Layout, came: Sequence[Came]) -> None:
    """The largest spread and the most that stays in nodes, as the text has them."""
    spread = max(max(shares) - min(shares) for one in came for shares in one.delivered)
    start = sum(slot[1] for part in layout.parts if isinstance(part, Node) for slot in part.holds if slot)
    more = max(one.held for one in came) - start
    if not any(any(shares) for one in came for shares in one.delivered):
        assert "nothing is delivered" in verdict.text
    else:
        assert ("spread 0" if spread == 0 else f"spread at most {spread}") in verdict.text
    assert (f"at most {more} item" if more > 0 else "nothing stays in the nodes") in verdict.text
    assert ("while outputs are emptied" in verdict.text) == bool(emptied_outputs(layout))


def test_the_layouts_are_of_all_sorts() -> None:
    """Even, uneven from the first load on, uneven only from a later one on: or the test above shows little."""
    first = {}
    for name, layout in SMALL.items():
        verdict = asked(layout, "load")[1]
        first[name] = counts_put_in(verdict)[0] if verdict.verdict == "refuted" else None
    assert sum(count is None for count in first.values()) >= 3
    assert sum(count == 2 for count in first.values()) >= 1
    assert sum(count is not None and count > 4 for count in first.values()) >= 1, first


@pytest.mark.parametrize("name", LARGE)
def test_a_sample_of_what_is_proved(name: str) -> None:
    """Large sources, outputs emptied as they fill: small loads and a large one, more than the kilns would take."""
    rng, layout = random.Random(name), LARGE[name]
    assert [verdict.verdict for verdict in asked(layout, "load")] == ["proved"] * 2
    for handover in (7, 8):
        subject = Subject(layout, default_rules(), handover)
        sample = sorted({*range(1, 8), *rng.sample(range(8, 80), 3), *rng.sample(range(200, 400), handover - 7)})
        found = dict(outcomes_of(subject, Request(), sample))
        for count in sample:
            came = reference(with_handover(layout, handover), at_once(layout, count))
            assert told(found[count]) == came, count
            assert not came.is_uneven, count


UNEVEN = {"unlocked": plan("row-of-three-unlocked"), "full first": FULL_FIRST, "fill gauge": FILL_GAUGE}


@pytest.mark.parametrize("name", UNEVEN)
@pytest.mark.parametrize("handover", [7, 8])
def test_refuted_loads_are_run_again(name: str, handover: int) -> None:
    layout = UNEVEN[name]
    for verdict in asked(layout, "load", handover):
        assert verdict.verdict == "refuted"
        assert verdict.handover == handover
        comes_to_what_it_says(layout, verdict)


def test_a_load_that_the_outputs_cannot_hold_is_run_again() -> None:
    """Kilns that take one item each: what a case says is what a trial of it shows, with outputs as they are."""
    layout = SMALL["unlocked"]
    for verdict in asked(layout, "load"):
        assert verdict.counterexample is not None
        result = replayed(layout, verdict.counterexample)
        assert {stream.name: stream.delivered for stream in result.streams} == verdict.counterexample.case.delivered
        assert result.streams[0].delivered == (1, 0, 0)
        assert "as they are, 1 / 0 / 0" in verdict.text


def test_a_build_that_never_rests() -> None:
    for verdict in asked(RESTLESS, "load"):
        assert verdict.verdict == "refuted"
        assert "never comes to rest" in verdict.text or "never come to rest" in verdict.text
        assert any(finding.check == "never rests" for finding in comes_to_what_it_says(RESTLESS, verdict).findings)


def test_a_stream_of_which_nothing_is_delivered() -> None:
    """A node that is always locked keeps the second stream's items back; the first one's are delivered."""
    layout = drawn(
        "B nW iE # B / . B . . nD / . . . . B",
        "item tile stack 2\nrule bin_slots 2\n"
        "stream first tile from 4,0,2 to 4,0,0\nstream second tile from 1,0,1 to 0,0,0",
    )
    for verdict in asked(layout, "load"):
        assert verdict.verdict == "proved"
        assert verdict.text.startswith("nothing of second is delivered, spread 0, ")


def test_no_time_no_proof() -> None:
    for verdict in asked(LARGE["two"], "load", limit_s=0):
        assert (verdict.verdict, verdict.cases) == ("open", 0)
        assert "time was up" in verdict.text


def test_time_that_ends_in_the_middle(monkeypatch: pytest.MonkeyPatch) -> None:
    """The cases that were looked at are told, and no more is claimed."""
    looks = iter([False] * 3)
    monkeypatch.setattr(Request, "is_over", lambda self: next(looks, True))
    first, second = asked(LARGE["two"], "load")
    assert (first.verdict, second.verdict) == ("open", "open")
    assert 0 < first.cases < 864
    assert f"even up to {2 * first.cases} items" in first.text


def test_a_source_without_room_for_a_round() -> None:
    """Nothing is proved of no case at all."""
    layout = drawn(
        ". B B B / . nD nD nD / nE nE nE nE / B . . .",
        "item tile stack 2\nrule bin_slots 1\nstream feed tile from 0,0,3 to 1,0,0 2,0,0 3,0,0",
    )
    for question in ("load", "drift", "gaps", "arrivals", "orders", "handover", "overheating", "hazards"):
        for verdict in asked(layout, question):
            assert verdict.verdict == "open" or verdict.cases > 0, verdict
            if verdict.counterexample is not None:
                replayed(layout, verdict.counterexample)


@pytest.mark.parametrize("slots", ["", "tile 3", "tile 5 . clay 64", "clay 1 tile 1"])
def test_room_of_a_source(slots: str) -> None:
    lines = "item tile stack 5\nrule bin_slots 3\nstream feed tile from 0,0,1 to 1,0,0"
    layout = drawn("nE B / B .", f"{lines}\nholds 0,0,1 {slots}" if slots else lines)
    assert Subject(layout, default_rules(), 8).room == room_of(layout)


BAD_STREAMS = {
    "no stream": ("nE B / B .", "", "no stream"),
    "source no bin": ("nE B / nD .", "stream feed clay from 0,0,1 to 1,0,0", "must be a bin"),
    "no node below": ("B B / B .", "stream feed clay from 0,0,1 to 1,0,0", "no node below"),
    "a source for two": ("nE B / B .", "stream a clay from 0,0,1 to 1,0,0\nstream b tile from 0,0,1 to 1,0,0", "share"),
}


@pytest.mark.parametrize("name", BAD_STREAMS)
def test_layouts_that_are_no_question(name: str) -> None:
    drawing, lines, fault = BAD_STREAMS[name]
    with pytest.raises(InputError, match=fault):
        asked(drawn(drawing, lines), "load")


def test_gauges_in_the_layouts_read_what_they_are_meant_to() -> None:
    """The hand-made ones: a gauge that read nothing would make the tests above say little."""
    for layout in (brimmed(), RESTLESS, FILL_GAUGE):
        wiring = wiring_of(layout)
        for part in layout.parts:
            if isinstance(part, Gauge):
                assert wiring.reads[[one.at for one in wiring.parts].index(part.at)] is not None
    assert wiring_of(FILL_GAUGE).gauges_of_container[(2, 1, 1)]
    assert {type(part) for part in FULL_FIRST.parts} == {Bin, Node}
