"""Known builds that several tests share; but for those of the results page they are not meant to work."""

from __future__ import annotations

from functools import cache
from typing import Any

from commands import REPOSITORY
from sim.world.files.reading import load_layout
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Relay, Support
from sim.world.rulebook import default_rules
from synth.search.known.build import KnownBuild, KnownClaim, KnownFailure, at_origin
from synth.solving.proofs_rest_on import proofs_digest

SCHEME = "burst row"
LAWS = proofs_digest(default_rules())
CLAIM = KnownClaim(SCHEME, "top", 3, (8, 7), (5, 2, 3), 20, LAWS)
FAILURE = KnownFailure(SCHEME, "top", 3, (8,), (6, 2, 3), 50_000, LAWS)


@cache
def smallest(outputs: int = 3) -> KnownBuild:
    """A build of the results page."""
    name = {2: "two", 3: "three", 4: "four", 5: "five"}[outputs]
    layout = load_layout(REPOSITORY / "specs" / "results" / f"{name}-kilns-smallest.plan")
    return KnownBuild(at_origin(layout), SCHEME, "top", outputs, (8, 7), "the exact search", LAWS)


def made_up(width: int = 3, height: int = 2, supports: int = 0, **changes: Any) -> KnownBuild:
    """A bin above one end, a furnace at the other, with supports in between: of that width and height, in one row."""
    ends = (Relay((0, 0, 0), "E", 2), Furnace((width - 1, 0, 0)), Bin((0, 0, height - 1), finish="marked"))
    between = tuple(Support((x, 0, 0)) for x in range(1, supports + 1))
    layout = Layout(
        "", (width, 1, height), {"clay": ItemKind(stack=16, fires_to="brick")}, (*ends, *between),
        (Stream("feed", "clay", (0, 0, height - 1), ((width - 1, 0, 0),)),), {"handover": 7},
    )  # fmt: skip
    known: dict[str, Any] = {"scheme": SCHEME, "face": "top", "outputs": 1, "handovers": (8,), "how": "", "laws": LAWS}
    return KnownBuild(layout, **{**known, **changes})


def overfull() -> KnownBuild:
    """A node with more slots than it has by the default rulebook."""
    holds = (("clay", 1),) * (default_rules().node_slots + 1)
    parts = (Bin((0, 0, 1)), Node((0, 0, 0), "E", holds=holds), Furnace((1, 0, 0)))
    layout = Layout("", (2, 1, 2), {}, parts, (Stream("feed", "clay", (0, 0, 1), ((1, 0, 0),)),))
    return KnownBuild(layout, SCHEME, "top", 1, (8,), "", LAWS)
