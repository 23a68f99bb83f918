"""``propose`` where the spec asks for a whole hall."""

from __future__ import annotations

import os
import threading
import time
from functools import partial
from pathlib import Path

from sim.errors import InputError
from sim.world.files.places import build_text, printable
from sim.world.files.reading import load_layout
from splitwright.cli.background import in_background
from splitwright.cli.failures import DONE, NO_ANSWER
from splitwright.cli.output import complain, emit_json, say, show
from splitwright.cli.progress import line_progress
from splitwright.cli.spec_input import known_hall
from splitwright.proposing.files import write_layouts, write_pages
from splitwright.proposing.hall_report import hall_report
from splitwright.proposing.options import slots_of
from synth.ask.hall_spec import HallSpec
from synth.hall.measures import hall_rank
from synth.hall.piece_file import PieceFile, Pieces, users_pieces
from synth.hall.result import HallProposal
from synth.hall.search import HallRequest, propose_hall
from synth.improve.hall_reading import HallGiven, read_hall
from synth.read.layout import moved_to_origin


def hall_to_better(path: Path) -> tuple[HallSpec, HallGiven | None]:
    """The hall that a spec asks for; of a layout, what it is an answer to, and what it is. Raises InputError."""
    if path.suffix.lower() == ".toml":
        return known_hall(path), None
    try:
        given = read_hall(moved_to_origin(load_layout(path)))
    except InputError as error:
        raise error.within(printable(str(path))) from None
    return given.spec, given


def found_line(seconds: float, one: HallProposal) -> str:
    """A hall in one line, as soon as it is confirmed."""
    m = one.measures
    return f"after {seconds:.1f} s: {build_text(m.box, m.parts)}; confirmed"


def propose_a_hall(
    spec: HallSpec,
    *,
    out: Path | None,
    top: int,
    time_limit: int,
    workers: int | None,
    seed: int,
    pieces: Path | None,
    sheets: bool,
    as_json: bool,
    quiet: bool,
    verbose: bool = False,
    memory_limit: int | None = None,
    resume: Path | None = None,
    given: HallGiven | None = None,
    cluster: str | None = None,
    cluster_tls: tuple[Path, Path, Path] | None = None,
) -> int:
    """Print the halls found, if a hall is ``given`` those that are better; the exit status. Raises InputError for
    options that the search for halls does not have."""
    if resume is not None:
        raise InputError("a hall is put together anew each time, in seconds; leave it out", file="--resume")
    if memory_limit is not None:
        raise InputError("is for the exact search of a split; leave it out for a hall", file="--memory-limit")
    kept: Pieces
    if pieces is None:
        kept = users_pieces()
    else:
        kept = named = PieceFile(pieces)
        named.check_writable()
    request = HallRequest(
        kept,
        top=top,
        limit_s=float(time_limit),
        workers=workers or os.cpu_count() or 1,
        seed=seed,
        slots=slots_of(cluster, cluster_tls),
    )
    if out is not None:
        write_layouts(out, [])
    with line_progress(quiet) as told:
        request.told = told
        if not quiet:
            began, first = time.monotonic(), threading.Lock()

            def found(one: HallProposal) -> None:
                """The first confirmed hall is told at once, while better ones are looked for."""
                if first.acquire(blocking=False):
                    say(found_line(time.monotonic() - began, one))

            request.found = found
        answer = in_background(lambda: propose_hall(spec, request), request.stop)
    if given is not None:
        bar = hall_rank(given.measures, spec.order)
        answer.proposals = [one for one in answer.proposals if hall_rank(one.measures, spec.order) < bar]
    for fault in (*kept.faults, *(request.slots.faults if request.slots else ())):
        complain(fault)
    files = [] if out is None else write_layouts(out, [one.layout for one in answer.proposals])
    if sheets and out is not None:
        from splitwright.compare.sheets import hall_pages  # drawing and all is loaded where it is used alone

        files += write_pages(quiet, partial(hall_pages, out, spec, answer))
    if as_json:
        stood = {} if given is None else {"given": given.measures.as_json()}
        emit_json({**answer.as_json([str(path) for path in files]), **stood})
    else:
        show(*hall_report(spec, answer, files, quiet, given, verbose))
    return DONE if answer.proposals else NO_ANSWER
