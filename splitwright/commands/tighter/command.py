"""``splitwright tighter``: is there a smaller build? An answer, or a proof that there is none, with its scope."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.options import AsJson, Quiet, Verbose
from splitwright.cli.output import emit_json, show
from splitwright.cli.output_files import check_folder
from splitwright.cli.spec_input import known_spec
from splitwright.commands.tighter.report import Given, tighter_report
from splitwright.proposing.files import ProposalFolder
from splitwright.proposing.options import (
    ClusterAddress,
    ClusterTls,
    MemoryLimit,
    Out,
    Resume,
    ScopeInFull,
    Seed,
    TimeLimit,
    Top,
    Workers,
    request_of,
)
from splitwright.proposing.searching import searched
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.measures import rank_key
from synth.hall.spec_file import is_hall
from synth.model.plots import Size, fewest_layers, row_length, sizes, volume
from synth.read.layout import is_of_a_hall, moved_to_origin, spec_of_layout
from synth.search.race import tighter as search
from synth.search.result import Answer
from synth.search.scope import needed_handovers

EXAMPLE: Final = "Example: splitwright tighter specs/layouts/burst-row-of-three.plan --time-limit 120"

SpecOrLayout = Annotated[
    Path, typer.Argument(metavar="SPEC-or-LAYOUT", help="A spec (.toml), or a layout (.json or .plan) to be bettered.")
]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is to be searched: the spec, the boxes (None: all of its site), the layout to be bettered, if any."""

    spec: Spec
    boxes: list[Size] | None = None
    given: Given | None = None


def tighter(
    spec_or_layout: SpecOrLayout,
    out: Out = None,
    top: Top = 3,
    time_limit: TimeLimit = 60,
    workers: Workers = None,
    seed: Seed = 0,
    memory_limit: MemoryLimit = None,
    resume: Resume = None,
    cluster: ClusterAddress = None,
    cluster_tls: ClusterTls = None,
    scope: ScopeInFull = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """Search for the smallest build, or prove, within the scope that is told, that there is none smaller.

    Boxes are settled from the smallest up, each by a layout or by a proof; then, in the smallest, fewer parts, then
    what else the spec ranks by. Of a LAYOUT the question is read off and shown, and boxes of every shape are searched.
    Of a hall: the smallest that is found, and how much smaller one of its kind could be at the most.
    The best layout is written to DIR (default: build/tighter-NAME) as soon as it is found. Ctrl-C keeps everything.
    Exit status: 0 found, 1 none exists (proved), 2 bad input, 3 stopped by a limit without an answer.
    """
    path = out or Path("build") / f"tighter-{spec_or_layout.stem}"
    check_folder("--out", path, spec_or_layout)
    if _is_of_a_hall(spec_or_layout):
        from splitwright.commands.propose.halls import (  # what halls take is loaded for halls alone
            hall_to_better,
            propose_a_hall,
        )

        hall, stands = hall_to_better(spec_or_layout)
        return propose_a_hall(
            hall, given=stands, out=path, top=top, time_limit=time_limit, workers=workers, seed=seed, pieces=None,
            sheets=False, as_json=as_json, quiet=quiet, verbose=verbose, memory_limit=memory_limit, resume=resume,
            cluster=cluster, cluster_tls=cluster_tls,
        )  # fmt: skip
    asked = _asked(spec_or_layout)
    folder = ProposalFolder(path, asked.spec, top, lazily=True)
    request = request_of(
        folder,
        top=top,
        time_limit=time_limit,
        workers=workers,
        seed=seed,
        memory_limit=memory_limit,
        resume=resume,
        cluster=cluster,
        cluster_tls=cluster_tls,
    )
    bettered = asked.given.proposal if asked.given else None
    answer = searched(request, quiet, lambda: search(asked.spec, request, bettered, asked.boxes))
    if bettered is not None:
        order = asked.spec.order
        bar = rank_key(bettered.measures, order)
        answer.proposals = [one for one in answer.proposals if rank_key(one.measures, order) < bar]
    del answer.proposals[top:]
    files = folder.write(answer.proposals)
    if as_json:
        given = asked.given.as_json() if asked.given else None
        emit_json({**answer.as_json(), "given": given, "files": [str(path) for path in files]})
    else:
        show(*tighter_report(asked.spec, asked.given, answer, files, quiet, scope, verbose))
    return _status(answer)


def _status(answer: Answer) -> int:
    if answer.proposals:
        return DONE
    return NO if answer.complete else NO_ANSWER


def _is_of_a_hall(path: Path) -> bool:
    return is_hall(path) if path.suffix.lower() == ".toml" else is_of_a_hall(load_layout(path))


def _asked(path: Path) -> _Asked:
    if path.suffix.lower() == ".toml":
        return _Asked(known_spec(path))
    try:
        spec, readings = spec_of_layout(layout := moved_to_origin(load_layout(path)))
    except InputError as error:
        raise error.within(printable(str(path))) from None
    cells = volume(spec.size)
    wide, high = cells // fewest_layers(spec), cells // row_length(spec)
    anywhere = replace(spec, size=(wide, wide, high))
    boxes = sizes(anywhere, volume, most_cells=cells)
    judge = Judge(spec, needed_handovers(spec))
    proposal = judge.as_it_is(layout) if judge.accepts(layout) else None
    return _Asked(anywhere, boxes, Given(printable(str(path)), layout, readings, proposal))
