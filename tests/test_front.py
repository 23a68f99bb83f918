"""The layouts that are listed: those that no other one is at least as good as in everything, held against moocore.

moocore (M. López-Ibáñez and others, "Core algorithms for multi-objective optimization", on PyPI) finds non-dominated
points for all kinds of optimization; its ``is_nondominated`` keeps one of equal points. It is told every measure as the
page on layouts has it, in an order of its own; ``best_ones`` works on the spec's ranking.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from moocore import is_nondominated

from commands import REPOSITORY
from known_builds import smallest
from sim.world.rulebook import known_handovers
from synth.ask.spec import EvenFor
from synth.confirm.judge import Judge
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.read.spec_file import load_spec
from synth.search.front import best_ones, pareto_front

ORDERS = (
    ("volume",), ("volume", "parts", "latency"), ("throughput",), ("price", "height"), ("footprint", "throughput"),
)  # fmt: skip
VARIED = ("volume", "parts", "latency", "price", "height", "footprint", "throughput", "held_at_start", "held")
few = st.integers(0, 2)
ALL_HANDOVERS = known_handovers()


@cache
def real() -> Proposal:
    """A layout with real figures, of which some are changed below."""
    build = smallest(3)
    spec = replace(load_spec(REPOSITORY / "specs" / "three-kilns.toml"), scheme="burst row", size=build.layout.size)
    return Judge(spec, (8, 7)).as_it_is(build.layout)


def proposal(*, even_for: EvenFor = "burst", handovers: tuple[int, ...] = ALL_HANDOVERS, **figures: int) -> Proposal:
    measures = replace(real().measures, handovers=handovers, **figures)
    return replace(real(), measures=measures, even_for=even_for)


made_up = st.builds(
    proposal,
    even_for=st.sampled_from(["burst", "stream"]),
    handovers=st.sampled_from([ALL_HANDOVERS, ALL_HANDOVERS[:1]]),
    **dict.fromkeys(VARIED, few),
)
some = st.lists(made_up, max_size=12)


def figures(one: Proposal, order: tuple[str, ...]) -> tuple[float, ...]:
    """Everything that counts, each the less the better: written down here once more, from what the list is said to be.

    What counts always is in it always; the measures of the ranking are beside it."""
    m = one.measures
    ranked = [-m.throughput if name == "throughput" else float(getattr(m, name)) for name in order]
    always = m.volume, m.parts, m.latency, m.held, m.held_at_start, len(ALL_HANDOVERS) - len(m.handovers)
    return (*map(float, always), float(one.even_for != "stream"), *ranked)


@given(some, st.sampled_from(ORDERS))
def test_the_list_is_what_moocore_finds(found: list[Proposal], order: tuple[str, ...]) -> None:
    listed = best_ones(found, order)
    points = [figures(one, order) for one in found]
    kept = is_nondominated(np.array(points)) if points else np.array([], dtype=bool)
    wanted = sorted(point for point, is_kept in zip(points, kept, strict=True) if is_kept)
    assert sorted(figures(one, order) for one in listed) == wanted
    assert all(any(one is other for other in found) for one in listed)


@given(st.lists(st.tuples(few, few, few, few), max_size=20))
def test_points_on_the_front_are_what_moocore_finds(points: list[tuple[int, ...]]) -> None:
    """Equal points together."""
    kept = is_nondominated(np.array(points, dtype=float), keep_weakly=True) if points else []
    assert pareto_front(points) == list(kept)


@given(some, st.sampled_from(ORDERS))
def test_the_list_is_ranked_as_the_spec_asks(found: list[Proposal], order: tuple[str, ...]) -> None:
    ranks = [rank_key(one.measures, order) for one in best_ones(found, order)]
    assert ranks == sorted(ranks)
    if found:
        assert ranks[0] == min(rank_key(one.measures, order) for one in found), "the best of all leads"


@given(some, st.sampled_from(ORDERS), st.randoms(use_true_random=False))
def test_the_order_in_which_they_came_changes_no_figure(
    found: list[Proposal], order: tuple[str, ...], random: Any
) -> None:
    mixed = list(found)
    random.shuffle(mixed)
    assert [figures(one, order) for one in best_ones(mixed, order)] == [
        figures(one, order) for one in best_ones(found, order)
    ]


def test_of_equals_the_first_one_stays() -> None:
    one, other = proposal(), proposal()
    (kept,) = best_ones([one, other], ("volume",))
    assert kept is one


@pytest.mark.parametrize(
    "better",
    [
        {"volume": 1}, {"parts": 1}, {"latency": 1}, {"held": 1}, {"held_at_start": 1}, {"even_for": "stream"},
        {"handovers": ALL_HANDOVERS},
    ],
    ids=lambda better: next(iter(better)),
)  # fmt: skip
def test_what_is_better_in_one_thing_alone_is_listed(better: dict[str, Any]) -> None:
    """Beside one that is better in everything else; and it takes the place of one that it equals but for that."""
    plain: dict[str, Any] = {"volume": 2, "parts": 2, "latency": 2, "held": 2, "held_at_start": 2}
    plain["handovers"] = ALL_HANDOVERS[:1]
    worse, one = proposal(**plain), proposal(**{**plain, **better})
    everything_else = {**dict.fromkeys(plain, 1), "handovers": ALL_HANDOVERS, "even_for": "stream"}
    other = proposal(**{**everything_else, **{name: plain.get(name, "burst") for name in better}})
    assert best_ones([worse, one], ("volume",)) == [one]
    assert len(best_ones([worse, one, other], ("volume",))) == 2


def test_what_the_spec_does_not_rank_by_does_not_count() -> None:
    """A price where none is asked for: it changes nothing."""
    cheap, dear = proposal(price=1), proposal(price=2, parts=1)
    assert len(best_ones([cheap, dear], ("volume",))) == 1
    assert len(best_ones([cheap, dear], ("volume", "price"))) == 2
