"""Lower bounds that need no solver: what every layout of a scheme has at least."""

from __future__ import annotations

from synth.ask.spec import Spec
from synth.schemes.registry import scheme_of


def fewest_parts(spec: Spec) -> int:
    """Parts that no layout can do without, by counting.

    Each stream: a bin, the nodes of the row, N drops, a gauge for each node that the locks depend on. N furnaces. Each
    gauge needs a solid cell below it: where every furnace is fed from the top it has a drop above it, so that cell is a
    support.
    """
    n, streams, gauges = spec.outputs, len(spec.streams), _gauges(spec)
    bases = gauges if all(stream.enters == "top" for stream in spec.streams) else 0
    return n + streams * (1 + _nodes(spec)) + gauges + bases


def fewest(spec: Spec, measure: str) -> int:
    """A lower bound on "parts" or "price" by counting; each part is taken at the lowest price of any kind."""
    parts = fewest_parts(spec)
    if measure == "parts":
        return parts
    n, streams = spec.outputs, len(spec.streams)
    known = {"bin": streams, "node": streams * _nodes(spec), "furnace": n, "gauge": _gauges(spec)}
    return sum(spec.limit(kind).price * count for kind, count in known.items())


def _nodes(spec: Spec) -> int:
    """Nodes of one stream: the row and what hangs below it."""
    return scheme_of(spec).row_length(spec.outputs) + spec.outputs


def _gauges(spec: Spec) -> int:
    """Gauges of all streams."""
    return scheme_of(spec).gauges(spec.outputs) * len(spec.streams)
