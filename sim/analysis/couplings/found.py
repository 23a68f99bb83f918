"""The couplings of a layout: every place where signals of one row get into another, explained."""

from __future__ import annotations

from sim.analysis.couplings.coupling import Coupling, CouplingKind
from sim.analysis.couplings.crossing import Crossing, crossings
from sim.analysis.couplings.meeting import Meeting, meetings
from sim.analysis.couplings.rows import Rows
from sim.analysis.couplings.study import Study, study_of
from sim.analysis.couplings.telling import sentence, steps_of, thing_text
from sim.analysis.couplings.ways import way_to
from sim.world.files.places import counted
from sim.world.layout import Layout
from sim.world.rulebook import Rules


def couplings(layout: Layout, rules: Rules | None = None) -> list[Coupling]:
    """Every coupling, first the meetings, then the locks; empty: the rows keep to themselves.

    ``rules``: the rulebook that the layout overrides (default: the default rulebook). Sound, and careful: no coupling
    is left out that starting contents could show, but one may be told that no run ever shows (see ``graph``). Time:
    linear in the parts times the rows (times what a feed reaches along its run), plus one search for each coupling.
    """
    return couplings_in(study_of(layout, rules))


def couplings_in(study: Study) -> list[Coupling]:
    """The couplings of a layout that has been studied already."""
    return [*(met(study, meeting) for meeting in meetings(study)), *locks_of_others(study)]


def locks_of_others(study: Study) -> list[Coupling]:
    """The couplings without a meeting: signals of one row alone lock nodes of another, or product nodes."""
    return [_crossed(study, crossing) for crossing in crossings(study)]


def met(study: Study, meeting: Meeting) -> Coupling:
    """A meeting as a coupling."""
    graph, rows = study.graph, study.rows
    at, beside = meeting.at, meeting.beside
    path = steps_of(graph, rows, meeting.way, stops=() if beside is None else (at, beside))
    nodes = tuple(graph.cell(node) for node in meeting.nodes)
    both = f"{named(rows, meeting.first)} and {named(rows, meeting.second)}"
    begins = f"signals of {both} meet at {thing_text(graph, rows, at)}"
    locks = f" and lock {counted(len(nodes), 'node')} of the other's" if nodes else ""
    return Coupling(
        "meets",
        at,
        path[0].cell,
        meeting.first,
        meeting.second,
        (meeting.first, meeting.second),
        nodes[0] if nodes else at,
        nodes,
        path,
        f"{begins}{locks}: {sentence(graph, path)}; keep a free cell between the signals of the two rows",
    )


def _crossed(study: Study, crossing: Crossing) -> Coupling:
    graph, rows = study.graph, study.rows
    way = way_to(crossing.tree, crossing.nodes[0])
    path = steps_of(graph, rows, way, steady=crossing.steady)
    nodes = tuple(graph.cell(node) for node in crossing.nodes)
    to = " and ".join(crossing.owners)
    more = f" and {len(nodes) - 1} more of its row" if len(nodes) > 1 else ""
    locker = thing_text(graph, rows, path[-2].cell)
    text = (
        f"{_whose(rows, crossing)} {_locks(crossing)} {thing_text(graph, rows, nodes[0])}{more}: "
        f"{sentence(graph, path)}; keep {locker} away from that node, or break the way before it"
    )
    streams = tuple(dict.fromkeys((*crossing.origin, *crossing.owners)))
    return Coupling(
        _kind(rows, crossing),
        nodes[0],
        path[0].cell,
        " and ".join(crossing.origin),
        to,
        streams,
        nodes[0],
        nodes,
        path,
        text,
        crossing.steady,
    )


def _kind(rows: Rows, crossing: Crossing) -> CouplingKind:
    if crossing.undriven:
        return "steady"
    return "product" if crossing.owners == (rows.product,) else "locks"


def _locks(crossing: Crossing) -> str:
    return "always locks" if crossing.steady else "can lock"


def _whose(rows: Rows, crossing: Crossing) -> str:
    if crossing.undriven:
        return "a signal of no gauge"
    if not crossing.origin:
        return "a signal of no row"
    return "a signal of " + " and ".join(named(rows, row) for row in crossing.origin)


def named(rows: Rows, row: str) -> str:
    """A row as a sentence names it."""
    return "the product row" if row == rows.product else f'"{row}"'
