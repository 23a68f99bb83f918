"""Options of the commands that search: where to write, how long, on how many cores, within which memory."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from splitwright.cli.options import whole_number
from splitwright.proposing.files import ProposalFolder
from synth.search.known.cache import Cache, default_file
from synth.search.known.source import shipped
from synth.search.request import Request
from synth.solving.parallel.processes import MEBIBYTES_LEAST
from synth.solving.parallel.work import Slots

SECONDS_MOST: Final = 1_000_000
MEBIBYTES_MOST: Final = 2**24

Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", show_default=False, help="Write each layout there, as JSON and as a plan."),
]
Sheets = Annotated[
    bool,
    typer.Option("--sheets", help="With --out: each layout's build sheet too, and a page that compares them."),
]
ScopeInFull = Annotated[bool, typer.Option("--scope", help="Tell in full what the proofs are about, and what not.")]
Top = Annotated[
    int, typer.Option("--top", metavar="K", parser=whole_number("--top", 1, 1000), help="How many layouts at the most.")
]
All = Annotated[
    bool,
    typer.Option("--all", help="List layouts too that another one is at least as good as in everything."),
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
MemoryLimit = Annotated[
    int | None,
    typer.Option(
        "--memory-limit",
        metavar="MIB",
        parser=whole_number("--memory-limit", MEBIBYTES_LEAST, MEBIBYTES_MOST),
        show_default="three quarters of the machine's",
        help="Memory of the exact search in MiB; a box that needs more stays open.",
    ),
]
CLUSTER_VARIABLE: Final = "SPLITWRIGHT_CLUSTER"
ClusterAddress = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        envvar=CLUSTER_VARIABLE,
        show_default=False,
        help="Search on the workers of the Dask scheduler at ADDRESS, as tcp://host:8786 (docs/cluster.md).",
    ),
]
ClusterTls = Annotated[
    tuple[Path, Path, Path] | None,
    typer.Option(
        "--cluster-tls",
        metavar="CA CERT KEY",
        envvar="SPLITWRIGHT_CLUSTER_TLS",
        show_default=False,
        help="With --cluster: files of the authority, the certificate, its key.",
    ),
]
Resume = Annotated[
    Path | None,
    typer.Option(
        "--resume",
        metavar="FILE",
        show_default=False,
        help="Keep what is settled in FILE; go on from what it holds, if it is there.",
    ),
]


def request_of(
    folder: ProposalFolder,
    *,
    top: int,
    time_limit: int,
    workers: int | None,
    seed: int,
    memory_limit: int | None,
    resume: Path | None,
    dominated: bool = False,
    cluster: str | None = None,
    cluster_tls: tuple[Path, Path, Path] | None = None,
) -> Request:
    """The request that the options state; layouts go into ``folder`` as they come."""
    kept = Cache(default_file())
    return Request(
        top=top,
        limit_s=float(time_limit),
        workers=workers or os.cpu_count() or 1,
        seed=seed,
        mebibytes=mebibytes_of(memory_limit),
        ledger=resume,
        stores=(kept, *shipped()),
        cache=kept,
        dominated=dominated,
        found=folder.found,
        slots=slots_of(cluster, cluster_tls, memory_limit),
    )


def slots_of(address: str | None, tls: tuple[Path, Path, Path] | None, memory_limit: int | None = None) -> Slots | None:
    """The cluster's, or None for processes on this machine."""
    if address is None:
        return None
    from synth.solving.parallel.cluster import Cluster, Tls  # an extra: loaded where it is used

    files = None if tls is None else Tls(*map(str, tls))
    origin = CLUSTER_VARIABLE if os.environ.get(CLUSTER_VARIABLE) == address else "--cluster"
    return Cluster(address, files, memory_limit or 0, origin)


def check_sheets(sheets: bool, out: Path | None) -> None:
    """Raises InputError for sheets that have no folder to go to."""
    if sheets and out is None:
        raise InputError("needs --out DIR, the folder that they are put in", file="--sheets")


def mebibytes_of(limit: int | None) -> int:
    """The memory limit, or three quarters of the machine's memory (0: unknown, no limit)."""
    if limit is not None:
        return limit
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") * 3 // 4 // 2**20
    except (ValueError, OSError):
        return 0
