"""The finder: the parts in their order, each with the temporary supports that it takes."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.building import telling
from sim.analysis.building.bases import BODIES, Body, bases, hanging_cell
from sim.analysis.building.precedence import sequence
from sim.analysis.building.scaffold import Rest, scaffolds
from sim.analysis.building.site import Site
from sim.analysis.building.step import Action, BuildOrder, BuildStep
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Part, Support, direction_of
from sim.world.signals.structure import is_solid
from sim.world.statement import Statement


def build_order(layout: Layout) -> BuildOrder:
    """The steps in which a person can place the parts of ``layout`` (rules: ``sim.analysis.building``).

    Layer by layer; in a layer supports, furnaces, bins, nodes, then wiring, as far as what they hang on or go against
    allows. What hangs on nothing solid is left out and told; so is a part that no hand gets at in this order, which is
    not to say that none would in another.

    O(n log n) for n parts, and for each one that needs temporary supports a search of the cells around it, no farther
    than the nearest thing that they can begin from.
    """
    finished = Site(layout.size)
    finished.placed.update(layout.by_cell)
    hanging = {part.at: base for part in layout.parts if (base := hanging_cell(part)) is not None}
    unsupported = {at: base for at, base in hanging.items() if not is_solid(layout.by_cell, base)}
    build = {cell: part for cell, part in layout.by_cell.items() if cell not in unsupported}
    crew = Crew(Site(layout.size))
    for cell in sequence(build):
        crew.place(build[cell])
    nothing = [telling.hangs_on_nothing(finished, layout.by_cell[at], base) for at, base in unsupported.items()]
    return BuildOrder(tuple(crew.steps), (*nothing, *crew.no_way))


class Crew:
    """Places parts one by one and writes the steps down."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.steps: list[BuildStep] = []
        self.no_way: list[Statement] = []
        self.layer = 0

    def place(self, part: Part) -> None:
        """The steps that place one part; or a statement that no way was found."""
        base = next(self._bases_there(part), None)
        if base is not None and self.site.open_sides(part.at):
            self._place_against(part, base)
        elif isinstance(part, BODIES) and base is None and (row := next(scaffolds(self.site, part), None)):
            self._place_with(part, row)
        else:
            self.no_way.append(telling.no_way_found(part))

    def _bases_there(self, part: Part) -> Iterator[Cell]:
        if isinstance(part, BODIES):
            return (base for base in bases(part) if self.site.is_base(base))
        base = hanging_cell(part)
        return iter([base] if base is not None and is_solid(self.site.placed, base) else [])

    def _place_against(self, part: Part, base: Cell) -> None:
        self.layer = max(self.layer, part.at[2])
        self._step("place", part, base, telling.why_placed(self.site, part, base))
        self.site.placed[part.at] = part

    def _place_with(self, body: Body, row: list[Rest]) -> None:
        self.layer = max(self.layer, body.at[2])
        for rest in row:
            cell, base = rest
            why = telling.why_temporary(self.site, rest, body, is_last=rest == row[-1])
            self._step("place", Support(cell), base, why, is_temporary=True)
            self.site.placed[cell] = Support(cell)
        self._place_against(body, row[-1][0])
        for cell, base in reversed(row):
            del self.site.placed[cell]
            self._step("remove", Support(cell), base, telling.why_removed(body), is_temporary=True)

    def _step(
        self, action: Action, part: Part, base: Cell, why: tuple[Statement, ...], is_temporary: bool = False
    ) -> None:
        number = len(self.steps) + 1
        self.steps.append(BuildStep(number, action, part, is_temporary, base, direction_of(part), self.layer, why))
