"""Jain's index and the discrepancy against what others have published of them.

Sources: R. Jain, D. Chiu, W. Hawe, A quantitative measure of fairness and discrimination for resource allocation in
shared computer systems, DEC-TR-301 (1984), arXiv cs/9809099: its abstract as printed there; its example of 20 dollars
for 100 people and its list of wanted properties from memory. Figures of throughputs: C.-T. Lee, Fairness Index
(slides, 2006), after the same report. The chairman assignment bound: R. Tijdeman, The chairman assignment problem,
Discrete Mathematics 32 (1980), as quoted by S. Liu, V. Reis, Weighted chairman assignment and flow-time scheduling,
ITCS 2026. The bound of a round robin itself is worked out below.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sim.world.fairness import discrepancy, jain_index
from sim.world.files.reading import load_layout
from sim.world.trial import Trial, arrivals_for
from sim.world.world import World

LAYOUTS = Path(__file__).resolve().parents[2] / "specs" / "layouts"
SHARES = st.lists(st.integers(0, 10_000), min_size=1, max_size=12).filter(any)


# --- Jain, Chiu, Hawe 1984


def test_twenty_dollars_for_a_hundred_people() -> None:
    """20 cents for each: 1. A dollar for each of 20 people: 0.20 (from memory)."""
    assert jain_index([20] * 100) == 1
    assert jain_index([100] * 20 + [0] * 80) == Fraction(20, 100)


def test_a_fairness_of_a_tenth_is_unfair_to_nine_in_ten() -> None:
    """The abstract: "a distribution algorithm with a fairness of 0.10 means that it is unfair to 90% of the users"."""
    assert jain_index([7] * 3 + [0] * 27) == Fraction(1, 10)


@pytest.mark.parametrize(("shares", "index"), [((1, 3, 5), 0.77), ((1, 4, 5), 0.79), ((1, 2, 5), 0.71)])
def test_published_figures_of_normalised_throughputs(shares: tuple[int, ...], index: float) -> None:
    """Lee's slides: 50, 30, 50 Mbps where 50, 10, 10 would be fair; and two variants, to two digits."""
    assert round(float(jain_index(shares)), 2) == index


@given(st.integers(1, 30), st.integers(0, 30), st.integers(1, 1000))
def test_k_of_n_alike_and_the_others_nothing(k: int, others: int, share: int) -> None:
    assert jain_index([share] * k + [0] * others) == Fraction(k, k + others)


@given(SHARES)
def test_bounds(shares: list[int]) -> None:
    """From 1/n, where one has everything, to 1, where all have the same; and nowhere else."""
    index = jain_index(shares)
    assert Fraction(1, len(shares)) <= index <= 1
    assert (index == 1) == (len(set(shares)) == 1)
    assert (index == Fraction(1, len(shares))) == (sum(map(bool, shares)) == 1)


@given(SHARES, st.integers(1, 50), st.integers(1, 50))
def test_scale_independence(shares: list[int], times: int, parts: int) -> None:
    """The unit does not matter."""
    assert jain_index([Fraction(share * times, parts) for share in shares]) == jain_index(shares)


@given(SHARES, st.integers(1, 5))
def test_population_independence(shares: list[int], times: int) -> None:
    """It applies to any number of users: the same population several times over is as fair as once."""
    assert jain_index(shares * times) == jain_index(shares)


@given(SHARES, st.data())
def test_continuity(shares: list[int], data: st.DataObject) -> None:
    """A small change d of one share changes the index by at most 4 d / sqrt(sum of x^2), a bound on its slope.

    The slope is 2 S / (n Q) - 2 x S^2 / (n Q^2), with S <= sqrt(n Q) and x <= sqrt(Q); S the sum, Q that of squares.
    """
    place = data.draw(st.integers(0, len(shares) - 1))
    change = Fraction(1, data.draw(st.integers(1, 10**6)))
    changed = [share + change * (i == place) for i, share in enumerate(shares)]
    difference = jain_index(changed) - jain_index(shares)
    assert difference**2 * sum(share**2 for share in shares) <= 16 * change**2


@given(SHARES, st.data())
def test_a_gift_from_a_richer_to_a_poorer_one_is_fairer(shares: list[int], data: st.DataObject) -> None:
    """Every change shows in the index, which a least-to-most ratio lacks; up to trading places."""
    rich, poor = shares.index(max(shares)), shares.index(min(shares))
    assume(shares[rich] - shares[poor] >= 2)
    gift = data.draw(st.integers(1, shares[rich] - shares[poor] - 1))
    after = [share - gift * (i == rich) + gift * (i == poor) for i, share in enumerate(shares)]
    assert jain_index(after) > jain_index(shares)


@given(SHARES)
def test_index_is_told_by_the_coefficient_of_variation(shares: list[int]) -> None:
    """1 / (1 + variance / mean^2), with the variance of Python's statistics module."""
    exact = [Fraction(share) for share in shares]
    assert jain_index(shares) == 1 / (1 + statistics.pvariance(exact) / statistics.mean(exact) ** 2)


# --- the discrepancy of a round robin


def largest_discrepancy(turns: Iterable[int], n: int) -> Fraction:
    """The largest |items of one - t/n| after any number t of items that go to ``turns`` one by one."""
    counts, largest = [0] * n, Fraction(0)
    for turn in turns:
        counts[turn] += 1
        largest = max(largest, discrepancy(counts))
    return largest


@pytest.mark.parametrize("n", [2, 3, 5, 8, 13])
def test_a_round_robin_is_never_a_whole_item_off(n: int) -> None:
    """After q n + r items, r of n have q + 1 and the others q: off by 1 - r/n and r/n, at most (n - 1)/n.

    It keeps the least bound that any schedule can promise for any weights, 1 - 1/(2n - 2) (Tijdeman 1980).
    """
    largest = largest_discrepancy((t % n for t in range(7 * n + n // 2)), n)
    assert largest == 1 - Fraction(1, n) < 1
    assert largest <= 1 - Fraction(1, 2 * n - 2)


@pytest.mark.parametrize("n", [2, 3, 5, 8, 13])
def test_turns_of_two_items_are_a_whole_item_off(n: int) -> None:
    assert largest_discrepancy((t // 2 % n for t in range(6 * n)), n) >= 1


@given(st.integers(2, 9), st.data())
def test_each_round_in_another_order_is_never_a_whole_item_off_either(n: int, data: st.DataObject) -> None:
    rounds = data.draw(st.lists(st.permutations(range(n)), min_size=1, max_size=5))
    assert largest_discrepancy((turn for order in rounds for turn in order), n) == 1 - Fraction(1, n)


def over_time(name: str, **arrivals: int) -> tuple[Fraction, tuple[int, ...], int]:
    """Of a trial of a hand-made row: the largest discrepancy at the end of any tick, what came, and the largest lag."""
    layout = load_layout(LAYOUTS / f"{name}.plan")
    largest = Fraction(0)
    trial = Trial(layout, skip=False)

    def look(_: World) -> None:
        nonlocal largest
        largest = max(largest, discrepancy(trial.tallies["feed"].delivered))

    trial.watchers = (look,)
    loads = {"feed": arrivals["load"]}
    (stream,) = trial.run(arrivals_for(layout, loads, arrivals.get("every")), limit=100_000).streams
    return largest, stream.delivered, stream.largest_lag


@pytest.mark.parametrize(("name", "n"), [("burst-row-of-two", 2), ("burst-row-of-three", 3), ("burst-row-of-five", 5)])
def test_a_burst_row_is_never_off_at_all_after_a_load_of_whole_rounds(name: str, n: int) -> None:
    """Its B nodes push in one tick, a round at a time; so it keeps the bound of one item with everything to spare."""
    assert over_time(name, load=18 * n) == (Fraction(0), (18,) * n, 0)


@pytest.mark.parametrize(("load", "delivered"), [(52, (18, 17, 17)), (53, (18, 18, 17))])
def test_a_burst_row_keeps_the_bound_with_a_broken_round_at_the_end(load: int, delivered: tuple[int, ...]) -> None:
    largest, found, lag = over_time("burst-row-of-three", load=load)
    assert (sorted(found), lag) == (sorted(delivered), 1)
    assert 0 < largest < 1


def test_gaps_break_the_bound() -> None:
    """One item every 20 ticks is too slow for a burst row: the first kiln gets them all."""
    assert over_time("burst-row-of-three", load=18, every=20) == (Fraction(12), (18, 0, 0), 18)
