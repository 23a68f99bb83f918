"""The model's answer for one filling of a box, by unit propagation on clauses built once for the box."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from typing import Final

from pysat.solvers import Solver

from burst_lock_table import LOCK_TABLE, LockRow
from sim.world.geometry import Cell
from sim.world.parts import OUTPUTS
from sim.world.rulebook import default_rules
from synth.model.clauses import FALSE, TRUE, Clauses, Lit
from synth.model.field import RowField
from synth.model.gauges import gauges_read_watched_nodes, no_relay_is_latched
from synth.model.grid import Grid
from synth.model.influence import edges
from synth.model.links import Links
from synth.model.placement import every_part_supported, one_part_per_cell
from synth.model.question import Question, StreamQuestion
from synth.model.timing import chains_are_bounded
from synth.model.vocabulary import Vocabulary

from .choices import OUTPUTS_OF_ROW, Choice
from .sim_side import reading_of

LAWS: Final[dict[str, Callable[[Vocabulary], None]]] = {
    "support": every_part_supported,
    "reading": gauges_read_watched_nodes,
    "latch": no_relay_is_latched,
}
"""The families of clauses on kinds alone, each of which refuses separately."""
Size = tuple[int, int, int]


def rows_told_apart(palette: Sequence[Choice]) -> list[LockRow]:
    """The rows of the lock table, one of those that differ only in what no gauge of the palette can read."""
    words = {choice.word for choice in palette}
    reads_head = {"gauge", "head"} <= words
    reads_tail = {"gauge", "tail"} <= words
    return [row for row in LOCK_TABLE if (reads_head or not row.head_holds) and (reads_tail or not row.tail_holds)]


class BoxModel:
    """Three solvers for one box and palette, all with the same literals for what the cells hold.

    ``_laws``: the families of ``LAWS``, each behind a literal of its own that switches it on. ``_loops``: these and
    ``chains_are_bounded``, with room for a chain of all ``parts_most`` parts, so that nothing but feedback is refused.
    ``_field``: these and the fields. With every cell given, what else the last two speak of is either defined by the
    cells or spoken of by one of them alone (ranks, fields); so the whole model admits a filling when each of them does.
    """

    def __init__(self, size: Size, palette: Sequence[Choice], reach: int, parts_most: int, stack: int) -> None:
        self.size, self.palette, self.reach, self.stack = size, tuple(palette), reach, stack
        self.rows = rows_told_apart(palette)
        self._parts_most = parts_most
        v = self._vocabulary()
        self.cells: list[Cell] = list(v.cells)
        self.literal = [[choice.literal(v, cell) for choice in palette] for cell in self.cells]
        self._guards = {name: _guarded(v, family) for name, family in LAWS.items()}
        self._laws = _solver(v.clauses)
        self._loops = self._loop_solver()
        self._fields, self._locked, clauses = self._field_clauses()
        self._field = _solver(clauses)
        self._entailed = _entailed(self._field, clauses.count)
        self._open = clauses.count - len(self._entailed)
        self._told: dict[tuple[int, int, int, int], frozenset[Lit]] = {}

    def literals(self, filling: Sequence[int]) -> list[Lit]:
        """That the first cells hold these choices of the palette."""
        return [self.literal[i][choice] for i, choice in enumerate(filling)]

    def refusals(self, given: Sequence[Lit]) -> frozenset[str]:
        """The laws that refuse every filling of which this much is given. Exact when all cells are given."""
        if _admits(self._laws, [*given, *self._guards.values()]):
            return frozenset()
        return frozenset(name for name, on in self._guards.items() if not _admits(self._laws, [*given, on]))

    def feeds_back(self, given: Sequence[Lit]) -> bool:
        """``chains_are_bounded`` refuses a filling that the laws admit."""
        return not _admits(self._loops, given)

    def field(self, given: Sequence[Lit]) -> frozenset[Lit] | None:
        """What the model says of every row of a filling, as literals that follow; None when it admits no field at all.

        Propagation gives every variable a value: then there is one field and this is it. If some value were left open,
        only what holds in every solution follows.
        """
        possible, follows = self._field.propagate(given)
        if not possible:
            return None
        if len(follows) < self._open and not self._field.solve(given):
            return None
        return frozenset(follows)

    def follows(self, given: Sequence[Lit], literal: Lit) -> bool:
        """The literal holds in every solution for the filling; asked where propagation has left it open."""
        return not self._field.solve([*given, -literal])

    def told(self, row: int, cell: int, choice: int, value: int) -> frozenset[Lit]:
        """What the model has to say of a cell that holds that choice, at that value, in that row, but for what it says
        of every filling. ``value``: the level of a line, 1 for lit, on, above 0, energised, locked, else 0."""
        key = row, cell, choice, value
        if key not in self._told:
            literals = set(self._literals_for(self._fields[row], row, self.cells[cell], self.palette[choice], value))
            self._told[key] = frozenset(literals - self._entailed)
        return self._told[key]

    def _literals_for(self, field: RowField, row: int, cell: Cell, choice: Choice, value: int) -> Iterator[Lit]:
        """Values for everything of that row in the cell: what the choice is not has no signal there."""
        word, direction = choice.word, choice.direction
        for k in field.levels:
            yield _signed(field.at_least(cell, k), word == "line" and value >= k)
        yield _signed(field.lit(cell), word == "inverter" and value > 0)
        yield _signed(field.energised(cell), word in ("support", "furnace") and value > 0)
        for output in OUTPUTS:
            live = value > 0 and output == direction
            yield _signed(field.relay_on(cell, output), word == "relay" and live)
            yield _signed(field.gauge_on(cell, output), word == "gauge" and live)
        if word in ("head", "tail", "drop"):
            yield _signed(self._locked[row][cell], value > 0)

    # -- clauses ------------------------------------------------------------------------------------------------------

    def _vocabulary(self) -> Vocabulary:
        """One part a cell, of the palette; relays of the shortest delay (no settled field depends on it)."""
        rules = default_rules()
        v = Vocabulary(
            Question(
                grid=Grid(self.size),
                outputs=OUTPUTS_OF_ROW,
                streams=(StreamQuestion("feed", "top"),),
                reach=self.reach,
                inverter_delay=rules.inverter_delay,
                gauge_delay=rules.gauge_delay,
                relay_step=rules.relay_step,
                stages=self._parts_most * max(rules.inverter_delay, rules.gauge_delay, rules.relay_step),
                windows={},
                levels=self.reach,
                reading=reading_of(1, self.reach, self.stack),
            )
        )
        one_part_per_cell(v)
        within = {kind for choice in self.palette for kind in choice.kinds()}
        for cell in v.cells:
            v.clauses.add(v.delay[cell][1])
            for kind, literal in v.kind[cell].items():
                if kind not in within:
                    v.clauses.add(-literal)
            for one, other in combinations([choice.literal(v, cell) for choice in self.palette], 2):
                v.clauses.add(-one, -other)  # follows; but with a gauge given, propagation alone would not see it
        return v

    def _lawful(self) -> Vocabulary:
        v = self._vocabulary()
        for family in LAWS.values():
            family(v)
        return v

    def _loop_solver(self) -> Solver:
        v = self._lawful()
        chains_are_bounded(v, edges(v, Links(v)))
        return _solver(v.clauses)

    def _field_clauses(self) -> tuple[list[RowField], list[dict[Cell, Lit]], Clauses]:
        """The fields, what locks a node in each cell row by row, and all clauses."""
        v = self._lawful()
        links = Links(v)
        fields, locked = [], []
        for row in self.rows:
            field = RowField(v, links)
            field.state({(0, end): v.question.reading * row.holds(end) for end in ("head", "tail")})
            fields.append(field)
            locked.append({cell: v.clauses.any_of(field.lock_causes(cell)) for cell in v.cells})
        return fields, locked, v.clauses


def _guarded(v: Vocabulary, family: Callable[[Vocabulary], None]) -> Lit:
    """The family's clauses behind a literal that switches them on. It must not define anything that others use."""
    first, count = len(v.clauses.clauses), v.clauses.count
    family(v)
    assert v.clauses.count == count, "a guarded family defines no literals"
    on = v.clauses.new()
    v.clauses.clauses[first:] = [(*clause, -on) for clause in v.clauses.clauses[first:]]
    return on


def _solver(clauses: Clauses) -> Solver:
    """The clauses with exactly-one groups written out in pairs."""
    assert not clauses.sums
    solver = Solver("g4", bootstrap_with=clauses.clauses)
    for group in clauses.exactly_one_groups:
        solver.add_clause(group)
        for one, other in combinations(group, 2):
            solver.add_clause([-one, -other])
    return solver


def _admits(solver: Solver, given: Sequence[Lit]) -> bool:
    """There is a solution with what is given. Propagation is asked first: it refuses without learning from it, and a
    solver that learns something from each of a million refusals slows down."""
    return solver.propagate(given)[0] and solver.solve(given)


def _entailed(solver: Solver, count: int) -> frozenset[Lit]:
    """Literals that hold in every filling: assuming the opposite fails at once. Propagation does not list them."""
    sides = (lit for var in range(1, count + 1) for lit in (var, -var))
    return frozenset(-lit for lit in sides if not solver.propagate([lit])[0]) | {TRUE}


def _signed(literal: Lit, holds: bool) -> Lit:
    assert literal not in (TRUE, FALSE) or (literal == TRUE) == holds, "a constant that contradicts the simulator"
    return literal if holds else -literal
