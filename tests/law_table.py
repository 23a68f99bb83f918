"""The laws of the rulebook, sections 1 to 4, as small worlds with what must happen in them.

Every row quotes the law that it shows. Expected values are worked out by hand from the page, never copied from a run.
Drawings are explained in ``worlds``; ``iD`` on the ground is a source of the full level that never goes out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True)
class Settled:
    """What the signals show once they have settled, before tick 1. ``lines``: further lines of a plan."""

    law: str
    drawing: str
    signals: str
    lines: str = ""


@dataclass(frozen=True)
class Run:
    """Every change of a run until rest (or in the first ``ticks``), parted by ``;``.

    ``loads``: items by tick and stream; a load shows at the tick after which it is put in.
    """

    law: str
    drawing: str
    trace: str
    lines: str = ""
    loads: Mapping[int, Mapping[str, int]] = field(default_factory=dict)
    ticks: int | None = None
    findings: tuple[tuple[str, int], ...] = ()


def level(reading: int, at: str = "0,0,0", more: str = "") -> str:
    """A bin that reads 2 to 15: one slot of 14, so that n items give 1 + 14 n/14. ``more``: others, ``1,0,0=4``."""
    others = [f"holds {word.split('=')[0]} clay {int(word.split('=')[1]) - 1}" for word in more.split()]
    return "\n".join(["rule bin_slots 1", "item clay stack 14", f"holds {at} clay {reading - 1}", *others])


STRONG: Final = (
    Settled("strong: 15 for a relay that is on with q in front", "iD r1E # -", "1 1 * 15"),
    Settled("strong: ... on", ". r1E # -", ". 0 . 0"),
    Settled("strong: ... in front", "iD r1E - ; . # .", "1 1 15 ; . . ."),
    Settled("strong: the level of a gauge with q in front", "B gE # -", ". 5 * 5", level(5)),
    Settled("strong: 15 for a lit inverter directly below q", "iD # / # -", "1 * / * 15"),
    Settled("strong: ... directly below", "iD #", "1 ."),
    Settled("strong: ... lit", "iD - # iW / . . . #", "1 15 * 0 / . . . ."),
    Settled("strong: the largest", ". . - . . ; B gE # r1W iD", ". . 15 . . ; . 5 * 1 1", level(5)),
)

WEAK: Final = (
    Settled("weak: the largest level of a line directly on top of q", "# # / iD -", ". * / 1 15"),
    Settled("weak: a horizontally adjacent line that points into q", "iD - #", "1 15 *"),
    Settled("weak: ... points into", ". # . ; iD - .", ". . . ; 1 15 ."),
    Settled("weak: not a line below q", "iD - / . #", "1 15 / . ."),
    Settled("weak: level above 0", "- #", "0 ."),
    Settled("a weakly energised cell feeds no line", "iD - # -", "1 15 * 0"),
    Settled("a furnace can be energised", "iD - F", "1 15 *"),
    Settled("a bin or node can't be energised", "iD - B -", "1 15 . 0"),
)

LEVEL: Final = (
    Settled("level: 15 for a relay that is on with p in front", "iD r1E -", "1 1 15"),
    Settled("level: ... in front", "iD r1E # ; . - .", "1 1 * ; . 0 ."),
    Settled("level: a gauge's level with p in front", "B gE - -", ". 5 5 4", level(5)),
    Settled(
        "level: 15 for a lit inverter in any of the six neighbours",
        ". - . ; - iD - ; . - .",
        ". 15 . ; 15 1 15 ; . 15 .",
    ),
    Settled("level: ... any of the six: below", "iD / -", "1 / 15"),
    Settled("level: ... any of the six: above", ". - / # iW", ". 15 / . 1"),
    Settled("level: ... unless p lies on its mount side", "iE -", "1 0"),
    Settled("level: strong(q) for any of the six neighbours q: q below", "iD r1E # / . . -", "1 1 * / . . 15"),
    Settled("level: ... q above", "# # - / iD r1E #", ". * 15 / 1 1 *"),
    Settled(
        "level: ... q beside",
        ". . - . ; iD r1E # - ; . . - .",
        ". . 15 . ; 1 1 * 15 ; . . 15 .",
    ),
    Settled("level: level(l) - 1 for each linked line l", "iD - - -", "1 15 14 13"),
    Settled("level: the largest of", "B gE - - r1W iD", ". 5 14 15 1 1", level(5)),
    Settled("level: the least solution", "- - ; - -", "0 0 ; 0 0"),
    Settled(
        "a run carries at most 15 cells from a full source",
        "iD - - - - - - - - - - - - - - - - -",
        "1 15 14 13 12 11 10 9 8 7 6 5 4 3 2 1 0 0",
    ),
)

LINK: Final = (
    Settled("lines link to the line in a horizontal neighbour cell", "- - . ; iD . -", "15 14 . ; 1 . 0"),
    # p is the lower line, and the source is above
    Settled("up: the line on top of q, when q is solid", "- # # / . - iD", "14 * . / . 15 1"),
    Settled("up: ... a furnace is solid", "- F # / . - iD", "14 * . / . 15 1"),
    Settled("up: ... when q is solid: not over a bin", "- B # / . - iD", "0 . . / . 15 1"),
    Settled("up: ... and the cell above p is not", "- # # / # - iD", "0 * . / * 15 1"),
    Settled("up: ... a node above p is not solid", "- # # / nE - iD", "14 * . / L 15 1"),
    Settled("up: one step", "- # # / . # # / . - iD", "0 . . / . * . / . 15 1"),
    # p is the upper line, and the source is below
    Settled("down: the line below q, when q is not solid", "iD - # - / . . - .", "1 15 * 13 / . . 14 ."),
    Settled("down: ... a node in q is not solid", ". # - iD / . - nE .", ". * 15 1 / . 14 L ."),
    Settled("down: ... not when q is solid", ". # - iD / . - # .", ". * 15 1 / . 0 . ."),
    Settled("down: one step", ". # - iD / . # . . / . - . .", ". * 15 1 / . . . . / . 0 . ."),
    Settled("down: ... whatever p stands on", "iD - B / . . -", "1 15 . / . . 14"),
)

POINTS_INTO: Final = (
    Settled("points into a side when a line connects there", ". # . ; iD - - ; . # .", ". . . ; 1 15 14 ; . . ."),
    Settled("points into: a corner: its two sides only", ". - . ; iD - # ; . # .", ". 14 . ; 1 15 . ; . . ."),
    Settled("points into: three sides", ". - . ; iD - - ; . # .", ". 14 . ; 1 15 14 ; . . ."),
    Settled("points into: ... a line one step up", ". # . ; iD - # / . - . ; . . .", ". * . ; 1 15 . / . 14 . ; . . ."),
    Settled(
        "points into: ... a line one step down",
        ". - . ; # # . / . . . ; iD - #",
        ". 14 . ; . * . / . . . ; 1 15 .",
    ),
    Settled("points into: an inverter, however mounted", ". # . ; . iN . ; iD - #", ". . . ; . 1 . ; 1 15 ."),
    Settled("points into: ... mounted on the line", ". iS . ; iD - #", ". 1 . ; 1 15 ."),
    Settled("points into: a gauge (any side of it)", "B gE . ; iD - #", ". 0 . ; 1 15 ."),
    Settled("points into: a relay in line with it (its back)", ". r1N . ; iD - #", ". 1 . ; 1 15 ."),
    Settled("points into: ... (its front)", ". r1S . ; iD - #", ". 0 . ; 1 15 ."),
    Settled("points into: ... not across it", ". r1E . ; iD - #", ". 0 . ; 1 15 *"),
    Settled("points into: if neither N nor S connects it also points both E and W", "# - - iD", "* 14 15 1"),
    Settled(
        "points into: if neither E nor W connects it also points both N and S",
        ". iD . ; # - # ; . # .",
        ". 1 . ; . 15 . ; . * .",
    ),
    Settled(
        "points into: none: all four sides",
        ". . . . ; iD r1E # . ; . . . . / . . # . ; . # - # ; . . # .",
        ". . . . ; 1 1 * . ; . . . . / . . * . ; . * 15 * ; . . * .",
    ),
)

LOCKED: Final = (
    Settled("locked: a neighbour is an energised solid cell: beside", "iD - # nE", "1 15 * L"),
    Settled("locked: ... below", "iD - # / . . nE", "1 15 * / . . L"),
    Settled("locked: ... above", ". nE / # # / iD -", ". L / . * / 1 15"),
    Settled("locked: ... a furnace", "iD - F nE", "1 15 * L"),
    Settled("locked: ... energised", "iD # nE", "1 . ."),
    Settled("locked: a relay that is on delivers into it", "iD r1E nE", "1 1 L"),
    Settled("locked: ... on", ". r1E nE", ". 0 ."),
    Settled("locked: ... (front cell)", "iD r1E . ; . nE .", "1 1 . ; . . ."),
    Settled("locked: a gauge above 0 delivers into it", "B gE nE", ". 5 L", level(5)),
    Settled("locked: ... above 0", "B gE nE", ". 0 ."),
    Settled("locked: a lit inverter delivers into it: beside", "iD nE", "1 L"),
    Settled("locked: ... any neighbour: below it", ". nE / # iW", ". L / . 1"),
    Settled("locked: ... any neighbour: above it", "iD / nE", "1 / L"),
    Settled("locked: ... but its mount side", "nE iW", ". 1"),
    Settled("locked: ... lit", "iD - # iW nE", "1 15 * 0 ."),
    Settled("locked: a line above level 0 points into it", "iD - nE", "1 15 L"),
    Settled("locked: ... above level 0", "- nE", "0 ."),
    Settled("locked: ... points into", ". nE . ; iD - .", ". . . ; 1 15 ."),
    Settled("locked: ... a line on top points into no cell below", "# nE / iD -", ". . / 1 15"),
)

WANTS: Final = (
    Settled("inverter: lit = mount cell not energised: weak", "iD - # iW", "1 15 * 0"),
    Settled("inverter: ... strong", "iD r1E # iW", "1 1 * 0"),
    Settled("inverter: ... mounted on top", "iD - # / . . iD", "1 15 * / . . 0"),
    Settled("inverter: ... a cell that is not solid is never energised", "iD - iW", "1 15 1"),
    Settled("relay: the cell behind is energised", "iD - # r1E", "1 15 * 1"),
    Settled("relay: ... or a line above level 0", "iD - r1E", "1 15 1"),
    Settled("relay: ... above level 0", "- r1E", "0 0"),
    Settled("relay: ... or a lit inverter", "iD r1E", "1 1"),
    Settled("relay: ... lit", "iD - # iW r1E", "1 15 * 0 0"),
    Settled("relay: ... or a relay facing the same way that is on", "iD r1E r1E", "1 1 1"),
    Settled("relay: ... facing the same way", ". . . ; . r1N r1E ; . iD .", ". . . ; . 1 0 ; . 1 ."),
    Settled("relay: ... or a gauge facing the same way that is above 0", "B gE r1E", ". 5 1", level(5)),
    Settled("relay: ... a gauge facing the same way", ". gN r1E ; . B .", ". 5 0 ; . . .", level(5, "1,0,0")),
    Settled("relay: a container behind is no signal", "B r1E", ". 0", level(5)),
    Settled("relay: a line beside it is no signal behind", "iD - . ; . r1E .", "1 15 . ; . 0 ."),
    Settled("gauge: the container directly behind it", "nW gE", ". 1", "holds 0,0,0 clay 1"),
    Settled("gauge: ... a furnace", "F gE", ". 5", "item clay stack 14\nholds 0,0,0 clay 14"),
    Settled(
        "gauge: if a support is directly behind, of a container right behind that",
        "B # gE -",
        ". . 5 5",
        level(5),
    ),
    Settled("gauge: ... right behind", "B # # gE", ". . . 0", level(5)),
    Settled("gauge: ... a support, not a furnace", "B F gE", ". . 0", level(5)),
    Settled("gauge: no container to read: 0", ". gE -", ". 0 0"),
    Settled("gauge: side input: the level of a line on either side", "iD - . ; B gE -", "1 15 . ; . 0 0", level(5)),
    Settled("gauge: ... either side", "B gE - ; iD - .", ". 0 0 ; 1 15 .", level(5, "0,1,0")),
    Settled(
        "gauge: ... output 0 if side input > reading",
        "B gE - . ; . B gE -",
        ". 5 5 . ; . . 0 0",
        level(5, "0,1,0", "1,0,0=4"),
    ),
    Settled(
        "gauge: ... else reading: equal passes",
        "B gE - . ; . B gE -",
        ". 5 5 . ; . . 5 5",
        level(5, "0,1,0", "1,0,0=5"),
    ),
    Settled(
        "gauge: side input: 15 for a relay that is on and faces it",
        ". iD . ; . r1S . ; B gE -",
        ". 1 . ; . 1 . ; . 0 0",
        level(14),
    ),
    Settled(
        "gauge: ... a full reading passes a side input of 15",
        ". iD . ; . r1S . ; B gE -",
        ". 1 . ; . 1 . ; . 15 15",
        level(15),
    ),
    Settled("gauge: ... faces it", "iD r1E . ; B gE -", "1 1 . ; . 5 5", level(5)),
    Settled(
        "gauge: side input: a gauge's level facing it from a side",
        ". B . ; . gS . ; B gE -",
        ". . . ; . 6 . ; . 0 0",
        level(5, "0,0,0", "1,2,0=6"),
    ),
    Settled(
        "gauge: ... equal passes",
        ". B . ; . gS . ; B gE -",
        ". . . ; . 5 . ; . 5 5",
        level(5, "0,0,0", "1,2,0=5"),
    ),
    Settled("gauge: an inverter there counts for nothing", ". iD . ; B gE -", ". 1 . ; . 5 5", level(5)),
    Settled(
        "gauge: an energised cell there counts for nothing",
        "iD - # . ; . B gE -",
        "1 15 * . ; . . 5 5",
        level(5, "1,0,0"),
    ),
    Settled(
        "relay: latched while a relay that is on faces one of its sides (in file order it comes on first)",
        ". iD ; . r1S ; iD r1E",
        ". 1 ; . 1 ; 1 0",
    ),
    Settled(
        "relay: ... keeps its state: on (in file order it comes on before the latch)",
        ". iD ; . r1S ; iD r1E",
        ". 1 ; . 1 ; 1 1",
        "order 1,0,0",
    ),
    Settled("relay: ... faces one of its sides", ". iD ; . r1N ; iD r1E", ". 1 ; . 0 ; 1 1"),
    Settled(
        "relay: latched while a gauge above 0 faces one of its sides: keeps its state, off at the start",
        ". B ; . gS ; iD r1E",
        ". . ; . 5 ; 1 0",
        level(5, "1,2,0"),
    ),
    Settled("relay: ... above 0", ". B ; . gS ; iD r1E", ". . ; . 0 ; 1 1"),
    Settled(
        "relay: ... faces one of its sides: not from its front",
        "iD r1E gW B",
        "1 1 5 .",
        level(5, "3,0,0"),
    ),
)

TWO_INVERTERS: Final = "# iW - # ; - . . iN ; - - - -"

SETTLING: Final = (
    Settled(
        "settling: a part takes the state that it wants at once, and the next one sees that: the first goes out",
        TWO_INVERTERS,
        "* 0 0 . ; 11 . . 1 ; 12 13 14 15",
    ),
    Settled(
        "settling: ... each in file order",
        TWO_INVERTERS,
        ". 1 15 * ; 0 . . 0 ; 0 0 0 0",
        "order 3,1,0 1,2,0",
    ),
    Settled(
        "settling: the gauges, then the relays: the latch is there before the relay can come on",
        ". B ; . gS ; iD r1E",
        ". . ; . 5 ; 1 0",
        level(5, "1,2,0") + "\norder 1,0,0 0,0,0 1,1,0",
    ),
    Settled(
        # The inverter at 3,0,0 starts lit and goes out in the first round; by then the relay is on, held by its ring.
        "settling: starts from inverters lit; the relays, then the inverters",
        ". . . . - - - ; iD - # iW - r1E -",
        ". . . . 12 13 14 ; 1 15 * 0 11 1 15",
    ),
    Settled("settling: starts from relays off: a ring holds nothing by itself", "- - - ; - r1E -", "0 0 0 ; 0 0 0"),
)

SETTLED: Final = (*STRONG, *WEAK, *LEVEL, *LINK, *POINTS_INTO, *LOCKED, *WANTS, *SETTLING)


# -- runs -------------------------------------------------------------------------------------------------------------

FEED: Final = "stream feed clay from 0,0,1 to 1,0,0\n"
ONE: Final = {0: {"feed": 1}}

SLOTS: Final = (
    Run(
        "putting: an empty slot is used before a part-filled stack behind it",
        "nE B",
        "1: 0,0,0 . ; 1: 1,0,0 clay 1 | clay 5",
        "holds 0,0,0 clay 1\nholds 1,0,0 . clay 5",
    ),
    Run(
        "putting: ... by a pull too",
        "nE / B",
        "1: 0,0,0 clay 1 | clay 5 ; 1: 0,0,1 clay 1 ; 9: 0,0,0 clay 2 | clay 5 ; 9: 0,0,1 .",
        "holds 0,0,0 . clay 5\nholds 0,0,1 clay 2",
    ),
    Run(
        "taking: one item at a time, the slots in order",
        "nE B",
        "1: 0,0,0 . | clay 1 | brick 1 ; 1: 1,0,0 clay 1 ; 9: 0,0,0 . | . | brick 1 ; 9: 1,0,0 clay 2 ; 17: 0,0,0 . ; "
        "17: 1,0,0 clay 2 | brick 1",
        "holds 0,0,0 clay 1 1 brick 1",
    ),
    Run(
        "an item that the other side refuses does not hold up the slots after it",
        "nE F",
        "1: 0,0,0 brick 1 ; 1: 1,0,0 . | charcoal 1",
        "holds 0,0,0 brick 1 charcoal 1",
    ),
    Run(
        "an item that the other side refuses ... by a pull too",
        "nE / B",
        "1: 0,0,0 clay 6 ; 1: 0,0,1 brick 1",
        "rule node_slots 1\nholds 0,0,0 clay 5\nholds 0,0,1 brick 1 clay 1",
    ),
    Run(
        "a slot holds one kind of item up to that kind's stack limit",
        "nE B",
        "1: 0,0,0 clay 1 ; 1: 1,0,0 clay 2 ; 9: 0,0,0 . ; 9: 1,0,0 clay 2 | clay 1",
        "item clay stack 2\nholds 0,0,0 clay 2\nholds 1,0,0 clay 1",
    ),
    Run(
        "... (64 unless the spec says otherwise)",
        "nE / B",
        "1: 0,0,0 grit 64 ; 1: 0,0,1 grit 1",
        "rule node_slots 1\nholds 0,0,0 grit 63\nholds 0,0,1 grit 2",
    ),
)

TURNS: Final = (
    Run(
        "a node's turn: it pulls from the container directly above it; a period later it pushes through its outlet",
        "nE B / B .",
        "1: 0,0,0 clay 1 ; 1: 0,0,1 . ; 9: 0,0,0 . ; 9: 1,0,0 clay 1",
        FEED,
        ONE,
    ),
    Run(
        "it pushes one item; then, if it is not full, it pulls one",
        "nE B / B .",
        "1: 1,0,0 clay 1 ; 1: 0,0,1 clay 1 ; 9: 1,0,0 clay 2 ; 9: 0,0,1 . ; 17: 0,0,0 clay 1 ; "
        "17: 1,0,0 clay 2 | clay 1 ; 25: 0,0,0 . ; 25: 1,0,0 clay 2 | clay 2",
        "rule node_slots 1\nitem clay stack 2\nholds 0,0,0 clay 2\nholds 0,0,1 clay 2",
    ),
    Run("if it is not full", "nE / B", "", "rule node_slots 1\nholds 0,0,0 clay 64\nholds 0,0,1 clay 1"),
    Run(
        "a failed push does not prevent the pull",
        "nE / B",
        "1: 0,0,0 clay 2 ; 1: 0,0,1 clay 1 ; 9: 0,0,0 clay 3 ; 9: 0,0,1 .",
        "holds 0,0,0 clay 1\nholds 0,0,1 clay 2",
    ),
    Run("a node pulls from a node above", "nE / nE", "1: 0,0,0 clay 1 ; 1: 0,0,1 .", "holds 0,0,1 clay 1"),
    Run(
        "cooldown ... down to 0, where it starts and where a failed try leaves it",
        "nE B / B .",
        "4: 0,0,1 clay 1 ; 5: 0,0,0 clay 1 ; 5: 0,0,1 . ; 13: 0,0,0 . ; 13: 1,0,0 clay 1",
        FEED,
        {4: {"feed": 1}},
    ),
    Run(
        "if either moved an item, its cooldown becomes period",
        "nE / B",
        "1: 0,0,0 clay 1 ; 1: 0,0,1 . ; 4: 0,0,1 clay 1 ; 9: 0,0,0 clay 2 ; 9: 0,0,1 .",
        "stream feed clay from 0,0,1 to 0,0,0",
        {0: {"feed": 1}, 4: {"feed": 1}},
    ),
    Run(
        "... period, by the rulebook",
        "nE B / B .",
        "1: 0,0,0 clay 1 ; 1: 0,0,1 . ; 4: 0,0,0 . ; 4: 1,0,0 clay 1",
        FEED + "rule period 3",
        ONE,
    ),
    Run(
        # The western node holds an item from 1 to 9, so its gauge locks the eastern one (moved at 1) from 3 to 11.
        "the cooldown keeps running while locked; first the signal phase, then the machine phase",
        "B nW gE nE B / . B . B .",
        "1: 1,0,0 clay 1 ; 1: 3,0,0 clay 1 ; 1: 1,0,1 . ; 1: 3,0,1 . ; 3: 2,0,0 = 1 ; 9: 0,0,0 clay 1 ; 9: 1,0,0 . ; "
        "11: 2,0,0 = 0 ; 11: 3,0,0 . ; 11: 4,0,0 clay 1",
        "stream west clay from 1,0,1 to 0,0,0\nstream east clay from 3,0,1 to 4,0,0",
        {0: {"west": 1, "east": 1}},
    ),
    Run(
        "a locked node still receives pushes; its own push stops",
        ". iD . ; nE nE B",
        "1: 0,0,0 . ; 1: 1,0,0 clay 1",
        "holds 0,0,0 clay 1",
    ),
    Run(
        "a locked node can still be pulled from; its own pull stops",
        "nW # / nE iD / B .",
        "1: 0,0,0 clay 1 ; 1: 0,0,1 .",
        "holds 0,0,1 clay 1\nholds 0,0,2 clay 1",
    ),
)

HANDOVER: Final = (
    Run(
        "handover: that node's next turn to move is 8 ticks after this tick; giver before receiver",
        "nE nE B",
        "1: 0,0,0 . ; 1: 1,0,0 clay 1 ; 9: 1,0,0 . ; 9: 2,0,0 clay 1",
        "holds 0,0,0 clay 1",
    ),
    Run(
        "handover 8; receiver before giver",
        "nE nE B",
        "1: 1,0,0 clay 1 ; 1: 0,0,0 . ; 9: 1,0,0 . ; 9: 2,0,0 clay 1",
        "holds 0,0,0 clay 1\norder 1,0,0 0,0,0",
    ),
    Run(
        "handover 7; giver before receiver",
        "nE nE B",
        "1: 0,0,0 . ; 1: 1,0,0 clay 1 ; 8: 1,0,0 . ; 8: 2,0,0 clay 1",
        "rule handover 7\nholds 0,0,0 clay 1",
    ),
    Run(
        "handover 7; receiver before giver",
        "nE nE B",
        "1: 1,0,0 clay 1 ; 1: 0,0,0 . ; 8: 1,0,0 . ; 8: 2,0,0 clay 1",
        "rule handover 7\nholds 0,0,0 clay 1\norder 1,0,0 0,0,0",
    ),
    Run(
        # The giver comes first: the receiver still holds its own item, pushes it in the same tick and waits a period.
        "handover: ... in a node that was empty",
        "nE nE B",
        "1: 0,0,0 . ; 1: 2,0,0 clay 1 ; 9: 1,0,0 . ; 9: 2,0,0 clay 2",
        "rule handover 7\nholds 0,0,0 clay 1\nholds 1,0,0 clay 1",
    ),
    Run(
        # The receiver comes first: it has pushed its item and is empty when the giver's lands, with 8 of cooldown left.
        "handover: ... whatever its cooldown was (longer)",
        "nE nE B",
        "1: 0,0,0 . ; 1: 2,0,0 clay 1 ; 8: 1,0,0 . ; 8: 2,0,0 clay 2",
        "rule handover 7\nholds 0,0,0 clay 1\nholds 1,0,0 clay 1\norder 1,0,0 0,0,0",
    ),
    Run(
        "handover: ... whatever its cooldown was (0)",
        "nE nE B",
        "1: 0,0,0 . ; 1: 1,0,0 clay 1 ; 13: 1,0,0 . ; 13: 2,0,0 clay 1",
        "rule handover 12\nholds 0,0,0 clay 1",
    ),
    Run(
        "handover: when a push lands, not at a pull",
        "nE B / B .",
        "1: 0,0,0 clay 1 ; 1: 0,0,1 . ; 9: 0,0,0 . ; 9: 1,0,0 clay 1",
        FEED + "rule handover 3",
        ONE,
    ),
)

FURNACE: Final = (
    Run("an item entering from above goes to feed", "F / nD", "1: 0,0,0 clay 1 ; 1: 0,0,1 .", "holds 0,0,1 clay 1"),
    Run("feed takes any kind", "F / nD", "1: 0,0,0 charcoal 1 ; 1: 0,0,1 .", "holds 0,0,1 charcoal 1"),
    Run("and one that does not fire blocks it", "F / nD", "", "holds 0,0,0 brick 1\nholds 0,0,1 clay 1"),
    Run(
        "from a horizontal side to fuel",
        "nE F",
        "1: 0,0,0 . ; 1: 1,0,0 . | charcoal 1",
        "holds 0,0,0 charcoal 1",
    ),
    Run("and only if its kind burns", "nE F", "", "holds 0,0,0 clay 1"),
    Run(
        "a node below pulls from product only",
        "nE / F",
        "1: 0,0,0 brick 1 ; 1: 0,0,1 clay 2",
        "holds 0,0,1 clay 2 . brick 1",
    ),
    Run("... fuel and unfinished items stay put", "nE / F", "", "holds 0,0,1 brick 2 charcoal 1"),
    Run(
        "firing: charcoal burns 1600 ticks, one feed item takes 200: one charcoal fires 8 items",
        "F",
        " ; ".join(["1: 0,0,0 clay 9", *(f"{200 * k}: 0,0,0 clay {9 - k} | . | brick {k}" for k in range(1, 9))]),
        "holds 0,0,0 clay 9 charcoal 1",
    ),
    Run(
        # Fire from 1 to 3 and from 4 to 6: the second item has one tick of the first fire and one of the second.
        "firing: if the fire is out, the next fuel item is consumed in the same turn, and progress goes on",
        "F",
        "1: 0,0,0 clay 3 | charcoal 1 ; 2: 0,0,0 clay 2 | charcoal 1 | brick 1 ; 4: 0,0,0 clay 1 | . | brick 2 ; "
        "6: 0,0,0 . | . | brick 3",
        "rule firing 2\nitem charcoal stack 64 burn 3\nholds 0,0,0 clay 3 charcoal 2",
    ),
    Run(
        # Fire from 1 to 30 and from 31 to 60, an item every 20 ticks.
        "firing: ... in the midst of an item",
        "F",
        "1: 0,0,0 clay 4 | charcoal 1 ; 20: 0,0,0 clay 3 | charcoal 1 | brick 1 ; 31: 0,0,0 clay 3 | . | brick 1 ; "
        "40: 0,0,0 clay 2 | . | brick 2 ; 60: 0,0,0 clay 1 | . | brick 3",
        "rule firing 20\nitem charcoal stack 64 burn 30\nholds 0,0,0 clay 4 charcoal 2",
    ),
    Run("firing: fuel is consumed only if the feed item fires to something", "F", "", "holds 0,0,0 brick 1 charcoal 1"),
    Run("firing: ... the product slot has room for that", "F", "", "holds 0,0,0 clay 1 charcoal 1 brick 64"),
    Run("firing: ... room for that kind", "F", "", "holds 0,0,0 clay 1 charcoal 1 clay 1"),
    Run("firing: ... and there is fuel", "F", "", "holds 0,0,0 clay 1"),
    Run(
        # The first brick at 5; the fire of 100 ticks burns on; clay enters after the furnace's turn at 29.
        "firing: with fire but nothing to fire, progress is 0: a later item takes the full time",
        "F / nD / B",
        "1: 0,0,0 clay 1 ; 5: 0,0,0 . | . | brick 1 ; 20: 0,0,2 clay 1 ; 21: 0,0,1 clay 1 ; 21: 0,0,2 . ; "
        "29: 0,0,0 clay 1 | . | brick 1 ; 29: 0,0,1 . ; 34: 0,0,0 . | . | brick 2",
        "rule firing 5\nitem charcoal stack 64 burn 100\nholds 0,0,0 clay 1 charcoal 1\n"
        "stream feed clay from 0,0,2 to 0,0,0",
        {20: {"feed": 1}},
    ),
    Run(
        # Fire from 1 to 6: progress 6; out at 7: progress 4; fuel at 8 before the furnace's turn: 5, 6, 7, 8 at 11.
        "firing: without fire progress runs back 2 a tick",
        "nE nE F",
        "1: 0,0,0 . ; 1: 1,0,0 charcoal 1 ; 1: 2,0,0 clay 1 ; 8: 1,0,0 . ; 11: 2,0,0 . | . | brick 1",
        "rule firing 8\nrule handover 7\nitem charcoal stack 64 burn 6\nholds 0,0,0 charcoal 1\n"
        "holds 2,0,0 clay 1 charcoal 1",
    ),
)

# A pulse: the node at 1,0,0 holds an item from tick 1 until a period later; the gauge at 2,0,0 reads it.
PULSED: Final = "stream feed clay from 1,0,1 to 0,0,0\n"
PULSE_OF_8: Final = "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 1 ; 9: 0,0,0 clay 1 ; 9: 1,0,0 . ; 11: 2,0,0 = 0"
TIE: Final = ". . . - - ; . . . - r1S ; B nW gE - r1E / . . . . . ; . . . . . ; . B . . ."
TIE_LINES: Final = PULSED + "item clay stack 1\nrule node_slots 1\n"

TIMING: Final = (
    Run("timing: gauge +2", "B nW gE / . B .", PULSE_OF_8, PULSED, ONE),
    Run(
        "timing: inverter +2",
        "B nW gE # iW / . B . . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 1 ; 5: 4,0,0 = 0 ; 9: 0,0,0 clay 1 ; 9: 1,0,0 . ; 11: 2,0,0 = 0 ; "
        "13: 4,0,0 = 1",
        PULSED,
        ONE,
    ),
    *(
        Run(
            f"timing: relay +2·delay, delay {delay}",
            f"B nW gE r{delay}E / . B . .",
            " ; ".join(
                sorted(
                    [*PULSE_OF_8.split(" ; "), f"{3 + 2 * delay}: 3,0,0 = 1", f"{11 + 2 * delay}: 3,0,0 = 0"],
                    key=lambda line: int(line.split(":")[0]),
                )
            ),
            PULSED,
            ONE,
        )
        for delay in (1, 2, 3, 4)
    ),
    Run(
        # On from 3 to 7 behind the relay; it comes on 8 ticks after 3 and goes off 8 ticks after that.
        "relay: if off: on, and if the input had gone just before, off 2·delay later: a short pulse is stretched",
        "B nW gE r4E / . B . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 1 ; 5: 0,0,0 clay 1 ; 5: 1,0,0 . ; 7: 2,0,0 = 0 ; 11: 3,0,0 = 1 ; "
        "19: 3,0,0 = 0",
        PULSED + "rule period 4",
        ONE,
    ),
    Run(
        # The relay's switch-off, due at 19, finds the gauge on again since 11; the gauge goes off at 23 for good.
        "relay: if on and no input: off; else it stays on",
        "B nW gE r4E / . B . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 1 ; 5: 0,0,0 clay 1 ; 5: 1,0,0 . ; 5: 1,0,1 clay 3 ; 7: 2,0,0 = 0 ; "
        "9: 1,0,0 clay 1 ; 9: 1,0,1 clay 2 ; 11: 2,0,0 = 1 ; 11: 3,0,0 = 1 ; 13: 0,0,0 clay 2 ; 13: 1,0,1 clay 1 ; "
        "17: 0,0,0 clay 3 ; 17: 1,0,1 . ; 21: 0,0,0 clay 4 ; 21: 1,0,0 . ; 23: 2,0,0 = 0 ; 31: 3,0,0 = 0",
        PULSED + "rule period 4",
        {0: {"feed": 1}, 5: {"feed": 3}},
    ),
    Run(
        # The item is in the node from 1 to 2 only.
        "gauge: takes the wanted state as it is then",
        "B nW gE / . B .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 2: 0,0,0 clay 1 ; 2: 1,0,0 .",
        PULSED + "rule period 1",
        ONE,
    ),
    Run(
        # The support is energised from 3 to 5; the inverter's change is due at 6.
        "inverter: takes the wanted state as it is then",
        "B nW gE # iW / . B . . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 0,0,0 clay 1 ; 3: 1,0,0 . ; 3: 2,0,0 = 1 ; 5: 2,0,0 = 0",
        PULSED + "rule period 2\nrule inverter_delay 3",
        ONE,
    ),
    Run(
        # At 5 the inverter's change (scheduled in the signal phase of 3) comes before the gauge's (machine phase of 3).
        "changes due in one tick run in the order in which they were scheduled",
        "B nW gE # iW / . B . . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 0,0,0 clay 1 ; 3: 1,0,0 . ; 3: 2,0,0 = 1 ; 5: 2,0,0 = 0 ; 5: 4,0,0 = 0 ; "
        "7: 4,0,0 = 1",
        PULSED + "rule period 2",
        ONE,
    ),
    Run(
        # On at 4 with its input gone since 3, the relay schedules its switch-off for 6 before the inverter schedules
        # its change for 6; at 6 the relay goes off first, and the inverter finds its mount cell as it was.
        "a relay that comes on too late schedules its own switch-off before the others notice",
        "B nW gE r1E # iW / . B . . . .",
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 2: 0,0,0 clay 1 ; 2: 1,0,0 . ; 2: 2,0,0 = 1 ; 3: 2,0,0 = 0 ; 4: 3,0,0 = 1 ; "
        "6: 3,0,0 = 0",
        PULSED + "rule period 1\nrule gauge_delay 1\norder 5,0,0",
        ONE,
    ),
    Run(
        # Both relays are due at 5. The one in the north latches the other before that comes on: its change is dropped.
        "schedules its change, in file order: the latching relay first",
        TIE,
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 15 ; 5: 4,1,0 = 1 ; 9: 0,0,0 clay 1 ; 9: 1,0,0 . ; 11: 2,0,0 = 0 ; "
        "13: 4,1,0 = 0",
        TIE_LINES,
        ONE,
    ),
    Run(
        # The other way round both come on at 5. The latch ends at 13; what the latched one then wants comes 2 later.
        "schedules its change, in file order: the latched relay first, which keeps its state while latched",
        TIE,
        "1: 1,0,0 clay 1 ; 1: 1,0,1 . ; 3: 2,0,0 = 15 ; 5: 4,0,0 = 1 ; 5: 4,1,0 = 1 ; 9: 0,0,0 clay 1 ; 9: 1,0,0 . ; "
        "11: 2,0,0 = 0 ; 13: 4,1,0 = 0 ; 15: 4,0,0 = 0",
        TIE_LINES + "order 4,0,0 4,1,0",
        ONE,
    ),
    Run(
        "latched: what it then wants is scheduled anew, with the full delay, when the latch ends",
        ". nE B ; . gS . ; iD r2E .",
        "1: 1,2,0 . ; 1: 2,2,0 clay 1 ; 3: 1,1,0 = 0 ; 7: 1,0,0 = 1",
        "holds 1,2,0 clay 1",
    ),
    Run(
        # The relay's change, scheduled at 2, is due at 10; the gauge beside it latches it from 6 to 15.
        "latched: a change that falls due is dropped, and scheduled anew when the latch ends",
        ". . nE B ; . . # . ; . # # . / . . B . ; . . gS . ; B gE r4E .",
        "2: 1,0,1 = 1 ; 4: 2,2,1 clay 2 ; 5: 2,2,0 clay 1 ; 5: 2,2,1 clay 1 ; 6: 2,1,1 = 1 ; 13: 3,2,0 clay 1 ; "
        "13: 2,2,1 . ; 15: 2,1,1 = 0 ; 21: 2,2,0 . ; 21: 3,2,0 clay 2 ; 23: 2,0,1 = 1",
        "stream latch clay from 2,2,1 to 3,2,0\nstream signal clay from 0,0,1 to 3,2,0",
        {0: {"signal": 1}, 4: {"latch": 2}},
    ),
    Run(
        "a load put in before tick 1 counts as noticed at tick 0",
        "B gE B",
        "2: 1,0,0 = 1",
        "stream feed clay from 0,0,0 to 2,0,0",
        ONE,
    ),
    Run(
        "a load put in after tick t counts as noticed at tick t",
        "B gE B",
        "4: 0,0,0 clay 1 ; 6: 1,0,0 = 1",
        "stream feed clay from 0,0,0 to 2,0,0",
        {4: {"feed": 1}},
    ),
    Run(
        # Level 1 + 14·(1/2 + 1/2)/3 = 5 at first, 1 + 14·(1/2)/3 = 3 once the fuel is gone.
        "at the end of each furnace's turn that moved something the change is noticed at once",
        "F gE",
        "1: 0,0,0 clay 1 ; 3: 1,0,0 = 3 ; 5: 0,0,0 . | . | brick 1",
        "rule firing 5\nitem clay stack 2 fires-to brick\nitem charcoal stack 2 burn 1600\nitem brick stack 2\n"
        "holds 0,0,0 clay 1 charcoal 1",
    ),
    Run(
        # The inverter energises its own mount cell. After 200 rounds it is lit; out at 2, 6, .., 30 the 8th time.
        "never settles, and the run starts from there; overheats at the 8th, one finding a part; it goes on working",
        "- - - ; - . - ; # iW -",
        " ; ".join(f"{tick}: 1,0,0 = {int(tick % 4 == 0)}" for tick in range(2, 81, 2)),
        ticks=80,
        findings=(("never settles", 0), ("overheats", 30)),
    ),
)

RUNS: Final = (*SLOTS, *TURNS, *HANDOVER, *FURNACE, *TIMING)
