"""Chains of signal parts in Verilog with delays (IEEE Std 1364-2005), from RULEBOOK.md section 4, "Timing".

One time unit is one tick. A world's tick 0 is at time ``START``, when everything has settled. What the machine phase
does is assigned by nonblocking assignments, which take effect after the changes that fall due at the same time
(the stratified event queue of the standard): first the signal phase, then the machine phase.

Three ways to delay:

* *inertial*, Verilog's own ``assign #d``: an input that goes back before the delay is over leaves no trace, and any new
  change of the input starts the delay anew;
* *transport*, ``q <= #d in``: every change comes through, later;
* *rulebook*: the delay runs out undisturbed, then the input is looked at again; a relay that is off goes on anyway.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from outside.chains import SLOT, Changes, Token

START = 1000
DELAY = {"g": 2, "i": 2, "r": 2}
"""Ticks; a relay's is for each step of its delay."""


def delay_of(token: Token) -> int:
    return DELAY[token[0]] * int(token[1:] or 1)


def inertial(q: str, wants: str, delay: int, bits: int = 1) -> str:
    return f"wire [{bits - 1}:0] {q}; assign #{delay} {q} = {wants};"


def transport(q: str, wants: str, delay: int, bits: int = 1) -> str:
    return f"reg [{bits - 1}:0] {q} = 0; always @* {q} <= #{delay} {wants};"


def rulebook(q: str, wants: str, delay: int, bits: int = 1, *, relay: bool = False) -> str:
    """A change is scheduled when wanted and actual state differ and none is pending; what is due looks again."""
    due = f"{q} = {q} ? {wants} : 1'b1;" if relay else f"{q} = {wants};"
    return f"reg [{bits - 1}:0] {q} = 0; always begin wait ({q} != ({wants})); #{delay} {due} end"


def stimulus(name: str, bits: int, changes: Changes) -> str:
    """A register that takes each value in the machine phase of its tick."""
    steps = "".join(f" {name} <= #{START + tick} {value};" for tick, value in changes)
    return f"reg [{bits - 1}:0] {name} = 0; initial begin{steps} end"


def watched(wire: str, label: str) -> str:
    """Shows ``<label> <tick> <value>`` at tick 0 and on each later change."""
    show = f'$display("{label} %0d %0d", $time - {START}, {wire})'
    return f"initial #{START} {show}; always @({wire}) if ($time >= {START}) {show};"


def chain_module(name: str, tokens: Sequence[Token], items: Changes) -> str:
    """A chain with inertial delays, fed by the number of items in its bin; shows each part and line as ``name.x``."""
    body = [stimulus("items", 8, items), f"wire [3:0] reading = items == 0 ? 0 : 1 + 14 * items / {SLOT};"]
    strong = level = "4'd0"  # what the cell before delivers into this one: as a part, as a line
    for x, token in enumerate(tokens, 1):
        q, p = f"q{x}", f"p{x}"
        signal = f"(({strong}) != 0 || ({level}) != 0)"
        match token[0]:
            case "g":
                body += [inertial(q, "reading", delay_of(token), bits=4), f"wire [3:0] {p} = {q};"]
                strong, level = p, "4'd0"
            case "r":
                body += [inertial(q, signal, delay_of(token)), f"wire [3:0] {p} = {q} ? 15 : 0;"]
                strong, level = p, "4'd0"
            case "i":
                body += [inertial(q, f"!{signal}", delay_of(token)), f"wire [3:0] {p} = {q} ? 15 : 0;"]
                strong, level = p, "4'd0"
            case "l":
                body.append(f"wire [3:0] {p} = ({level}) > ({strong}) + 1 ? ({level}) - 1 : ({strong});")
                strong, level = "4'd0", p
            case "s":  # energised by either; passes on to a line what comes in strongly
                continue
        body.append(watched(q if token[0] in "ri" else p, f"{name}.{x}"))
    return module(name, body)


def module(name: str, body: Iterable[str]) -> str:
    return f"module {name};\n  " + "\n  ".join(body) + "\nendmodule\n"


def clock_out(ticks: int) -> str:
    """Ends the run after the last tick."""
    return module("clock_out", [f"initial #{START + ticks + 1} $finish(0);"])


def shown_traces(lines: Iterable[str], ticks: int) -> dict[str, Changes]:
    """The changes by label, up to the last tick; of several values at one time the last counts."""
    traces: dict[str, dict[int, int]] = {}
    for line in lines:
        label, tick, value = line.split()
        if int(tick) <= ticks:
            traces.setdefault(label, {})[int(tick)] = int(value)
    return {label: _changes(values) for label, values in traces.items()}


def _changes(values: dict[int, int]) -> Changes:
    changes: Changes = []
    for tick, value in sorted(values.items()):
        if not changes or changes[-1][1] != value:
            changes.append((tick, value))
    return changes
