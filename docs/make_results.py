"""Writes specs/results/*: the proven smallest builds for 2, 3, 4, 5 ... kilns, of burst rows and of others.

Run from the clone: make results, or .venv/bin/python docs/make_results.py [--outputs 2 3 4] [--limit SECONDS]
    [--scheme "burst row"] [--row any|straight]
    [--cluster ADDRESS]   on the workers of a Dask scheduler (docs/cluster.md)
What is settled is kept in build/results, so that a run goes on where the last one ended.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final, get_args

from rich.console import Console

from sim.world.files.layout_json import layout_json_text
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.files.writing import write_text
from splitwright.proposing.options import CLUSTER_VARIABLE, slots_of
from synth.ask.spec import RowShape, Spec
from synth.confirm.judge import Judge
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.plots import plots, question_for, windows
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_named
from synth.search.exact.cubes import cubes_of
from synth.search.race import tighter
from synth.search.request import Request
from synth.search.result import Answer, Claim
from synth.search.scope import needed_handovers
from synth.solving.parallel.work import Slots
from synth.solving.proofs_rest_on import proofs_digest

CLONE: Final = Path(__file__).resolve().parent.parent
LAYOUTS: Final = CLONE / "specs" / "results"
KEPT: Final = CLONE / "build" / "results"
OUTPUTS: Final = (2, 3, 4, 5)
NAMES: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}


SCHEME: Final = "burst row"


@dataclass(frozen=True, order=True, slots=True)
class Case:
    """One question of the page: so many kilns, by which scheme, in rows of which shape ("any", "straight")."""

    scheme: str
    row: RowShape
    outputs: int

    @classmethod
    def of(cls, row: dict[str, Any]) -> Case:
        """The question that a row of the record answers."""
        return cls(row["scheme"], row["row"], row["outputs"])

    @property
    def stem(self) -> str:
        """What its files are called."""
        scheme = "" if self.scheme == SCHEME else f"{self.scheme.replace(' ', '-')}-"
        return f"{scheme}{'' if self.row == 'any' else f'{self.row}-'}{NAMES[self.outputs]}-kilns"


def spec_for(case: Case) -> Spec:
    """Clay for N kilns, in a site that holds every shape of the volumes in question."""
    spec, scheme = load_spec(LAYOUTS / "any-site.toml"), scheme_named(case.scheme)
    title = f"Clay for {NAMES[case.outputs]} kilns, the smallest build found"
    asked = replace(spec, outputs=case.outputs, title=title, scheme=scheme.name, row=case.row)
    return replace(asked, even_for=scheme.even_for[-1], leftovers=scheme.leaves)


def answered(case: Case, limit_s: float, slots: Slots | None) -> tuple[Answer, bool]:
    """The search, with everything that is settled kept; and whether it went on from an earlier one."""
    KEPT.mkdir(parents=True, exist_ok=True)
    spec = spec_for(case)
    kept = KEPT / f"{case.stem}.search.json"
    resumed = kept.exists()
    request = Request(limit_s=limit_s, workers=os.cpu_count() or 1, ledger=kept, slots=slots)
    answer = tighter(spec, request, _best_so_far(case, spec))
    answer.proposals.sort(key=lambda one: rank_key(one.measures, spec.order))
    return answer, resumed


def _best_so_far(case: Case, spec: Spec) -> Proposal | None:
    """The layout of the last run, judged anew: one to be bettered."""
    path = LAYOUTS / f"{case.stem}-smallest.plan"
    if not path.exists():
        return None
    layout, judge = load_layout(path), Judge(spec, needed_handovers(spec))
    return judge.as_it_is(layout) if judge.takes(layout) else None


def still_open(case: Case, claim: Claim) -> dict[str, Any]:
    """How many of the box's ``cubes`` are ``left``, and the ``core_hours_left`` if these took as long as those settled
    did (None: no cube is settled yet). The hard ones come last: it will be more."""
    spec = spec_for(case)
    kept = json.loads((KEPT / f"{case.stem}.search.json").read_text(encoding="utf-8"))
    capped = claim.parts is not None
    of_box = [one for one in kept["cubes"] if tuple(one["box"]) == claim.box and not one["but_found"]]
    settled = len({(one["place"], repr(one["row"])) for one in of_box if capped or one["parts"] is None})
    questions = (question_for(spec, plot, windows(spec, claim.handovers)) for plot in plots(spec, claim.box))
    cubes = sum(len(cubes_of(question)) for question in questions)
    hours = claim.seconds / settled * (cubes - settled) / 3600 if settled else None
    return {"cubes": cubes, "left": cubes - settled, "core_hours_left": hours}


def row_of(case: Case, answer: Answer, resumed: bool) -> dict[str, Any]:
    """What the page tells of one question."""
    spec = spec_for(case)
    closed = [claim for claim in answer.claims if claim.verdict == "none exists"]
    row: dict[str, Any] = {
        "outputs": case.outputs,
        "scheme": case.scheme,
        "row": case.row,
        "rests_on": proofs_digest(spec.rules),
        "handovers": list(answer.claims[0].handovers) if answer.claims else [],
        "steps": [step.as_json() for step in answer.steps],
        "ruled_out": [claim.as_json() for claim in closed],
        "open": [
            {**claim.as_json(), **still_open(case, claim)}
            for claim in answer.claims
            if claim.verdict == "open"
        ],
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
        stem = f"{case.stem}-smallest"
        write_text(LAYOUTS / f"{stem}.json", layout_json_text(best.layout))
        write_text(LAYOUTS / f"{stem}.plan", layout_to_plan(best.layout))
        row["layout"] = f"specs/results/{stem}.plan"
    return row


def main() -> None:
    """Search, write the layouts and the record; docs/results_page.py makes the page of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--outputs", type=int, nargs="+", default=list(OUTPUTS))
    parser.add_argument("--scheme", default=SCHEME)
    parser.add_argument("--row", choices=get_args(RowShape), default="any")
    parser.add_argument("--limit", type=float, default=3600.0, help="seconds for each N")
    parser.add_argument("--cluster", metavar="ADDRESS", default=os.environ.get(CLUSTER_VARIABLE))
    options = parser.parse_args()
    slots = slots_of(options.cluster, None)
    record = LAYOUTS / "record.json"
    rows = json.loads(record.read_text(encoding="utf-8"))["rows"] if record.exists() else []
    for outputs in options.outputs:
        case = Case(options.scheme, options.row, outputs)
        answer, resumed = answered(case, options.limit, slots)
        row = row_of(case, answer, resumed)
        rows = sorted([*(old for old in rows if Case.of(old) != case), row], key=Case.of)
        document = {"python-sat": version("python-sat"), "rows": rows}
        write_text(record, json.dumps(document, indent=1) + "\n")
        steps = ", ".join(f"{s.measure} {s.value:g} {'proved' if s.proved else 'open'}" for s in answer.steps)
        Console(stderr=True).print(f"{case.stem}: {steps or 'nothing found'} ({answer.seconds:.0f} s)")


if __name__ == "__main__":
    sys.exit(main())
