"""``splitwright check``: the design checks."""

from __future__ import annotations

from typing import Any, Final

from sim.checks import design_findings
from sim.files.places import counted
from sim.files.reading import load_layout
from sim.trial_json import finding_document
from sim.world import Finding
from splitwright.failures import DONE, NO
from splitwright.findings import findings_table
from splitwright.options import AsJson, LayoutFile, Quiet
from splitwright.output import emit_json, show

EXAMPLE: Final = "Example: splitwright check kilns.plan"
FORMAT: Final = "splitwright-check/1"


def check(layout: LayoutFile, as_json: AsJson = False, quiet: Quiet = False) -> int:
    """Look for what is wrong with a layout before anything runs.

    Parts without support, gauges that read nothing, bins that merge, signals that touch, outlets that lead nowhere and
    the like. Exit status: 0 no findings, 1 findings, 2 bad input.
    """
    findings = design_findings(load_layout(layout))
    if as_json:
        emit_json(check_document(findings))
    else:
        if findings and not quiet:
            show(findings_table(findings))
        show(f"{counted(len(findings), 'finding')}." if findings else "No findings.")
    return NO if findings else DONE


def check_document(findings: list[Finding]) -> dict[str, Any]:
    """``splitwright-check/1``."""
    return {"format": FORMAT, "findings": [finding_document(finding) for finding in findings]}
