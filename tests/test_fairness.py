"""Fairness figures: exact values, and the largest lag of a trial against one that looks at every tick."""

from __future__ import annotations

import json
import random
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import LAYOUTS, ROW, document, run
from sim.errors import InputError
from sim.world.fairness import Lag, discrepancy, jain_index
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.trial_json import trial_document
from sim.world.world import World
from worlds import drawn, random_run

SHARES = st.lists(st.integers(0, 1000), min_size=1, max_size=8)


@pytest.mark.parametrize(
    ("shares", "index", "furthest"),
    [
        ((18, 18, 18), Fraction(1), Fraction(0)),
        ((5, 9, 4), Fraction(18**2, 3 * (25 + 81 + 16)), Fraction(3)),
        ((10, 4, 4), Fraction(9, 11), Fraction(4)),
        ((18, 0, 0), Fraction(1, 3), Fraction(12)),
        ((1, 0), Fraction(1, 2), Fraction(1, 2)),
        ((7,), Fraction(1), Fraction(0)),
        ((0, 0, 0), Fraction(1), Fraction(0)),
    ],
)
def test_figures_worked_out_by_hand(shares: tuple[int, ...], index: Fraction, furthest: Fraction) -> None:
    assert jain_index(shares) == index
    assert discrepancy(shares) == furthest


@pytest.mark.parametrize("figure", [jain_index, discrepancy])
@pytest.mark.parametrize("shares", [(), (3, -1)])
def test_no_shares_and_shares_below_zero_are_refused(figure: object, shares: tuple[int, ...]) -> None:
    assert callable(figure)
    with pytest.raises(ValueError, match="none below zero"):
        figure(shares)


@given(SHARES)
def test_discrepancy_and_spread_bound_each_other(shares: list[int]) -> None:
    """With one far off and the others alike the discrepancy is spread x (n - 1) / n; it is never below half of it."""
    spread = max(shares) - min(shares)
    assert Fraction(spread, 2) <= discrepancy(shares) <= Fraction(spread * (len(shares) - 1), len(shares))
    assert (discrepancy(shares) == 0) == (spread == 0) == (jain_index(shares) == 1)


def test_lag_keeps_the_first_tick_of_the_largest() -> None:
    lag = Lag()
    for tick, shares in [(3, (1, 1)), (5, (3, 1)), (8, (3, 2)), (9, (4, 2)), (12, (2, 5)), (20, (5, 5))]:
        lag = lag.after(tick, shares)
    assert lag == Lag(3, 12)
    assert Lag().after(7, (2, 2)) == Lag(0, None)


# --- the largest lag of a trial


class Sampled:
    """The largest spread of each stream and its first tick, by looking at the tallies at the end of every tick."""

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        self.largest: dict[str, tuple[int, int | None]] = dict.fromkeys(trial.tallies, (0, None))
        trial.watchers = (self,)

    def __call__(self, world: World) -> None:
        for name, tally in self.trial.tallies.items():
            spread = max(tally.delivered) - min(tally.delivered)
            if spread > self.largest[name][0]:
                self.largest[name] = (spread, world.tick)


def lag_of(trial: Trial, arrivals: list[Arrival], ticks: int) -> dict[str, tuple[int, int | None]]:
    result = trial.run(arrivals, ticks=ticks)
    return {stream.name: (stream.largest_lag, stream.largest_lag_tick) for stream in result.streams}


def test_largest_lag_is_that_of_looking_at_every_tick() -> None:
    """On random builds, with quiet ticks worked through and passed over."""
    lagging = 0
    for seed in range(200):
        layout, case = random_run(random.Random(seed))
        arrivals = arrivals_for(layout, case["loads"], case["every"])
        looked_at = Trial(layout, order=case["order"], skip=False)
        sampled = Sampled(looked_at)
        try:
            found = lag_of(looked_at, arrivals, 120)
        except InputError:
            continue
        assert found == sampled.largest, f"seed {seed}"
        assert lag_of(Trial(layout, order=case["order"]), arrivals, 120) == found, f"seed {seed}"
        lagging += any(largest for largest, _ in found.values())
    assert lagging >= 10


def two_bins(held: str = "") -> Layout:
    """A node pushes what is in the bin above it into a bin in the west, another what it holds into one in the east."""
    return drawn("B nW nE B / . B . .", f"stream s clay from 1,0,1 to 0,0,0 3,0,0\n{held}")


def test_lag_goes_down_again_and_the_largest_stays() -> None:
    """The west gets three items at 9, 17 and 25, the east as many of what its node held, at 1, 9 and 17."""
    result = Trial(two_bins("holds 2,0,0 clay 3")).run([Arrival(0, "s", 3)])
    (stream,) = result.streams
    assert (stream.delivered, stream.spread) == ((3, 3), 0)
    assert (stream.largest_lag, stream.largest_lag_tick) == (1, 1)


def test_lag_counts_over_several_loads_and_to_the_present() -> None:
    trial = Trial(two_bins())
    for turn in range(1, 4):
        (stream,) = trial.run([Arrival(0, "s", 2)]).streams
        assert (stream.delivered, stream.largest_lag) == ((2 * turn, 0), 2 * turn)
        assert stream.largest_lag_tick == stream.last_arrival


def test_items_of_one_tick_count_together() -> None:
    """The B nodes of a burst row push in the same tick: no kiln is ever behind another at the end of one."""
    layout = load_layout(ROW)
    (stream,) = Trial(layout).run(arrivals_for(layout, {"feed": 54})).streams
    assert (stream.delivered, stream.largest_lag, stream.largest_lag_tick) == ((18, 18, 18), 0, None)


# --- where they are told


@pytest.mark.parametrize("every", [[], ["--every", "10"], ["--every", "20"]])
def test_document(every: list[str]) -> None:
    (stream,) = document(run("trial", ROW, *every, "--json"), "splitwright-trial-1")["streams"]
    delivered = stream["delivered"]
    assert stream["jain"] == float(jain_index(delivered))
    assert (stream["jain"] == 1) is (every == [])
    if every:
        assert stream["largest_lag"] == stream["spread"] > 0
        assert stream["first_arrival"] <= stream["largest_lag_tick"] <= stream["last_arrival"]
    else:
        assert (stream["largest_lag"], stream["largest_lag_tick"]) == (0, None)


def test_document_keeps_the_exact_index() -> None:
    """The nearest number that JSON readers have, not a rounded one."""
    layout = load_layout(ROW)
    result = Trial(layout).run(arrivals_for(layout, {"feed": 18}, 10))
    (stream,) = json.loads(json.dumps(trial_document(result)))["streams"]
    assert abs(Fraction(stream["jain"]) - result.streams[0].jain) < Fraction(1, 10**15)
    assert result.streams[0].jain == Fraction(9, 11)


def test_table_fits_a_terminal_of_80_columns() -> None:
    shown = run("trial", ROW, "--every", "10", "-v", COLUMNS="80").stdout.splitlines()
    tables = shown[shown.index("") :]
    assert "feed             0.866  15, first at tick 559 (27.95 s)" in tables
    assert max(map(len, tables)) <= 80
    assert "feed                 1  0 at every tick" in run("trial", ROW, "-v", COLUMNS="80").stdout


def test_table_shows_1_for_1_alone() -> None:
    """10201 of 10202 is cut, not rounded to 1.000."""
    shown = run("trial", str(LAYOUTS / "burst-row-of-two.plan"), "--load", "feed=101", "-v").stdout
    assert re.search(r" 51 / 50 +1 ", shown)
    assert "feed             0.999  1, first at tick " in shown


def test_table_has_no_row_for_a_stream_with_one_output() -> None:
    assert "fairness" not in run("trial", str(LAYOUTS / "run-with-relay.plan"), "-v").stdout
