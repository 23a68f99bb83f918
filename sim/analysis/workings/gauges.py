"""What each gauge reads, and what it makes of it."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.workings.circuit import Circuit
from sim.world.parts import Gauge
from sim.world.signals.field import Field
from sim.world.signals.structure import behind
from sim.world.signals.wants import side_input
from sim.world.statement import Mention, Statement, Value, mention, mentions


def gauge_statements(circuit: Circuit) -> Iterator[Statement]:
    """Each gauge in file order: what it reads, and when it is on."""
    gauges = [i for i, part in enumerate(circuit.wiring.parts) if isinstance(part, Gauge)]
    if not gauges:
        yield Statement("workings.gauges_none")
    for number in gauges:
        yield from _of_gauge(circuit, number)


def _of_gauge(circuit: Circuit, number: int) -> Iterator[Statement]:
    layout, gauge, cell = circuit.layout, circuit.wiring.parts[number], circuit.wiring.reads[number]
    assert isinstance(gauge, Gauge)
    me, place = mention(layout, gauge.at), behind(gauge)
    if cell is None:
        yield Statement("workings.gauge_idle", {"gauge": me, "behind": mention(layout, place)})
        return
    values: dict[str, Value] = {"gauge": me, "container": mention(layout, cell)}
    if place == cell:
        yield Statement("workings.gauge_reads", values)
    else:
        yield Statement("workings.gauge_reads_through", {**values, "support": mention(layout, place)})
    yield _meaning(circuit, number, {"container": values["container"]})


def _meaning(circuit: Circuit, number: int, values: dict[str, Value]) -> Statement:
    """When a gauge that reads something is on: by its side input, which holds it back while it is above the reading."""
    low, high = side_input(circuit.least, number), side_input(circuit.most, number)
    if high <= 1:  # whatever is not empty reads 1 at least
        return Statement("workings.gauge_on", values)
    if low != high:
        sides = _sides(circuit, number, circuit.most, 2)
        return Statement("workings.gauge_held_at_times", {**values, "sides": sides})
    steady: dict[str, Value] = {**values, "level": low, "sides": _sides(circuit, number, circuit.least, low)}
    return Statement("workings.gauge_full" if low == circuit.rules.reach else "workings.gauge_from", steady)


def _sides(circuit: Circuit, number: int, field: Field, least: int) -> tuple[Mention, ...]:
    """What gives the gauge a side input of ``least`` or more in a field."""
    wiring = circuit.wiring
    lines = [wiring.lines[line] for line in wiring.side_lines[number] if field.level[line] >= least]
    parts = [wiring.parts[part].at for part in wiring.side_parts[number] if field.out[part] >= least]
    return mentions(circuit.layout, [*lines, *parts])
