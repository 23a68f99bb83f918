"""``splitwright propose``: ranked, simulator-confirmed layouts for a spec."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.world.kernel.keeping import is_first_use
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.first_use import HOW_LONG
from splitwright.cli.options import AsJson, Quiet, Verbose
from splitwright.cli.output import emit_json, say, show
from splitwright.cli.spec_input import known_hall, known_spec
from splitwright.proposing.files import ProposalFolder, write_pages
from splitwright.proposing.options import (
    All,
    ClusterAddress,
    ClusterTls,
    MemoryLimit,
    Out,
    Resume,
    ScopeInFull,
    Seed,
    Sheets,
    TimeLimit,
    Top,
    Workers,
    check_sheets,
    request_of,
)
from splitwright.proposing.report import proposal_report, site_ruled_out
from splitwright.proposing.searching import searched
from synth.answer.answering import answered
from synth.hall.spec_file import is_hall

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
    top: Top = 8,
    every: All = False,
    time_limit: TimeLimit = 60,
    workers: Workers = None,
    seed: Seed = 0,
    memory_limit: MemoryLimit = None,
    resume: Resume = None,
    cluster: ClusterAddress = None,
    cluster_tls: ClusterTls = None,
    pieces: Pieces = None,
    sheets: Sheets = False,
    scope: ScopeInFull = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """Propose layouts that split a stream evenly, ranked as the spec asks.

    Every layout has run in the simulator before it is shown. The first one is told as soon as it is confirmed; the rest
    of the time goes into better ones, with proofs and bounds. Ctrl-C keeps what was found so far.
    Exit status: 0 layouts found, 1 none exists (proved), 2 bad input, 3 none found within the limit.
    """
    check_sheets(sheets, out)
    if is_hall(spec):
        from splitwright.commands.propose.halls import propose_a_hall  # what halls take is loaded for halls alone

        return propose_a_hall(
            known_hall(spec), out=out, top=top, time_limit=time_limit, workers=workers, seed=seed, pieces=pieces,
            sheets=sheets, as_json=as_json, quiet=quiet, verbose=verbose, memory_limit=memory_limit, resume=resume,
            cluster=cluster, cluster_tls=cluster_tls,
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
        dominated=every,
        cluster=cluster,
        cluster_tls=cluster_tls,
    )
    if is_first_use() and not quiet:
        say(f"first use: what tells when a split is even is compiled beside the search, {HOW_LONG}")
    answer = searched(request, quiet, lambda: answered(asked, request))
    files = folder.write(answer.proposals)
    if sheets and out is not None:
        from splitwright.compare.sheets import split_pages  # drawing and all is loaded where it is used alone

        files += write_pages(quiet, partial(split_pages, out, asked, answer))
    if as_json:
        emit_json({**answer.as_json(), "files": [str(path) for path in files]})
    else:
        show(*proposal_report(asked, answer, files, quiet, scope, verbose))
    if answer.proposals:
        return DONE
    return NO if site_ruled_out(asked, answer) else NO_ANSWER

