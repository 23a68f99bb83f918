"""Static signals of random wirings without loops against Icarus Verilog.

Source: IEEE Std 1364-2005 (the language), run by Icarus Verilog, Debian package iverilog. The Verilog text is made
from RULEBOOK.md section 4 (``static_verilog``), without any of ``sim.world.signals``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from outside.icarus import needs_iverilog, simulated
from outside.static_verilog import StaticVerilog
from outside.wirings import wiring_without_loops
from sim.world.layout import Layout
from sim.world.parts import Gauge, Node, Relay
from sim.world.trial import Trial, TrialResult

WIRINGS = 400

Shown = dict[tuple[int, str, str], int]
"""(wiring, "s" for a signal, "e" for a solid cell's being energised, "n" for a node's lock, "x,y,z") to its value."""


def settled(layout: Layout) -> Trial:
    """The simulator at tick 0, before any load."""
    trial = Trial(layout)
    assert trial.result().findings == ()
    return trial


def shown_by_simulator(number: int, trial: Trial) -> Shown:
    result, field = trial.result(), trial.world.field
    shown = {(number, "s", _text(cell)): value for cell, value in result.signals.items()}
    energised = zip(field.wiring.solids, field.energised, strict=True)
    shown |= {(number, "e", _text(cell)): int(on) for cell, on in energised}
    nodes = [part.at for part in trial.layout.parts if isinstance(part, Node)]
    return shown | {(number, "n", _text(cell)): int(cell in result.locked) for cell in nodes}


def shown_by_verilog(lines: list[str]) -> tuple[Shown, int]:
    """What the Verilog run shows, and how many relays it finds latched."""
    shown: Shown = {}
    latched = 0
    for line in lines:
        module, what, cell, value = line.split()
        if what == "l":
            latched += int(value)
        else:
            shown[int(module.removeprefix("w")), what, cell] = int(value)
    return shown, latched


@needs_iverilog
def test_settled_signals_are_those_of_the_verilog_network(tmp_path: Path) -> None:
    text, expected = [], {}
    seen: Counter[str] = Counter()
    for number in range(WIRINGS):
        layout = wiring_without_loops(number)
        trial = settled(layout)
        result = trial.result()
        relays = {part.at: result.signals[part.at] > 0 for part in layout.parts if isinstance(part, Relay)}
        network = StaticVerilog(layout, kept=relays)
        expected |= shown_by_simulator(number, trial)
        text.append(network.module(f"w{number}"))
        seen.update(outcomes(layout, result, network))
    shown, latched = shown_by_verilog(simulated("\n".join(text), tmp_path))
    assert shown == expected
    # What the static laws leave open, the state of a latched relay, must stay a small part of what was compared.
    assert 0 < latched < (seen["relay 0"] + seen["relay 1"]) / 10
    # The comparison is worth something only where both outcomes of each law occur, and often.
    wanted = [f"line {k}" for k in range(16)]
    wanted += [f"{kind} {on}" for kind in ("inverter", "relay", "node") for on in (0, 1)]
    wanted += [f"gauge {k}" for k in (0, 1, 15)] + ["gauge held down by its side input"]
    assert {case: seen[case] for case in wanted if seen[case] < 5} == {}


def outcomes(layout: Layout, result: TrialResult, network: StaticVerilog) -> Iterator[str]:
    """What each part of a wiring shows, in words: "line 7", "node 1" (locked), ..."""
    for part in layout.parts:
        if part.at in result.signals:
            yield f"{part.kind} {result.signals[part.at]}"
        if isinstance(part, Node):
            yield f"node {int(part.at in result.locked)}"
        if isinstance(part, Gauge) and network.reading(part) > result.signals[part.at]:
            yield "gauge held down by its side input"


def _text(cell: tuple[int, int, int]) -> str:
    return ",".join(map(str, cell))
