"""Who can lock which node, for people and as JSON; and the way of an explained finding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from rich.table import Table

from sim.analysis.checks.explained import Explained
from sim.analysis.couplings import Step
from sim.analysis.couplings.lockers import Locker
from sim.world.files.places import printable
from sim.world.geometry import cell_text
from sim.world.trial_json import finding_document
from sim.world.world import Finding
from splitwright.cli.tables import plain_table


def explained_document(finding: Finding) -> dict[str, Any]:
    """A finding; ``streams`` and ``path`` where it has them."""
    document = finding_document(finding)
    if isinstance(finding, Explained):
        if finding.streams:
            document["streams"] = list(finding.streams)
        if finding.path:
            document["path"] = path_document(finding.path)
    return document


def locker_document(locker: Locker) -> dict[str, Any]:
    """Who can lock a node, and how."""
    return {
        "node": list(locker.node),
        "of": list(locker.owners),
        "source": list(locker.source),
        "from": list(locker.origin),
        "coupling": locker.is_coupling,
        "always": locker.is_always,
        "path": path_document(locker.path),
    }


def path_document(path: Iterable[Step]) -> list[dict[str, str]]:
    """A way, step by step."""
    return [{"cell": cell_text(step.cell), "how": step.how} for step in path]


def lockers_table(lockers: Sequence[Locker]) -> Table:
    """A row for each node and source that can lock it."""
    table = plain_table("node", "of", "source", "reads", "coupling", "way")
    for one in lockers:
        always = " (always)" if one.is_always else ""
        table.add_row(
            cell_text(one.node),
            printable(" and ".join(one.owners)),
            cell_text(one.source) + always,
            printable(" and ".join(one.origin)),
            "yes" if one.is_coupling else "",
            printable(one.text),
        )
    return table
