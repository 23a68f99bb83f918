"""The steady state of a hall against a SimPy model of it, and against arithmetic by hand.

SimPy 4.1 runs the model in ``simpy_hall``, written from the rulebook. By hand: a kiln that is never without feed, fuel
and room fires one item in ``firing`` ticks and lights one fire in ``burn`` ticks.
"""

from __future__ import annotations

from dataclasses import asdict

import pytest

from halls import BIN_HALL, ROW_HALL, hall
from outside.simpy_hall import HallModel, Numbers
from sim.analysis.production.run import production_run, steady_output
from sim.world.layout import Layout

PLANS = {"row": ROW_HALL, "bins": BIN_HALL}
WORLDS = {
    "as it is": Numbers(),
    "handover 7": Numbers(handover=7),
    "small slots": Numbers(stack=4, node_slots=1, bin_slots=27, firing=20, burn=50),
    "slow nodes": Numbers(period=150, handover=150),
    "one node for more than it can carry": Numbers(firing=16, burn=48, stack=16),
    "fuel that does not last": Numbers(burn=130),
}


def layout_of(plan: str, n: Numbers) -> Layout:
    text = PLANS[plan].replace("stack 64", f"stack {n.stack}").replace("burn 1600", f"burn {n.burn}")
    rules = {name: value for name, value in asdict(n).items() if name not in ("burn", "back")}
    return hall(text, **rules)


@pytest.mark.parametrize("world", WORLDS)
@pytest.mark.parametrize("plan", PLANS)
def test_a_steady_run_is_that_of_the_model_item_by_item(plan: str, world: str) -> None:
    numbers, ticks, minutes = WORLDS[world], 18_000, 3
    layout = layout_of(plan, numbers)
    (report,) = production_run(layout, None, ticks / 72_000, ("steady",), refill=minutes)
    model = HallModel(layout, numbers, minutes * 1200)
    model.run(ticks)
    assert [(one.at, one.fired, one.lit, one.whole.idle) for one in report.furnaces] == [
        (cell, kiln.fired, kiln.lit, kiln.idle) for cell, kiln in model.kilns.items()
    ]
    assert report.came == model.came > 0
    assert sum(one.put_in for one in report.balance) == model.put


@pytest.mark.parametrize("hours", [0.5, 2.0])
def test_by_hand(hours: float) -> None:
    """In tick 1 a node pulls, in tick 9 it pushes into the kiln, which has had its turn by then: it stands before the
    node above it in the file. So the first progress is made in tick 10."""
    ticks = round(hours * 72_000)
    (report,) = production_run(hall(BIN_HALL), None, hours, ("steady",))
    for one in report.furnaces:
        assert one.whole.idle == 9
        assert one.fired == (ticks - 9) // 200
        assert one.lit == -(-(ticks - 9) // 1600)


def test_output_an_hour_by_hand() -> None:
    """3,600 s x 20 ticks / 200 ticks = 360 an hour from each kiln; a node of one item in 8 ticks carries 9,000."""
    assert steady_output(hall(BIN_HALL)) == 2 * 360
    assert steady_output(hall(ROW_HALL)) == 3 * 360


@pytest.mark.parametrize(("period", "hourly"), [(160, 450), (100, 720), (66, 1080)])
def test_a_feed_row_that_is_the_bottleneck_by_hand(period: int, hourly: int) -> None:
    """One node below the source passes 3,600 x 20 / period an hour; three kilns take 1,080 (small slots fill soon)."""
    small = hall(ROW_HALL.replace("stack 64", "stack 4"), period=period, handover=period, node_slots=1)
    (report,) = production_run(small, None, 4.0, ("steady",))
    assert report.bound.per_hour == min(hourly, 1080)
    assert report.output <= report.bound.per_hour
    assert report.output >= report.bound.per_hour * 97 // 100
