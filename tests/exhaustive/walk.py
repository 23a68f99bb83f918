"""Every filling of a box, cell by cell from the ground up; starts that both sides refuse are not gone into."""

from __future__ import annotations

from synth.model.clauses import Lit

from .compare import Comparison, Tally
from .model_side import BoxModel
from .plans import STACK, Plan


def walk(plan: Plan) -> Tally:
    """Compare all fillings of the plan's box. Their number is told by the plan; the tally must come to the same."""
    model = BoxModel(plan.size, plan.palette, plan.reach, plan.cells, STACK)
    comparison = Comparison(model)
    _extend(comparison, [], [])
    return comparison.finish()


def _extend(comparison: Comparison, filling: list[int], given: list[Lit]) -> None:
    model = comparison.model
    cell = len(filling)
    left = len(model.cells) - cell - 1
    for choice, literal in enumerate(model.literal[cell]):
        filling.append(choice)
        given.append(literal)
        if left == 0:
            comparison.whole(filling, given)
        elif (law := comparison.start_refused(filling, given)) is not None:
            covered = len(model.palette) ** left
            comparison.tally.assignments += covered
            comparison.tally.refused[law] += covered
        else:
            _extend(comparison, filling, given)
        filling.pop()
        given.pop()
