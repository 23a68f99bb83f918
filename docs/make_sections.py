"""Writes specs/pieces/sections.json and docs/halls.md: which boxes hold a cross-section of a hall, from runs alone.

Run from the clone: make sections. For each pair of schemes all boxes of less area than the least that holds a section
are ruled out, so that halls come with a bound. A few minutes.
"""

from __future__ import annotations

import argparse
import json
from typing import Final

from make_atlas import CLONE
from rich.console import Console

from sim.world.files.writing import write_text
from sim.world.parts import Part
from sim.world.rulebook import default_rules
from synth.hall.cross_section import SCOPE, Schemes, SectionAnswer
from synth.hall.section_bounds import document_of, sections_file, settle_boxes

PAGE: Final = CLONE / "docs" / "halls.md"
CASES: Final[tuple[tuple[Schemes, int, int], ...]] = (
    (("burst row", "burst row"), 1, 20),
    (("burst row", "undrained row"), 1, 20),
    (("undrained row", "burst row"), 1, 20),
    (("undrained row", "undrained row"), 1, 20),
    (("burst row", "burst row"), 2, 36),
)
"""Schemes of feed and fuel row, wings across, the area that is looked at."""
SIGNS: Final = {"support": "#", "line": "-", "furnace": "F", "node": "n"}
console: Final = Console(stderr=True, highlight=False)


def picture(answer: SectionAnswer) -> list[str]:
    """The section as text, the highest layer first, lanes from south to north."""
    parts = {part.at: part for part in answer.parts}
    rows = []
    for z in range(answer.question.layers - 1, -1, -1):
        rows.append(" ".join(_sign(parts.get((0, y, z))) for y in range(answer.question.lanes)).rstrip())
    return rows


def _sign(part: Part | None) -> str:
    if part is None:
        return ". "
    sign = SIGNS.get(part.kind) or part.kind[0] + (getattr(part, "mount", None) or getattr(part, "output", ""))
    return f"{sign:<2}"


def page(answers: list[SectionAnswer]) -> str:
    """docs/halls.md."""
    lines = [
        "# Cross-sections of halls",
        "",
        "Which boxes of lanes and layers hold a wing whose columns repeat, and with how few parts a column (six",
        "of them are furnace and nodes). Written by `make sections`; each row is a run. The bound of `propose` on",
        "halls is taken from here.",
        "",
        "| feed row, fuel row | wings across | lanes x layers | cells a column | verdict | parts a column | s |",
        "|---|---|---|---|---|---|---|",
    ]
    for one in answers:
        q = one.question
        parts = f"{len(one.parts)}{'' if one.proved else ' (best found)'}" if one.parts else ""
        lines.append(
            f"| {', '.join(q.schemes)} | {q.wings} | {q.lanes} x {q.layers} | {q.lanes * q.layers} | {one.outcome} | "
            f"{parts} | {one.seconds} |"
        )
    lines += ["", f"Scope: {SCOPE}.", ""]
    for one in answers:
        if one.parts:
            q = one.question
            lines += [f"{', '.join(q.schemes)}, {q.wings} across, {q.lanes} x {q.layers}:", "", "```"]
            lines += [*picture(one), "```", ""]
    lines += ["Signs: n node, F furnace, # support, - line, i inverter with its mount, r relay with its output.", ""]
    return "\n".join(lines)


def main() -> None:
    """Settle all cases and write both files."""
    parser = argparse.ArgumentParser(description="settle cross-sections of halls")
    parser.add_argument("--seconds", type=float, default=120.0, help="for each box")
    seconds = parser.parse_args().seconds
    answers = []
    for schemes, wings, area in CASES:
        for answer in settle_boxes(schemes, wings, area, seconds):
            q = answer.question
            console.print(f"{schemes}, {wings}: {q.lanes} x {q.layers}: {answer.outcome}, {len(answer.parts)} parts")
            answers.append(answer)
    document = document_of(answers, default_rules())
    write_text(sections_file(), json.dumps(document, indent=1) + "\n")
    write_text(PAGE, page(answers))


if __name__ == "__main__":
    main()
