"""``splitwright sheet``: the build sheet of a layout."""

from __future__ import annotations

import os
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.rulebook import Rulebook, load_rulebook
from splitwright.cli.background import in_background
from splitwright.cli.failures import DONE
from splitwright.cli.options import AsJson, Labels, LayoutFile, Quiet, whole_number
from splitwright.cli.output import complain, emit_json, show
from splitwright.cli.output_files import PAGE, check_output
from splitwright.cli.progress import line_progress
from splitwright.cli.spec_input import any_spec, blocked_in, check_same_job, prices_of
from splitwright.cli.trial_input import CaseFile, Every, Load, Task, check_alone, task_of_case, task_of_options
from splitwright.commands.sheet.printing import browser_path, html_to_pdf
from splitwright.proposing.options import SECONDS_MOST, Seed, Workers

EXAMPLE: Final = "Example: splitwright sheet kilns.plan --out kilns.html --labels house.toml"
FORMAT: Final = "splitwright-sheet/1"

Out = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="FILE.html", show_default="the layout's name, in this folder", help="Write the sheet there."
    ),
]
Pdf = Annotated[
    Path | None,
    typer.Option(
        "--pdf",
        metavar="FILE.pdf",
        show_default=False,
        help="Print it there too, by a Chromium browser (found by itself, or named in SPLITWRIGHT_BROWSER).",
    ),
]
SpecFile = Annotated[
    Path | None,
    typer.Option(
        "--spec", metavar="SPEC", show_default=False, help="Take prices, taken cells and the rulebook from this spec."
    ),
]
TimeLimit = Annotated[
    int,
    typer.Option(
        "--time-limit",
        metavar="S",
        parser=whole_number("--time-limit", 0, SECONDS_MOST),
        help="Seconds for the questions when the split is even; 0 asks none.",
    ),
]


def sheet(
    layout: LayoutFile,
    out: Out = None,
    pdf: Pdf = None,
    labels: Labels = None,
    spec: SpecFile = None,
    load: Load = None,
    every: Every = None,
    case: CaseFile = None,
    time_limit: TimeLimit = 30,
    workers: Workers = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Write the build sheet of a layout: one HTML file to take along, on a phone or printed.

    It holds what is shown of the layout, a parts list, a plan of each layer, the build order with its proof, how the
    wiring works, a view from all sides and a replay of a trial (--load, --every and --case choose another one; where it
    is uneven, the sheet shows the tick and the place at which it went wrong). It needs no network, and no JavaScript
    but for the replay. Ctrl-C leaves questions open and writes the sheet.
    Exit status: 0 written, 2 bad input.
    """
    from splitwright.sheet.html import sheet_html
    from splitwright.sheet.request import SheetRequest
    from splitwright.words import english
    from splitwright.words.labels import item_notes, load_labels

    check_alone(case, {"--load": load, "--every": every})
    prices: Mapping[str, int] = {}
    blocked: frozenset[Cell] = frozenset()
    asked = None if spec is None else any_spec(spec)
    book: Rulebook = load_rulebook() if asked is None else asked.rulebook
    known = load_layout(layout, book.rules)
    if spec is not None and asked is not None:
        check_same_job(spec, asked, {printable(str(layout)): known})
        prices, blocked = prices_of(asked), blocked_in(asked, known)
    words = english() if labels is None else load_labels(labels)
    for note in [] if labels is None or quiet else item_notes(labels, words, known):
        complain(note)
    task: Task | None = None
    if case is not None:
        task = task_of_case(known, case)
    elif load or every is not None:
        task = task_of_options(known, layout, load or [], every, None, None)
    path = out or Path(f"{layout.stem}.html")
    inputs = {"layout": layout, "labels file": labels, "spec": spec, "case": case}
    check_output("--out", path, PAGE, inputs)
    check_output("--pdf", pdf, (".pdf",), {**inputs, "sheet": path})
    if pdf is not None:
        browser_path()  # said before the work, not after it
    stop = threading.Event()
    with line_progress(quiet) as tell:
        request = SheetRequest(
            words, prices, book, float(time_limit), task=task, workers=workers or os.cpu_count() or 1, seed=seed,
            blocked=blocked, told=tell, stop=stop,
        )  # fmt: skip
        try:
            text = in_background(lambda: sheet_html(known, request), stop)
        except InputError as error:
            raise error.within(printable(str(layout if task is None else task.stated_in))) from None
        write_text(path, text)
        if pdf is not None:
            tell("printing")
            html_to_pdf(text, pdf)
    files = [path, *([] if pdf is None else [pdf])]
    if as_json:
        emit_json(sheet_document(known, files))
    elif not quiet:
        sizes = ", ".join(f"{printable(str(file))} ({file.stat().st_size / 1000:,.0f} kB)" for file in files)
        show(f"Build sheet: {sizes}.")
    return DONE


def sheet_document(layout: Layout, files: list[Path]) -> dict[str, Any]:
    """``splitwright-sheet/1``."""
    return {
        "format": FORMAT,
        "title": layout.title,
        "files": [{"path": str(path), "bytes": path.stat().st_size} for path in files],
    }
