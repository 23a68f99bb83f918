"""Verdicts on every pattern of arrivals, held against a search in the readable simulator.

The search here copies ``World``s and tells them apart by what the rulebook says a future depends on; it knows nothing
of the kernel's rows. Raw arrivals (items that wait in the source) are searched as well, to see that leaving them out is
sound.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations_with_replacement

import numpy as np
import pytest

from emptying import emptied_outputs
from sim.analysis.assure import arrivals as arrivals_module
from sim.analysis.assure.arrivals import Explorer, searched
from sim.analysis.assure.asking import ask
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.world.geometry import Cell
from sim.world.kernel import places as p
from sim.world.kernel import reach
from sim.world.kernel.memory import restore
from sim.world.kernel.packing import unpack
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Holds, Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, Trial
from sim.world.world import World
from test_assure_load import (
    FILL_GAUGE,
    FULL_FIRST,
    TWO_STREAMS,
    UNEVEN,
    asked,
    brimmed,
    comes_to_what_it_says,
    plan,
    reference,
    replayed,
    with_handover,
)
from worlds import drawn

Key = tuple[object, ...]

KILN = drawn(
    "B / nD / F / nD / B",
    "item clay stack 2 fires-to brick\nitem charcoal stack 2 burn 5\nitem brick stack 2\nrule node_slots 1\n"
    "rule firing 2\nholds 0,0,2 . charcoal 2\nstream feed clay from 0,0,4 to 0,0,0",
)
"""A kiln on the way that is no output: fuel for five ticks of fire, twice."""

# -- the search in the simulator --------------------------------------------------------------------------------------


@dataclass
class Delivered:
    """Counts what enters the outputs of a world; copied with it."""

    counts: Counter[tuple[Cell, str]] = field(default_factory=Counter)

    def __call__(self, tick: int, cell: Cell, kind: str) -> None:
        self.counts[cell, kind] += 1


class Searched:
    """States at the end of a tick that arrivals lead to, breadth first.

    ``waiting``: so many items may wait in each source, and as many may be put in at once; None: one item of a stream
    at a time, and only where its first node takes it in the tick to come. ``until_uneven``: stop at a rest that is.
    """

    def __init__(self, layout: Layout, waiting: int | None = None, until_uneven: bool = False) -> None:
        self.layout, self.waiting = layout, waiting
        self.emptied = emptied_outputs(layout)
        self.sources = [stream.source for stream in layout.streams]
        first = World(layout, entered=Delivered())
        for cell in self.emptied:
            first.stores[cell].restore(())
        first.start()
        self.worlds, self.keys, self.quiet = [first], {self.key(first): 0}, list[int]()
        self.way: list[tuple[int, tuple[int, ...]]] = [(-1, ())]
        self.uneven: list[int] = []
        self.edges = 0
        while len(self.quiet) < len(self.worlds):
            number = len(self.quiet)
            for puts, after in self._successors(self.worlds[number]):
                self.edges += 1
                found = self.keys.setdefault(self.key(after), len(self.worlds))
                if found == len(self.worlds):
                    self.worlds.append(after)
                    self.way.append((number, puts))
                if not any(puts):
                    self.quiet.append(found)
                    if found == number and self.spread(after) > 1:
                        self.uneven.append(number)
                        if until_uneven:
                            return

    def key(self, world: World, with_sources: bool = True) -> Key:
        """All that the future and the evenness of a rest depend on."""
        out, agenda, _, cooldowns, fires = world.fingerprint()
        apart = set(self.emptied if with_sources else {*self.emptied, *self.sources})
        contents = tuple(store.slots() for cell, store in world.stores.items() if cell not in apart)
        return (out, agenda, contents, cooldowns, fires, self.ahead(world))

    def ahead(self, world: World) -> tuple[int, ...]:
        """By how much each output is ahead of the one of its stream that was served least."""
        return tuple(n - min(shares) for shares in self.shares(world) for n in shares)

    def shares(self, world: World) -> list[tuple[int, ...]]:
        assert isinstance(world.entered, Delivered)
        counts = world.entered.counts
        return [tuple(counts[cell, stream.item] for cell in stream.outputs) for stream in self.layout.streams]

    def spread(self, world: World) -> int:
        return max(max(shares) - min(shares) for shares in self.shares(world))

    def arrivals_to(self, number: int) -> list[tuple[int, int, int]]:
        """The way to a state that was found first: (tick, stream number, items)."""
        ticks: list[tuple[int, ...]] = []
        while number:
            number, puts = self.way[number]
            ticks.append(puts)
        return [(t, k, n) for t, puts in enumerate(reversed(ticks)) for k, n in enumerate(puts) if n]

    def rests(self) -> list[int]:
        return [number for number, after in enumerate(self.quiet) if number == after]

    def never_rest(self) -> list[int]:
        """States from which a cycle of several is come to, though nothing arrives."""
        found = []
        for number in range(len(self.quiet)):
            at = number
            for _ in self.quiet:
                at = self.quiet[at]
            if self.quiet[at] != at:
                found.append(number)
        return found

    def _successors(self, world: World) -> Iterator[tuple[tuple[int, ...], World]]:
        for puts in self._choices(world):
            after = copied(world)
            after.put([(s.source, s.item, n) for s, n in zip(self.layout.streams, puts, strict=True) if n])
            after.advance()
            for cell in self.emptied:
                after.stores[cell].restore(())
            if self.waiting is None and any(after.stores[cell].items for cell in self.sources):
                continue
            yield puts, after

    def _choices(self, world: World) -> Iterator[tuple[int, ...]]:
        """The first stream's number of items changes fastest."""
        most = [1 if self.waiting is None else self.waiting - world.stores[cell].items for cell in self.sources]
        for mixed in np.ndindex(*(n + 1 for n in reversed(most))):
            yield tuple(reversed(mixed))


def copied(world: World) -> World:
    """The same state once more; what never changes is shared."""
    shared = (world.layout, world.rules, world.field.wiring, world._firing)
    return copy.deepcopy(world, {id(one): one for one in shared})


@cache
def simulated(name: str, handover: int) -> Searched:
    return Searched(with_handover(BUILDS[name], handover))


# -- the kernel's states in words -------------------------------------------------------------------------------------


def explored(layout: Layout, handover: int = 8) -> Explorer:
    """All of a layout's states (or as far as to an uneven rest), in the kernel."""
    explorer = Explorer(Subject(layout, default_rules(), handover))
    while explorer.end in (reach.MORE, reach.NO_ROOM):
        if explorer.end == reach.NO_ROOM:
            explorer.grow()
        explorer.piece(100)
    return explorer


def states_of(explorer: Explorer) -> list[Key]:
    """The kernel's rows as the keys of ``Searched``."""
    t, s, m = explorer.subject.tables, explorer.space.s.copy(), explorer.space.m
    kinds = [*t.kinds, None]
    apart = explorer.subject.sinks
    found = []
    for row in explorer.found.rows[: explorer.states]:
        s[p.TICK] = reach.AT_TICK
        for source, _, _ in explorer.subject.sources:
            _clear(t.w, s, int(source))
        unpack(t.w, s, explorer.contents, m, row)
        restore(t.w, s, m, reach.AT_TICK)
        found.append(_key(t.w, s, kinds, [i for i, part in enumerate(t.containers) if part.at not in apart]))
    return found


def _clear(w: np.ndarray, s: np.ndarray, store: int) -> None:
    first, behind = w[w[p.FIRST_SLOT] + store], w[w[p.FIRST_SLOT] + store + 1]
    s[w[p.KIND] + first : w[p.KIND] + behind] = p.NOTHING
    s[w[p.COUNT] + first : w[p.COUNT] + behind] = 0


def _key(w: np.ndarray, s: np.ndarray, kinds: list[str | None], stores: list[int]) -> Key:
    def read(at: int, size: int) -> list[int]:
        return [int(one) for one in s[w[at] : w[at] + w[size]]]

    due = read(p.DUE, p.PARTS)
    queue = [int(one) for one in s[w[p.QUEUE] : w[p.QUEUE] + s[p.PENDING]]]
    agenda = tuple(
        (tick - reach.AT_TICK, tuple(part for part in queue if due[part] == tick))
        for tick in sorted({due[part] for part in queue})
    )
    kind, count = read(p.KIND, p.SLOTS), read(p.COUNT, p.SLOTS)
    contents = []
    for store in stores:
        first, behind = int(w[w[p.FIRST_SLOT] + store]), int(w[w[p.FIRST_SLOT] + store + 1])
        slots = [(kinds[kind[i]], count[i]) if kind[i] != p.NOTHING else None for i in range(first, behind)]
        contents.append(tuple(slots))
    cooldowns = tuple(max(0, one - reach.AT_TICK) for one in read(p.READY, p.NODES))
    fires = tuple(zip(read(p.FIRE, p.FURNACES), read(p.PROGRESS, p.FURNACES), strict=True))
    return (tuple(read(p.OUT, p.PARTS)), agenda, tuple(contents), cooldowns, fires, tuple(read(p.DELIVERED, p.OUTPUTS)))


def without_empty_changes(key: Key) -> Key:
    """An agenda may keep ticks of which no change is left."""
    out, agenda, *rest = key
    assert isinstance(agenda, tuple)
    return (out, tuple(one for one in agenda if one[1]), *rest)


TINY = "rule period 2\nrule handover 2\nrule node_slots 1\nrule bin_slots 1\nitem clay stack 2\n"

# -- states one to one ------------------------------------------------------------------------------------------------

BUILDS: dict[str, Layout] = {
    "brimmed": brimmed(),
    "brimmed from nothing": brimmed(""),
    "two streams": replace(TWO_STREAMS, rules={**TWO_STREAMS.rules, "period": 2, "handover": 2}),
    "restless": drawn(
        ". . . . . . - - - ; . . . . . . - . - ; nE nE gE # iW - # iW - / "
        ". . . . . . . . . ; . . . . . . . . . ; B . . . . . . . .",
        "rule node_slots 1\nitem clay stack 1\nstream feed clay from 0,0,1 to 1,0,0",
    ),
    "kiln": KILN,
    "flows on": drawn(
        ". nE B / nE B nD / B . B",
        f"{TINY}stream west clay from 0,0,2 to 1,0,1\nstream east clay from 2,0,2 to 2,0,0",
    ),
    "fills up": drawn(". nE B gE / nE B . . / B . . .", f"{TINY}stream feed clay from 0,0,2 to 1,0,1"),
    "full at the start": drawn(
        ". . . . . nE B / nE nE nE nE nE B . / B . . . . . .",
        f"{TINY}stream feed clay from 0,0,2 to 5,0,1\nholds 5,0,1 clay 2\norder 5,0,0 0,0,1 1,0,1 2,0,1 3,0,1 4,0,1",
    ),
}
"""Builds whose states are few and in which no rest is uneven; the last ones: an output that passes on what it gets to
another one, or to a bin that is read; and one that holds something, which is taken away before anything begins."""
SLOW = ("brimmed", "brimmed from nothing", "restless", "kiln")
HANDOVERS = {name: (7, 8) if name in SLOW else (1, 2) for name in BUILDS}
EACH = [(name, handover) for name in BUILDS for handover in HANDOVERS[name]]


@pytest.mark.parametrize(("name", "handover"), EACH)
def test_the_states_are_those_of_the_simulator(name: str, handover: int) -> None:
    """As many, the same ones, and each in the kernel once; and the same transitions."""
    theirs, ours = simulated(name, handover), explored(BUILDS[name], handover)
    assert ours.end == reach.DONE
    found = [without_empty_changes(key) for key in states_of(ours)]
    expected = [without_empty_changes(key) for key in theirs.keys]
    assert len(expected) > 30
    assert (len(found), len(set(found))) == (len(expected), len(set(expected)))
    assert set(found) == set(expected)
    assert ours.edges == theirs.edges
    assert [int(one) for one in ours.found.quiet[: ours.states]] == theirs.quiet


def by_totals(key: Key) -> Key:
    """Of each container what it holds in all, whichever slots that is in."""
    out, agenda, contents, *rest = key
    assert isinstance(contents, tuple)
    totals = []
    for slots in contents:
        counts: Counter[str] = Counter()
        for kind, count in filter(None, slots):
            counts[kind] += count
        totals.append(tuple(sorted(counts.items())))
    return (out, agenda, tuple(totals), *rest)


@pytest.mark.parametrize("name", ["row-of-three-locked", "burst-row-of-two"])
def test_where_one_kind_flows_the_total_is_all_that_counts(name: str) -> None:
    """Nodes of two slots of two. The search in the simulator tells slots apart, the kernel's rows tell totals alone:
    the same states by totals."""
    layout = plan(name)
    layout = replace(layout, rules={**layout.rules, "node_slots": 2, "stack": 2}, items={"clay": ItemKind(stack=2)})
    theirs, ours = Searched(layout, until_uneven=True), explored(layout)
    assert ours.contents.by_total[0] == 1
    if theirs.uneven:
        assert ours.end == reach.UNEVEN
        return
    expected = {by_totals(without_empty_changes(key)) for key in theirs.keys}
    found = [by_totals(without_empty_changes(key)) for key in states_of(ours)]
    assert len(found) == len(set(found))
    assert set(found) == expected


@pytest.mark.parametrize(
    "slots",
    [(("clay", 13), ("clay", 64)), (("clay", 30), ("clay", 30), ("clay", 17)), (("clay", 64), None, ("clay", 13))],
)
def test_which_slots_hold_what_makes_no_difference_to_one_kind(slots: Holds) -> None:
    """The same arrivals to a gate that holds 77 in the first slots, or others: the same deliveries, to the tick."""
    layout, gate = plan("gated-row-of-three"), (2, 1, 2)
    told = []
    for holds in ((("clay", 64), ("clay", 13)), slots):
        parts = tuple(replace(part, holds=holds) if isinstance(part, Node) and part.at == gate else part
                      for part in layout.parts)  # fmt: skip
        trial = Trial(replace(layout, parts=parts))
        arrivals = [Arrival(9 * i + (i * i) % 7, "feed", 1 + i % 3) for i in range(40)]
        entered: list[tuple[int, Cell]] = []
        trial.world.entered = lambda tick, cell, kind: entered.append((tick, cell))  # noqa: B023
        result = trial.run(arrivals, limit=20_000)
        held = {cell: store.items for cell, store in trial.world.stores.items()}
        told.append((entered, held, result.streams[0].delivered, result.tick))
    assert told[0][0]
    assert told[0] == told[1]


@pytest.mark.parametrize(("name", "handover"), [one for one in EACH if one[0] != "restless"])
def test_verdicts_are_those_of_the_search_in_the_simulator(name: str, handover: int) -> None:
    theirs = simulated(name, handover)
    (verdict,) = asked(BUILDS[name], "arrivals", handover)
    assert theirs.uneven == theirs.never_rest() == []
    assert (verdict.verdict, verdict.states, verdict.cases) == ("proved", len(theirs.worlds), len(theirs.worlds))
    spread = max(theirs.spread(theirs.worlds[number]) for number in theirs.rests())
    assert spread == 0
    assert f"{len(theirs.rests())} rest" in verdict.text


@pytest.mark.parametrize("handover", [7, 8])
def test_a_build_with_an_uneven_rest_is_searched_as_far_as_to_the_first(handover: int) -> None:
    layout = plan("burst-row-of-two")
    theirs = Searched(with_handover(layout, handover), until_uneven=True)
    (verdict,) = asked(layout, "arrivals", handover)
    (number,) = theirs.uneven
    assert (verdict.verdict, verdict.states, verdict.cases) == ("refuted", len(theirs.worlds), number)
    assert verdict.counterexample is not None
    assert verdict.counterexample.delivered == theirs.shares(theirs.worlds[number])[0]
    arrivals = [(one.tick, 0, one.count) for one in verdict.counterexample.case.arrivals]
    assert arrivals == theirs.arrivals_to(number)


# -- just in time, or waiting -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["brimmed", "brimmed from nothing", "two streams", "kiln"])
def test_items_that_wait_lead_to_no_other_states(name: str) -> None:
    """Up to three items in each source (one, where there are two), several put in at once: but for the sources, the
    states are those with arrivals just in time; so are the rests, and all of them are even."""
    raw = Searched(BUILDS[name], waiting=1 if name == "two streams" else 3)
    just_in_time = simulated(name, HANDOVERS[name][1])
    assert len(raw.worlds) > len(just_in_time.worlds)
    projected = {raw.key(world, with_sources=False) for world in raw.worlds}
    assert projected == {just_in_time.key(world, with_sources=False) for world in just_in_time.worlds}
    rests = {raw.key(raw.worlds[number], with_sources=False) for number in raw.rests()}
    assert rests == {just_in_time.key(just_in_time.worlds[n], with_sources=False) for n in just_in_time.rests()}
    assert raw.uneven == raw.never_rest() == []


# -- shortest ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["unlocked", "full first", "two"])
@pytest.mark.parametrize("handover", [7, 8])
def test_counterexamples_are_run_again_and_none_ends_sooner(name: str, handover: int) -> None:
    """All patterns of as many items within as many ticks, several at once or one by one, in the simulator.

    The search goes by the tick in which cooldowns are over as well: within a period after the last change.
    """
    layout = {**UNEVEN, "two": plan("burst-row-of-two")}[name]
    (verdict,) = asked(layout, "arrivals", handover)
    result = comes_to_what_it_says(layout, verdict)
    assert verdict.counterexample is not None
    items, last = len(verdict.counterexample.case.arrivals), verdict.counterexample.case.arrivals[-1].tick
    assert f"{items} items, the last one after tick {last}" in verdict.text
    given = with_handover(layout, handover)
    settled = result.tick + max(8, handover)
    for count in range(1, items + 1):
        for ticks in combinations_with_replacement(range(last), count):
            came = reference(given, [(tick, 0, 1) for tick in ticks])
            if came.is_uneven:
                assert count >= items, ticks
                assert came.last_change + max(8, handover) >= settled - 8, ticks


# -- builds that never rest -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("handover", [7, 8])
def test_a_build_that_never_rests_is_refuted(handover: int) -> None:
    theirs = simulated("restless", handover)
    assert theirs.uneven == []
    restless = theirs.never_rest()
    assert 0 < len(restless) < len(theirs.worlds)
    (verdict,) = asked(BUILDS["restless"], "arrivals", handover)
    assert verdict.verdict == "refuted"
    assert verdict.counterexample is not None
    assert "never come to rest" in verdict.text
    result = replayed(BUILDS["restless"], verdict.counterexample)
    assert any(finding.check == "never rests" for finding in result.findings)
    case = verdict.counterexample.case
    fewest = min(len(theirs.arrivals_to(number)) for number in restless)
    assert len(case.arrivals) == fewest == 1


def test_no_restless_build_ends_sooner_than_the_one_told() -> None:
    """The last arrival is no later than that of any way into restlessness."""
    theirs = simulated("restless", 8)
    soonest = min(theirs.arrivals_to(number)[-1][0] for number in theirs.never_rest())
    (verdict,) = asked(BUILDS["restless"], "arrivals")
    assert verdict.counterexample is not None
    assert verdict.counterexample.case.arrivals[-1].tick == soonest


def test_never_rests_by_hand() -> None:
    """Quiet successors drawn by hand: the first state from which a cycle of several is come to."""
    for quiet, restless in (
        ([1, 2, 2], p.NOTHING), ([0, 1, 2], p.NOTHING), ([1, 0], 0), ([1, 1, 4, 2, 3], 2), ([3, 1, 1, 4, 3], 0),
    ):
        found = reach.new_explored(4, 8)
        found.quiet[: len(quiet)] = quiet
        found.counts[reach.ROWS] = len(quiet)
        assert reach.never_rests(found, np.zeros(len(quiet), np.int32)) == restless, quiet


# -- limits -----------------------------------------------------------------------------------------------------------


def test_no_time() -> None:
    (verdict,) = asked(brimmed(), "arrivals", limit_s=0)
    assert (verdict.verdict, verdict.cases, verdict.states) == ("open", 0, 1)
    assert "time was up: 0 of the 1 states met so far" in verdict.text


def test_time_that_ends_in_the_middle(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was looked at is told; the same search goes on to a proof when it may."""
    monkeypatch.setattr(arrivals_module.Explorer.piece, "__defaults__", (10,))
    looks = iter([False] * 4)
    request = Request()
    subject = Subject(brimmed(), default_rules(), 8)
    with monkeypatch.context() as patched:
        patched.setattr(Request, "is_over", lambda self: next(looks, True))
        search = searched(Explorer(subject), request, 100)
        assert (search.end, search.why, search.expanded) == (reach.MORE, "time was up", 40)
        assert 40 < search.states <= 114
    assert searched(Explorer(subject), request, 100).end == reach.DONE


def test_stopped() -> None:
    request = Request()
    request.stop.set()
    search = searched(Explorer(Subject(brimmed(), default_rules(), 8)), request, 100)
    assert (search.end, search.expanded) == (reach.MORE, 0)


def test_memory_limit() -> None:
    """A row that is always locked has more states than this much memory has room for, none of them uneven."""
    layout = plan("row-of-three-locked")
    subject = Subject(layout, default_rules(), 8)
    search = searched(Explorer(subject), Request(), 3)
    assert (search.end, search.why) == (reach.MORE, "the memory limit was reached")
    assert 0 < search.expanded <= search.states
    row = Explorer(subject).found.rows.shape[1]
    assert search.states * row < 3 * 2**20
    (verdict,) = asked(layout, "arrivals", mebibytes=3)
    assert verdict.verdict == "open"
    assert f"{search.expanded:,} of the {search.states:,} states" in verdict.text


@pytest.mark.parametrize("mebibytes", [3, 6])
def test_memory_grows_no_further_than_the_limit(monkeypatch: pytest.MonkeyPatch, mebibytes: int) -> None:
    """Old rows and new ones together, each time that they are moved."""
    grown, most = Explorer.grow, [0.0]

    def watched(self: Explorer) -> None:
        before = self.mebibytes
        grown(self)
        most[0] = max(most[0], before + self.mebibytes)

    monkeypatch.setattr(Explorer, "grow", watched)
    search = searched(Explorer(Subject(plan("row-of-three-locked"), default_rules(), 8)), Request(), mebibytes)
    assert search.why == "the memory limit was reached"
    assert most[0] <= mebibytes
    assert mebibytes < 6 or most[0] > 3


def test_too_many_signal_states(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever room there is for them: the whole search, or none; never something between that is called a proof."""
    subject = Subject(brimmed(""), default_rules(), 8)
    whole = searched(Explorer(subject), Request(), 100)
    ends = set()
    for room in (1, 2, 4, 8, 16, 32, 64, 128):
        monkeypatch.setattr(arrivals_module, "SIGNAL_STATES", room)
        for piece in (1, 3, 1000):
            monkeypatch.setattr(arrivals_module.Explorer.piece, "__defaults__", (piece,))
            search = searched(Explorer(subject), Request(), 100)
            ends.add(search.end)
            assert search == whole if search.end == reach.DONE else search.end == reach.TOO_MANY_SIGNALS
    assert ends == {reach.DONE, reach.TOO_MANY_SIGNALS}


def test_counts_that_grow_without_end_prove_nothing() -> None:
    """Restless from the start, and all goes to the first output: no rest is ever reached, the lead grows and grows."""
    layout = drawn(
        ". . . . - - - ; . . . . - . - ; . B B . # iW - / . . . . . . . ; . . . . . . . ; nE nD . . . . . / "
        ". . . . . . . ; . . . . . . . ; B . . . . . .",
        "stream feed clay from 0,0,2 to 1,0,0 2,0,0",
    )
    (verdict,) = asked(layout, "arrivals")
    assert verdict.verdict in ("open", "refuted")
    assert verdict.verdict == "refuted" or "states met so far" in verdict.text


WHY_NOT = {
    "a gauge reads it": (FILL_GAUGE, "a gauge reads the source at 2,1,1"),
    "it holds something": (
        drawn("nE B / B .", "holds 0,0,1 clay 1\nstream feed clay from 0,0,1 to 1,0,0"),
        "the source at 0,0,1 holds something",
    ),
    "a node pushes into it": (
        drawn("nE B . / B nW . / . B .", "stream feed clay from 0,0,1 to 1,0,0"),
        "a node pushes into the source at 0,0,1",
    ),
}


@pytest.mark.parametrize("name", WHY_NOT)
def test_sources_that_the_search_is_not_made_for(name: str) -> None:
    layout, why = WHY_NOT[name]
    (verdict,) = asked(layout, "arrivals")
    assert (verdict.verdict, verdict.cases) == ("open", 0)
    assert why in verdict.text


def test_one_core_or_two_come_to_the_same() -> None:
    found = []
    for workers in (1, 2):
        request = Request(questions=("arrivals",), workers=workers)
        verdicts = ask(FULL_FIRST, request, handovers=(8, 7)).verdicts
        found.append([(one.verdict, one.states, one.text) for one in verdicts])
    assert found[0] == found[1]
    assert len(found[0]) == 2
