"""Split trees against counting networks: a model of toggles, each passing its items on by turns.

J. Aspnes, M. Herlihy and N. Shavit, "Counting networks", Journal of the ACM 41 (1994), from memory: a toggle sends
its tokens to its outputs in turn, and a network of them has the step property if output i of w has had
ceil((m - i) / w) of m tokens, whenever and in whatever order they came. The model is written here and knows nothing of
nodes.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace

import pytest

from sim.world.layout import Layout
from sim.world.parts import Bin
from sim.world.trial import Arrival, run_trial
from synth.search.known.joined import joined
from synth.search.known.laid import LaidRows


@dataclass
class Toggle:
    """Passes tokens on to its outputs in turn: others of its kind, or leaves."""

    width: int
    below: list[Toggle] = field(default_factory=list)
    passed: list[int] = field(default_factory=list)

    def token(self) -> None:
        self.passed = self.passed or [0] * self.width
        turn = sum(self.passed) % self.width
        self.passed[turn] += 1
        if self.below:
            self.below[turn].token()

    def leaves(self) -> list[int]:
        """Tokens that have come to each leaf, in the order in which leaves have their turn."""
        if not self.below:
            return self.passed or [0] * self.width
        each = [one.leaves() for one in self.below]
        return [each[k][i] for i in range(len(each[0])) for k in range(self.width)]


@pytest.mark.parametrize("widths", [(2, 2), (2, 3), (3, 2), (3, 3), (2, 2, 2)])
def test_trees_of_toggles_have_the_step_property(widths: tuple[int, ...]) -> None:
    """The theory by itself, for every number of tokens up to three rounds: products by ceil arithmetic."""
    tree = grown(widths)
    size = len(tree.leaves())
    for m in range(1, 3 * size + 1):
        tree.token()
        assert tree.leaves() == [-(-(m - i) // size) for i in range(size)]


def grown(widths: tuple[int, ...]) -> Toggle:
    first, *rest = widths
    return Toggle(first, [grown(tuple(rest)) for _ in range(first)] if rest else [])


@pytest.mark.parametrize("widths", [(2,), (3,), (2, 2)])
def test_bins_below_get_what_the_model_says(widths: tuple[int, ...]) -> None:
    """The splits in front, above rows whose bins nothing is taken from: what comes to each bin, for random arrivals."""
    below = min(LaidRows().builds("gated row", "top", 10), key=lambda one: len(one.layout.parts)).layout
    whole: Layout | None = _without_rows(below)
    for width in reversed(widths):
        assert whole is not None
        whole = joined(whole, width)
    assert whole is not None
    bins = sorted(part.at for part in whole.parts if isinstance(part, Bin) and part.at[2] == 0)
    rng = random.Random(len(widths))
    for _ in range(8):
        count, gaps = rng.randint(1, 40), rng.choice([(0,), (8,), (1, 7, 9, 16, 30)])
        tree, arrivals, tick = grown(widths), [], 0
        for _ in range(count):
            tree.token()
            arrivals.append(Arrival(tick, "feed", 1))
            tick += rng.choice(gaps)
        result = run_trial(whole, arrivals)
        got = sorted(sum(slot[1] for slot in result.contents[at] if slot) for at in bins)
        in_front = count - sum(got)
        assert 0 <= in_front < len(bins), "less than a round waits in the splits in front"
        full = sorted(-(-(count - i) // len(bins)) for i in range(len(bins)))
        assert all(most - 1 <= one <= most for one, most in zip(got, full, strict=True))
        if in_front == 0:
            assert got == sorted(tree.leaves())


def _without_rows(below: Layout) -> Layout:
    """The bin of a row alone, on the ground, as what a split in front feeds."""
    (stream,) = below.streams
    source = below.by_cell[stream.source]
    assert isinstance(source, Bin)
    alone = replace(source, at=(0, 0, 0))
    only = replace(stream, source=(0, 0, 0), outputs=((0, 0, 0),))
    return replace(below, size=(1, 1, 1), parts=(alone,), streams=(only,))
