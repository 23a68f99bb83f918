"""Which limits clash: the deletion on made-up questions, against brute force; and real specs, checked by hand."""

from __future__ import annotations

import copy
import json
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import chain, combinations
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import synth.answer.clashes
from commands import faults, run_as_user
from splitwright.proposing.report import proposal_report
from synth.answer.clashes import clashes, deleted, explain, fixed_limits, with_relaxed
from synth.answer.obstacles import obstacles, relaxations
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.read.spec_file import spec_from_toml
from synth.search.known.atlas import atlas
from synth.search.known.build import Store
from synth.search.known.cache import Cache
from synth.search.race import first_layout
from synth.search.request import Request
from synth.search.result import Answer, Claim, Clash, Obstacle
from synth.search.scope import required_handovers

SPEC = """title = "Two kilns"
[split]
outputs = 2
scheme = "burst row"
handover = "both"
[site]
size = {size}
{site}
[streams.feed]
item = "clay"
{stream}
{more}
"""


def spec(size: str, site: str = "", stream: str = "", more: str = "") -> Spec:
    return spec_from_toml(SPEC.format(size=size, site=site, stream=stream, more=more))


def limits_of(asked: Spec) -> list[str]:
    return [one.limit for one in relaxations(asked)]


# -- the deletion, on made-up questions --------------------------------------------------------------------------------

LIMITS = ("a", "b", "c", "d", "e")
SOME = st.frozensets(st.sampled_from(LIMITS))


class World:
    """A made-up question: infeasible where all limits of one of ``cores`` are in force. What is asked with as many
    limits relaxed as in ``dark`` is not decided."""

    def __init__(self, cores: Iterable[frozenset[str]], dark: Iterable[int] = ()) -> None:
        self.cores, self.dark = list(cores), set(dark)
        self.asked: list[tuple[str, ...]] = []

    def feasible(self, in_force: Iterable[str]) -> bool:
        return not any(core <= set(in_force) for core in self.cores)

    def alone(self, limit: str) -> bool:
        return self.feasible(set(LIMITS) - {limit})

    def ask(self, relaxed: tuple[str, ...], to_come: int) -> bool | None:
        assert to_come >= 1
        self.asked.append(relaxed)
        return None if len(self.asked) in self.dark else self.feasible(set(LIMITS) - set(relaxed))


@given(st.lists(SOME, min_size=1, max_size=4), st.sets(st.sampled_from(LIMITS)))
def test_a_decided_clash_is_minimal(cores: list[frozenset[str]], told: set[str]) -> None:
    """Infeasible by itself, feasible without any one of it: by brute force over all that it might be."""
    world = World(cores)
    known = {limit: world.alone(limit) if limit in told else None for limit in LIMITS}
    kept = deleted(LIMITS, known, set(), world.ask)
    assert not world.feasible(kept)
    assert all(kept.values())
    subsets = chain.from_iterable(combinations(kept, size) for size in range(len(kept)))
    assert all(world.feasible(subset) for subset in subsets)
    assert len(world.asked) <= len(LIMITS)


@given(
    st.lists(SOME, min_size=1, max_size=4), st.sets(st.sampled_from(LIMITS)), st.sets(st.integers(1, 5)),
    st.sets(st.sampled_from(LIMITS)),
)  # fmt: skip
def test_only_what_is_proved_is_left_out(
    cores: list[frozenset[str]], told: set[str], dark: set[int], fixed: set[str]
) -> None:
    """Whatever stays undecided: what is left is infeasible, each True is true, and None stands only where it was not
    known and not decided, or must not be relaxed."""
    world = World(cores, dark)
    known = {limit: world.alone(limit) if limit in told else None for limit in LIMITS}
    kept = deleted(LIMITS, known, fixed, world.ask)
    assert not world.feasible(kept)
    assert fixed <= kept.keys()
    for limit, helps in kept.items():
        if helps:
            assert world.feasible(set(kept) - {limit})
        elif limit not in fixed:
            assert dark


def test_what_is_known_is_not_asked_again() -> None:
    world = World([frozenset("ad")])
    known = {limit: world.alone(limit) for limit in LIMITS}
    assert deleted(LIMITS, known, set(), world.ask) == {"a": True, "d": True}
    assert world.asked == [("b", "c"), ("b", "c", "e")]


def test_limits_that_help_alone_need_no_question() -> None:
    world = World([frozenset(LIMITS)])
    assert deleted(LIMITS, dict.fromkeys(LIMITS, True), set(), world.ask) == dict.fromkeys(LIMITS, True)
    assert world.asked == []


def test_nothing_decided_leaves_everything() -> None:
    assert deleted(LIMITS, {}, set(), lambda *_: None) == dict.fromkeys(LIMITS)


# -- several limits relaxed --------------------------------------------------------------------------------------------


def test_relaxing_all_of_them() -> None:
    asked = spec(
        "[4, 3, 4]", "blocked = [[3, 2, 3]]", "source = [0, 0, 3]\noutputs_at = [[0, 1, 0], [1, 1, 0]]",
        "[parts]\nrelay = {most = 0, price = 5}",
    )  # fmt: skip
    free = with_relaxed(asked, limits_of(asked))
    assert (free.size, free.blocked) == ((5, 4, 5), frozenset())
    assert (free.limit("relay").most, free.limit("relay").price) == (None, 5)
    assert (free.streams[0].source, free.streams[0].outputs_at) == (None, ())
    assert limits_of(free) == ["width 5", "depth 4", "height 5"]
    assert with_relaxed(asked, ["depth 3"]) == replace(asked, size=(4, 4, 4))
    for order in ("forth", "back"):
        names = limits_of(asked)[:: 1 if order == "forth" else -1]
        assert with_relaxed(asked, names) == free, "whichever comes first"


@pytest.mark.parametrize(
    ("source", "fixed"), [("W", []), ("S", []), ("D", []), ("E", ["width 4"]), ("N", ["depth 3"]), ("U", ["height 4"])]
)
def test_a_source_on_a_far_side_pins_that_side(source: str, fixed: list[str]) -> None:
    """On the east, north and upper side the outermost cells are others when the site grows."""
    asked = spec("[4, 3, 4]", "", f'source = "{source}"')
    assert list(fixed_limits(asked)) == fixed


# -- specs, by hand ----------------------------------------------------------------------------------------------------

QUICK = Request(1, 60.0, 1)


def ruled_out(asked: Spec, request: Request = QUICK) -> bool:
    answer = first_layout(asked, request)
    return not answer.proposals and answer.rules_out(asked.size, required_handovers(asked))


def names(clash: Clash) -> list[str]:
    return [limit.limit for limit in clash.limits]


def explained(asked: Spec, request: Request = QUICK) -> Answer:
    answer = first_layout(asked, request)
    explain(asked, answer, request)
    return answer


def test_no_room_even_with_a_cell_more_of_everything() -> None:
    """2 x 2 x 2: bin, T, B and furnace of one column take four layers (rulebook, section 5)."""
    (clash,) = explained(spec("[1, 1, 1]")).clashes
    assert (clash.limits, clash.is_minimal) == ((), True)
    assert clash.text == (
        "No clash of these limits: none exists even with a cell more of width, a cell more of depth and a cell more of "
        "height (proved)."
    )


HELD_APART = spec("[4, 2, 4]", "", "source = [3, 0, 3]\noutputs_at = [[0, 0, 0], [0, 1, 0]]")
"""T0 stands below the bin, x = 3; T1 and T2 above the furnaces, x = 0. T0 is beside T1 (rulebook, section 5): never."""
KNOWN_APART = [Obstacle(limit, "", True if limit.startswith("the ") else None) for limit in limits_of(HELD_APART)]
"""As if it were known that either pin alone helps: that takes a search, the proofs do not."""


@pytest.fixture(scope="module")
def held_apart() -> Clash:
    (clash,) = clashes(HELD_APART, KNOWN_APART, QUICK)
    return clash


@pytest.mark.slow
def test_two_pins_that_are_too_far_apart_clash(held_apart: Clash) -> None:
    assert names(held_apart) == ["the source of feed", "the furnaces of feed"]
    assert held_apart.is_minimal
    assert held_apart.text == (
        "The place of the source of feed and the place of the furnaces of feed clash: with both, none exists even with "
        "a cell more of width, a cell more of depth and a cell more of height (proved). With the source of feed "
        "anywhere or the furnaces of feed anywhere, there is one then (confirmed)."
    )


@pytest.mark.slow
def test_asked_once_more_by_itself(held_apart: Clash) -> None:
    """Ruled out with just the two; without either one there is a layout. And the same each time."""
    others = [limit for limit in limits_of(HELD_APART) if limit not in names(held_apart)]
    assert ruled_out(with_relaxed(HELD_APART, others))
    for limit in names(held_apart):
        answer = first_layout(with_relaxed(HELD_APART, [*others, limit]), Request(1, 300.0, 2))
        assert answer.proposals, limit
    assert clashes(HELD_APART, KNOWN_APART, QUICK) == [held_apart]


def proving(asked: Spec, request: Request) -> Answer:
    """A search that proves at once that there is none, unless it is stopped."""
    if request.stop.is_set():
        return Answer(schemes=("burst row",))
    return Answer(claims=[Claim(asked.size, "none exists", 0.0, required_handovers(asked))], schemes=("",))


@pytest.mark.parametrize("after", [0, 1, 2])
def test_nothing_is_proved_after_the_end(after: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped in the question after so many: only as many limits are left out as proofs were given."""
    stop, asked = threading.Event(), 0

    def stopping(easier: Spec, request: Request) -> Answer:
        nonlocal asked
        asked += 1
        if asked > after:
            stop.set()
        return proving(easier, request)

    monkeypatch.setattr(synth.answer.clashes, "first_layout", stopping)
    found = clashes(HELD_APART, KNOWN_APART, replace(QUICK, stop=stop))
    assert asked == after + 1
    if after == 0:
        assert found == []
        return
    (clash,) = found
    assert len(clash.limits) == len(limits_of(HELD_APART)) - after
    assert not clash.is_minimal
    assert " clash, or some of them: with all of them, none exists even with " in clash.text
    assert clash.text.endswith(": not decided in time.")
    assert [limit.helps for limit in clash.limits] == [True, True, *[None] * (3 - after)]


def test_what_was_refused_by_the_simulator_is_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    """An open claim, one about layouts of few parts, one about a smaller box: none leaves a limit out."""
    for claim in (
        Claim((5, 2, 4), "open", 0.0, (8, 7), refused=1),
        Claim((5, 2, 4), "none exists", 0.0, (8, 7), parts=20),
        Claim((3, 2, 4), "none exists", 0.0, (8, 7)),
    ):
        answer = Answer(claims=[claim], schemes=("",))
        monkeypatch.setattr(synth.answer.clashes, "first_layout", lambda *_, answer=answer: answer)
        assert clashes(HELD_APART, [], QUICK) == []


def test_a_limit_that_is_none_is_never_relaxed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The source stands on the far side, which moves when the site grows: no question may let it grow that way."""
    asked: list[Spec] = []

    def noting(easier: Spec, request: Request) -> Answer:
        asked.append(easier)
        return proving(easier, request)

    monkeypatch.setattr(synth.answer.clashes, "first_layout", noting)
    pinned = spec("[4, 2, 4]", "", 'source = "E"\noutputs_at = [[0, 0, 0], [0, 1, 0]]')
    (clash,) = clashes(pinned, [], QUICK)
    assert names(clash) == ["width 4"]
    assert [easier.size for easier in asked] == [(4, 2, 4), (4, 2, 4), (4, 3, 4), (4, 3, 5)]


@pytest.mark.parametrize(("took", "given"), [(1.0, [12.0] * 5), (0.5, [12.0, 13.5, 15.75, 19.6875, 29.53125])])
def test_each_question_has_its_share_of_what_is_left(
    took: float, given: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """60 seconds, five limits, each question takes this part of what it may: what one leaves, the others have."""
    now, had = 1000.0, []

    def asking(_: Spec, request: Request) -> Answer:
        nonlocal now
        had.append(request.limit_s)
        now += took * request.limit_s
        return Answer(schemes=("burst row",))

    monkeypatch.setattr(synth.answer.clashes, "time", SimpleNamespace(monotonic=lambda: now))
    monkeypatch.setattr(synth.answer.clashes, "first_layout", asking)
    assert len(limits_of(HELD_APART)) == 5
    clashes(HELD_APART, [], QUICK)
    assert had == pytest.approx(given)


def test_no_time_at_all() -> None:
    assert clashes(HELD_APART, KNOWN_APART, replace(QUICK, limit_s=0.0)) == []


def test_what_is_not_ruled_out_has_no_clash(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that was stopped proves nothing, so nobody asks which limits are to blame."""
    monkeypatch.setattr(synth.answer.clashes, "first_layout", lambda *_: pytest.fail("asked"))
    answer = Answer(schemes=("burst row",))
    explain(spec("[3, 2, 4]"), answer, Request(1, 0.0, 1))
    assert answer.clashes == []
    assert [obstacle.helps for obstacle in answer.obstacles] == [None, None, None]


def test_layouts_of_other_questions_are_told_to_nobody(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Whoever writes down what is found for a spec must not get layouts that break its limits."""
    given_on: list[Request] = []

    def noting(_: Spec, request: Request) -> Answer:
        given_on.append(request)
        return Answer(schemes=("burst row",))

    def never(_: Proposal) -> None:
        raise AssertionError

    monkeypatch.setattr(synth.answer.clashes, "first_layout", noting)
    stores: list[Store] = []
    request = Request(3, 60.0, 1, 7, 500, stores=stores, cache=Cache(tmp_path / "known.sqlite"), found=never)
    clashes(HELD_APART, KNOWN_APART, request)
    assert given_on
    for one in given_on:
        assert one.found is not never
        assert (one.ledger, one.cache, one.workers, one.seed, one.mebibytes) == (None, None, 1, 7, 500)
        assert one.stores is stores, "what is known helps there as well"


def test_the_report_shows_the_clash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(synth.answer.clashes, "first_layout", proving)
    found = clashes(HELD_APART, KNOWN_APART, QUICK)
    answer = Answer(obstacles=KNOWN_APART, clashes=found)
    lines = [str(line) for line in proposal_report(HELD_APART, answer, (), quiet=True)]
    assert lines[-1] == found[0].text
    assert lines[-1].startswith("The place of the source of feed and the place of the furnaces of feed clash: with ")
    (told,) = answer.as_json()["clashes"]
    assert told["beside"] == ["a cell more of width", "a cell more of depth", "a cell more of height"]
    assert told["minimal"] is True


@pytest.fixture(scope="module")
def proposed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The document of ``propose`` for a site with room enough, and one gauge where a row takes two."""
    path = tmp_path_factory.mktemp("clashes") / "spec.toml"
    more = "[parts.gauge]\nmost = 1"
    path.write_text(SPEC.format(size="[4, 2, 4]", site="", stream="", more=more), encoding="utf-8")
    result = run_as_user("propose", str(path), "--json", "--workers", "1", "--time-limit", "100")
    assert result.returncode == 1, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.slow
def test_the_document_of_propose_has_the_clash(proposed: dict[str, Any]) -> None:
    """Both ends of a burst row are read, so one gauge never does; with more of them, 4 x 2 x 4 has a layout
    (specs/results)."""
    assert faults(proposed, "splitwright-proposals-1") == []
    gauges = "parts.gauge.most = 1"
    assert {one["limit"]: one["helps"] for one in proposed["obstacles"]} == {
        gauges: True, "width 4": False, "depth 2": False, "height 4": False
    }  # fmt: skip
    (clash,) = proposed["clashes"]
    assert [(one["limit"], one["helps"]) for one in clash["limits"]] == [(gauges, True)]
    assert clash["text"] == (
        "At most 1 gauge alone rules it out: none exists even with a cell more of width, a cell more of depth and a "
        "cell more of height (proved). With any number of gauges, there is one then (confirmed)."
    )
    assert not any("a site of 4 x 2 x 4" in sentence for sentence in proposed["advice"]), "that is the one at hand"
    assert not any("More time" in sentence for sentence in proposed["advice"]), "no time will do"


@pytest.mark.slow
@pytest.mark.parametrize(
    "spoil",
    [
        lambda clash: clash.pop("minimal"),
        lambda clash: clash.update(text=""),
        lambda clash: clash.update(limits=[{"limit": "width 4", "relaxed": "width 5", "helps": False}]),
        lambda clash: clash.update(beside=[""]),
    ],
)
def test_the_schema_refuses(proposed: dict[str, Any], spoil: Callable[[dict[str, Any]], object]) -> None:
    spoiled = copy.deepcopy(proposed)
    spoil(spoiled["clashes"][0])
    assert spoiled != proposed
    assert faults(spoiled, "splitwright-proposals-1") != []


@pytest.mark.slow
def test_width_and_depth_clash() -> None:
    """Two kilns in 3 x 2 x 4: specs/results/record.json has proofs for 3 x 2 x 4 and 3 x 2 x 5, and a build of
    4 x 2 x 4; 3 x 3 x 4 is found here."""
    asked = spec("[3, 2, 4]")
    (clash,) = explained(asked, Request(1, 240.0, 1, stores=(atlas(),))).clashes
    assert names(clash) == ["width 3", "depth 2"]
    assert clash.is_minimal
    assert clash.beside == ("a cell more of height",)
    for limit in names(clash):
        assert not ruled_out(with_relaxed(asked, ["height 4", limit]), Request(1, 120.0, 1, stores=(atlas(),)))


@pytest.mark.slow
def test_the_height_alone() -> None:
    """A row fed from the top takes four layers: bin, T, B, furnace."""
    asked = spec("[4, 2, 3]", "blocked = [[3, 1, 2]]")
    answer = explained(asked, Request(1, 240.0, 1))
    (clash,) = answer.clashes
    assert names(clash) == ["height 3"]
    assert clash.text.startswith("The height of 3 alone rules it out: none exists even with no cell blocked, a cell m")
    helps: Sequence[Obstacle] = answer.obstacles
    assert {o.limit: o.helps for o in helps}["width 4"] is False
    assert obstacles(asked, replace(QUICK, limit_s=0.0))[0].helps is None
