"""Pieces on disk, with their claims: solved once, then joined to halls of any size.

Each piece is kept as a layout of its own and the place of its low corner in the wing. What is read runs in the
simulator again before anybody sees a hall made of it; claims are told as they stand in the file, with the limits that
their request sets.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

from sim.datafiles import data_dir
from sim.errors import InputError
from sim.files.layout_json import layout_from_json, layout_to_json
from sim.files.places import json_place, printable
from sim.files.schema import first_fault, validator
from sim.files.strict_json import parse_json
from sim.files.text import read_text
from sim.files.writing import write_text
from sim.layout import Layout
from sim.parts import Part
from sim.rulebook import Rules
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_scope import limits_of
from synth.hall.pieces import PieceClaim, RowPieces, shifted

FORMAT: Final = "splitwright-pieces/1"
SCHEMA: Final = "splitwright-pieces-1"
PIECES: Final = ("head", "stretch", "tail", "relay")
_RULES: Final = ("period", "node_slots", "stack", "reach", "inverter_delay", "gauge_delay", "relay_step", "firing")
"""Numbers of the world that pieces depend on."""


def default_file() -> Path:
    """Where pieces are kept when no file is named: the user's cache folder."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "splitwright" / "pieces.json"


def shipped_file() -> Path:
    """The pieces that come with splitwright."""
    return data_dir("pieces") / "default.json"


class PieceFile:
    """The pieces of a file; none, where there is no such file. ``others``: a file to look in too, never written to.

    Raises InputError, one line with file, field and fault, for a file of another form.
    """

    def __init__(self, path: Path, others: Path | None = None) -> None:
        self.path = path
        self._others: list[dict[str, Any]] = _read(others) if others is not None else []
        self._kept: list[dict[str, Any]] = _read(path) if _is_there(path) else []

    def check_writable(self) -> None:
        """Raises InputError where the file could not be written, before anything is searched for it."""
        _make_folder(self.path.parent)
        place = self.path if self.path.exists() else self.path.parent
        if not os.access(place, os.W_OK):
            raise InputError("cannot be written; name another file with --pieces", file=str(self.path))

    def find(self, asked: PieceRequest) -> RowPieces | None:
        """The pieces that answer the request, if they are kept."""
        key = key_of(asked)
        kept = next((one for one in (*self._kept, *self._others) if one["for"] == key), None)
        return None if kept is None else replace(_pieces(kept), limits=limits_of(asked))

    def keep(self, asked: PieceRequest, pieces: RowPieces) -> None:
        """Add them (in the place of older ones for the same request) and write the file anew.

        Raises InputError when that cannot be done; then the old file stays.
        """
        key = key_of(asked)
        self._kept = [one for one in self._kept if one["for"] != key] + [{"for": key, **_document(pieces)}]
        _make_folder(self.path.parent)
        write_text(self.path, json.dumps({"format": FORMAT, "pieces": self._kept}, indent=1) + "\n")


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", file=printable(str(path))) from error


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"cannot be made a folder ({error.strerror})", file=str(folder)) from error


def key_of(asked: PieceRequest) -> dict[str, Any]:
    """All that pieces depend on, as it stands in the file."""
    return {
        "row": asked.lane.face,
        "scheme": asked.scheme,
        "product_leaves_at": asked.end,
        "handovers": list(asked.handovers),
        "spare": asked.spare,
        "room": [asked.room.before, asked.room.after, asked.room.lanes],
        "barred": sorted([*cell, kind] for cell, kind in asked.barred),
        "rules": _numbers(asked.rules),
    }


def _numbers(rules: Rules) -> dict[str, int]:
    return {name: getattr(rules, name) for name in _RULES}


def _document(pieces: RowPieces) -> dict[str, Any]:
    return {
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


def _piece(parts: Sequence[Part]) -> dict[str, Any] | None:
    if not parts:
        return None
    x, y, z = (min(part.at[axis] for part in parts) for axis in range(3))
    moved = tuple(shifted(parts, (-x, -y, -z)))
    w, d, h = (max(part.at[axis] for part in moved) + 1 for axis in range(3))
    return {"low": [x, y, z], "layout": layout_to_json(Layout("", (w, d, h), parts=moved))}


def _read(path: Path) -> list[dict[str, Any]]:
    try:
        document = parse_json(read_text(str(path), "a file of pieces is JSON text"))
        if fault := first_fault(validator(SCHEMA), document):
            raise InputError(fault[1], field=json_place(fault[0]))
        for i, one in enumerate(document["pieces"]):
            _check(one, i)
    except InputError as error:
        raise error.within(printable(str(path))) from None
    kept: list[dict[str, Any]] = document["pieces"]
    return kept


def _check(one: dict[str, Any], number: int) -> None:
    """Raises InputError where a piece is no layout."""
    for name in PIECES:
        try:
            _parts(one[name])
        except InputError as error:
            field = json_place(("pieces", number, name, "layout"))
            raise InputError(error.fault, field=f"{field}.{error.field}" if error.field else field) from None


def _pieces(document: dict[str, Any]) -> RowPieces:
    return RowPieces(
        face=document["for"]["row"],
        scheme=document["for"]["scheme"],
        before=document["before"],
        after=document["after"],
        lanes=document["lanes"],
        lead=document["lead"],
        head=tuple(_parts(document["head"])),
        stretch=tuple(_parts(document["stretch"])),
        tail=tuple(_parts(document["tail"])),
        relay=tuple(_parts(document["relay"])),
        relay_width=document["relay_width"],
        reach=document["reach"],
        longest=document["longest"],
        claims=tuple(PieceClaim(**claim) for claim in document["claims"]),
    )


def _parts(piece: dict[str, Any] | None) -> Iterable[Part]:
    if piece is None:
        return ()
    x, y, z = piece["low"]
    return shifted(layout_from_json(piece["layout"]).parts, (x, y, z))
