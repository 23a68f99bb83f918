"""``splitwright laws``: the rulebook in force."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.table import Table

from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from sim.world.rulebook import DEFAULT_RULEBOOK, Rulebook, load_rulebook
from splitwright.cli.failures import DONE
from splitwright.cli.lawbook import Law, laws_in_force
from splitwright.cli.options import AsJson, Quiet
from splitwright.cli.output import emit_json, show
from splitwright.cli.tables import plain_table

EXAMPLE: Final = "Example: splitwright laws kilns.plan"
FORMAT: Final = "splitwright-laws/1"


def laws(
    layout: Annotated[
        Path | None, typer.Argument(metavar="[LAYOUT]", help="A layout whose overrides count too.", show_default=False)
    ] = None,
    rules: Annotated[
        str, typer.Option("--rules", metavar="NAME-or-FILE", help="A rulebook by name, or a .toml file.")
    ] = DEFAULT_RULEBOOK,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Print the numbers of the world: value, provenance and meaning.

    Provenance: practice is a fact of the trade with no published source, memory is recalled with no source, layout is
    an override that the LAYOUT states. Exit status: 0 done, 2 bad input.
    """
    book = load_rulebook(rules)
    found = laws_in_force(book, None if layout is None else load_layout(layout, book.rules))
    if as_json:
        emit_json(laws_document(book, found))
    elif quiet:
        show(*(f"{law.entry.name} {law.value}" for law in found))
    else:
        show(laws_table(book, found), *_closing_line(found))
    return DONE


def laws_document(book: Rulebook, found: list[Law]) -> dict[str, Any]:
    """``splitwright-laws/1``."""
    return {"format": FORMAT, "title": book.title, "laws": [_law_document(law) for law in found]}


def laws_table(book: Rulebook, found: list[Law]) -> Table:
    """A row a number; one that a layout overrides is marked and tells the rulebook's too."""
    table = plain_table("law", "value", "provenance", "meaning", right=("value",), title=printable(book.title))
    for law in found:
        meaning = printable(law.entry.about)
        if law.layout_value is None:
            table.add_row(law.entry.name, str(law.value), law.provenance, meaning)
        else:
            instead = f"{law.provenance} (rulebook: {law.entry.value}, {law.entry.provenance})"
            table.add_row(f"{law.entry.name} *", str(law.value), instead, meaning, style="bold")
    return table


def _closing_line(found: list[Law]) -> list[str]:
    overridden = any(law.layout_value is not None for law in found)
    return ["* set by the layout in place of the rulebook"] if overridden else []


def _law_document(law: Law) -> dict[str, Any]:
    document: dict[str, Any] = {"name": law.entry.name, "value": law.value, "provenance": law.provenance}
    if law.layout_value is not None:
        document["rulebook"] = {"value": law.entry.value, "provenance": law.entry.provenance}
    return {**document, "about": law.entry.about}
