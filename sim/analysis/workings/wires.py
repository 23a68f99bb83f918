"""How signals run: what feeds each run of lines, what switches each inverter and relay."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.workings.circuit import Circuit
from sim.world.geometry import Cell
from sim.world.parts import Inverter, Relay
from sim.world.signals.field import line_nets
from sim.world.signals.structure import behind, mount_cell
from sim.world.statement import Statement, mention, mentions


def wire_statements(circuit: Circuit) -> Iterator[Statement]:
    """Runs, then inverters and relays, each in file order. Linear in what touches lines and parts."""
    switches = [i for i, part in enumerate(circuit.wiring.parts) if isinstance(part, (Inverter, Relay))]
    if not switches and not circuit.wiring.lines:
        yield Statement("workings.wires_none")
    for run in sorted(tuple(sorted(run)) for run in line_nets(circuit.wiring)[1]):
        yield from _of_run(circuit, run)
    for number in switches:
        if isinstance(circuit.wiring.parts[number], Inverter):
            yield _of_inverter(circuit, number)
        else:
            yield from _of_relay(circuit, number)


def _of_run(circuit: Circuit, run: tuple[int, ...]) -> Iterator[Statement]:
    """Where the signals in a run come from, and lines of it that none gets to."""
    layout, wiring, most = circuit.layout, circuit.wiring, circuit.most
    feeds = {part for line in run for part in wiring.line_sources[line]}
    feeds |= {part for line in run for solid in wiring.solids_of_line[line] for part in wiring.strong_sources[solid]}
    lit = [wiring.lines[line] for line in run if most.level[line]]
    dead = [wiring.lines[line] for line in run if not most.level[line]]
    if lit:
        sources = mentions(layout, (wiring.parts[part].at for part in sorted(feeds) if most.out[part]))
        yield Statement("workings.run_fed", {"lines": mentions(layout, lit), "sources": sources})
    if dead:
        yield Statement("workings.run_dead", {"lines": mentions(layout, dead)})


def _of_inverter(circuit: Circuit, number: int) -> Statement:
    layout, inverter, solid = circuit.layout, circuit.wiring.parts[number], circuit.wiring.input_solid[number]
    assert isinstance(inverter, Inverter)
    values = {"inverter": mention(layout, inverter.at), "base": mention(layout, mount_cell(inverter))}
    if solid < 0 or not circuit.most.energised[solid]:
        return Statement("workings.inverter_lit", values)
    if circuit.least.energised[solid]:
        return Statement("workings.inverter_dark", values)
    return Statement("workings.inverter", {**values, "sources": mentions(layout, _energisers(circuit, solid))})


def _energisers(circuit: Circuit, solid: int) -> list[Cell]:
    """What can energise a solid cell: parts that deliver into it, lines that point into it or lie on it."""
    wiring, most = circuit.wiring, circuit.most
    parts = [wiring.parts[part].at for part in sorted(wiring.strong_sources[solid]) if most.out[part]]
    return parts + [wiring.lines[line] for line in sorted(wiring.weak_sources[solid]) if most.level[line]]


def _of_relay(circuit: Circuit, number: int) -> Iterator[Statement]:
    layout, wiring, most = circuit.layout, circuit.wiring, circuit.most
    relay = wiring.parts[number]
    assert isinstance(relay, Relay)
    me = mention(layout, relay.at)
    solid, lines, parts = wiring.input_solid[number], wiring.input_lines[number], wiring.input_parts[number]
    is_driven = (
        (solid >= 0 and most.energised[solid])
        or any(most.level[line] for line in lines)
        or any(most.out[part] for part in parts)
    )
    if is_driven:
        yield Statement("workings.relay", {"relay": me, "behind": mention(layout, behind(relay))})
    else:
        yield Statement("workings.relay_off", {"relay": me})
    if latches := [wiring.parts[part].at for part in wiring.side_parts[number] if most.out[part]]:
        yield Statement("workings.relay_latched", {"relay": me, "sides": mentions(layout, latches)})
