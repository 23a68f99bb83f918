"""Signals of different streams that become one (rulebook section 5, fact 6)."""

from __future__ import annotations

from collections.abc import Iterator

from sim.checks.influence import Influence, Thing, influence_in
from sim.geometry import Cell, cell_text
from sim.layout import Layout
from sim.rulebook import Rules
from sim.signals.wiring import wiring_of
from sim.world import Finding


def touching_runs(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A run, a solid cell or a part that gauges of two streams drive; told once, where their signals first meet."""
    influence = influence_in(layout, wiring_of(layout))
    for thing in influence.meetings:
        at, place, remedy = _meeting(influence, thing)
        yield Finding("touching runs", f"{place} {_sources(influence, thing)}; {remedy}", at=at)


def _meeting(influence: Influence, thing: Thing) -> tuple[Cell, str, str]:
    """Where the signals meet, in words, and what to do."""
    what, number = thing
    wiring = influence.wiring
    if what == "run":
        at, other = _meeting_lines(influence, number)
        remedy = "keep a free cell between the runs of different streams"
        if other is None:
            return at, f"the line at {cell_text(at)} carries signals of", remedy
        return at, f"the lines at {cell_text(at)} and {cell_text(other)} join signals of", remedy
    if what == "part":
        part = wiring.parts[number]
        return part.at, f"the {part.kind} at {cell_text(part.at)} is driven by", "give each stream its own parts"
    at = wiring.solids[number]
    return at, f"the solid cell at {cell_text(at)} is energised by", "let each stream energise a cell of its own"


def _sources(influence: Influence, thing: Thing) -> str:
    wiring = influence.wiring
    told = []
    for stream, gauge in sorted(influence.marks[thing].items()):
        reads = wiring.reads[gauge]
        assert reads is not None
        told.append(f'"{stream}" (the gauge at {cell_text(wiring.parts[gauge].at)} reads {cell_text(reads)})')
    return " and ".join(told)


def _meeting_lines(influence: Influence, run: int) -> tuple[Cell, Cell | None]:
    """Two linked lines of a run, nearest to different streams; or the one line that is fed by both.

    Breadth first from the lines that the streams feed, each line taken by the stream that comes first.
    """
    wiring = influence.wiring
    taken: dict[int, str] = {}
    for line in influence.runs[run]:
        streams = _fed_by(influence, line, run)
        if len(streams) > 1:
            return wiring.lines[line], None
        taken |= dict.fromkeys([line] if streams else [], next(iter(streams), ""))
    waiting = list(taken)
    for line in waiting:
        for other in (*wiring.linked[line], *wiring.linked_from[line]):
            if other not in taken:
                taken[other] = taken[line]
                waiting.append(other)
            elif taken[other] != taken[line]:
                return wiring.lines[line], wiring.lines[other]
    return wiring.lines[influence.runs[run][0]], None


def _fed_by(influence: Influence, line: int, run: int) -> set[str]:
    """The streams whose parts feed the line itself, straight or through a solid cell beside it.

    Parts that all the streams of the run drive do not tell where they met: the run drives them itself.
    """
    wiring, whole = influence.wiring, len(influence.marks["run", run])
    parts = [*wiring.line_sources[line], *(p for s in wiring.solids_of_line[line] for p in wiring.strong_sources[s])]
    marks = [influence.marks["part", part] for part in parts]
    return {stream for streams in marks if len(streams) < whole for stream in streams}
