"""Writes docs/results.md from specs/results/record.json and certificates.json, which the runs have written.

Run from the clone: .venv/bin/python docs/results_page.py (make results and make certificates do)
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from make_certificates import CERTIFICATES, RECORD, is_settled, within
from make_results import CLONE, Case, spec_for

from sim.world.files.places import box_text
from sim.world.files.writing import write_text
from sim.world.rulebook import default_rules
from synth.search.scope import not_looked_at
from synth.solving.proofs_rest_on import proofs_digest

PAGE: Final = CLONE / "docs" / "results.md"
HEAD: Final = """# The smallest builds

What `make results` has found and proved, and `make certificates` confirmed; this page is written by
`docs/results_page.py` from [the record](../specs/results/record.json) and
[the certificates](../specs/results/certificates.json).
The question: clay for N kilns, split by a row of one scheme, fed from the top, nothing pinned (straight rows: the row
does not bend), in a site that every shape of box fits ([any-site.toml](../specs/results/any-site.toml)); what the
schemes do is told in [schemes.md](schemes.md). First the fewest cells, among those the fewest parts, among those
the earliest last arrival of one item a kiln.

*Models a block world; no guide to real kilns, furnaces or wiring, where local codes and licensed practice rule.*
"""
COLUMNS: Final = (
    *("scheme", "N", "smallest volume", "box", "fewest parts in it", "earliest last arrival", "processor seconds"),
    "layout",
)
EARLIER: Final = "proved of an earlier model"
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
    yield f"| {' | '.join(COLUMNS)} |"
    yield f"|{'---|' * len(COLUMNS)}"
    for row in record["rows"]:
        yield _row(row)
    yield ""
    yield from _scope(record["rows"])
    for row in record["rows"]:
        yield from _section(row, [one for one in known if Case.of(one) == Case.of(row)])
    yield from _repeat()


def still_holds(row: dict[str, Any]) -> bool:
    """What its proofs rest on is as it was."""
    return bool(row.get("rests_on") == proofs_digest(spec_for(Case.of(row)).rules))


def _of(row: dict[str, Any]) -> str:
    return f"{row['scheme']}{', straight' if row['row'] == 'straight' else ''}"


def _name(row: dict[str, Any]) -> str:
    return f"{_of(row)[0].upper()}{_of(row)[1:]}, N = {row['outputs']}"


def _open(claim: dict[str, Any]) -> str:
    left = f", {claim['left']} of {claim['cubes']} rows left after {claim['seconds'] / 3600:.2f} core-hours"
    if (hours := claim["core_hours_left"]) is not None:
        left += f", {hours:.2f} more at the least"
    return f"{'x'.join(map(str, claim['box']))} ({claim['parts'] or 'any'} parts{left})"


def _row(row: dict[str, Any]) -> str:
    steps, holds = {step["measure"]: step for step in row["steps"]}, still_holds(row)
    cells = [_step(steps.get(name), holds) for name in ("volume", "parts", "latency")]
    box = box_text(row["measures"]["box"]) if "measures" in row else "-"
    layout = f"[plan](../{row['layout']})" if "layout" in row else "-"
    seconds = f"{'at least ' if row['resumed'] else ''}{row['seconds']:.0f}"
    return f"| {_of(row)} | {row['outputs']} | {cells[0]} | {box} | {cells[1]} | {cells[2]} | {seconds} | {layout} |"


def _step(step: dict[str, Any] | None, holds: bool) -> str:
    if step is None:
        return "-"
    if step["proved"]:
        return f"{step['value']:g}, {'proved' if holds else EARLIER}"
    bound = f", at least {step['bound']:g}" if step["bound"] is not None else ""
    bound += f" ({EARLIER})" if bound and not holds else ""
    return f"{step['value']:g}, open{bound}"


def _scope(rows: list[dict[str, Any]]) -> Iterator[str]:
    if any(row["resumed"] for row in rows):
        yield "(At least: the search went on from an earlier one, whose unfinished work is not counted.)"
        yield ""
    yield (
        "Proved means: within this scope, by the solver named, every box with fewer cells is ruled out; of the "
        "layouts in as few cells every one with fewer parts; of these every quicker one. It is said only while the "
        "code and the numbers that the proof rests on are unchanged."
    )
    yield ""
    for scope in dict.fromkeys(tuple(row["scope"]) for row in rows):
        mine = ", ".join(_name(row) for row in rows if tuple(row["scope"]) == scope)
        yield f"- {mine}: {'; '.join(scope)}."
    for scheme, outputs in dict.fromkeys((row.get("scheme", "burst row"), row["outputs"]) for row in rows):
        yield f"- {scheme}, N = {outputs}. {not_looked_at([scheme], default_rules(), outputs)}"
    for solver in dict.fromkeys(row["solver"] for row in rows):
        yield f"- Search: {solver}."
    admitted, refused = (sum(row[key] for row in rows) for key in ("admitted", "refused"))
    yield f"- Candidates that the model admitted: {admitted}; confirmed at first try: {admitted - refused}."
    yield ""


def _section(row: dict[str, Any], certificates: list[dict[str, Any]]) -> Iterator[str]:
    yield f"## {_name(row)}"
    yield ""
    if not still_holds(row):
        yield "What is said to be ruled out was ruled out with an earlier version of the model, and not searched anew."
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
        listed = ", ".join(map(_open, row["open"]))
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
