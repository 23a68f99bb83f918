"""``splitwright watch``: the verdict on a file that somebody edits, again at each save."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from splitwright.cli.failures import DONE
from splitwright.cli.options import Quiet
from splitwright.cli.output import emit_json, show
from splitwright.commands.watch.following import follow
from splitwright.commands.watch.layout_look import LayoutLook
from splitwright.commands.watch.report import News, document_of, lines_of
from splitwright.commands.watch.toml_look import TomlLook
from splitwright.proposing.options import TimeLimit

EXAMPLE: Final = "Example: splitwright watch kilns.plan"
LIMIT_S: Final = 20

LayoutOrSpec = Annotated[
    Path,
    typer.Argument(metavar="LAYOUT-or-SPEC", help="A layout (.json or .plan), or a spec (.toml) to be proposed for."),
]
AsJsonLines = Annotated[
    bool, typer.Option("--json", help="Print one JSON document a run, each on a line of its own (JSON Lines).")
]


def watch(
    layout_or_spec: LayoutOrSpec,
    time_limit: TimeLimit = LIMIT_S,
    as_json: AsJsonLines = False,
    quiet: Quiet = False,
) -> int:
    """Look at a file now and again at each save, and tell what has become of it: for plans that are edited by hand.

    A layout is checked and tried under each handover, with what changed since the last save. For a spec, of a split or
    of a whole hall, layouts are proposed within --time-limit seconds, and the best one is shown; a save in the meantime
    starts anew. A fault in the file is told in one line, and watching goes on. Ctrl-C ends it.
    Exit status: 0 ended by Ctrl-C, 2 bad input.
    """
    _check_there(layout_or_spec)
    name = str(layout_or_spec)
    run = 0

    def tell(news: News) -> None:
        nonlocal run
        run += 1
        if as_json:
            emit_json(document_of(news, name, run))
            return
        heading = f"{datetime.now():%H:%M:%S}  {printable(layout_or_spec.name)}"
        show(*([] if quiet else [heading]), *lines_of(news, quiet), *([] if quiet else [""]))

    def began() -> None:
        if not (as_json or quiet):
            show(f"Watching {printable(name)}; Ctrl-C ends it.", "")

    if layout_or_spec.suffix.lower() == ".toml":
        follow(layout_or_spec, TomlLook(layout_or_spec, float(time_limit), quiet), tell, began)
    else:
        follow(layout_or_spec, LayoutLook(layout_or_spec), tell, began)
    return DONE


def _check_there(path: Path) -> None:
    """Raises InputError unless there is a file that can be watched."""
    name = printable(str(path))
    try:
        if not path.exists():
            raise InputError("there is no such file", file=name)
    except (OSError, ValueError):
        raise InputError("is no name of a file", file=name) from None
    if not path.is_file():
        raise InputError("is no regular file; name a layout or a spec", file=name)
