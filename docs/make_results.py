"""Writes docs/results.md, specs/results/*: the proven smallest builds for 2, 3, 4, 5 ... kilns.

Run from the clone: make results, or .venv/bin/python docs/make_results.py [--outputs 2 3 4] [--limit SECONDS]
What is settled is kept in build/results, so that a run goes on where the last one ended.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

from rich.console import Console

from sim.files.layout_json import layout_json_text
from sim.files.plan_writer import layout_to_plan
from sim.files.reading import load_layout
from sim.files.writing import write_text
from synth.judge import Judge
from synth.measures import rank_key
from synth.propose import tighter
from synth.request import Request
from synth.result import Answer, Proposal
from synth.scope import needed_handovers
from synth.spec import Spec
from synth.spec_file import load_spec

CLONE: Final = Path(__file__).resolve().parent.parent
LAYOUTS: Final = CLONE / "specs" / "results"
KEPT: Final = CLONE / "build" / "results"
OUTPUTS: Final = (2, 3, 4, 5)
NAMES: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}


def spec_for(outputs: int) -> Spec:
    """Clay for N kilns, in a site that holds every shape of the volumes in question."""
    spec = load_spec(LAYOUTS / "any-site.toml")
    return replace(spec, outputs=outputs, title=f"Clay for {NAMES[outputs]} kilns, the smallest build found")


def answered(outputs: int, limit_s: float) -> tuple[Answer, bool]:
    """The search, with everything that is settled kept; and whether it went on from an earlier one."""
    KEPT.mkdir(parents=True, exist_ok=True)
    spec = spec_for(outputs)
    kept = KEPT / f"{NAMES[outputs]}-kilns.search.json"
    resumed = kept.exists()
    request = Request(limit_s=limit_s, workers=os.cpu_count() or 1, ledger=kept)
    answer = tighter(spec, request, _best_so_far(spec))
    answer.proposals.sort(key=lambda one: rank_key(one.measures, spec.order))
    return answer, resumed


def _best_so_far(spec: Spec) -> Proposal | None:
    """The layout of the last run, judged anew: one to be bettered."""
    path = LAYOUTS / f"{NAMES[spec.outputs]}-kilns-smallest.plan"
    if not path.exists():
        return None
    layout, judge = load_layout(path), Judge(spec, needed_handovers(spec))
    return judge.as_it_is(layout) if judge.takes(layout) else None


def row_of(outputs: int, answer: Answer, resumed: bool) -> dict[str, Any]:
    """What the page tells of one N."""
    closed = [claim for claim in answer.claims if claim.verdict == "none exists"]
    row: dict[str, Any] = {
        "outputs": outputs,
        "handovers": list(answer.claims[0].handovers) if answer.claims else [],
        "steps": [step.as_json() for step in answer.steps],
        "ruled_out": [claim.as_json() for claim in closed],
        "open": [claim.as_json() for claim in answer.claims if claim.verdict == "open"],
        "seconds": round(sum(claim.seconds for claim in answer.claims if claim.implied_by is None), 1),
        "resumed": resumed,
        "admitted": sum({c.box: c.admitted for c in answer.claims}.values()),
        "refused": sum({c.box: c.refused for c in answer.claims}.values()),
        "scope": list(answer.scope),
        "solver": answer.solver,
    }
    if answer.proposals:
        best = answer.proposals[0]
        row["measures"] = best.measures.as_json()
        stem = f"{NAMES[outputs]}-kilns-smallest"
        write_text(LAYOUTS / f"{stem}.json", layout_json_text(best.layout))
        write_text(LAYOUTS / f"{stem}.plan", layout_to_plan(best.layout))
        row["layout"] = f"specs/results/{stem}.plan"
    return row


def main() -> None:
    """Search, write the layouts and the record; docs/make_results_page.py makes the page of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--outputs", type=int, nargs="+", default=list(OUTPUTS))
    parser.add_argument("--limit", type=float, default=3600.0, help="seconds for each N")
    options = parser.parse_args()
    record = LAYOUTS / "record.json"
    rows = json.loads(record.read_text(encoding="utf-8"))["rows"] if record.exists() else []
    for outputs in options.outputs:
        answer, resumed = answered(outputs, options.limit)
        row = row_of(outputs, answer, resumed)
        rows = sorted([*(old for old in rows if old["outputs"] != outputs), row], key=lambda one: int(one["outputs"]))
        document = {"python-sat": version("python-sat"), "rows": rows}
        write_text(record, json.dumps(document, indent=1) + "\n")
        steps = ", ".join(f"{s.measure} {s.value:g} {'proved' if s.proved else 'open'}" for s in answer.steps)
        Console(stderr=True).print(f"N = {outputs}: {steps or 'nothing found'} ({answer.seconds:.0f} s)")


if __name__ == "__main__":
    sys.exit(main())
