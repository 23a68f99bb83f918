"""Ways to settle a box, side by side: processor seconds, and how they compare with one CP-SAT worker in the same run.

Run from the clone: .venv/bin/python -m benchmarks.exact [--json] [--limit SECONDS] [--boxes 3:3x3x4 4:3x3x5 ...]
[--ways "CaDiCaL, row by row" "and nothing needless" ...]
``N:WxDxH`` is a box for N kilns, everything free, layouts that work under both known handovers.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import platform
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final

from rich.console import Console

from splitwright.cli.tables import plain_table
from synth.model.build import model_of
from synth.model.plots import Plot, Size, question_for, windows
from synth.model.question import Question
from synth.model.vocabulary import EMPTY
from synth.read.spec_file import load_spec
from synth.search.exact.cubes import cubes_of, literals_of
from synth.search.exact.needless import leave_out_needless
from synth.search.scope import needed_handovers
from synth.solving.cadical import FOR_CUBES, Cadical
from synth.solving.cadical import SOLVER as CADICAL
from synth.solving.cnf import KINDS_IN_PAIRS, PAIRWISE_MOST, Cnf
from synth.solving.cp_sat import SOLVER, CpSat, Effort

SPEC: Final = Path(__file__).resolve().parent.parent / "specs" / "results" / "any-site.toml"
BOXES: Final = ("3:3x3x4", "3:4x2x5", "3:5x2x4", "4:3x3x5", "4:5x2x5", "4:4x3x4")
REFERENCE: Final = "CP-SAT, whole"


def question(outputs: int, size: Size) -> Question:
    """The question of one box."""
    spec = replace(load_spec(SPEC), outputs=outputs)
    return question_for(spec, Plot((0, 0, 0), size), windows(spec, needed_handovers(spec)))


def cp_sat_whole(asked: Question) -> bool:
    """One worker, clauses and exactly-one groups, mirror images broken by the bin's place."""
    return CpSat(model_of(asked).clauses).solve(Effort(1e6)).outcome == "found"


def cadical_whole(asked: Question) -> bool:
    """The same clauses, exactly-one groups spelt out."""
    return bool(Cadical(model_of(asked).clauses).solve())


def cadical_rows_fresh(asked: Question) -> bool:
    """Row by row, a new solver for each."""
    v = model_of(replace(asked, break_symmetry=False))
    cnf = Cnf(v.clauses)
    for cube in cubes_of(asked):
        solver = Cadical(cnf)
        found = solver.solve(literals_of(v, cube))
        solver.close()
        if found:
            return True
    return False


def cadical_rows(asked: Question) -> bool:
    """Row by row, one solver that keeps what it has learned."""
    return _row_by_row(asked, {}, PAIRWISE_MOST, needless=True)


def with_options(asked: Question) -> bool:
    """That, with the mode of few restarts and no probing."""
    return _row_by_row(asked, FOR_CUBES, PAIRWISE_MOST, needless=True)


def in_pairs(asked: Question) -> bool:
    """That, at most one kind a cell said in pairs."""
    return _row_by_row(asked, FOR_CUBES, KINDS_IN_PAIRS, needless=True)


def without_needless(asked: Question) -> bool:
    """That, without relays and gauges that act on nothing: what the search does, there in pieces of some rows."""
    return _row_by_row(asked, FOR_CUBES, KINDS_IN_PAIRS, needless=False)


def needless_alone(asked: Question) -> bool:
    """Row by row as first, only without relays and gauges that act on nothing."""
    return _row_by_row(asked, {}, PAIRWISE_MOST, needless=False)


def _row_by_row(asked: Question, options: Mapping[str, int], pairs: int, *, needless: bool) -> bool:
    v = model_of(replace(asked, break_symmetry=False))
    if not needless:
        leave_out_needless(v)
    solver = Cadical(Cnf(v.clauses, pairs), options=options)
    return any(solver.solve(literals_of(v, cube)) for cube in cubes_of(asked))


def building(asked: Question) -> bool | None:
    """No solving: the model built and loaded, as for the search."""
    v = model_of(replace(asked, break_symmetry=False))
    leave_out_needless(v)
    Cadical(Cnf(v.clauses, KINDS_IN_PAIRS), options=FOR_CUBES)
    return None


def cadical_in_larger_box(asked: Question) -> bool:
    """One solver for a box a column wider and a layer higher, this box by assuming the other cells empty."""
    w, d, h = asked.grid.size
    grid = replace(asked.grid, size=(w + 1, d, h + 1))
    v = model_of(replace(asked, grid=grid, break_symmetry=False))
    outside = [v.is_(cell, EMPTY) for cell in v.cells if cell[0] == w or cell[2] == h]
    solver = Cadical(v.clauses)
    return any(solver.solve([*outside, *literals_of(v, cube)]) for cube in cubes_of(asked))


WAYS: Final[dict[str, Callable[[Question], bool | None]]] = {
    REFERENCE: cp_sat_whole,
    "CaDiCaL, whole": cadical_whole,
    "CaDiCaL, row by row, fresh": cadical_rows_fresh,
    "CaDiCaL, row by row": cadical_rows,
    "CaDiCaL, row by row, in a larger box": cadical_in_larger_box,
    "few restarts": with_options,
    "and kinds in pairs": in_pairs,
    "and nothing needless": without_needless,
    "nothing needless, alone": needless_alone,
    "building alone": building,
}
"""Those from "few restarts" on: row by row, each with all that stands before it, where it says "and"."""


def _run(way: str, outputs: int, size: Size, answer: Connection) -> None:
    began = time.process_time()
    found = WAYS[way](question(outputs, size))
    answer.send((found, time.process_time() - began))


def measured(way: str, outputs: int, size: Size, limit_s: float) -> tuple[bool | None, float | None]:
    """(found or not, processor seconds with building the model), in a process of its own; None: not asked, or over the
    limit."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_run, args=(way, outputs, size, there))
    process.start()
    answer: tuple[bool | None, float | None] = here.recv() if here.poll(limit_s) else (None, None)
    process.kill()
    process.join()
    return answer


def rows(boxes: Sequence[str], limit_s: float, ways: Sequence[str] = tuple(WAYS)) -> list[dict[str, Any]]:
    """One row a box: verdict, seconds for each way, and the ratio to the reference."""
    table = []
    for text in boxes:
        outputs, size = int(text.split(":")[0]), tuple(map(int, text.split(":")[1].split("x")))
        row: dict[str, Any] = {"box": text}
        for way in ways:
            found, seconds = measured(way, outputs, (size[0], size[1], size[2]), limit_s)
            row[way] = None if seconds is None else round(seconds, 2)
            if found is not None:
                assert row.setdefault("found", found) == found, (text, way)
        table.append(row)
    return table


def _total(seconds: Sequence[float | None]) -> float | None:
    """None where one is missing."""
    there = [one for one in seconds if one is not None]
    return round(sum(there), 2) if len(there) == len(seconds) else None


def main() -> None:
    """Run all ways on all boxes and print them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--limit", type=float, default=120.0, help="seconds for each way and box")
    parser.add_argument("--boxes", nargs="+", default=list(BOXES))
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=list(WAYS), help="the first one is the reference")
    options = parser.parse_args()
    ways = options.ways
    table_rows = rows(options.boxes, options.limit, ways)
    machine = {"solvers": f"{SOLVER}, {CADICAL}", "python": platform.python_version(), "cores": os.cpu_count()}
    if options.json:
        print(json.dumps({**machine, "limit_s": options.limit, "rows": table_rows}))
        return
    table_rows.append({"box": "all", **{way: _total([row[way] for row in table_rows]) for way in ways}})
    table = plain_table("N:box", "layout", *ways, right=tuple(ways))
    for row in table_rows:
        reference = row[ways[0]]
        cells = []
        for way in ways:
            ratio = f" ({row[way] / reference:.2f})" if row[way] is not None and reference else ""
            cells.append(f"> {options.limit:.0f}" if row[way] is None else f"{row[way]:.2f}{ratio}")
        table.add_row(row["box"], {True: "found", False: "none exists", None: ""}[row.get("found")], *cells)
    console = Console(width=200)
    console.print(table)
    console.print(f"processor seconds, in brackets against {ways[0]}")
    console.print(", ".join(f"{key} {value}" for key, value in machine.items()))


if __name__ == "__main__":
    main()
