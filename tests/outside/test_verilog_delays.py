"""Delays of signal parts against Icarus Verilog: whole traces, tick by tick.

Source: IEEE Std 1364-2005 (inertial delay of ``assign #d``, transport delay of ``q <= #d in``, the stratified event
queue), run by Icarus Verilog, Debian package iverilog.
"""

from __future__ import annotations

import random
from itertools import pairwise, product
from pathlib import Path

import pytest

from outside.chains import Changes, chain_layout, fill_level, in_the_bin, random_chain, simulated_traces
from outside.delay_verilog import (
    chain_module,
    clock_out,
    inertial,
    module,
    rulebook,
    shown_traces,
    stimulus,
    transport,
    watched,
)
from outside.icarus import needs_iverilog, simulated

CHAINS = 120
TICKS = 500
LONGEST_DELAY = 8

Arrivals = list[tuple[int, int]]


def wide_pulses(rng: random.Random) -> Arrivals:
    """Loads that are there, and gone, for longer than any part delays.

    Odd numbers of items, so that the reading stays as it is when the first item leaves, one tick after the load.
    """
    arrivals, tick = [], rng.choice((0, 9, 12))
    while tick < TICKS - 100:
        items = rng.choice((3, 3, 5, 7, 13))
        arrivals.append((tick, items))
        emptied = tick + 1 + 8 * (items - 1)
        tick = emptied + rng.randint(LONGEST_DELAY + 1, 40)
    return arrivals


@needs_iverilog
def test_wide_pulses_come_through_chains_as_with_inertial_delays(tmp_path: Path) -> None:
    """With all pulses and gaps longer than the delays Verilog's own ``assign #d`` says the same, event by event."""
    rng = random.Random(2)
    text, expected = [clock_out(TICKS)], {}
    for number in range(CHAINS):
        tokens, arrivals = random_chain(rng, stages=rng.randint(1, 12)), wide_pulses(rng)
        items = in_the_bin(arrivals)
        widths = [b - a for (a, _), (b, _) in pairwise(emptiness(items))]
        assert min(widths) > LONGEST_DELAY
        text.append(chain_module(f"c{number}", tokens, items))
        traces = simulated_traces(chain_layout(tokens), arrivals, TICKS)
        expected |= {f"c{number}.{x}": trace for x, trace in traces.items()}
    shown = shown_traces(simulated("\n".join(text), tmp_path), TICKS)
    assert shown == expected
    busy = [trace for trace in expected.values() if len(trace) > 5]
    assert len(busy) > len(expected) / 2
    assert {value for trace in expected.values() for _, value in trace} >= {0, 1, 2, 3, 4, 7, 14, 15}


def emptiness(items: Changes) -> Changes:
    """When the bin changes between empty and not."""
    found: Changes = []
    for tick, count in items:
        if not found or found[-1][1] != (count > 0):
            found.append((tick, count > 0))
    return found


# -- where the rulebook is not inertial ------------------------------------------------------------------------------

PERIOD = 20
PULSE_AT = 41
PULSES = list(product((1, 2, 3, 4), range(2, 19)))
"""(relay delay, pulse width in ticks)."""


def one_pulse(width: int) -> Arrivals:
    """The bin holds an item for ``width`` ticks, up to the node's turn in tick 41, and for one tick before that.

    The first item keeps the node busy to tick 21, the next one to tick 41 (both pulses of a single tick).
    """
    return [(0, 1), (20, 1), (PULSE_AT - width, 1)]


def one_gap(width: int) -> Arrivals:
    """The bin holds two items until the node's turn in tick 21, nothing for ``width`` ticks, then two again."""
    return [(0, 2), (21 + width, 2)]


@needs_iverilog
@pytest.mark.parametrize("what", ["pulse", "gap"])
def test_a_short_pulse_is_stretched_by_a_relay_and_a_short_gap_is_not(tmp_path: Path, what: str) -> None:
    """A relay keeps to ``assign #d`` but for one rule: a pulse shorter than its delay comes out as long as its delay.

    Inertial delay swallows such a pulse, transport delay hands it on as it is; the rulebook does neither. A short gap
    is swallowed by rulebook and inertial delay alike.
    """
    text, traces = [clock_out(120)], {}
    for delay, width in PULSES:
        name = f"r{delay}_{width}"
        arrivals = one_pulse(width) if what == "pulse" else one_gap(width)
        trace = simulated_traces(chain_layout(["g", f"r{delay}"], PERIOD), arrivals, 120)
        traces[name] = trace[2]
        body = [
            stimulus("into", 1, [(tick, int(level > 0)) for tick, level in trace[1]]),
            inertial("a", "into", 2 * delay),
            transport("b", "into", 2 * delay),
            rulebook("c", "into", 2 * delay, relay=True),
        ]
        text.append(module(name, [*body, *(watched(wire, f"{name}.{wire}") for wire in "abc")]))
    shown = shown_traces(simulated("\n".join(text), tmp_path), 120)
    for delay, width in PULSES:
        name, ticks = f"r{delay}_{width}", 2 * delay
        assert traces[name] == shown[f"{name}.c"]
        assert (traces[name] == shown[f"{name}.a"]) == (width >= ticks or what == "gap"), (delay, width)
        assert (traces[name] == shown[f"{name}.b"]) == (width >= ticks), (delay, width)
        if what == "pulse":
            on = PULSE_AT - width + 2 + ticks  # two ticks of the gauge, then the relay's
            assert traces[name] == [(0, 0), (on, 1), (on + max(width, ticks), 0)]


@needs_iverilog
def test_a_pending_change_takes_what_is_wanted_when_it_falls_due(tmp_path: Path) -> None:
    """A gauge whose reading changes again within its delay shows the newer reading at the old time; inertial delay
    starts anew, one tick later here. A reading that comes back in time leaves no trace in either."""
    text, traces, loads = [clock_out(200)], {}, range(1, 15)
    for load in loads:
        items = in_the_bin([(10, load)])
        readings = [(tick, fill_level(count)) for tick, count in items]
        traces[load] = simulated_traces(chain_layout(["g"]), [(10, load)], 200)[1]
        body = [stimulus("into", 4, readings), inertial("a", "into", 2, bits=4), rulebook("c", "into", 2, bits=4)]
        text.append(module(f"g{load}", [*body, *(watched(wire, f"g{load}.{wire}") for wire in "ac")]))
    shown = shown_traces(simulated("\n".join(text), tmp_path), 200)
    for load in loads:
        steady = fill_level(load) == fill_level(load - 1)
        assert traces[load] == shown[f"g{load}.c"]
        assert (traces[load] == shown[f"g{load}.a"]) == (steady or load == 1)
        if load > 1:
            assert traces[load][1] == (12, fill_level(load - 1))
            assert shown[f"g{load}.a"][1] == (12 if steady else 13, fill_level(load - 1))
    assert traces[1] == [(0, 0)]


@pytest.mark.parametrize("westward", [False, True])
def test_a_stretched_pulse_is_handed_on(westward: bool) -> None:
    """A pulse of 3 ticks, by arithmetic from the rulebook's text, in either file order of the parts.

    A relay of delay 4 (8 ticks) makes it 8 long, and the next one falls due in the very tick in which it ends: that one
    comes on all the same, for its own 8 ticks. Simultaneous events of different processes have no order in Verilog.
    """

    def traces(*tokens: str) -> dict[int, Changes]:
        return simulated_traces(chain_layout(tokens, PERIOD, westward=westward), one_pulse(3), 120)

    longer = traces("g", "r2", "s", "i")
    assert longer[1] == [(0, 0), (2 + PULSE_AT - 3, 1), (2 + PULSE_AT, 0)]
    assert longer[2] == [(0, 0), (44, 1), (48, 0)]
    assert longer[4] == [(0, 1), (46, 0), (50, 1)]
    tie = traces("g", "r4", "r4")
    assert tie[2] == [(0, 0), (48, 1), (56, 0)]
    assert tie[3] == [(0, 0), (56, 1), (64, 0)]
