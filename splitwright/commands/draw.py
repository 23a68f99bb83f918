"""``splitwright draw``: a layout as layers, and from one form of file to the other."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.layout_json import layout_json_text, layout_to_json
from sim.world.files.picture import layers_side_by_side, legend
from sim.world.files.places import box_text, printable
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.layout import Layout
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, LayoutFile, Quiet
from splitwright.cli.output import emit, emit_json, stdout_width
from splitwright.cli.output_files import LAYOUT, check_output

EXAMPLE: Final = "Example: splitwright draw kilns.plan --as json --out kilns.json"


class Form(StrEnum):
    """What a layout can be turned into."""

    JSON = "json"
    PLAN = "plan"


def draw(
    layout: LayoutFile,
    form: Annotated[
        Form | None, typer.Option("--as", help="Convert to this form, without loss, in place of a picture.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Write to this file: .json, .plan, or .txt for the picture.",
            show_default=False,
        ),
    ] = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Print the layers of a layout side by side, north at the top; or convert it.

    --json prints the layout as JSON, also while --out writes a file. --quiet leaves out the title and the legend.
    Exit status: 0 done, 2 bad input.
    """
    if form is None and out is not None:
        form = next((known for known in Form if out.suffix.lower() == f".{known}"), None)
    if as_json and form is Form.PLAN and out is None:
        raise InputError("prints JSON, so that the plan of --as plan needs a file: --out FILE", file="--json")
    endings = (*LAYOUT, ".txt") if form is None else (f".{form}",)
    check_output("--out", out, endings, {"layout": layout})
    known = load_layout(layout)
    if out is not None:
        write_text(out, text_of(known, form, quiet, None))
    elif not as_json:
        emit(text_of(known, form, quiet, stdout_width()))
    if as_json:
        emit_json(layout_to_json(known))
    return DONE


def text_of(layout: Layout, form: Form | None, quiet: bool, width: int | None) -> str:
    """The layout in ``form``; None: as a picture, ``width`` columns wide where that can be."""
    if form is Form.JSON:
        return layout_json_text(layout)
    if form is Form.PLAN:
        return layout_to_plan(layout)
    lines = layers_side_by_side(layout, width)
    if not quiet:
        lines = [*_heading(layout), "", *lines, "", *legend(layout)]
    return "\n".join(lines) + "\n"


def _heading(layout: Layout) -> list[str]:
    size = f"{box_text(layout.size)} cells (width x depth x height), {len(layout.parts)} parts; north is up"
    return [*([printable(layout.title)] if layout.title else []), size]
