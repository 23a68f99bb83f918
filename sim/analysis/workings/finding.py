"""All topics of a layout, in the order in which a builder asks."""

from __future__ import annotations

from sim.analysis.workings.circuit import circuit_of
from sim.analysis.workings.gauges import gauge_statements
from sim.analysis.workings.items import item_statements
from sim.analysis.workings.locks import lock_statements
from sim.analysis.workings.logic import lock_groups, logic_statements
from sim.analysis.workings.timing import timing_statements
from sim.analysis.workings.topic import Topic
from sim.analysis.workings.wires import wire_statements
from sim.world.layout import Layout
from sim.world.rulebook import Rules, default_rules


def workings(layout: Layout, rules: Rules | None = None) -> tuple[Topic, ...]:
    """How a layout works; ``rules``: the rulebook that the layout overrides (default: the default rulebook).

    Only what is so whatever the containers hold, worked out by the laws. Time: bounded for every layout; see ``truth``
    for what is left untold.
    """
    circuit = circuit_of(layout, layout.rules_in_force(rules or default_rules()))
    groups = lock_groups(circuit)
    return (
        Topic("items", tuple(item_statements(layout))),
        Topic("gauges", tuple(gauge_statements(circuit))),
        Topic("wires", tuple(wire_statements(circuit))),
        Topic("locks", tuple(lock_statements(circuit))),
        Topic("logic", tuple(logic_statements(circuit, groups))),
        Topic("timing", tuple(timing_statements(circuit, groups))),
    )
