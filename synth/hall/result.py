"""What a search for a hall answers with: halls that the simulator has confirmed, and what is shown of their pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Final

from sim.world.files.layout_json import layout_to_json
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from synth.hall.cross_section import SCOPE
from synth.hall.kits import Kit
from synth.hall.lanes import STRAIGHT_ON
from synth.hall.measures import HallMeasures
from synth.hall.section_bounds import SectionBound, hall_bound

FORMAT: Final = "splitwright-hall-proposals/1"


@dataclass(frozen=True, slots=True)
class HallBound:
    """``cells`` that a hall takes at least, as ``section`` shows; ``gap``: share of a hall's cells beyond these."""

    section: SectionBound
    cells: int
    gap: float

    def as_json(self) -> dict[str, Any]:
        """The bound as it stands in ``--json`` documents."""
        return {"cells": self.cells, "gap": round(self.gap, 4), "wings_across": self.section.wings, "scope": SCOPE}


@dataclass(frozen=True, slots=True)
class HallProposal:
    """A hall that was confirmed, and how it is made. ``wings``: furnaces of each, side by side."""

    layout: Layout
    measures: HallMeasures
    kit: Kit
    wings: tuple[tuple[int, ...], ...]

    def bound(self, rules: Rules) -> HallBound | None:
        """What no hall of its kind can do without: as many furnaces, rows of the same schemes, as many wings across.
        None: nothing is shown of such rows under these rules."""
        across = 1 if self.kit.end == STRAIGHT_ON else len(self.wings)
        numbers = [n for side in self.wings for n in side]
        section = hall_bound((self.kit.feed, self.kit.fuel), numbers, rules, across)
        if section is None:
            return None
        cells = section.of(sum(numbers))
        return HallBound(section, cells, 1 - cells / self.measures.volume)

    def as_json(self) -> dict[str, Any]:
        """The hall with all that is known of it."""
        return {
            "layout": layout_to_json(self.layout),
            "measures": self.measures.as_json(),
            "wings": [list(side) for side in self.wings],
            "product_leaves_at": self.kit.end,
            "rows": [
                {
                    "enters": row.face,
                    "scheme": row.scheme,
                    "head": len(row.head),
                    "stretch": len(row.stretch),
                    "tail": len(row.tail),
                    "relay": len(row.relay),
                    "reach": row.reach,
                    "longest": row.longest,
                }
                for row in (self.kit.feed, self.kit.fuel)
            ],
            "claims": [
                {"enters": row.face, **asdict(claim), "scope": row.scope_of(claim)}
                for row in (self.kit.feed, self.kit.fuel)
                for claim in row.claims
            ],
        }


@dataclass(frozen=True, slots=True)
class Room:
    """A site that would have room for one of the halls. ``is_confirmed``: that hall has passed all that a hall must, in
    the simulator too; if not, it was not tried."""

    size: tuple[int, int, int]
    is_confirmed: bool


@dataclass(slots=True)
class HallAnswer:
    """All that one search has come to.

    ``furnaces``: how many the spec asks for, or its output takes. ``refusals``: why halls that were put together were
    not taken; ``places``: the product bins of those that were refused because another number is wanted. ``pieces_s``,
    ``joining_s``: seconds for the pieces; for putting together, checking and confirming. ``room``: where there is no
    hall, and some were refused for want of room, the least enlarged site (the fewest cells more of width, depth and
    height together) that would do for one of those. ``bound``: below which no hall of the first one's kind gets.
    """

    furnaces: int
    proposals: list[HallProposal] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    pieces_s: float = 0.0
    joining_s: float = 0.0
    complete: bool = True
    room: Room | None = None
    bound: HallBound | None = None

    def as_json(self, files: Sequence[str] = ()) -> dict[str, Any]:
        """The document of ``propose --json`` for a hall."""
        return {
            "format": FORMAT,
            "furnaces": self.furnaces,
            "layouts": [proposal.as_json() for proposal in self.proposals],
            "claims": [claim for proposal in self.proposals[:1] for claim in proposal.as_json()["claims"]],
            "refusals": self.refusals,
            **({} if self.room is None else {"room": asdict(self.room)}),
            **({} if self.bound is None else {"bound": self.bound.as_json()}),
            "pieces_seconds": round(self.pieces_s, 2),
            "joining_seconds": round(self.joining_s, 2),
            "complete": self.complete,
            "files": list(files),
        }
