"""Writes specs/results/certificates.json: a second opinion on every box that docs/results.md says is ruled out.

Run from the clone: make certificates, or .venv/bin/python docs/make_certificates.py [--outputs 2 3] [--limit SECONDS]
    [--cluster ADDRESS]   on the workers of a Dask scheduler (docs/cluster.md)
    [--formulas DIR]   also writes each formula there in DIMACS form, for any other solver and proof checker
What is settled already, of the very same formula, is kept; what was undecided is tried again. A box within one that is
ruled out is implied.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from make_results import LAYOUTS, Case, spec_for
from rich.console import Console

from sim.world.files.writing import write_text
from splitwright.proposing.options import CLUSTER_VARIABLE, slots_of
from synth.model.plots import Size, plots, question_for, windows
from synth.model.question import Question
from synth.search.exact.caps import Caps
from synth.search.exact.certificate import formula_of
from synth.search.exact.second_opinions import OPINIONS, Doubt
from synth.solving.cnf import dimacs
from synth.solving.parallel.engine import Engine
from synth.solving.parallel.processes import Processes

RECORD: Final = LAYOUTS / "record.json"
CERTIFICATES: Final = LAYOUTS / "certificates.json"
WHOLE_CONFLICTS: Final = 60_000
"""Conflicts for Glucose on a whole box; above, row by row: proofs grow faster to check than to find."""
ROW_CONFLICTS: Final = 200_000


@dataclass(frozen=True, slots=True)
class Task:
    """One box to be confirmed."""

    case: Case
    box: Size
    parts: int | None
    handovers: tuple[int, ...]
    limit_s: float


def tasks(rows: list[dict[str, Any]], limit_s: float) -> list[Task]:
    """The boxes that carry each row's claims: the largest ones without a cap, and those with one part less."""
    found = []
    for row in rows:
        best = next((step["value"] for step in row["steps"] if step["measure"] == "parts" and step["proved"]), None)
        for cap in (None, None if best is None else int(best) - 1):
            boxes = [tuple(c["box"]) for c in row["ruled_out"] if c["parts"] == cap and c["price"] is None]
            largest = [b for b in boxes if not any(b != other and within(b, other) for other in boxes)]
            found += [Task(Case.of(row), box, cap, tuple(row["handovers"]), limit_s) for box in largest]
    return list(dict.fromkeys(found))


def within(inner: Size, outer: Size) -> bool:
    """On an open site, turned or not."""
    (w, d), (x, y) = sorted(outer[:2]), sorted(inner[:2])
    return x <= w and y <= d and inner[2] <= outer[2]


def question_of(task: Task) -> Question:
    """What is asked of the box."""
    spec = spec_for(task.case)
    (plot,) = plots(spec, task.box)
    return question_for(spec, plot, windows(spec, task.handovers))


def doubt_of(task: Task) -> Doubt:
    """What the opinions are asked about."""
    return Doubt(question_of(task), Caps(task.parts), WHOLE_CONFLICTS, ROW_CONFLICTS, task.limit_s)


def write_formula(task: Task, folder: Path) -> None:
    """The formula in DIMACS form."""
    cnf = formula_of(question_of(task), Caps(task.parts)).cnf
    name = f"{task.case.stem}-{'x'.join(map(str, task.box))}-{task.parts or 'any'}.cnf"
    write_text(folder / name, "".join(dimacs(cnf.count, cnf.clauses)))


def is_settled(entry: dict[str, Any]) -> bool:
    """Both opinions are proofs that were checked."""
    return all(one["opinion"] == "none exists" and one["checked"] for one in entry["opinions"])


def still_holds(entry: dict[str, Any] | None, task: Task) -> bool:
    """The entry settles the task, and is about the formula as the model has it now."""
    if entry is None or not is_settled(entry):
        return False
    return bool(entry["sha256"] == formula_of(question_of(task), Caps(task.parts)).sha256)


def main() -> None:
    """Ask for the opinions that are still wanted; each is written as it comes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--outputs", type=int, nargs="+")
    parser.add_argument("--limit", type=float, default=900.0, help="seconds of CP-SAT for each box")
    parser.add_argument("--formulas", type=Path)
    parser.add_argument("--cluster", metavar="ADDRESS", default=os.environ.get(CLUSTER_VARIABLE))
    options = parser.parse_args()
    if options.formulas:
        options.formulas.mkdir(parents=True, exist_ok=True)
    rows = json.loads(RECORD.read_text(encoding="utf-8"))["rows"]
    rows = [row for row in rows if not options.outputs or row["outputs"] in options.outputs]
    known = json.loads(CERTIFICATES.read_text(encoding="utf-8"))["boxes"] if CERTIFICATES.exists() else []
    entries = {_key(entry): entry for entry in known}
    wanted = {_key(vars_of(task)): task for task in tasks(rows, options.limit)}
    settled = {key for key, task in wanted.items() if still_holds(entries.get(key), task)}
    asked = {Case.of(row) for row in rows}
    entries = {key: entry for key, entry in entries.items() if key in settled or Case.of(entry) not in asked}
    todo = [task for key, task in wanted.items() if options.formulas or key not in settled]
    slots = slots_of(options.cluster, None) or Processes(os.cpu_count() or 1)
    with Engine(OPINIONS, slots) as engine:
        opinions = engine.results(map(doubt_of, todo), threading.Event(), math.inf)
        for task, found in zip(todo, opinions, strict=True):
            entry = {**vars_of(task), **found}
            if "open" in entry:
                Console(stderr=True).print(f"{task.case.stem} {task.box}: {entry['open']}")
                continue
            if options.formulas:
                write_formula(task, options.formulas)
            entries[_key(entry)] = entry
            ordered = sorted(entries.values(), key=lambda one: (Case.of(one), one["parts"] or 0, one["box"]))
            write_text(CERTIFICATES, json.dumps({"boxes": ordered}, indent=1) + "\n")
            said = ", ".join(f"{one['opinion']}{' (checked)' if one['checked'] else ''}" for one in entry["opinions"])
            Console(stderr=True).print(f"{Case.of(entry).stem} {entry['box']} {entry['parts'] or 'any'} parts: {said}")


def vars_of(task: Task) -> dict[str, Any]:
    """A task's key fields, as an entry has them."""
    case = task.case
    named = {"scheme": case.scheme, "row": case.row, "outputs": case.outputs}
    return {**named, "box": list(task.box), "parts": task.parts}


def _key(entry: dict[str, Any]) -> tuple[Any, ...]:
    return Case.of(entry), tuple(entry["box"]), entry["parts"]


if __name__ == "__main__":
    main()
