"""``splitwright size``: how many furnaces, rows, lines and how much fuel a wanted output takes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

import typer

from sim.world.files.places import printable
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, Quiet, Verbose, whole_number
from splitwright.cli.output import emit_json, show
from splitwright.commands.size.given import OUTPUT_MOST, Wanted, hall_asked
from splitwright.commands.size.report import (
    NOTES,
    answer_line,
    bottleneck_line,
    room_lines,
    size_document,
    size_table,
    stations_table,
)
from synth.hall.footprint import footprint
from synth.hall.piece_file import users_pieces
from synth.sizing.plant import FURNACES_MOST
from synth.sizing.size import size_of

EXAMPLE: Final = "Example: splitwright size --output 5000 --sides 2"

SpecFile = Annotated[
    Path | None, typer.Argument(metavar="[SPEC]", help="The spec of a hall: a .toml file.", show_default=False)
]
Output = Annotated[
    str | None,
    typer.Option("--output", metavar="N", help=f"Products an hour, at most {OUTPUT_MOST}, or full.",
                 show_default=False),
]  # fmt: skip
Furnaces = Annotated[
    int | None,
    typer.Option("--furnaces", metavar="N", parser=whole_number("--furnaces", 1, FURNACES_MOST),
                 help="Furnaces on all sides together.", show_default=False),
]  # fmt: skip
Sides = Annotated[
    int | None,
    typer.Option("--sides", metavar="N", parser=whole_number("--sides", 1, 2), help="Sides of the hall: 1 or 2.",
                 show_default=False),
]  # fmt: skip
Fires = Annotated[str | None, typer.Option("--fires", metavar="KIND", help="What is fired.", show_default=False)]
Fuel = Annotated[str | None, typer.Option("--fuel", metavar="KIND", help="What burns.", show_default=False)]
ProductBins = Annotated[
    int | None,
    typer.Option("--product-bins", metavar="N", parser=whole_number("--product-bins", 1, 64),
                 help="Bins that the product comes to.", show_default=False),
]  # fmt: skip
RulesFile = Annotated[
    str | None,
    typer.Option("--rules", metavar="NAME-or-FILE", help="A rulebook by name, or a .toml file.", show_default=False),
]


def size(
    spec: SpecFile = None,
    output: Output = None,
    furnaces: Furnaces = None,
    sides: Sides = None,
    fires: Fires = None,
    fuel: Fuel = None,
    product_bins: ProductBins = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """Work out a hall from a wanted output or a number of furnaces: furnaces, rows, lines, fuel, bins, the bottleneck,
    and the room it takes.

    Each figure stands beside its formula (-v). Options take the place of what the SPEC says: --output alone takes as
    many furnaces as it needs, --furnaces alone goes as fast as they can.
    Exit status: 0 done, 2 bad input, or an output that the furnaces cannot make.
    """
    hall = hall_asked(spec, Wanted(output, furnaces, sides, fires, fuel, product_bins, rules))
    sizing = size_of(hall)
    room = footprint(hall, sizing.furnaces, users_pieces())
    if as_json:
        emit_json(size_document(hall, sizing, room))
    elif quiet:
        show(answer_line(sizing))
    else:
        show(answer_line(sizing), bottleneck_line(sizing), *room_lines(hall, room))
        if spec is not None:
            show(f"To have it built: splitwright propose {printable(str(spec))}")
        show("", stations_table(sizing), "")
        if verbose:
            show(size_table(hall, sizing), "")
        show(*NOTES, *([] if verbose else ["Every figure with its formula: -v"]))
    return DONE
