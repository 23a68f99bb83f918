"""Hypothesis strategies for valid layouts, for any test that wants one.

``layouts()`` is valid by the layout files' checks: it loads. What stands in it need not work, nor pass design checks.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from sim.world.files.consistency import slots_of
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import (
    DELAYS,
    MOUNTS,
    OUTLETS,
    OUTPUTS,
    Bin,
    Container,
    Furnace,
    Gauge,
    Inverter,
    Line,
    Node,
    Part,
    Relay,
    Slot,
    Support,
)
from sim.world.rulebook import OVERRIDABLE, Rules, default_rules

AWKWARD = (
    "clay", "brick", "charcoal", "stack", "fires-to", "burn", "from", "to", "layer", "title", "order", ".", "#", "#3",
    "64", "-3", "1,0,2", '"', "a b", "a#b", " ", "\n", "\t", "\u2028", "\xa0", "\ufeff", "\x00", "\x7f", "\\", "nE",
    "true", "null", "splitwright-plan/1", "{", "Ziegel-Öfen", "窯", "\U0001f9f1",
)  # fmt: skip
"""Names that a form of the file could trip over."""

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NAMES = st.sampled_from(AWKWARD) | TEXT.filter(bool)
TITLES = st.sampled_from(("", "Three kilns, clay", 'Kiln #3 "old"', " x ", "a  b", "# x", *AWKWARD)) | TEXT
ITEMS = st.dictionaries(
    NAMES,
    st.builds(
        ItemKind,
        stack=st.none() | st.integers(1, 64) | st.just(1_000_000),
        fires_to=st.none() | NAMES,
        burn=st.just(0) | st.integers(0, 2000),
    ),
    max_size=4,
)
RULES = st.dictionaries(st.sampled_from(OVERRIDABLE), st.integers(1, 12) | st.just(1_000_000), max_size=4)


def cells(size: tuple[int, int, int]) -> st.SearchStrategy[Cell]:
    """Cells inside ``size``."""
    return st.tuples(*(st.integers(0, side - 1) for side in size))


def parts_at(at: Cell) -> st.SearchStrategy[Part]:
    """Any part, with nothing in it, at ``at``."""
    return st.one_of(
        st.builds(Bin, st.just(at), st.sampled_from(("plain", "marked"))),
        st.builds(Node, st.just(at), st.sampled_from(OUTLETS)),
        st.sampled_from([Furnace(at), Support(at), Line(at)]),
        st.builds(Inverter, st.just(at), st.sampled_from(MOUNTS)),
        st.builds(Relay, st.just(at), st.sampled_from(OUTPUTS), st.sampled_from(DELAYS)),
        st.builds(Gauge, st.just(at), st.sampled_from(OUTPUTS)),
    )


@st.composite
def slots(draw: st.DrawFn, layout: Layout, rules: Rules) -> Slot | None:
    """One slot's contents, within the limits of ``layout``'s items."""
    kind = draw(st.none() | NAMES | st.sampled_from([*layout.items, "clay"]))
    return None if kind is None else (kind, draw(st.integers(1, layout.stack_limit(rules)(kind))))


@st.composite
def layouts(draw: st.DrawFn, most_parts: int = 12) -> Layout:
    """A layout that every form of the file can state and every loader takes."""
    size = draw(st.tuples(*[st.integers(1, 4)] * 3))
    places = draw(st.lists(cells(size), unique=True, max_size=most_parts))
    empty = Layout(draw(TITLES), size, draw(ITEMS), tuple(draw(parts_at(place)) for place in places), rules=draw(RULES))
    rules = empty.rules_in_force(default_rules())

    def filled(part: Container) -> Container:
        most = min(slots_of(part, rules), 6)
        holds = tuple(draw(st.lists(slots(empty, rules), max_size=most)))
        kinds: dict[str, Any] = {"at": part.at, "holds": holds}
        if isinstance(part, Bin):
            return Bin(finish=part.finish, **kinds)
        return Node(outlet=part.outlet, **kinds) if isinstance(part, Node) else Furnace(**kinds)

    parts = tuple(filled(part) if isinstance(part, (Bin, Node, Furnace)) else part for part in empty.parts)
    return Layout(empty.title, size, empty.items, parts, draw(streams_in(parts)), empty.rules)


def streams_in(parts: tuple[Part, ...]) -> st.SearchStrategy[tuple[Stream, ...]]:
    """Streams with different names among the bins and containers of ``parts``; none where there is no bin."""
    bins = [part.at for part in parts if isinstance(part, Bin)]
    containers = [part.at for part in parts if isinstance(part, (Bin, Node, Furnace))]
    if not bins:
        return st.just(())
    outputs = st.lists(st.sampled_from(containers), min_size=1, max_size=4, unique=True).map(tuple)
    stream = st.builds(Stream, NAMES, NAMES, st.sampled_from(bins), outputs)
    return st.lists(stream, max_size=3, unique_by=lambda one: one.name).map(tuple)
