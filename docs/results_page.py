"""Writes docs/results.md from specs/results/record.json and certificates.json, which the runs have written.

Run from the clone: .venv/bin/python docs/results_page.py (make results and make certificates do)
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from make_certificates import CERTIFICATES, RECORD, is_settled, within
from make_results import CLONE

from sim.files.writing import write_text

PAGE: Final = CLONE / "docs" / "results.md"
HEAD: Final = """# The smallest builds

What `make results` has found and proved, and `make certificates` confirmed; this page is written by
`docs/results_page.py` from [the record](../specs/results/record.json) and
[the certificates](../specs/results/certificates.json).
The question: clay for N kilns, there at once, split by a burst row, fed from the top, nothing pinned, in a site that
every shape of box fits ([any-site.toml](../specs/results/any-site.toml)); other schemes are in
[DEVELOPERS.md](../DEVELOPERS.md), "The schemes". First the fewest cells, among those the fewest parts, among those
the earliest last arrival of one item a kiln.

*Models a block world; no guide to real kilns, furnaces or wiring, where local codes and licensed practice rule.*
"""
REPEAT: Final = """## To repeat it

- `make results` searches again; it goes on from build/results, which is to be removed first for a search from nothing.
- `make certificates` asks the other solvers again; `.venv/bin/python docs/make_certificates.py --formulas DIR`
  writes the formulas in DIMACS form, for any other solver and proof checker. Their digests stand in the table.
- What a formula says is `synth/model/build.py`; that it says what the rulebook says is held against the simulator
  in `tests/test_model_field.py` and `tests/test_model_exhaustive.py`."""


def page() -> Iterator[str]:
    """The page, line by line."""
    record = json.loads(RECORD.read_text(encoding="utf-8"))
    known = json.loads(CERTIFICATES.read_text(encoding="utf-8"))["boxes"] if CERTIFICATES.exists() else []
    yield HEAD
    yield "| N | smallest volume | box | fewest parts in it | earliest last arrival | processor seconds | layout |"
    yield "|---|---|---|---|---|---|---|"
    for row in record["rows"]:
        yield _row(row)
    yield ""
    yield from _scope(record["rows"])
    for row in record["rows"]:
        yield from _section(row, [one for one in known if one["outputs"] == row["outputs"]])
    yield from _repeat()


def _row(row: dict[str, Any]) -> str:
    steps = {step["measure"]: step for step in row["steps"]}
    cells = [_step(steps.get(name)) for name in ("volume", "parts", "latency")]
    box = " x ".join(map(str, row["measures"]["box"])) if "measures" in row else "-"
    layout = f"[plan](../{row['layout']})" if "layout" in row else "-"
    seconds = f"{'at least ' if row['resumed'] else ''}{row['seconds']:.0f}"
    return f"| {row['outputs']} | {cells[0]} | {box} | {cells[1]} | {cells[2]} | {seconds} | {layout} |"


def _step(step: dict[str, Any] | None) -> str:
    if step is None:
        return "-"
    if step["proved"]:
        return f"{step['value']:g}, proved"
    bound = f", at least {step['bound']:g}" if step["bound"] is not None else ""
    return f"{step['value']:g}, open{bound}"


def _scope(rows: list[dict[str, Any]]) -> Iterator[str]:
    if any(row["resumed"] for row in rows):
        yield "(At least: the search went on from an earlier one, whose unfinished work is not counted.)"
        yield ""
    yield (
        "Proved means: within this scope, by the solver named, every box with fewer cells is ruled out; of the "
        "layouts in as few cells every one with fewer parts; of these every quicker one."
    )
    yield ""
    for scope in dict.fromkeys(tuple(row["scope"]) for row in rows):
        mine = ", ".join(str(row["outputs"]) for row in rows if tuple(row["scope"]) == scope)
        yield f"- N = {mine}: {'; '.join(scope)}."
    for solver in dict.fromkeys(row["solver"] for row in rows):
        yield f"- Search: {solver}."
    admitted, refused = (sum(row[key] for row in rows) for key in ("admitted", "refused"))
    yield f"- Candidates that the model admitted: {admitted}; confirmed at first try: {admitted - refused}."
    yield ""


def _section(row: dict[str, Any], certificates: list[dict[str, Any]]) -> Iterator[str]:
    yield f"## N = {row['outputs']}"
    yield ""
    if "layout" in row:
        text = (CLONE / row["layout"]).read_text(encoding="utf-8")
        yield "```"
        yield from text.rstrip().splitlines()
        yield "```"
        yield ""
    for cap in sorted({claim["parts"] for claim in row["ruled_out"]}, key=lambda parts: (parts is not None, parts)):
        boxes = [tuple(c["box"]) for c in row["ruled_out"] if c["parts"] == cap]
        largest = sorted(b for b in boxes if not any(b != other and within(b, other) for other in boxes))
        what = "any layout" if cap is None else f"a layout with at most {cap} parts"
        listed = ", ".join("x".join(map(str, box)) for box in largest)
        yield f"Ruled out for {what}: {listed}, and every box within these ({len(set(boxes))} in all)."
        yield ""
    if row["open"]:
        listed = ", ".join(f"{'x'.join(map(str, c['box']))} ({c['parts'] or 'any'} parts)" for c in row["open"])
        yield f"Open: {listed}."
        yield ""
    if certificates:
        yield from _certificates(certificates)
    else:
        yield "No other solver was asked about these boxes yet (`make certificates` does it)."
        yield ""


def _certificates(entries: list[dict[str, Any]]) -> Iterator[str]:
    settled = sum(map(is_settled, entries))
    yield f"Confirmed by both other solvers, proofs checked: {settled} of {len(entries)} boxes."
    yield ""
    yield "| box | parts at most | formula: variables, clauses, SHA-256 of its DIMACS text | opinion | opinion |"
    yield "|---|---|---|---|---|"
    for one in entries:
        box = "x".join(map(str, one["box"]))
        formula = f"{one['variables']}, {one['clauses']}, `{one['sha256'][:16]}…`"
        opinions = " | ".join(map(_opinion, one["opinions"]))
        yield f"| {box} | {one['parts'] or 'any'} | {formula} | {opinions} |"
    yield ""


def _opinion(one: dict[str, Any]) -> str:
    checked = ", proof checked" if one["checked"] else ""
    steps = f", {one['steps']} steps" if one["steps"] else ""
    row_by_row = " row by row" if "row by row" in one["by"] else ""
    by = one["by"].split(" (")[0].split(",")[0]
    return f"{by}{row_by_row}: {one['opinion']}{checked}{steps} ({one['seconds']:.0f} s)"


def _repeat() -> Iterator[str]:
    yield REPEAT


if __name__ == "__main__":
    write_text(PAGE, "\n".join(page()) + "\n")
