"""What a trial is made of, as options and case files say it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from sim.world.case_file import Case, case_arrivals, case_layout, load_case
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.order_file import load_order
from sim.world.rulebook import MOST as RULE_MOST
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, arrivals_for
from splitwright.cli.options import loads_from, whole_number
from splitwright.cli.trial_report import Circumstances

LOAD_MOST: Final = 1_000_000
"""Largest load of a stream: a bound on work and memory."""

Load = Annotated[
    list[str] | None,
    typer.Option(
        "--load",
        metavar="NAME=N",
        show_default="18 a target",
        help="Items of a stream; once for each stream that is to get another number.",
    ),
]
Every = Annotated[
    int | None,
    typer.Option(
        "--every",
        metavar="G",
        parser=whole_number("--every", 1, RULE_MOST),
        show_default=False,
        help="One item before tick 1, then one after each G ticks, in place of all at once.",
    ),
]
Order = Annotated[
    Path | None,
    typer.Option(
        "--order",
        metavar="FILE",
        show_default="the order in the layout",
        help="Update order: one cell x,y,z a line, each node and furnace once.",
    ),
]
Handover = Annotated[
    int | None,
    typer.Option(
        "--handover",
        metavar="H",
        parser=whole_number("--handover", 1, RULE_MOST),
        show_default=False,
        help="Handover ticks (7 or 8 in known worlds), in place of the layout's or the rulebook's.",
    ),
]
CaseFile = Annotated[
    Path | None,
    typer.Option(
        "--case",
        metavar="FILE",
        show_default=False,
        help="Run the one case in this file again: its arrivals, orders, handover and starting contents.",
    ),
]

@dataclass(frozen=True, slots=True)
class Task:
    """What is to be run. ``stated_in``: the file that says what is put in; ``case``: the case that it holds, if any."""

    layout: Layout
    arrivals: list[Arrival]
    order: tuple[Cell, ...] | None
    circumstances: Circumstances
    stated_in: Path
    case: Case | None = None


def task_of_options(
    layout: Layout, path: Path, load: list[str], every: int | None, order: Path | None, handover: int | None
) -> Task:
    """What the options say. Raises InputError for a load or an order that cannot be."""
    if handover is not None:
        layout = replace(layout, rules={**layout.rules, "handover": handover})
    loads = loads_from(load, layout, LOAD_MOST)
    turns = load_order(order, layout) if order is not None else None
    circumstances = Circumstances.of(layout, layout.rules_in_force(default_rules()), loads, every, order)
    return Task(layout, arrivals_for(layout, loads, every), turns, circumstances, path)


def task_of_case(layout: Layout, path: Path) -> Task:
    """What a case file says. Raises InputError for one that is none, or of another layout."""
    case = load_case(path, layout)
    layout = case_layout(layout, case)
    circumstances = Circumstances.of_case(layout, layout.rules_in_force(default_rules()), case, path)
    return Task(layout, case_arrivals(case), case.order, circumstances, path, case)


def check_alone(case: Path | None, others: Mapping[str, object]) -> None:
    """Raises InputError for an option beside ``--case`` that says what the case says."""
    for option, value in others.items():
        if case is not None and value:
            raise InputError("goes not together with --case, which says all of that itself; leave one out", file=option)
