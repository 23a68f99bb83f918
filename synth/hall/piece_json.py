"""The pieces of a row as a document and back (schema splitwright-pieces-1): each piece a layout of its own, with the
place of its low corner in the wing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json, layout_to_json
from sim.world.files.schema import check_document
from sim.world.layout import Layout
from sim.world.parts import Part
from synth.hall.pieces import PieceClaim, RowPieces, shifted
from synth.hall.section import Section

SCHEMA: Final = "splitwright-pieces-1"
PIECES: Final = ("head", "stretch", "tail", "relay")


def pieces_to_json(key: dict[str, Any], pieces: RowPieces, rests_on: str) -> dict[str, Any]:
    """The document of pieces that are kept for ``key``; ``rests_on``: the digest of what their claims rest on."""
    return {
        "for": key,
        "rests_on": rests_on,
        "before": pieces.before,
        "after": pieces.after,
        "lanes": pieces.lanes,
        "lead": pieces.lead,
        "relay_width": pieces.relay_width,
        "reach": pieces.reach,
        "longest": pieces.longest,
        **{name: _piece(getattr(pieces, name)) for name in PIECES},
        "claims": [asdict(claim) for claim in pieces.claims],
    }


def section_to_json(section: Section) -> dict[str, Any]:
    """A cross-section in the key of pieces: both rows' wiring as pieces, and what the fuel row leaves to the other."""
    wiring = {name: _piece(getattr(section, name)) for name in ("feed", "fuel")}
    kept = sorted(map(list, section.kept))
    return {**wiring, "lead": section.lead, "beside": section.beside, "layers": section.layers, "kept": kept}


def pieces_from_json(document: Any) -> RowPieces:
    """The pieces, without the limits that their request sets. Raises InputError with the field and the fault."""
    check_document(document, SCHEMA, "set")
    return RowPieces(
        face=document["for"]["row"],
        scheme=document["for"]["scheme"],
        before=document["before"],
        after=document["after"],
        lanes=document["lanes"],
        lead=document["lead"],
        head=_parts(document, "head"),
        stretch=_parts(document, "stretch"),
        tail=_parts(document, "tail"),
        relay=_parts(document, "relay"),
        relay_width=document["relay_width"],
        reach=document["reach"],
        longest=document["longest"],
        claims=tuple(PieceClaim(**claim) for claim in document["claims"]),
        beside=document["for"]["row"] == "side" and document["for"].get("section", {}).get("beside", False),
    )


def _piece(parts: Sequence[Part]) -> dict[str, Any] | None:
    if not parts:
        return None
    x, y, z = (min(part.at[axis] for part in parts) for axis in range(3))
    moved = tuple(shifted(parts, (-x, -y, -z)))
    w, d, h = (max(part.at[axis] for part in moved) + 1 for axis in range(3))
    return {"low": [x, y, z], "layout": layout_to_json(Layout("", (w, d, h), parts=moved))}


def _parts(document: dict[str, Any], name: str) -> tuple[Part, ...]:
    piece = document[name]
    if piece is None:
        return ()
    x, y, z = piece["low"]
    try:
        return tuple(shifted(layout_from_json(piece["layout"]).parts, (x, y, z)))
    except InputError as error:
        raise error.under(f"{name}.layout") from None
