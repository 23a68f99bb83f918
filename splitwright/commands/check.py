"""``splitwright check``: the design checks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

import typer

from sim.couplings.lockers import Locker, lockers
from sim.couplings.study import study_of
from sim.files.places import counted
from sim.files.reading import load_layout
from sim.idle_wiring import builders_findings
from sim.world import Finding
from splitwright.couplings_report import explained_document, locker_document, lockers_table
from splitwright.failures import DONE, NO
from splitwright.findings import findings_table
from splitwright.options import AsJson, LayoutFile, Quiet
from splitwright.output import emit_json, show

EXAMPLE: Final = "Example: splitwright check kilns.plan"
FORMAT: Final = "splitwright-check/1"

Couplings = Annotated[
    bool,
    typer.Option("--couplings", help="List as well who can lock which node, and along which way."),
]


def check(layout: LayoutFile, couplings: Couplings = False, as_json: AsJson = False, quiet: Quiet = False) -> int:
    """Look for what is wrong with a layout before anything runs.

    Parts without support, gauges that read nothing, bins that merge, signals that touch or lock another row's node,
    outlets that lead nowhere and the like. Exit status: 0 no findings, 1 findings, 2 bad input.
    """
    build = load_layout(layout)
    findings = builders_findings(build)
    locking = lockers(study_of(build)) if couplings else None
    if as_json:
        emit_json(check_document(findings, locking))
    else:
        if locking is not None and not quiet:
            show(lockers_table(locking) if locking else "Nothing can lock a node.")
        if findings and not quiet:
            show(findings_table(findings))
        show(f"{counted(len(findings), 'finding')}." if findings else "No findings.")
    return NO if findings else DONE


def check_document(findings: list[Finding], locking: Sequence[Locker] | None = None) -> dict[str, Any]:
    """``splitwright-check/1``; ``locks`` where they were asked for."""
    document: dict[str, Any] = {"format": FORMAT, "findings": [explained_document(finding) for finding in findings]}
    if locking is not None:
        document["locks"] = [locker_document(one) for one in locking]
    return document
