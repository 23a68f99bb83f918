"""Findings of runs and design checks, for people."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table

from sim.world.files.places import printable
from sim.world.geometry import cell_text
from sim.world.world import Finding
from splitwright.cli.tables import plain_table


def findings_table(findings: Sequence[Finding]) -> Table:
    """A row a finding: which check, where, when, what."""
    timed = any(finding.tick is not None for finding in findings)
    table = plain_table("check", "at", *(["tick"] if timed else []), "finding")
    for finding in findings:
        at = "" if finding.at is None else cell_text(finding.at)
        tick = "" if finding.tick is None else str(finding.tick)
        table.add_row(finding.check, at, *([tick] if timed else []), printable(finding.text))
    return table
