"""``splitwright-case/1``: one trial that can be run again, as a counterexample or as a witness.

A case says all that a layout leaves open: what is put in when, the handover, the update order, the file order of the
signal parts (it decides ties between changes, rulebook section 4), other starting contents; and what it comes to.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from sim.errors import InputError, nearest
from sim.world.files.consistency import check_consistency
from sim.world.files.places import Place, counted, json_place, printable, shown, with_article
from sim.world.files.schema import check_document
from sim.world.files.strict_json import parse_json
from sim.world.files.text import read_text
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Holds, Node, Part, SignalPart
from sim.world.trial import Arrival

FORMAT: Final = "splitwright-case/1"
SCHEMA: Final = "splitwright-case-1"
DUE: Final = "a case is JSON"


@dataclass(frozen=True, slots=True)
class CaseArrival:
    """``count`` items put into the source of ``stream`` after tick ``tick`` (0: before tick 1).

    ``kind``: what they are (None: the stream's item).
    """

    tick: int
    stream: str
    count: int
    kind: str | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """One trial of a layout; None where the layout's own holds.

    ``order``: update order, every node and furnace. ``signal_order``: file order of inverters, relays and gauges, every
    one. ``holds``: starting contents that replace a container's. ``delivered``: what it is said to come to, by stream
    and output. ``arrivals``: of one stream with ticks that never go back; what streams get after the same tick is put
    in in the order in which the streams are named first.
    """

    handover: int | None = None
    arrivals: tuple[CaseArrival, ...] = ()
    order: tuple[Cell, ...] | None = None
    signal_order: tuple[Cell, ...] | None = None
    holds: Mapping[Cell, Holds] = field(default_factory=dict)
    text: str = ""
    delivered: Mapping[str, tuple[int, ...]] | None = None


def load_case(path: str | os.PathLike[str], layout: Layout) -> Case:
    """The case in the file at ``path``, of ``layout``.

    Raises InputError, with file, field and fault, when it cannot be read, breaks the form or does not fit the layout.
    """
    name = os.fspath(path)
    try:
        return case_from(read_text(name, DUE), layout)
    except InputError as error:
        raise error.within(printable(name)) from None


def case_from(source: str | dict[str, Any], layout: Layout) -> Case:
    """The case that a JSON text, or a document already parsed, states. Raises InputError; it names no file."""
    document = parse_json(source) if isinstance(source, str) else source
    try:
        _check_form(document)
    except RecursionError:
        # only a deep nest where none belongs: the validator writes it into its own message
        raise InputError("is nested too deeply") from None
    case = _case(document)
    _check_streams(document, layout)
    _check_text(case)
    _check_permutation(case.order, [part.at for part in layout.machines], "order", "node and furnace")
    _check_permutation(case.signal_order, _signal_cells(layout), "signal_order", "inverter, relay and gauge")
    _check_holds(case, layout)
    return case


def case_document(case: Case) -> dict[str, Any]:
    """The document of a case; every key is there. ``case_from`` makes an equal trial of it."""
    return {
        "format": FORMAT,
        "text": case.text,
        "handover": case.handover,
        "arrivals": {name: list(map(_arrival_document, group)) for name, group in _by_stream(case.arrivals).items()},
        "order": _cells_document(case.order),
        "signal_order": _cells_document(case.signal_order),
        "holds": {
            cell_text(cell): [None if slot is None else list(slot) for slot in holds]
            for cell, holds in case.holds.items()
        },
        "delivered": None if case.delivered is None else {name: list(of) for name, of in case.delivered.items()},
    }


def case_layout(layout: Layout, case: Case) -> Layout:
    """``layout`` as the case has it: handover, starting contents, and the signal parts in their order.

    Signal parts change places among themselves; every other part stays where it is in ``parts``, so that the default
    update order is the same.
    """
    signal_parts = iter(case.signal_order if case.signal_order is not None else _signal_cells(layout))
    parts = [
        layout.by_cell[next(signal_parts)] if isinstance(part, SignalPart) else _holding(part, case.holds)
        for part in layout.parts
    ]
    rules = dict(layout.rules) if case.handover is None else {**layout.rules, "handover": case.handover}
    return replace(layout, parts=tuple(parts), rules=rules)


def case_arrivals(case: Case) -> list[Arrival]:
    """What is put in, by tick."""
    groups = _by_stream(case.arrivals).values()
    arrivals = [Arrival(a.tick, a.stream, a.count, a.kind) for group in groups for a in group]
    return sorted(arrivals, key=lambda arrival: arrival.tick)


# --- reading


def _check_form(document: Any) -> None:
    """Raises InputError unless the published schema holds, and ticks never go back."""
    if not isinstance(document, dict):
        fault = f"must be a case document, an object with format and arrivals, not {shown(document)}"
        raise InputError(fault)
    if document.get("format") != FORMAT:
        stated = "is missing; it" if "format" not in document else f"is {shown(document['format'])}; it"
        raise InputError(f"{stated} must be {shown(FORMAT)}", field="format")
    check_document(document, SCHEMA)
    for name, arrivals in document["arrivals"].items():
        for i in range(1, len(arrivals)):
            if arrivals[i][0] < arrivals[i - 1][0]:
                fault = f"goes back from tick {arrivals[i - 1][0]} to {arrivals[i][0]}; list arrivals by tick"
                raise InputError(fault, field=json_place(("arrivals", name, i, 0)))


def _case(document: dict[str, Any]) -> Case:
    """The case of a document that follows the schema."""
    delivered = document.get("delivered")
    return Case(
        handover=document.get("handover"),
        arrivals=tuple(
            CaseArrival(entry[0], name, entry[1], entry[2] if len(entry) > 2 else None)
            for name, entries in document["arrivals"].items()
            for entry in entries
        ),
        order=_cells(document.get("order")),
        signal_order=_cells(document.get("signal_order")),
        holds={_cell_of(key): _holds(slots) for key, slots in document.get("holds", {}).items()},
        text=document.get("text", ""),
        delivered=None if delivered is None else {name: tuple(of) for name, of in delivered.items()},
    )


def _cells(cells: list[list[int]] | None) -> tuple[Cell, ...] | None:
    return None if cells is None else tuple((x, y, z) for x, y, z in cells)


def _cell_of(key: str) -> Cell:
    x, y, z = map(int, key.split(","))
    return x, y, z


def _holds(slots: list[list[Any] | None]) -> Holds:
    return tuple(None if slot is None else (slot[0], slot[1]) for slot in slots)


def _check_streams(document: dict[str, Any], layout: Layout) -> None:
    """Raises InputError for a stream that the layout lacks, or another number of outputs than it has."""
    outputs = {stream.name: len(stream.outputs) for stream in layout.streams}
    for key in ("arrivals", "delivered"):
        for name, entries in (document.get(key) or {}).items():
            place = json_place((key, name))
            if name not in outputs:
                hint = nearest(name, outputs) if outputs else "it has no streams"
                raise InputError(f"the layout has no stream {shown(name)}; {hint}", field=place)
            if key == "delivered" and len(entries) != outputs[name]:
                fault = f"lists {counted(len(entries), 'output')}, but the stream has {outputs[name]}"
                raise InputError(fault, field=place)


def _check_text(case: Case) -> None:
    """JSON can state half a character, which no UTF-8 file can hold (of ``holds`` the layout's own check tells)."""
    kinds = [(("arrivals", a.stream), a.kind or "") for a in case.arrivals]
    texts: list[tuple[Place, str]] = [(("text",), case.text), *kinds]
    for place, text in texts:
        if any("\ud800" <= char <= "\udfff" for char in text):
            fault = f"{shown(text)} holds half a character (a lone surrogate); write the whole one"
            raise InputError(fault, field=json_place(place))


def _check_permutation(cells: Sequence[Cell] | None, due: Sequence[Cell], name: str, what: str) -> None:
    """Raises InputError unless ``cells`` lists each cell of ``due`` once."""
    if cells is None:
        return
    first_at: dict[Cell, int] = {}
    known = set(due)
    for i, cell in enumerate(cells):
        if cell not in known:
            raise InputError(f"{cell_text(cell)} holds none; list every {what} once", field=f"{name}[{i}]")
        if cell in first_at:
            raise InputError(f"{cell_text(cell)} stands at {name}[{first_at[cell]}] already", field=f"{name}[{i}]")
        first_at[cell] = i
    if missing := sorted(known - first_at.keys()):
        raise InputError(f"{cell_text(missing[0])} is missing; list every {what} once", field=name)


def _check_holds(case: Case, layout: Layout) -> None:
    """Raises InputError for contents of what is no container, or that the container cannot hold."""
    for cell in case.holds:
        part = layout.by_cell.get(cell)
        if not isinstance(part, (Bin, Node, Furnace)):
            standing = "nothing stands there" if part is None else f"{with_article(part.kind)} stands there"
            raise InputError(f"{standing}; only a bin, node or furnace holds items", field=_holds_place(cell))
    held = case_layout(layout, case)

    def where(place: Place) -> str:
        """The layout's own contents were checked when it was read, so a fault is one of the case's."""
        way = place[1] if len(place) > 1 else None
        if isinstance(way, int) and place[2:3] == ("holds",):
            return _holds_place(held.parts[way].at, *place[3:])
        return json_place(place)

    check_consistency(held, where)


def _holds_place(cell: Cell, *way: str | int) -> str:
    return json_place(("holds", cell_text(cell), *way))


# --- parts and arrivals


def _signal_cells(layout: Layout) -> list[Cell]:
    """The cells of inverters, relays and gauges in file order."""
    return [part.at for part in layout.parts if isinstance(part, SignalPart)]


def _holding(part: Part, holds: Mapping[Cell, Holds]) -> Part:
    if isinstance(part, (Bin, Node, Furnace)) and part.at in holds:
        return replace(part, holds=holds[part.at])
    return part


def _by_stream(arrivals: Iterable[CaseArrival]) -> dict[str, list[CaseArrival]]:
    """Arrivals of each stream in their order; streams in the order in which they come first."""
    grouped: dict[str, list[CaseArrival]] = {}
    for arrival in arrivals:
        grouped.setdefault(arrival.stream, []).append(arrival)
    return grouped


def _arrival_document(arrival: CaseArrival) -> list[Any]:
    kind = [] if arrival.kind is None else [arrival.kind]
    return [arrival.tick, arrival.count, *kind]


def _cells_document(cells: Iterable[Cell] | None) -> list[list[int]] | None:
    return None if cells is None else [list(cell) for cell in cells]
