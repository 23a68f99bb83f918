"""``splitwright probe``: a small build that shows which handover a world has."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Final

import typer

from sim.analysis.probing import ITEMS, Probed, probed
from sim.datafiles import data_dir
from sim.world.files.picture import layers_side_by_side, legend
from sim.world.files.places import box_text, counted
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.rulebook import DEFAULT_RULEBOOK, known_handovers, load_rulebook
from splitwright.cli.failures import DONE, NO
from splitwright.cli.options import AsJson, Quiet
from splitwright.cli.output import emit_json, show, stdout_width, written
from splitwright.cli.output_files import check_output

EXAMPLE: Final = "Example: splitwright probe --out probe.plan"
FORMAT: Final = "splitwright-probe/1"


def probe(
    rules: Annotated[
        str, typer.Option("--rules", metavar="NAME-or-FILE", help="A rulebook by name, or a .toml file.")
    ] = DEFAULT_RULEBOOK,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write the build there, as a plan.", show_default=False)
    ] = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """A small build to find out which handover your world has: put in one item and look where it ends.

    It is run in every update order under each known handover before anything is said of it. It was laid by hand; no
    claim is made that there is none smaller. Exit status: 0 it tells, 1 it does not under these rules, 2 bad input.
    """
    check_output("--out", out, (".plan",))
    book = load_rulebook(rules)
    source = data_dir("probe") / "handover.plan"
    layout = load_layout(source, book.rules)
    found = probed(layout, book.rules, known_handovers())
    if out is not None:
        write_text(out, source.read_text(encoding="utf-8"))
    if as_json:
        emit_json(probe_document(layout, found))
    else:
        show(*answer(layout, found))
        if not quiet and found.tells:
            width = stdout_width()
            show("", "Layer by layer, north at the top:", "", *layers_side_by_side(layout, width), "", *legend(layout))
        if not quiet:
            show("", *next_steps(found, out))
    return DONE if found.tells else NO


def answer(layout: Layout, found: Probed) -> list[str]:
    """Where the item ends, and how that is known."""
    if not found.tells:
        return [
            "Under this rulebook the build does not tell handovers apart: items end in the same bin under both, or"
            " where the update order has it."
        ]
    box, source = box_text(layout.size), layout.streams[0].source
    ends = [f"in the bin at {cell_text(_end(found, handover))}: the handover is {handover}" for handover in found.ends]
    return [
        f"Build this ({box}, {counted(len(layout.parts), 'part')}), put one item into the bin at {cell_text(source)},"
        " and look where it ends:",
        *(f"  {one}" for one in ends),
        f"Shown by running it: {ITEMS} items one after the other, in each of {found.orders} update orders, under each"
        " handover that worlds are known to have.",
    ]


def next_steps(found: Probed, out: Path | None) -> list[str]:
    """What to do with the build, and with what it shows."""
    if not found.tells:
        return ["Try it with another rulebook: --rules."]
    return [
        "The plan as a file: --out FILE" if out is None else written([out]),
        "Then take layouts whose handovers list yours; a world with another than the default says so in its specs:"
        " [rules] handover = 7",
    ]


def probe_document(layout: Layout, found: Probed) -> dict[str, Any]:
    """``splitwright-probe/1``."""
    return {
        "format": FORMAT,
        "box": list(layout.size),
        "parts": len(layout.parts),
        "source": list(layout.streams[0].source),
        "tells": found.tells,
        "items": ITEMS,
        "orders": found.orders,
        "ends": [
            {"handover": handover, "at": [None if cell is None else list(cell) for cell in cells]}
            for handover, cells in found.ends.items()
        ],
    }


def _end(found: Probed, handover: int) -> Cell:
    (cell,) = found.ends[handover]
    assert cell is not None, "it tells"
    return cell
