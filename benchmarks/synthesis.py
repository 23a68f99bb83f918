"""Time to the first and to the best layout, for rows of 2, 3, 5 and 8 kilns, with the solver's version.

Run from the clone: .venv/bin/python -m benchmarks.synthesis [--json] [--limit SECONDS]
Seconds are this machine's and this load's; the rows are there to be compared with each other in one run.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import time
from pathlib import Path
from typing import Any

from rich.console import Console

from splitwright.cli.tables import plain_table
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.read.spec_file import load_spec
from synth.search.race import propose
from synth.search.request import Request
from synth.solving.cp_sat import SOLVER

SPECS = ("two-kilns", "three-kilns", "five-kilns", "eight-kilns")
FOLDER = Path(__file__).resolve().parent.parent / "specs"


def row(name: str, limit_s: float) -> dict[str, Any]:
    """One spec: when the first and the best layout came, how good they were, how many candidates were refused."""
    spec = load_spec(FOLDER / f"{name}.toml")
    came: list[tuple[float, Proposal]] = []
    began = time.monotonic()
    request = Request(
        3, limit_s, os.cpu_count() or 1, found=lambda proposal: came.append((time.monotonic() - began, proposal))
    )
    answer = propose(spec, request)
    figures: dict[str, Any] = {"spec": name, "outputs": spec.outputs, "site": list(spec.size)}
    figures["admitted"] = sum(claim.admitted for claim in answer.claims)
    figures["refused"] = sum(claim.refused for claim in answer.claims)
    if came:
        best_s, best = min(came, key=lambda one: rank_key(one[1].measures, spec.order))
        first_s, first = came[0]
        figures |= {"first_s": round(first_s, 1), "first_parts": first.measures.parts}
        figures |= {"best_s": round(best_s, 1), "best_parts": best.measures.parts, "box": list(best.measures.box)}
        figures["handovers"] = list(best.measures.handovers)
    return figures


def main() -> None:
    """Run all rows and print them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--limit", type=float, default=150.0, help="seconds for each spec")
    options = parser.parse_args()
    rows = [row(name, options.limit) for name in SPECS]
    machine = {"solver": SOLVER, "python": platform.python_version(), "cores": os.cpu_count()}
    if options.json:
        print(json.dumps({**machine, "rows": rows}))
        return
    table = plain_table(*rows[0])
    for figures in rows:
        table.add_row(*(str(figures.get(key, "-")) for key in rows[0]))
    console = Console()
    console.print(table)
    console.print(", ".join(f"{key} {value}" for key, value in machine.items()))


if __name__ == "__main__":
    main()
