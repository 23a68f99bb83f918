"""``splitwright check``: the design checks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

import typer

from sim.analysis.couplings.lockers import Locker, lockers
from sim.analysis.couplings.study import study_of
from sim.analysis.idle_wiring import builders_findings
from sim.world.files.places import counted, printable
from sim.world.files.reading import load_layout
from sim.world.geometry import cell_text
from sim.world.world import Finding
from splitwright.cli.failures import DONE, NO
from splitwright.cli.findings import findings_table
from splitwright.cli.options import AsJson, LayoutFile, Quiet
from splitwright.cli.output import emit_json, show
from splitwright.cli.turned_nodes import turned_nodes
from splitwright.commands.check.couplings_report import explained_document, locker_document, lockers_table

EXAMPLE: Final = "Example: splitwright check kilns.plan"
FORMAT: Final = "splitwright-check/1"
NAMED_MOST: Final = 3
"""Findings that are named in the first line."""

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
        show(_sentence(findings))
        if not quiet:
            show(*turned_nodes(build), _next_step(findings, printable(str(layout))))
        if findings and not quiet:
            show("", findings_table(findings))
        if locking is not None and not quiet:
            show("", lockers_table(locking) if locking else "Nothing can lock a node.")
    return NO if findings else DONE


def _sentence(findings: Sequence[Finding]) -> str:
    """``2 findings: touching runs at 3,0,1; no support at 4,0,1.``: the first few by name and place."""
    if not findings:
        return "No findings: every design check is met."
    named = [f"{one.check}{f' at {cell_text(one.at)}' if one.at else ''}" for one in findings[:NAMED_MOST]]
    more = f"; and {len(findings) - NAMED_MOST} more" if len(findings) > NAMED_MOST else ""
    return f"{counted(len(findings), 'finding')}: {'; '.join(named)}{more}."


def _next_step(findings: Sequence[Finding], file: str) -> str:
    if findings:
        return f"What to change, as a list: splitwright improve {file}"
    return f"Nothing has run yet. Whether it splits evenly: splitwright trial {file}"


def check_document(findings: list[Finding], locking: Sequence[Locker] | None = None) -> dict[str, Any]:
    """``splitwright-check/1``; ``locks`` where they were asked for."""
    document: dict[str, Any] = {"format": FORMAT, "findings": [explained_document(finding) for finding in findings]}
    if locking is not None:
        document["locks"] = [locker_document(one) for one in locking]
    return document
