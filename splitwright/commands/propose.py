"""``splitwright propose``: ranked, simulator-confirmed layouts for a spec."""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from splitwright.failures import DONE, NO, NO_ANSWER
from splitwright.interrupt import Interruption
from splitwright.options import AsJson, Quiet, whole_number
from splitwright.output import emit_json, show
from splitwright.progress import told_progress
from splitwright.proposal_files import ProposalFolder
from splitwright.proposal_report import proposal_report, site_ruled_out
from synth.obstacles import obstacles
from synth.propose import OBSTACLES_SHARE
from synth.propose import propose as search
from synth.request import Request
from synth.result import Answer
from synth.spec import Spec
from synth.spec_file import load_spec

EXAMPLE: Final = "Example: splitwright propose specs/three-kilns.toml --out build --time-limit 60"
SECONDS_MOST: Final = 1_000_000

SpecFile = Annotated[Path, typer.Argument(metavar="SPEC", help="A spec: a .toml file.")]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", show_default=False, help="Write each layout there, as JSON and as a plan."),
]
Top = Annotated[
    int, typer.Option("--top", metavar="K", parser=whole_number("--top", 1, 1000), help="How many layouts at the most.")
]
TimeLimit = Annotated[
    int,
    typer.Option(
        "--time-limit", metavar="S", parser=whole_number("--time-limit", 1, SECONDS_MOST), help="Seconds in all."
    ),
]
Workers = Annotated[
    int | None,
    typer.Option(
        "--workers",
        metavar="W",
        parser=whole_number("--workers", 1, 1024),
        show_default="all cores",
        help="Cores to use.",
    ),
]
Seed = Annotated[
    int, typer.Option("--seed", metavar="N", parser=whole_number("--seed", 0, 2**31 - 1), help="Seed of the search.")
]


def propose(
    spec: SpecFile,
    out: Out = None,
    top: Top = 3,
    time_limit: TimeLimit = 60,
    workers: Workers = None,
    seed: Seed = 0,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Propose layouts that split a stream evenly, ranked as the spec asks.

    Every layout has run in the simulator before it is shown. Ctrl-C keeps what was found so far.
    Exit status: 0 layouts found, 1 none exists (proved), 2 bad input, 3 none found within the limit.
    """
    asked = load_spec(spec)
    _refuse_what_is_not_known(asked, str(spec))
    folder = ProposalFolder(out, asked, top)
    request = Request(top, float(time_limit), workers or os.cpu_count() or 1, seed, found=folder.found)
    answer = _searched(asked, request, quiet)
    files = folder.write(answer.proposals)
    if as_json:
        emit_json({**answer.as_json(), "files": [str(path) for path in files]})
    else:
        show(*proposal_report(asked, answer, files, quiet))
    if answer.proposals:
        return DONE
    return NO if site_ruled_out(asked, answer) else NO_ANSWER


def _refuse_what_is_not_known(spec: Spec, file: str) -> None:
    if spec.even_for != "burst":
        fault = 'only "burst" can be proposed as yet: a load that is there at once'
        raise InputError(fault, file=file, field="split.even_for")


def _searched(spec: Spec, request: Request, quiet: bool) -> Answer:
    """The search in a thread of its own, so that Ctrl-C is heard while the solver works."""
    answers: list[Answer] = []
    faults: list[BaseException] = []

    def work() -> None:
        try:
            answer = search(spec, request)
            if not answer.proposals and not request.stop.is_set():
                left = max(request.limit_s * OBSTACLES_SHARE, request.limit_s - answer.seconds)
                answer.obstacles = obstacles(
                    spec, Request(1, left, request.workers, request.seed, request.told, stop=request.stop)
                )
            answers.append(answer)
        except BaseException as fault:
            faults.append(fault)

    with Interruption() as interruption, told_progress(quiet) as request.told:
        thread = threading.Thread(target=work)
        thread.start()
        while thread.is_alive():
            thread.join(0.1)
            if interruption.asked:
                request.stop.set()
    if faults:
        raise faults[0]
    return answers[0]
