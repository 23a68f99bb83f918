"""Where pieces are kept with their claims: solved once, then joined to halls of any size.

What is read runs in the simulator again before anybody sees a hall made of it; claims are told with the limits that
their request sets, as proved only while what they rest on is unchanged.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, Protocol

from sim.datafiles import data_dir
from sim.errors import InputError
from sim.world.files.places import json_place, printable
from sim.world.files.schema import check_document
from sim.world.files.strict_json import parse_json
from sim.world.files.text import read_text
from sim.world.files.writing import write_text
from sim.world.rulebook import Rules
from synth.hall.piece_json import SCHEMA, pieces_from_json, pieces_to_json, section_to_json
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_scope import limits_of
from synth.hall.pieces import RowPieces
from synth.search.known.cache import Cache, cache_folder, default_file
from synth.solving.proofs_rest_on import PIECES, proofs_digest

FORMAT: Final = "splitwright-pieces/1"
_RULES: Final = ("period", "node_slots", "stack", "reach", "inverter_delay", "gauge_delay", "relay_step", "firing")
"""Numbers of the world that pieces depend on."""


class Pieces(Protocol):
    """Somewhere to find pieces, and to keep new ones."""

    @property
    def faults(self) -> Sequence[str]:
        """One line for each place that was passed over, or cannot be written."""

    def find(self, asked: PieceRequest) -> RowPieces | None:
        """The pieces that answer the request, if they are kept."""

    def keep(self, asked: PieceRequest, pieces: RowPieces) -> None:
        """Keep them, in the place of older ones for the same request."""


class PieceFile:
    """The pieces of a JSON file that the user named; none, where there is no such file.

    Raises InputError, one line with file, field and fault, for a file of another form.
    """

    faults: Sequence[str] = ()

    def __init__(self, path: Path) -> None:
        self.path = path
        self._kept: list[dict[str, Any]] = _read(path) if _is_there(path) else []

    def check_writable(self) -> None:
        """Raises InputError where the file could not be written, before anything is searched for it."""
        _make_folder(self.path.parent)
        place = self.path if self.path.exists() else self.path.parent
        if not os.access(place, os.W_OK):
            raise InputError("cannot be written; name another file with --pieces", file=str(self.path))

    def find(self, asked: PieceRequest) -> RowPieces | None:
        """The pieces that answer the request, if they are kept."""
        return _answer(asked, _kept_for(key_of(asked), self._kept))

    def keep(self, asked: PieceRequest, pieces: RowPieces) -> None:
        """Add them (in the place of older ones for the same request) and write the file anew.

        Raises InputError when that cannot be done; then the old file stays.
        """
        key = key_of(asked)
        self._kept = [one for one in self._kept if one["for"] != key] + [_document(asked, pieces)]
        _make_folder(self.path.parent)
        write_text(self.path, json.dumps({"format": FORMAT, "pieces": self._kept}, indent=1) + "\n")


class KnownPieces:
    """The pieces of the user's cache, where new ones are kept, and those of files that are never written to."""

    def __init__(self, cache: Cache, *files: Path) -> None:
        self._cache = cache
        self._faults: list[str] = []
        self._others: list[dict[str, Any]] = []
        for path in files:
            try:
                self._others += _read(path) if _is_there(path) else []
            except InputError as error:
                self._faults.append(f"{error}; the file is passed over")

    @property
    def faults(self) -> list[str]:
        """One line for each file that was passed over, and what went wrong with the cache so far."""
        return self._faults + self._cache.faults

    def find(self, asked: PieceRequest) -> RowPieces | None:
        """The pieces that answer the request, if they are kept."""
        key = key_of(asked)
        return _answer(asked, self._cache.pieces_for(key) or _kept_for(key, self._others))

    def keep(self, asked: PieceRequest, pieces: RowPieces) -> None:
        """Keep them in the cache, in the place of older ones for the same request."""
        key = key_of(asked)
        self._cache.keep_pieces(key, _document(asked, pieces))


def users_pieces() -> KnownPieces:
    """The pieces of the user's cache, of the file that earlier versions kept there, and those shipped."""
    return KnownPieces(Cache(default_file()), cache_folder() / "pieces.json", shipped_file())


def shipped_file() -> Path:
    """The pieces that come with splitwright."""
    return data_dir("pieces") / "default.json"


def key_of(asked: PieceRequest) -> dict[str, Any]:
    """All that pieces depend on, as it stands in the file."""
    return {
        **({} if asked.section is None else {"section": section_to_json(asked.section)}),
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


def _kept_for(key: dict[str, Any], documents: list[dict[str, Any]]) -> dict[str, Any] | None:
    return next((one for one in documents if one["for"] == key), None)


def _answer(asked: PieceRequest, document: dict[str, Any] | None) -> RowPieces | None:
    """The pieces of the document. Where what their claims rest on has changed, they are the best found, no more."""
    if document is None:
        return None
    found = replace(pieces_from_json(document), limits=limits_of(asked))
    if document.get("rests_on") == proofs_digest(asked.rules, PIECES):
        return found
    return replace(found, claims=tuple(claim.unproved() for claim in found.claims))


def _document(asked: PieceRequest, pieces: RowPieces) -> dict[str, Any]:
    return pieces_to_json(key_of(asked), pieces, proofs_digest(asked.rules, PIECES))


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


def _read(path: Path) -> list[dict[str, Any]]:
    """The documents of a file's pieces, each of which states pieces. Raises InputError."""
    try:
        document = parse_json(read_text(str(path), "a file of pieces is JSON text"))
        check_document(document, SCHEMA)
        kept: list[dict[str, Any]] = document["pieces"]
        for i, one in enumerate(kept):
            _check(one, json_place(("pieces", i)))
    except InputError as error:
        raise error.within(printable(str(path))) from None
    return kept


def _check(one: dict[str, Any], place: str) -> None:
    try:
        pieces_from_json(one)
    except InputError as error:
        raise error.under(place) from None
