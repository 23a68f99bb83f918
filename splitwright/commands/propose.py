"""``splitwright propose``: ranked, simulator-confirmed layouts for a spec."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated, Final

import typer

from splitwright.failures import DONE, NO, NO_ANSWER
from splitwright.hall_proposing import propose_a_hall
from splitwright.options import AsJson, Quiet
from splitwright.output import emit_json, show
from splitwright.proposal_files import ProposalFolder, write_pages
from splitwright.proposal_report import proposal_report, site_ruled_out
from splitwright.search_options import (
    MemoryLimit,
    Out,
    Resume,
    Seed,
    Sheets,
    TimeLimit,
    Top,
    Workers,
    check_sheets,
    request_of,
)
from splitwright.searching import searched
from splitwright.spec_input import known_hall, known_spec
from synth.clashes import explain
from synth.hall.spec_file import is_hall
from synth.propose import propose as search
from synth.request import Request
from synth.result import Answer
from synth.spec import Spec

EXAMPLE: Final = "Example: splitwright propose specs/three-kilns.toml --out build --time-limit 60"

Pieces = Annotated[
    Path | None,
    typer.Option(
        "--pieces",
        metavar="FILE",
        show_default="the user's cache, and those that come with splitwright",
        help="For a hall: take solved pieces of rows from FILE alone, keep new ones there.",
    ),
]
SpecFile = Annotated[Path, typer.Argument(metavar="SPEC", help="A spec: a .toml file.")]


def propose(
    spec: SpecFile,
    out: Out = None,
    top: Top = 3,
    time_limit: TimeLimit = 60,
    workers: Workers = None,
    seed: Seed = 0,
    memory_limit: MemoryLimit = None,
    resume: Resume = None,
    pieces: Pieces = None,
    sheets: Sheets = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Propose layouts that split a stream evenly, ranked as the spec asks.

    Every layout has run in the simulator before it is shown; each measure is brought down as far as it goes, with a
    proof or a bound. Ctrl-C keeps what was found so far.
    Exit status: 0 layouts found, 1 none exists (proved), 2 bad input, 3 none found within the limit.
    """
    check_sheets(sheets, out)
    if is_hall(spec):
        return propose_a_hall(
            known_hall(spec), out=out, top=top, time_limit=time_limit, workers=workers, seed=seed, pieces=pieces,
            sheets=sheets, as_json=as_json, quiet=quiet,
        )  # fmt: skip
    asked = known_spec(spec)
    folder = ProposalFolder(out, asked, top)
    request = request_of(
        folder,
        top=top,
        time_limit=time_limit,
        workers=workers,
        seed=seed,
        memory_limit=memory_limit,
        resume=resume,
    )
    answer = searched(request, quiet, lambda: _answer(asked, request))
    files = folder.write(answer.proposals)
    if sheets and out is not None:
        from splitwright.compare.sheets import split_pages  # drawing and all is loaded where it is used alone

        files += write_pages(quiet, partial(split_pages, out, asked, answer))
    if as_json:
        emit_json({**answer.as_json(), "files": [str(path) for path in files]})
    else:
        show(*proposal_report(asked, answer, files, quiet))
    if answer.proposals:
        return DONE
    return NO if site_ruled_out(asked, answer) else NO_ANSWER


def _answer(spec: Spec, request: Request) -> Answer:
    """The search, and what is shown of each layout; where it finds nothing, what stands in the way."""
    answer = search(spec, request)
    left = request.limit_s - answer.seconds
    if answer.proposals:
        from synth.shown import with_verdicts  # the compiled kernel is loaded where it is used alone

        answer.proposals = with_verdicts(answer.proposals, spec, left, request)
    if not answer.proposals and not request.stop.is_set() and left > 0:
        explain(spec, answer, replace(request, limit_s=left))
    return answer
