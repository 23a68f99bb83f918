"""``splitwright assure``: when is the split even, and when not?"""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from sim.errors import InputError, nearest
from sim.world.files.places import shown
from sim.world.files.reading import load_layout
from splitwright.cli.background import in_background
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.first_use import compiling_told
from splitwright.cli.options import AsJson, LayoutFile, Quiet, Verbose, whole_number
from splitwright.cli.output import emit_json, show
from splitwright.cli.progress import line_progress
from splitwright.proposing.options import MEBIBYTES_MOST, Seed, TimeLimit, Workers

if TYPE_CHECKING:
    from sim.analysis.assure.asking import Assurance
    from sim.analysis.assure.verdict import Question

EXAMPLE: Final = "Example: splitwright assure kilns.plan --ask load --ask orders"
MEBIBYTES_LEAST: Final = 16

Ask = Annotated[
    list[str] | None,
    typer.Option(
        "--ask",
        metavar="QUESTION",
        show_default="all",
        help="load, drift, gaps, arrivals, orders, handover, overheating or hazards; once for each that is asked.",
    ),
]
MemoryLimit = Annotated[
    int,
    typer.Option(
        "--memory-limit",
        metavar="MIB",
        parser=whole_number("--memory-limit", MEBIBYTES_LEAST, MEBIBYTES_MOST),
        help="Memory of the search over all arrivals, in MiB.",
    ),
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="DIR",
        show_default="build/assure-NAME",
        help="Write each counterexample there, as a case that trial --case runs again.",
    ),
]


def assure(
    layout: LayoutFile,
    ask: Ask = None,
    out: Out = None,
    time_limit: TimeLimit = 120,
    memory_limit: MemoryLimit = 1024,
    workers: Workers = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """For which loads, arrivals, update orders and handovers is the split even?

    The answer tells it by what is done with the build; -v shows each verdict: proved (every case of its scope), refuted
    (with a case to run again: trial LAYOUT --case FILE), tried (so many cases, none uneven) or open (a limit came
    first). Outputs count as emptied while they fill; what
    full ones do is among the hazards, which do not decide. Ctrl-C keeps the verdicts so far.
    Exit status: 0 even as far as was asked, 1 refuted, 2 bad input, 3 nothing refuted but something left open.
    """
    # the compiled kernel is loaded where it is used alone
    from sim.analysis.assure.asking import ask as ask_all
    from sim.analysis.assure.asking import warm_up
    from sim.analysis.assure.request import Request
    from sim.analysis.assure.subject import check_streams
    from splitwright.commands.assure.report import CaseFolder, assurance_report

    questions = _questions(ask)
    known = load_layout(layout)
    folder = CaseFolder(out or Path("build") / f"assure-{_name_of(layout)}")
    stop = threading.Event()
    with line_progress(quiet) as tell:

        def answers() -> Assurance:
            tell(compiling_told())
            warm_up()
            request = Request(
                limit_s=float(time_limit),
                mebibytes=memory_limit,
                workers=workers or os.cpu_count() or 1,
                seed=seed,
                questions=questions,
                told=tell,
                stop=stop,
            )
            return ask_all(known, request, answered=folder.note)

        try:
            check_streams(known)
            found = in_background(answers, stop)
        except InputError as error:
            raise error.within(str(layout)) from None
    if as_json:
        emit_json({**found.as_json(), "files": folder.names()})
    else:
        show(*assurance_report(found, folder, known, layout, quiet, verbose))
    if found.is_refuted:
        return NO
    return NO_ANSWER if found.is_open else DONE


def _questions(words: list[str] | None) -> tuple[Question, ...]:
    """The questions asked for, each once, in their usual order. Raises InputError for one that there is not."""
    from sim.analysis.assure.verdict import QUESTIONS

    for word in words or ():
        if word not in QUESTIONS:
            raise InputError(f"there is no question {shown(word)}; {nearest(word, QUESTIONS)}", file="--ask")
    return tuple(one for one in QUESTIONS if not words or one in words)


def _name_of(layout: Path) -> str:
    """What its cases are called by: the file, and the folder that it is in where propose has numbered it."""
    return f"{layout.resolve().parent.name}-{layout.stem}" if layout.stem.startswith("layout-") else layout.stem
