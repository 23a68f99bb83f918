"""Whether a finished layout is one of those that claims are about: the model of its spec admits it.

"None exists" is said of what the model admits. So a layout that a search shows must be one of these, or else the next
search could rule out what this one has printed.
"""

from __future__ import annotations

from dataclasses import replace

from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.model.build import model_of
from synth.model.grid import Grid
from synth.model.likeness import same_literals
from synth.model.plots import Plot, question_for
from synth.schemes.scheme import Windows
from synth.solving.cadical import Cadical


def is_admitted(layout: Layout, spec: Spec, within: Windows) -> bool:
    """The model of the spec, its scheme pinned, has a solution that is this very layout, with delays ``within`` these.

    Time: that of building the model of the cells that are taken; propagation settles the rest.
    """
    question = question_for(spec, Plot((0, 0, 0), layout.size), within)
    empty = frozenset(cell for cell in Grid(layout.size) if cell not in layout.by_cell)
    v = model_of(replace(question, grid=Grid(layout.size, empty), break_symmetry=False))
    if any(cell not in v.kind for cell in layout.by_cell):
        return False
    same = list(same_literals(v, layout).values())
    solver = Cadical(v.clauses)
    admitted = solver.solve(same)
    solver.close()
    return bool(admitted)
