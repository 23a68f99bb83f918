"""Halls of 8, 16, 32 and 64 kilns joined from known pieces: joined, checked, confirmed, run for an hour of production.

Run from the clone: .venv/bin/python -m benchmarks.halls [--json] [--pieces FILE]
``ratio``: seconds against those of the first hall in the same run; a cost that grows no faster than linearly stays at
or below the ratio of the kilns.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from rich.console import Console

from splitwright.cli.tables import plain_table
from synth.hall.piece_file import PieceFile
from synth.hall.search import HallRequest, propose_hall
from synth.hall.spec_file import load_hall

SPECS = Path(__file__).resolve().parent.parent / "specs"
KILNS = (8, 16, 32, 64)


def row(kilns: int, pieces: Path) -> dict[str, Any]:
    """One hall: seconds until it is confirmed, and what came of it."""
    spec = replace(load_hall(SPECS / "sixteen-kilns.toml"), furnaces=kilns, product_bins=None)
    began = time.monotonic()
    answer = propose_hall(spec, HallRequest(PieceFile(pieces), top=1))
    seconds = time.monotonic() - began
    best = answer.proposals[0]
    return {
        "kilns": kilns,
        "seconds": round(seconds, 2),
        "box": list(best.measures.box),
        "parts": best.measures.parts,
        "an_hour": round(float(best.measures.output), 1),
        "bound": round(float(best.measures.bound), 1),
    }


def main() -> None:
    """Run all halls and print them. The first one is run twice: compiling the kernel is not its cost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--pieces", type=Path, default=SPECS / "pieces" / "default.json")
    options = parser.parse_args()
    row(KILNS[0], options.pieces)
    rows = [row(kilns, options.pieces) for kilns in KILNS]
    for one in rows:
        one["ratio"] = round(one["seconds"] / rows[0]["seconds"], 2)
        one["kilns_ratio"] = one["kilns"] / KILNS[0]
    if options.json:
        print(json.dumps(rows, indent=1))
        return
    table = plain_table(*rows[0])
    for one in rows:
        table.add_row(*map(str, one.values()))
    Console().print(table)


if __name__ == "__main__":
    main()
