"""What a search is about: the handovers that a layout must work under, and the scope of every claim."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Final

import numpy as np

from sim.analysis.workings.cover import fewest_products
from sim.world.files.places import all_of, counted
from sim.world.rulebook import Rules
from synth.ask.spec import Spec
from synth.confirm.confirmation import handovers_to_try
from synth.confirm.loads import gaps_tried, loads_tried
from synth.model import gauges, item_row, locks, separation, timing
from synth.model.plots import reading_of, windows
from synth.schemes.registry import kept_of, scheme_named, scheme_of
from synth.schemes.scheme import DelayWindow, Nodes, Scheme, Which, Windows

FILE_ORDER: Final = "update order of the file, parts layer by layer from the ground, north to south, west to east"
"""Of proposals; a build that is to be improved keeps its own."""
CHECKED: Final = "no design check finds anything"
LEFT_OUT: Final[Mapping[Callable[..., Any], str]] = {
    item_row.row_is_a_chain: "rows that step down or have nodes to spare",
    item_row.drops_hang_below: "",
    item_row.drops_feed_furnaces: "",
    item_row.nothing_else_is_pulled: "",
    item_row.tail_pushes_into_nothing: "row ends that push back",
    gauges.gauges_read_watched_nodes: "gauges on other nodes than {read}",
    gauges.watched_nodes_are_read: "",
    locks.nodes_obey: "nodes that lock when the scheme does not have it so",
    timing.locks_answer_in_time: "or sooner or later than it says",
    separation.gauges_act_on_their_own_classes: "",
    separation.numbers_do_not_couple: "",
    separation.streams_do_not_couple: "",
    gauges.no_relay_is_latched: "relays held by a side input",
    timing.chains_are_bounded: "signals that feed back or take longer than {stages}",
}
"""What each family of constraints that is no law of the world keeps out of the model, in few words ("": what another
one says already, or what no split can do without). ``tests/test_synth_scope.py`` holds it against the model's list."""
_ROWS: Final = {"any": "horizontal steps", "straight": "straight rows only"}


def needed_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers a layout must work under: all known ones where the row's delays allow it, else the one in force."""
    every = handovers_to_try(spec.rules)
    unit = spec.rules.gauge_delay
    possible = all(_holds_multiple(window, unit) for window in windows(spec, every).values())
    return every if possible or spec.demands.handover == "both" else (spec.rules.handover,)


def required_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers that a layout cannot do without: the one in force, or all known ones where the spec demands it."""
    return handovers_to_try(spec.rules) if spec.demands.handover == "both" else (spec.rules.handover,)


def _holds_multiple(window: DelayWindow, unit: int) -> bool:
    return window.least <= window.most and window.most // unit * unit >= window.least


def scope_of(spec: Spec, within: Windows, handovers: tuple[int, ...]) -> list[str]:
    """What every claim of a search is about, in sentences."""
    scheme = scheme_of(spec)
    limits = model_limits(scheme, spec.rules, spec.outputs, within, reading_of(spec))
    alike = " alike" if len(handovers) > 1 else ""
    return [
        "; ".join([f"scheme: {scheme.name}, {_ROWS[spec.row]}, {row_words(scheme, spec.outputs)}", *limits,
                   f"{_held(kept_of(spec))} in the nodes"]),
        *_several(spec),
        CHECKED,
        FILE_ORDER,
        f"rulebook: {spec.rulebook.title}{_overrides(spec)}; each layout works under handover "
        f"{' and '.join(map(str, handovers))}{alike}",
        *_tried(spec),
    ]


def not_looked_at(names: Iterable[str], rules: Rules, outputs: int) -> str:
    """In one sentence, what claims on these schemes do not cover, from what keeps it out of the model (of those put
    together from known builds nothing is claimed)."""
    asked = [scheme for scheme in map(scheme_named, names) if scheme.joined is None]
    read = [scheme.words(watch.nodes, outputs) for scheme in asked for watch in scheme.watches]
    longest = max(scheme.stages(rules) for scheme in asked)
    filled = {"read": all_of(read) if len(asked) == 1 else "these read", "stages": counted(longest, "tick")}
    kept_out = [text.format(**filled) for text in LEFT_OUT.values() if text]
    others = f"other ways to split than the {all_of([scheme.name for scheme in asked])}"
    return f"Not looked at: {', '.join([others, *kept_out])}, other update orders of the parts."


def row_words(scheme: Scheme, outputs: int) -> str:
    """How the scheme's row is built: "the bin above T0, T0 to T3 in one layer, ..."."""
    first, last = scheme.words(Nodes("T", Which.FIRST), outputs), scheme.words(Nodes("T", Which.LAST), outputs)
    row, drops = scheme.words(Nodes("T"), outputs), scheme.words(Nodes("B"), outputs)
    served = scheme.words(Nodes("T", Which.EVERY if scheme.first else Which.ALL_BUT_FIRST), outputs)
    return (
        f"the bin above {first}, {row} in one layer, each pushing into the next and {last} into nothing, "
        f"{drops} below {served}, each into a furnace of its own"
    )


def model_limits(scheme: Scheme, rules: Rules, outputs: int, within: Windows, reading: int = 1) -> list[str]:
    """What the model admits of a scheme's wiring and nothing else, in sentences: the lock table, what gauges read,
    delays. ``reading``: of a node that holds something."""
    read = {watch.label: scheme.words(watch.nodes, outputs) for watch in scheme.watches}
    delays = "".join(
        f", from {read[label]} {one.least} to {one.most} ticks to the locks" for label, one in within.items()
    )
    passing = f"each reading {reading} or nothing" + "".join(
        f", on {scheme.words(watch.nodes, outputs)} up to {watch.level}" for watch in scheme.watches if watch.level > 1
    )
    if scheme.reads_full:
        passing = "each passing a full reading only, by a side input of the full level at all times"
    apart = any(watch.apart for watch in scheme.watches)
    return [
        f"locked by signals from gauges on {' and '.join(read.values())} only, {passing}"
        + (", each lock by those of its own number and the last" if apart else ""),
        *lock_table_words(scheme, outputs),
        *_acting(scheme, outputs),
        "no part can act on itself, whatever the levels, no relay or gauge faces the side of a relay, chains of at "
        f"most {scheme.stages(rules)} ticks{delays}",
    ]


def lock_table_words(scheme: Scheme, outputs: int) -> Iterator[str]:
    """The scheme's lock table, a sentence for each class of nodes; a class without a say is not told."""
    for number, nodes in enumerate(scheme.classes):
        if scheme.members(nodes, outputs):
            who, said = scheme.words(nodes, outputs), {row.reads: row.locked[number] for row in scheme.table}
            when = {locked: _when(scheme, outputs, said, locked) for locked in (True, False)}
            if all(locked is False for locked in said.values()):
                yield f"{who} never locked"
            elif True in said.values() and None in said.values():
                yield f"{who} locked while {when[True]}, not locked while {when[False]}"
            elif True in said.values():
                yield f"{who} locked just while {when[True]}"
            else:
                yield f"{who} not locked while {when[False]}"


def _acting(scheme: Scheme, outputs: int) -> Iterator[str]:
    """Where gauges of a watch act on some nodes of the row alone."""
    for watch in scheme.watches:
        if watch.locks:
            acted_on = " and ".join(scheme.words(nodes, outputs) for nodes in watch.locks)
            yield f"no signal from {scheme.words(watch.nodes, outputs)} acts on a node but {acted_on}"


def _when(scheme: Scheme, outputs: int, said: Mapping[tuple[bool, ...], bool | None], locked: bool) -> str:
    """The readings in which a class of nodes is (not) locked, as the shortest condition there is."""
    table = np.zeros((2,) * len(scheme.watches), np.bool_)
    for reads, value in said.items():
        table[tuple(map(int, reads))] = value is locked
    read = ["the B of its number" if one.apart else scheme.words(one.nodes, outputs) for one in scheme.watches]
    products = [
        " and ".join(
            f"{name} {scheme.state_words(watch)[low]}"
            for name, watch, (low, high) in zip(read, scheme.watches, product, strict=True)
            if low == high
        )
        for product in fewest_products(table) or ()
    ]
    return ", or ".join(products)


def _overrides(spec: Spec) -> str:
    """The numbers that the spec sets in the rulebook's stead, and stacks of its own."""
    stacks = {f"stack of {s.item}": spec.stack_of(s.item) for s in spec.streams}
    own = {name: stack for name, stack in stacks.items() if stack != spec.rulebook.rules.stack}
    return "".join(f", {name} {value}" for name, value in {**spec.overrides, **own}.items())


def _several(spec: Spec) -> Iterator[str]:
    """What holds of several streams in one site."""
    if len(spec.streams) > 1:
        yield "no part, line or solid cell under the influence of gauges of two streams, whether it locks a node or not"
        yield "every gauge taken to read what it reads of the stream that reads least"


def _held(most: int) -> str:
    return f"at most {counted(most, 'item')} more than at the start stay" if most else "no item stays"


def _tried(spec: Spec) -> Iterator[str]:
    yield loads_tried(spec)
    yield gaps_tried(spec) if spec.even_for == "stream" else "trickling input was not tried"
    if spec.demands.arrivals == "all":
        yield "each shown even for every pattern of arrivals, by search over all states"
    if spec.demands.orders == "all":
        yield "each shown even in every update order that can matter"
    if spec.demands.throughput is not None:
        yield f"of layouts that pass {spec.demands.throughput:g} items an hour in steady flow"
