"""Lower bounds that need no solver: what every layout of a scheme has at least."""

from __future__ import annotations

from synth.spec import Spec

ENDS_WATCHED = 2
"""Gauges of a row: one on T0, one on TN (the lock depends on both)."""


def fewest_parts(spec: Spec) -> int:
    """Parts that no layout can do without, by counting.

    Each stream: a bin, N + 1 nodes of the row, N drops, two gauges. N furnaces. Each gauge needs a solid cell below it:
    where every furnace is fed from the top it has a drop above it, so that cell is a support.
    """
    n, streams = spec.outputs, len(spec.streams)
    gauges = ENDS_WATCHED * streams
    bases = gauges if all(stream.enters == "top" for stream in spec.streams) else 0
    return n + streams * (2 * n + 2) + gauges + bases


def fewest(spec: Spec, measure: str) -> int:
    """A lower bound on "parts" or "price" by counting; each part is taken at the lowest price of any kind."""
    parts = fewest_parts(spec)
    if measure == "parts":
        return parts
    n, streams = spec.outputs, len(spec.streams)
    known = {"bin": streams, "node": streams * (2 * n + 1), "furnace": n, "gauge": ENDS_WATCHED * streams}
    return sum(spec.limit(kind).price * count for kind, count in known.items())
