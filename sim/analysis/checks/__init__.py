"""Design checks: what will not work, or not as meant, in a layout as it stands (formats, "Commands", ``check``).

Each check is one function that takes a layout and the rules in force and yields findings, each one line that names the
cells and says what to do. ``CHECKS`` is the list of them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from sim.analysis.checks.couples import couples
from sim.analysis.checks.locks import always_locked
from sim.analysis.checks.outlets import leads_nowhere, unreachable
from sim.analysis.checks.reach import dead_line
from sim.analysis.checks.running import run_findings
from sim.analysis.checks.standing import merging_bins, no_support, reads_nothing
from sim.analysis.checks.touching import touching_runs
from sim.world.layout import Layout
from sim.world.rulebook import Rules, default_rules
from sim.world.world import Finding

Check = Callable[[Layout, Rules], Iterator[Finding]]

CHECKS: Final[tuple[Check, ...]] = (
    no_support,
    reads_nothing,
    merging_bins,
    leads_nowhere,
    unreachable,
    dead_line,
    touching_runs,
    couples,
    always_locked,
    run_findings,
)
"""From the parts alone to the running build. What one of these finds fault with is never proposed."""


def design_findings(layout: Layout, rules: Rules | None = None) -> list[Finding]:
    """Everything that the design checks find, in the order of ``CHECKS``; empty: nothing.

    ``rules``: the rulebook that the layout overrides (default: the default rulebook). The last check runs the default
    trial twice; the others are linear in the number of parts, or nearly so.
    """
    in_force = layout.rules_in_force(rules or default_rules())
    return [finding for check in CHECKS for finding in check(layout, in_force)]
