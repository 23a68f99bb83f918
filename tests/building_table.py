"""Small builds and the steps that place them, worked out by hand from the rules in ``sim.analysis.building``.

Drawings are explained in ``worlds``. A step: ``+ kind x,y,z > x,y,z`` places a part against what stands in the second
cell, ``(+)`` a temporary support, ``(-)`` takes one away again. The second cell of ``(-)`` is what it was put against.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.world.layout import Layout
from sim.world.parts import Node, Support


@dataclass(frozen=True)
class Built:
    """``layers``: the layer under way at each step."""

    rule: str
    drawing: str
    steps: str
    layers: str


BUILT: Final = (
    Built("nothing to place", ".", "", ""),
    Built("a support against the ground", "#", "+ support 0,0,0 > 0,0,-1", "0"),
    Built("a line hangs on the ground", "-", "+ line 0,0,0 > 0,0,-1", "0"),
    Built("a line hangs on a support", "# / -", "+ support 0,0,0 > 0,0,-1; + line 0,0,1 > 0,0,0", "01"),
    Built("a gauge hangs on a furnace", "F / gE", "+ furnace 0,0,0 > 0,0,-1; + gauge 0,0,1 > 0,0,0", "01"),
    Built("a relay hangs on a support", "# / r3W", "+ support 0,0,0 > 0,0,-1; + relay 0,0,1 > 0,0,0", "01"),
    Built("an inverter hangs on its mount side", "iE #", "+ support 1,0,0 > 1,0,-1; + inverter 0,0,0 > 1,0,0", "00"),
    Built("... which may be the ground", "iD", "+ inverter 0,0,0 > 0,0,-1", "0"),
    Built(
        "in a layer: supports, furnaces, bins, nodes, wiring; along x, then y",
        "gE r1E - . ; nD B F # ; nD . . #",
        "+ support 3,0,0 > 3,0,-1; + support 3,1,0 > 3,1,-1; + furnace 2,1,0 > 2,1,-1; + bin 1,1,0 > 1,1,-1; "
        "+ node 0,0,0 > 0,0,-1; + node 0,1,0 > 0,1,-1; + line 2,2,0 > 2,2,-1; + relay 1,2,0 > 1,2,-1; "
        "+ gauge 0,2,0 > 0,2,-1",
        "000000000",
    ),
    Built("an outlet D takes the ground below", "nD", "+ node 0,0,0 > 0,0,-1", "0"),
    Built("... or a body", "B / nD", "+ bin 0,0,0 > 0,0,-1; + node 0,0,1 > 0,0,0", "01"),
    Built("an outlet W takes a body at its west side", "B nW", "+ bin 0,0,0 > 0,0,-1; + node 1,0,0 > 0,0,0", "00"),
    Built("an outlet N takes one at its north side", "F ; nN", "+ furnace 0,1,0 > 0,1,-1; + node 0,0,0 > 0,1,0", "00"),
    Built(
        "a row of nodes from its end; what the last one is aimed at is a temporary support",
        "nE nE .",
        "(+) 2,0,0 > 2,0,-1; + node 1,0,0 > 2,0,0; (-) 2,0,0 > 2,0,-1; + node 0,0,0 > 1,0,0",
        "0000",
    ),
    Built(
        "... which may stand beside the site if there is no room on it",
        "nE",
        "(+) 1,0,0 > 1,0,-1; + node 0,0,0 > 1,0,0; (-) 1,0,0 > 1,0,-1",
        "000",
    ),
    Built(
        "nodes that face one another: a temporary support where the second one is to stand",
        "nE nW",
        "(+) 1,0,0 > 1,0,-1; + node 0,0,0 > 1,0,0; (-) 1,0,0 > 1,0,-1; + node 1,0,0 > 0,0,0",
        "0000",
    ),
    Built(
        "wiring in front of a node comes after it",
        ". # / nE gE",
        "+ support 1,0,0 > 1,0,-1; (+) 1,0,1 > 1,0,0; + node 0,0,1 > 1,0,1; (-) 1,0,1 > 1,0,0; + gauge 1,0,1 > 1,0,0",
        "01111",
    ),
    Built(
        "... in a lower layer too: the only thing that makes a layer wait",
        "- / nD",
        "(+) 0,0,0 > 0,0,-1; + node 0,0,1 > 0,0,0; (-) 0,0,0 > 0,0,-1; + line 0,0,0 > 0,0,-1",
        "1111",
    ),
    Built(
        "a support in the air gets a temporary one below",
        ". / #",
        "(+) 0,0,0 > 0,0,-1; + support 0,0,1 > 0,0,0; (-) 0,0,0 > 0,0,-1",
        "111",
    ),
    Built(
        "... or a row of them, taken away from its end",
        ". / . / #",
        "(+) 0,0,0 > 0,0,-1; (+) 0,0,1 > 0,0,0; + support 0,0,2 > 0,0,1; (-) 0,0,1 > 0,0,0; (-) 0,0,0 > 0,0,-1",
        "22222",
    ),
    Built(
        "... and begins with the support that takes the shortest row",
        ". # / . . / # #",
        "+ support 1,0,0 > 1,0,-1; (+) 1,0,1 > 1,0,0; + support 1,0,2 > 1,0,1; (-) 1,0,1 > 1,0,0; "
        "+ support 0,0,2 > 1,0,2",
        "02222",
    ),
    Built(
        "... which rather keeps to the site than is short",
        "- - - # / B . . .",
        "+ support 3,0,0 > 3,0,-1; + line 0,0,0 > 0,0,-1; + line 1,0,0 > 1,0,-1; + line 2,0,0 > 2,0,-1; "
        "(+) 3,0,1 > 3,0,0; (+) 2,0,1 > 3,0,1; (+) 1,0,1 > 2,0,1; + bin 0,0,1 > 1,0,1; "
        "(-) 1,0,1 > 2,0,1; (-) 2,0,1 > 3,0,1; (-) 3,0,1 > 3,0,0",
        "00001111111",
    ),
    Built(
        "... and not where the temporary one would be walled in",
        ". # . ; # . # ; . # . / . . . ; . # . ; . . .",
        "+ support 0,1,0 > 0,1,-1; + support 1,0,0 > 1,0,-1; + support 1,2,0 > 1,2,-1; + support 2,1,0 > 2,1,-1; "
        "(+) 2,1,1 > 2,1,0; + support 1,1,1 > 2,1,1; (-) 2,1,1 > 2,1,0",
        "0000111",
    ),
    Built("... but goes against a node if there is one", "F . / nD #",
        "+ furnace 0,0,0 > 0,0,-1; + node 0,0,1 > 0,0,0; + support 1,0,1 > 0,0,1", "011"),
    Built(
        "one temporary support does for two supports side by side",
        ". . / # #",
        "(+) 0,0,0 > 0,0,-1; + support 0,0,1 > 0,0,0; (-) 0,0,0 > 0,0,-1; + support 1,0,1 > 0,0,1",
        "1111",
    ),
    Built(
        "nothing goes against wiring: a bin over a line",
        "- / B",
        "+ line 0,0,0 > 0,0,-1; (+) 1,0,0 > 1,0,-1; (+) 1,0,1 > 1,0,0; + bin 0,0,1 > 1,0,1; "
        "(-) 1,0,1 > 1,0,0; (-) 1,0,0 > 1,0,-1",
        "011111",
    ),
    Built(
        "a walled-in cell in front of a node: one wall waits until the temporary support is out again",
        ". # . ; # . # ; . # . / . . . ; . nD . ; . . .",
        "+ support 1,0,0 > 1,0,-1; + support 1,2,0 > 1,2,-1; + support 2,1,0 > 2,1,-1; (+) 1,1,0 > 1,1,-1; "
        "+ node 1,1,1 > 1,1,0; (-) 1,1,0 > 1,1,-1; + support 0,1,0 > 0,1,-1",
        "0001111",
    ),
    Built(
        "... and until the wiring in that cell hangs",
        ". # . ; # iN # ; . # . / . . . ; . nD . ; . . .",
        "+ support 1,0,0 > 1,0,-1; + support 1,2,0 > 1,2,-1; + support 2,1,0 > 2,1,-1; (+) 1,1,0 > 1,1,-1; "
        "+ node 1,1,1 > 1,1,0; (-) 1,1,0 > 1,1,-1; + inverter 1,1,0 > 1,2,0; + support 0,1,0 > 0,1,-1",
        "00011111",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Unbuilt:
    """``sentences``: why the parts that no step places can't be placed; ``steps``: what is placed all the same."""

    rule: str
    drawing: str
    sentences: tuple[str, ...]
    steps: str = ""


def _hangs(part: str, base: str) -> str:
    return f"The {part} can't be placed: it would hang on the {base}, which is not solid."


UNBUILT: Final = (
    Unbuilt("a line over nothing", ". / -", (_hangs("line at 0,0,1", "cell at 0,0,0"),)),
    Unbuilt("a gauge on a bin", "B / gE", (_hangs("gauge at 0,0,1", "bin at 0,0,0"),), "+ bin 0,0,0 > 0,0,-1"),
    Unbuilt("a relay on a line", "- / r1E", (_hangs("relay at 0,0,1", "line at 0,0,0"),), "+ line 0,0,0 > 0,0,-1"),
    Unbuilt(
        "an inverter beside a node",
        "nD iW",
        (_hangs("inverter at 1,0,0", "node at 0,0,0"),),
        "+ node 0,0,0 > 0,0,-1",
    ),
    Unbuilt(
        "inverters that would hang on one another",
        "iE iW",
        (_hangs("inverter at 0,0,0", "inverter at 1,0,0"), _hangs("inverter at 1,0,0", "inverter at 0,0,0")),
    ),
    Unbuilt(
        "a node in front of which such a part stands is placed",
        ". . / nE -",
        (_hangs("line at 1,0,1", "cell at 1,0,0"),),
        "(+) 1,0,0 > 1,0,-1; (+) 1,0,1 > 1,0,0; + node 0,0,1 > 1,0,1; (-) 1,0,1 > 1,0,0; (-) 1,0,0 > 1,0,-1",
    ),
)  # fmt: skip

# Found by random search (one dense build in some 15,000) and cut down: 2,2,1 waits for the node at 2,3,2, since it
# walls in the cell below it; the node at 2,1,1 waits for 2,2,1, and by then the node above has walled it in.
WALLED_IN: Final = Layout(
    "walled in",
    (5, 5, 3),
    parts=(
        Node((1, 1, 1), "D"), Node((1, 3, 1), "D"), Node((1, 3, 2), "D"), Node((2, 0, 1), "D"), Support((2, 1, 0)),
        Node((2, 1, 1), "N"), Node((2, 1, 2), "S"), Support((2, 2, 1)), Node((2, 3, 0), "D"), Node((2, 3, 2), "D"),
        Node((2, 4, 1), "W"), Support((2, 4, 2)), Node((3, 1, 0), "N"), Support((3, 1, 1)), Node((3, 3, 1), "W"),
    ),
)  # fmt: skip

BRIMMED: Final = """splitwright-plan/1
title  Clay for two kilns as it comes: a row that starts full but for one item a node
item   clay     fires-to brick
item   charcoal burn 1600
stream feed clay from 0,0,3 to 0,0,0 0,1,0
holds  0,1,2 clay 64 64 64 64 63
holds  0,0,2 clay 64 64 64 64 63
layer 0
F    r1W  -    iS
F    r1W  -    #
layer 1
nD   .    #    .
nD   .    #    -
layer 2
nN   .    -    .
nN   #    gE   #
layer 3
.    .    iS   .
B    .    #    .
"""
"""As ``splitwright propose`` found it (specs/two-kilns-stream-held.toml with ``scheme = "brimmed row"``)."""
