"""Small work of several kinds, for the workers of a cluster, which load this module by its name."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from synth.model.clauses import Clauses
from synth.solving.cadical import Cadical
from synth.solving.cnf import Cnf
from synth.solving.parallel.work import Tell, Work


def squared(number: int, _seconds: float, tell: Tell) -> int:
    """After a moment; a negative one never."""
    tell(number)
    time.sleep(600.0 if number < 0 else 0.2)
    return number * number


SQUARING: Work[int, object] = Work(squared, lambda so_far, why: (so_far, why))


@dataclass(frozen=True)
class Costly:
    """Numbers, of which 13 takes more memory than there is, as any two of them do."""

    numbers: tuple[int, ...]


def spent(costly: Costly, _seconds: float, _tell: Tell) -> list[int]:
    if len(costly.numbers) > 1 or 13 in costly.numbers:
        bytearray(2**42)
    return [-number for number in costly.numbers]


def halves(costly: Costly) -> Sequence[Costly]:
    half = len(costly.numbers) // 2
    return [Costly(costly.numbers[:half]), Costly(costly.numbers[half:])] if half else []


SPENDING = Work(spent, lambda _, why: [why], halves, lambda parts: [one for part in parts for one in part])


def where(_job: int, _seconds: float, _tell: Tell) -> tuple[int, int]:
    """The process that did it, and the one that drove that."""
    time.sleep(0.2)
    return os.getpid(), os.getppid()


WHERE: Work[int, object] = Work(where, lambda so_far, why: why)


def satisfied(clauses: tuple[tuple[int, ...], ...], _seconds: float, _tell: Tell) -> tuple[int, ...] | None:
    """The literals of a solution; None: proved that there is none."""
    solver = Cadical(Cnf(Clauses()))
    for clause in clauses:
        solver.add(clause)
    if not solver.solve():
        return None
    return tuple(one if solver.holds(one) else -one for one in sorted({abs(lit) for cl in clauses for lit in cl}))


SATISFYING: Work[tuple[tuple[int, ...], ...], object] = Work(satisfied, lambda _, why: why)


@dataclass(frozen=True)
class Packing:
    """Squares of the sizes 1 to ``most``, into a rectangle."""

    most: int
    width: int
    height: int


def packed(asked: Packing, _seconds: float, _tell: Tell) -> list[tuple[int, int]] | None:
    """The lower left corner of each; None: proved that they do not fit."""
    model, corners, across, along = cp_model.CpModel(), [], [], []
    for size in range(1, asked.most + 1):
        if size > min(asked.width, asked.height):
            return None
        x = model.new_int_var(0, asked.width - size, f"x{size}")
        y = model.new_int_var(0, asked.height - size, f"y{size}")
        across.append(model.new_fixed_size_interval_var(x, size, f"across{size}"))
        along.append(model.new_fixed_size_interval_var(y, size, f"along{size}"))
        corners.append((x, y))
    model.add_no_overlap_2d(across, along)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE)
    return None if status == cp_model.INFEASIBLE else [(solver.value(x), solver.value(y)) for x, y in corners]


PACKING: Work[Packing, object] = Work(packed, lambda _, why: why)
