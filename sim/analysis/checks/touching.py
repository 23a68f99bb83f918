"""Signals of different streams that become one (rulebook section 5, fact 6)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from sim.analysis.checks.explained import Explained
from sim.analysis.couplings.found import met, named
from sim.analysis.couplings.influence import Thing
from sim.analysis.couplings.meeting import Meeting, meetings
from sim.analysis.couplings.rows import rows_of
from sim.analysis.couplings.study import Study, study_of
from sim.analysis.couplings.telling import sentence, thing_text
from sim.world.files.places import counted
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.world import Finding


def touching_runs(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A run, a solid cell or a part that gauges of two rows drive; told once, where their signals first meet."""
    if len(rows_of(layout).names) < 2:
        return
    study = study_of(layout, rules)
    for thing, pairs in groupby(meetings(study), key=lambda meeting: meeting.thing):
        yield _finding(study, thing, list(pairs))


def _finding(study: Study, thing: Thing, pairs: Sequence[Meeting]) -> Finding:
    telling = max(pairs, key=lambda meeting: len(meeting.nodes))
    at, place, remedy = _meeting(study, telling)
    coupling = met(study, telling)
    streams = tuple(row for row in study.rows.names if row in study.influence.rows(thing))
    text = f"{place} {_sources(study, thing)}{_locks(study, telling)}; {remedy}"
    return Explained("touching runs", text, at=at, streams=streams, path=coupling.path)


def _meeting(study: Study, meeting: Meeting) -> tuple[Cell, str, str]:
    """Where the signals meet, in words, and what to do."""
    what, number = meeting.thing
    at, other = meeting.at, meeting.beside
    if what == "run":
        remedy = "keep a free cell between the runs of different streams"
        if other is None:
            return at, f"the line at {cell_text(at)} carries signals of", remedy
        return at, f"the lines at {cell_text(at)} and {cell_text(other)} join signals of", remedy
    if what == "part":
        part = study.graph.wiring.parts[number]
        return at, f"the {part.kind} at {cell_text(at)} is driven by", "give each stream its own parts"
    return at, f"the solid cell at {cell_text(at)} is energised by", "let each stream energise a cell of its own"


def _sources(study: Study, thing: Thing) -> str:
    wiring = study.graph.wiring
    told = []
    for row, gauge in sorted(study.influence.marks[thing].items()):
        reads = wiring.reads[gauge]
        assert reads is not None
        gauge_at = cell_text(wiring.parts[gauge].at)
        told.append(f"{named(study.rows, row)} (the gauge at {gauge_at} reads {cell_text(reads)})")
    return " and ".join(told)


def _locks(study: Study, meeting: Meeting) -> str:
    """What the meeting locks, and along which way; "" for nothing."""
    if not meeting.nodes:
        return ""
    coupling = met(study, meeting)
    others = len(meeting.nodes) - 1
    are = "are" if others > 1 else "is"
    more = f", and {counted(others, 'more node')} {are} locked by the other row" if others else ""
    node = thing_text(study.graph, study.rows, coupling.target)
    return f", so {named(study.rows, meeting.first)} can lock {node}{more}: {sentence(study.graph, coupling.path)}"
