"""All topics of a layout, in the order in which a builder asks."""

from __future__ import annotations

from sim.layout import Layout
from sim.rulebook import Rules, default_rules
from sim.workings.circuit import circuit_of
from sim.workings.gauges import gauge_statements
from sim.workings.items import item_statements
from sim.workings.locks import lock_statements
from sim.workings.logic import lock_groups, logic_statements
from sim.workings.timing import timing_statements
from sim.workings.topic import Topic
from sim.workings.wires import wire_statements


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
