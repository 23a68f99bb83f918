"""``splitwright-compare/1``: a comparison for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from splitwright.compare.comparison import Compared, Comparison, Standing

FORMAT: Final = "splitwright-compare/1"


def compare_document(comparison: Comparison, files: Sequence[Path]) -> dict[str, Any]:
    """The document; ``files``: what was written."""
    return {
        "format": FORMAT,
        "order": list(comparison.order),
        "layouts": [
            _layout(comparison, entry, standing)
            for entry, standing in zip(comparison.entries, comparison.standings, strict=True)
        ],
        "files": [str(path) for path in files],
    }


def _layout(comparison: Comparison, entry: Compared, standing: Standing) -> dict[str, Any]:
    built = entry.built.built_json()
    if not comparison.priced:
        built.pop("price")
    return {
        "number": entry.number,
        "file": entry.file,
        "title": entry.layout.title,
        "sheet": entry.sheet or None,
        "measures": {
            **built,
            "latency": entry.latency,
            "throughput": None if entry.throughput is None else round(entry.throughput, 1),
            "steady": None if entry.steady is None else round(entry.steady, 1),
            "held": entry.held,
        },
        "runs": [
            {
                "handover": run.handover,
                "per_target": run.per_target,
                "outcome": run.outcome,
                "delivered": {name: list(counts) for name, counts in run.delivered.items()},
            }
            for run in entry.runs
        ],
        "standing": standing,
        "beaten_by": comparison.beaten_by(entry),
    }
