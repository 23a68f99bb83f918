"""Split trees: joined from known builds, nothing of the split in front near the rows, even however the clay comes."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from sim.analysis.idle_wiring import builders_findings
from sim.world.geometry import VECTORS, Cell, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from synth.ask.spec import Face
from synth.confirm.judge import Judge
from synth.schemes.registry import admissible, admissible_joined, scheme_named, schemes, why_not
from synth.schemes.split_tree import JOINED, branches
from synth.search.known.joined import SplitTrees, joined
from synth.search.known.laid import LaidRows
from synth.search.known.matching import placements
from synth.search.race import propose
from synth.search.request import Request
from test_atlas_builds import spec_of

TREES = SplitTrees()
RULES = default_rules()


def tree(outputs: int, face: Face = "top") -> Layout:
    """The smallest one, on a site of its own."""
    builds = TREES.builds(JOINED.name, face, outputs)
    build = min(builds, key=lambda one: one.layout.size[0] * one.layout.size[1])
    spec = spec_of(JOINED.name, face, outputs, (*(max(build.layout.size[:2]),) * 2, build.layout.size[2]))
    return next(placements(build, spec))


def test_which_numbers_there_are() -> None:
    """Twice, three times and four times 10 to 21, by hand; 20 is in reach of twice 10, but of one row too."""
    products = {p * n for p in (2, 3, 4) for n in range(10, 22)}
    assert {n for n in range(2, 100) if branches(n)} == products
    assert [branches(n) for n in (22, 33, 44, 48, 64, 23, 46, 62)] == [2, 3, 4, 3, 4, 0, 0, 0]
    assert JOINED.outputs_least == min(products)
    assert JOINED.outputs_most(spec_of(JOINED.name, "top", 22, (9, 9, 9)).rules, 64) == max(products)


def test_it_is_no_scheme_that_is_searched_or_claimed_about() -> None:
    assert JOINED.name not in schemes()
    assert scheme_named(JOINED.name) is JOINED
    spec = replace(spec_of(JOINED.name, "top", 22, (40, 40, 12)), scheme=None)
    assert JOINED not in admissible(spec)
    assert JOINED in admissible_joined(spec)
    assert why_not(JOINED, replace(spec, outputs=46)) == "46 outputs are no product of its splits"
    assert why_not(JOINED, replace(spec, leftovers="deliver")) == "it leaves items in the nodes"
    assert why_not(JOINED, replace(spec, holds_most=44)) is not None, "22 in each gate, and one in the split in front"
    assert why_not(JOINED, replace(spec, holds_most=45)) is None


@pytest.mark.parametrize(("outputs", "face"), [(22, "top"), (22, "side"), (33, "top"), (44, "side")])
def test_it_is_even_however_the_items_come(outputs: int, face: Face) -> None:
    """Few trials at this size; the judge's own of the smallest one below."""
    layout, rng = tree(outputs, face), random.Random(outputs)
    assert not builders_findings(layout)
    for gaps in ((0,), (8,), (0, 1, 7, 8, 9, 20, 40)):
        arrivals, tick = [], 0
        for _ in range(rng.randint(3 * outputs, 6 * outputs)):
            arrivals.append(Arrival(tick, "feed", 1))
            tick += rng.choice(gaps)
        (stream,) = run_trial(layout, arrivals, limit=100_000).streams
        p = branches(outputs)
        rows = [stream.delivered[k : k + outputs // p] for k in range(0, outputs, outputs // p)]
        assert all(len(set(row)) == 1 for row in rows), "every row by itself"
        assert max(stream.delivered) - min(stream.delivered) <= 1, "no row is more than a round ahead"
        assert len(arrivals) - sum(stream.delivered) <= JOINED.held(outputs, layout.rules_in_force(RULES), 64)


def test_the_judge_takes_it_with_all_its_trials() -> None:
    layout = tree(22)
    assert Judge(spec_of(JOINED.name, "top", 22, layout.size), (8,)).accepts(layout)


def test_the_rows_below_are_as_they_were_and_nothing_in_front_is_near_them() -> None:
    """So what was shown of each of them holds here too: the copies are whole, and all else stands a layer above."""
    below = min(LaidRows().builds("gated row", "top", 11), key=lambda one: len(one.layout.parts)).layout
    whole = joined(below, 2)
    assert whole is not None
    kinds = sorted(part.kind for part in below.parts)
    low = [part for part in whole.parts if part.at[2] < below.size[2]]
    assert sorted(part.kind for part in low) == sorted(kinds * 2)
    high = {part.at for part in whole.parts} - {part.at for part in low}
    near = {step(part.at, direction) for part in low for direction in VECTORS}
    touching = [at for at in high if at in near]
    assert all(isinstance(whole.by_cell[step(at, "D")], Bin) for at in touching), "only nodes that push into the bins"
    assert len(touching) == 2


def test_no_node_stands_right_below_one_that_may_be_locked() -> None:
    """It would pull from that one, locked or not: a bin stands between."""
    whole = tree(44)
    fronts: list[Cell] = [
        part.at for part in whole.parts
        if isinstance(part, Node) and part.outlet == "D" and isinstance(whole.by_cell.get(step(part.at, "D")), Bin)
    ]  # fmt: skip
    assert len(fronts) == 2 * 3 + 2 + 4, "two outputs of each of three splits, and the ends of the ways to bins"


def test_propose_finds_it_and_claims_nothing_about_it() -> None:
    spec = replace(spec_of(JOINED.name, "top", 22, (19, 10, 9)), holds_most=50)
    answer = propose(spec, Request(limit_s=60, workers=1, stores=(TREES,)))
    assert [one.scheme for one in answer.proposals] == [JOINED.name]
    assert not answer.complete
    assert not answer.claims
