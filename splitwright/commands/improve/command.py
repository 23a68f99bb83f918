"""``splitwright improve``: the fewest changes that make a build pass."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError, nearest
from sim.world.files.layout_json import layout_json_text
from sim.world.files.places import printable, shown
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.layout import Layout
from sim.world.parts import PART_KINDS
from splitwright.cli.background import in_background
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.options import AsJson, LayoutFile, Quiet, Verbose, number_from, whole_number
from splitwright.cli.output import emit_json, show
from splitwright.cli.output_files import LAYOUT, check_output
from splitwright.cli.progress import line_progress
from splitwright.commands.improve.report import improve_report, improvement_document
from splitwright.proposing.options import Seed, TimeLimit
from synth.improve.request import MOST, Request
from synth.improve.result import Improvement
from synth.improve.search import improve as search
from synth.schemes.registry import schemes

EXAMPLE: Final = "Example: splitwright improve specs/layouts/row-of-three-no-drain.plan --out mended.plan"
ROOM_MOST: Final = 8
COST_MOST: Final = 64
PRICE_MOST: Final = 20
BOTH: Final = "both"

SchemeName = Annotated[
    str | None,
    typer.Option(
        "--scheme",
        metavar="NAME",
        show_default="what the locks keep, or any that empties its nodes",
        help="The scheme to be kept to, such as “burst row”.",
    ),
]
Room = Annotated[
    int | None,
    typer.Option(
        "--room",
        metavar="N",
        parser=whole_number("--room", 0, ROOM_MOST),
        show_default="none, then one, then two on one side",
        help="Free cells to be used around the site and above it.",
    ),
]
Most = Annotated[
    int | None,
    typer.Option(
        "--most",
        metavar="COST",
        parser=whole_number("--most", 1, COST_MOST),
        show_default=f"{MOST}, and whatever it costs to copy a known row",
        help="Cost up to which lists are sought.",
    ),
]
Price = Annotated[
    list[str] | None,
    typer.Option(
        "--price",
        metavar="KIND=N",
        show_default="1 each",
        help="What a part of that kind costs that is added, turned or put in another's stead; once for each kind.",
    ),
]
Handover = Annotated[
    str | None,
    typer.Option(
        "--handover",
        metavar="both",
        show_default="the one in force",
        help="both: it is to pass under every known handover.",
    ),
]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", show_default=False, help="Write the improved layout: .json or .plan."),
]


def improve(
    layout: LayoutFile,
    scheme: SchemeName = None,
    room: Room = None,
    most: Most = None,
    price: Price = None,
    handover: Handover = None,
    out: Out = None,
    time_limit: TimeLimit = 60,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """Find the cheapest list of changes that makes a build pass: parts to add, remove, turn, set or replace.

    A build passes when the design checks find nothing and every trial of a proposal comes out even. Each change costs 1
    unless --price says otherwise. Source bins and furnaces stay where they stand. A list is called the cheapest only
    where it is proved, in the room and within the scope that are told. Ctrl-C keeps the best list so far.
    Exit status: 0 a list was found or none is needed, 1 no list of that cost in that room (proved), 2 bad input, 3
    stopped by a limit.
    """
    build = load_layout(layout)
    _check_words(scheme, handover)
    check_output("--out", out, LAYOUT, {"layout": layout})
    stop = threading.Event()
    with line_progress(quiet or as_json) as tell:
        request = Request(
            limit_s=float(time_limit),
            most=most,
            both=handover == BOTH,
            scheme=scheme,
            room=room,
            prices=_prices(price or ()),
            seed=seed,
            told=tell,
            stop=stop,
        )
        try:
            answer = in_background(lambda: search(build, request), stop)
        except InputError as error:
            raise error.within(printable(str(layout))) from None
    files = _written(answer, out)
    if as_json:
        emit_json({**improvement_document(answer), "files": files})
    else:
        show(*improve_report(answer, printable(str(layout)), files, quiet, verbose))
    return {"passes": DONE, "found": DONE, "none exists": NO, "stopped": NO_ANSWER}[answer.status]


def _check_words(scheme: str | None, handover: str | None) -> None:
    if scheme is not None and scheme not in schemes():
        raise InputError(f"no scheme is called {shown(scheme)}; {nearest(scheme, schemes())}", file="--scheme")
    if handover not in (None, BOTH):
        fault = f"must be {BOTH}, or be left out for the one in force, not {shown(handover)}"
        raise InputError(fault, file="--handover")


def _prices(words: tuple[str, ...] | list[str]) -> dict[str, int]:
    prices: dict[str, int] = {}
    for word in words:
        kind, equals, number = word.partition("=")
        if not equals:
            raise InputError(f"must be KIND=N, as in relay=3, not {shown(word)}", file="--price")
        if kind not in PART_KINDS:
            raise InputError(f"there is no part {shown(kind)}; {nearest(kind, PART_KINDS)}", file="--price")
        if kind in prices:
            raise InputError(f"{shown(kind)} is given twice; keep one", file="--price")
        prices[kind] = number_from(number, 1, PRICE_MOST, f"--price {kind}")
    return prices


def _written(answer: Improvement, out: Path | None) -> list[str]:
    """The file of the improved layout, if one was asked for and found."""
    if out is None or answer.layout is None:
        return []
    write_text(out, _text(answer.layout, out))
    return [str(out)]


def _text(layout: Layout, out: Path) -> str:
    return layout_json_text(layout) if out.suffix.lower() == ".json" else layout_to_plan(layout)
