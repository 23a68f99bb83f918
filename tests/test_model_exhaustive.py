"""The constraint model and the simulator on every filling of every box of up to six cells.

What is compared is told in ``exhaustive/__init__.py``. Here the wide boxes of six cells are filled with fewer kinds of
parts at a time; with ``SPLITWRIGHT_EXHAUSTIVE=1``, as in ``python -m tests.exhaustive``, with every wiring part too.
"""

from __future__ import annotations

import os

import pytest

from exhaustive import model_side
from exhaustive.choices import Choice
from exhaustive.model_side import LAWS
from exhaustive.plans import EVERYTHING, MOST, ONE_NODE, Plan, a_share, all_plans, shapes
from exhaustive.walk import walk
from sim.world.geometry import Cell, Direction
from sim.world.parts import MOUNTS, OUTPUTS, PART_KINDS
from synth.model.clauses import Lit
from synth.model.field import RowField

ALL = os.environ.get("SPLITWRIGHT_EXHAUSTIVE") == "1"


@pytest.mark.slow
@pytest.mark.parametrize("plan", all_plans() if ALL else a_share(), ids=str)
def test_every_filling_is_taken_alike(plan: Plan) -> None:
    """The same laws refuse it, or none does and every value of the field is the same in every row."""
    tally = walk(plan)
    assert tally.differences == []
    assert tally.assignments == plan.assignments
    assert tally.assignments == tally.admitted + sum(tally.refused.values())
    assert tally.admitted > 0


@pytest.mark.parametrize("plans", [all_plans(), a_share()], ids=["all", "a share"])
def test_every_box_is_filled_with_every_direction(plans: list[Plan]) -> None:
    """Every shape of up to six cells is there, the larger ones with all wiring parts in one palette or another, and the
    fillings are more than a million."""
    sizes = [box for cells in range(1, MOST + 1) for box in shapes(cells)]
    wiring = {Choice("line"), Choice("support"), *(Choice("inverter", m) for m in MOUNTS)}
    wiring |= {Choice(word, output) for word in ("relay", "gauge") for output in OUTPUTS}
    for box in sizes:
        assert {choice for plan in plans if plan.size == box for choice in plan.palette} >= wiring
    assert sum(plan.assignments for plan in plans) > 1_000_000
    assert {part.kind for choice in EVERYTHING if (part := choice.part((0, 0, 0)))} == set(PART_KINDS)
    assert all(Plan(box, ONE_NODE) in all_plans() for box in sizes if box[0] * box[1] * box[2] == MOST)


# -- the comparison can fail: laws broken on purpose ------------------------------------------------------------------


class _SideInputsForgotten(RowField):
    def high_side_inputs(self, cell: Cell, output: Direction, reading: int) -> list[Lit]:
        return []


class _LinesNeverPoint(RowField):
    def points_live_into(self, cell: Cell, side: Direction) -> Lit:
        return -1


def _nothing(*_: object) -> None:
    """A family without clauses."""


SMALL_PALETTE = tuple(c for c in ONE_NODE if c.word != "relay" or c.direction in ("E", "W"))


@pytest.mark.parametrize(
    ("broken", "by", "size", "told"),
    [
        ("RowField", _SideInputsForgotten, (2, 2, 1), "the simulator's value is 0"),
        ("RowField", _LinesNeverPoint, (3, 1, 1), "the simulator's value is 1"),
        ("chains_are_bounded", _nothing, (2, 1, 2), "feedback: model says False, simulator True"),
        ("every_part_supported", _nothing, (2, 1, 1), "model refuses by [], simulator by ['support']"),
        ("gauges_read_watched_nodes", _nothing, (2, 1, 1), "model refuses by [], simulator by ['reading']"),
        ("no_relay_is_latched", _nothing, (2, 2, 1), "simulator by ['latch'"),
    ],
)
def test_a_broken_law_shows(
    monkeypatch: pytest.MonkeyPatch, broken: str, by: object, size: tuple[int, int, int], told: str
) -> None:
    """A law taken out of the model shows in the smallest boxes, and the difference tells which one it was."""
    for name, family in LAWS.items():
        if family.__name__ == broken:
            monkeypatch.setitem(LAWS, name, by)
            break
    else:
        monkeypatch.setattr(model_side, broken, by)
    tally = walk(Plan(size, SMALL_PALETTE))
    assert tally.found
    assert any(told in text for text in tally.differences), tally.differences
