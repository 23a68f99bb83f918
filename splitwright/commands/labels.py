"""``splitwright labels``: a labels file to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Final

import typer

from sim.errors import InputError, nearest
from sim.world.files.places import shown
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, Quiet
from splitwright.cli.output import emit, emit_json
from splitwright.cli.output_files import LABELS, check_output
from splitwright.words.catalogue import languages
from splitwright.words.items import items_of
from splitwright.words.labels_text import labels_document, labels_text

EXAMPLE: Final = "Example: splitwright labels kilns.plan --out house.toml"


def labels(
    layout: Annotated[
        Path | None, typer.Argument(metavar="[LAYOUT]", help="A layout whose items are listed.", show_default=False)
    ] = None,
    language: Annotated[
        str, typer.Option("--language", metavar="TAG", help="The language to begin with: en or de.")
    ] = "en",
    phrases: Annotated[bool, typer.Option("--phrases", help="List every phrase too, for a translation.")] = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.toml", help="Write to this file.", show_default=False)
    ] = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Print a labels file to fill in: house names for parts, items and directions, as sheet --labels takes it.

    Exit status: 0 done, 2 bad input.
    """
    if language not in languages():
        fault = f"there are no phrases in {shown(language)}; {nearest(language, languages())}"
        raise InputError(fault, file="--language")
    items = [] if layout is None else sorted(items_of(load_layout(layout)))
    check_output("--out", out, LABELS, {"layout": layout})
    document: dict[str, Any] = labels_document(language, items, phrases=phrases)
    if out is not None:
        write_text(out, labels_text(document, comments=not quiet))
    elif not as_json:
        emit(labels_text(document, comments=not quiet))
    if as_json:
        emit_json(document)
    return DONE
