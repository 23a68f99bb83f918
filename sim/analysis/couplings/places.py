"""Where signals of different rows first meet: at which lines of a run, which solid cell, which part."""

from __future__ import annotations

from sim.analysis.couplings.influence import Influence, Thing
from sim.world.geometry import Cell


def meeting_cells(influence: Influence, thing: Thing) -> tuple[Cell, Cell | None]:
    """The cell where the rows that drive a thing meet; of a run two linked lines, or the one line that is fed by all.

    Linear in the run.
    """
    what, number = thing
    if what == "run":
        return _meeting_lines(influence, number)
    if what == "part":
        return influence.wiring.parts[number].at, None
    return influence.wiring.solids[number], None


def _meeting_lines(influence: Influence, run: int) -> tuple[Cell, Cell | None]:
    """Two linked lines of a run, nearest to different rows; or the one line that is fed by both.

    Breadth first from the lines that the rows feed, each line taken by the row that comes first.
    """
    wiring = influence.wiring
    taken: dict[int, str] = {}
    for line in influence.runs[run]:
        fed_by = _fed_by(influence, line, run)
        if len(fed_by) > 1:
            return wiring.lines[line], None
        taken |= dict.fromkeys([line] if fed_by else [], next(iter(fed_by), ""))
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
    """The rows whose parts feed the line itself, straight or through a solid cell beside it.

    Parts that all the rows of the run drive do not tell where they met: the run drives them itself.
    """
    wiring, whole = influence.wiring, len(influence.rows(("run", run)))
    parts = [*wiring.line_sources[line], *(p for s in wiring.solids_of_line[line] for p in wiring.strong_sources[s])]
    marks = [influence.rows(("part", part)) for part in parts]
    return {row for rows in marks if len(rows) < whole for row in rows}
