"""One filling, both answers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from sim.world.geometry import Cell, cell_text
from sim.world.parts import Part
from sim.world.signals.wiring import wiring_of
from synth.model.clauses import Lit

from . import sim_side
from .model_side import BoxModel

DIFFERENCES_KEPT = 20


@dataclass(slots=True)
class Tally:
    """What was compared. ``assignments`` = ``admitted`` + ``refused``, by both sides alike unless ``differences``.

    ``one_by_one``: the assignments that were looked at each by itself; the others are completions of a start that both
    sides refuse. ``seen``: how often each value of each thing was compared, by word and value (levels from 2 up as 2).
    """

    assignments: int = 0
    admitted: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    one_by_one: int = 0
    rows: int = 0
    seen: Counter[str] = field(default_factory=Counter)
    found: int = 0
    differences: list[str] = field(default_factory=list)

    def differ(self, text: str) -> None:
        """Count a difference and keep its text if it is one of the first."""
        self.found += 1
        if len(self.differences) < DIFFERENCES_KEPT:
            self.differences.append(text)

    def add(self, other: Tally) -> None:
        """Take in the counts of another."""
        self.assignments += other.assignments
        self.admitted += other.admitted
        self.refused.update(other.refused)
        self.one_by_one += other.one_by_one
        self.rows += other.rows
        self.seen.update(other.seen)
        self.found += other.found
        self.differences += other.differences[: DIFFERENCES_KEPT - len(self.differences)]


class Comparison:
    """Compares fillings of one box. A filling lists, cell by cell, the numbers of choices of the model's palette."""

    def __init__(self, model: BoxModel) -> None:
        self.model = model
        self.tally = Tally()
        self._part: list[list[Part | None]] = [[c.part(cell) for c in model.palette] for cell in model.cells]
        self._values: Counter[tuple[int, int]] = Counter()

    def start_refused(self, filling: Sequence[int], given: Sequence[Lit]) -> str | None:
        """A law by which both sides refuse this start of a filling, and with it every completion.

        Sound: the model's clauses already contradict what is given, and giving more takes no clause away; for the
        simulator see ``sim_side.refusals``.
        """
        ours = self.model.refusals(given)
        if not ours:
            return None
        parts, ends = self._parts(filling)
        return min(ours & sim_side.refusals(parts, ends, self.model.cells[len(filling) :]), default=None)

    def whole(self, filling: Sequence[int], given: Sequence[Lit]) -> None:
        """Compare a filling of the whole box and count it."""
        tally = self.tally
        tally.assignments += 1
        tally.one_by_one += 1
        parts, ends = self._parts(filling)
        ours, theirs = self.model.refusals(given), sim_side.refusals(parts, ends, ())
        if ours != theirs:
            tally.differ(f"model refuses by {sorted(ours)}, simulator by {sorted(theirs)}: {self.shown(filling)}")
        if theirs:
            tally.refused[min(theirs)] += 1
            return
        if ours:
            return
        self._running(filling, given, parts, ends)

    def _running(
        self, filling: Sequence[int], given: Sequence[Lit], parts: dict[Cell, Part], ends: dict[Cell, str]
    ) -> None:
        """Feedback, and without it the field."""
        wiring = wiring_of(sim_side.layout_of(parts.values()))
        ours, theirs = self.model.feeds_back(given), sim_side.feeds_back(wiring)
        if ours != theirs:
            self.tally.differ(f"feedback: model says {ours}, simulator {theirs}: {self.shown(filling)}")
        if theirs:
            self.tally.refused["feedback"] += 1
            return
        self.tally.admitted += 1
        fields = sim_side.settled_fields(wiring, self.model.rows, ends, self.model.reach, self.model.stack)
        follows = self.model.field(given)
        if follows is None:
            self.tally.differ(f"the model admits no field: {self.shown(filling)}")
            return
        for row, values in enumerate(fields):
            self.tally.rows += 1
            for cell, choice in enumerate(filling):
                value = values.get(self.model.cells[cell], 0)
                self._values[choice, value] += 1
                told = self.model.told(row, cell, choice, value)
                if not told <= follows:
                    self._look_again(filling, given, row, cell, value, told - follows)

    def _look_again(
        self, filling: Sequence[int], given: Sequence[Lit], row: int, cell: int, value: int, missing: frozenset[Lit]
    ) -> None:
        """Some values did not come by propagation: let the solver say whether they follow nevertheless."""
        wrong = [literal for literal in missing if not self.model.follows(given, literal)]
        if wrong:
            at = f"at {cell_text(self.model.cells[cell])} in {self.model.rows[row]}"
            self.tally.differ(f"{at} the simulator's value is {value}, the model's differs: {self.shown(filling)}")

    def finish(self) -> Tally:
        """The tally, with what was seen put into words."""
        for (choice, value), count in self._values.items():
            self.tally.seen[f"{self.model.palette[choice].word} {min(value, 2)}"] += count
        self._values.clear()
        return self.tally

    def _parts(self, filling: Sequence[int]) -> tuple[dict[Cell, Part], dict[Cell, str]]:
        """The simulator's parts, and where the watched nodes stand."""
        cells, palette = self.model.cells, self.model.palette
        placed = {cells[i]: part for i, choice in enumerate(filling) if (part := self._part[i][choice]) is not None}
        words = {cells[i]: palette[choice].word for i, choice in enumerate(filling)}
        return placed, {cell: word for cell, word in words.items() if word in ("head", "tail")}

    def shown(self, filling: Sequence[int]) -> str:
        """The filling in words."""
        cells, palette = self.model.cells, self.model.palette
        parts = [f"{cell_text(cells[i])} {palette[c]}" for i, c in enumerate(filling) if palette[c].word != "empty"]
        return f"box {self.model.size}, reach {self.model.reach}: " + ", ".join(parts)
