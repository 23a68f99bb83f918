"""What is told once on a sheet: nothing is lost by it, and nothing is folded that differs by more than its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import LAYOUTS
from sim.world.files.reading import load_layout
from sim.world.rulebook import default_rules
from sim.world.statement import Mention, Statement
from splitwright.sheet.order import order_on_sheet
from splitwright.sheet.repeats import LEAST, Told, form, told_once
from splitwright.words import english


def reads(x: int, key: str = "workings.gauge_reads", y: int = 1) -> Statement:
    return Statement(key, {"gauge": Mention("gauge", (x, 0, 0)), "node": Mention("node", (x, y, 0))})


def test_a_run_is_told_once_with_the_others_named() -> None:
    (told,) = told_once([reads(x) for x in range(1, 5)])
    assert told.statements == (reads(1),)
    assert told.same is not None
    assert english().text(told.same) == "The same holds for the gauges at 2,0,0; 3,0,0 and 4,0,0."


def test_pairs_that_take_turns_are_one_group() -> None:
    pairs = [one for x in range(3) for one in (reads(x), reads(x, "workings.gauge_live"))]
    (told,) = told_once(pairs)
    assert told.statements == tuple(pairs[:2])


@pytest.mark.parametrize(
    "others",
    [
        [reads(1), reads(2)],
        [reads(1), reads(2, y=2), reads(3)],
        [reads(1), reads(2, "workings.other"), reads(3)],
        [Statement("workings.plain", {"n": 1})] * 5,
    ],
    ids=["two", "another way round", "another sentence", "no place"],
)
def test_what_is_not_alike_stands_alone(others: list[Statement]) -> None:
    assert told_once(others) == [Told((one,)) for one in others]


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 2), st.sampled_from("abc")), max_size=24))
def test_nothing_is_lost(made: list[tuple[int, int, str]]) -> None:
    """Each statement is one that is told, or one of those that are alike and named."""
    statements = [reads(x, key, y) for x, y, key in made]
    left = iter(statements)
    for told in told_once(statements):
        group = [next(left) for _ in told.statements]
        assert tuple(group) == told.statements
        heads = () if told.same is None else told.same.values["parts"]
        assert isinstance(heads, tuple)
        assert len(heads) == 0 or len(heads) >= LEAST - 1
        for head in heads:
            alike = [next(left) for _ in group]
            assert form(alike) == form(group)
            assert alike[0].values["gauge"] == head
    assert next(left, None) is None


def test_of_steps_that_are_alike_the_first_tells_why() -> None:
    """The others are those right behind it, by the number that it tells."""
    steps = order_on_sheet(load_layout(LAYOUTS / "burst-row-of-three.plan"), default_rules(), english()).steps
    due = 0
    for step in steps:
        same = [one.values["count"] for one in step.why if one.key == "sheet.same_steps"]
        assert bool(step.why) == (due == 0)
        due = int(str(same[0])) if same else max(0, due - 1)
    assert due == 0
    assert any(not step.why for step in steps)
