"""What a search has come to, kept so that another run can go on: proofs by box and by cube, and layouts.

It is kept in a file that the user names, or in the user's cache; it holds for one question and one state of the model
only: both are told by a digest. Layouts run in the simulator again when they are read; proofs are taken as they stand.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json, layout_to_json
from sim.world.files.places import printable
from sim.world.files.schema import check_document
from sim.world.files.strict_json import parse_json
from sim.world.files.text import read_text
from sim.world.files.writing import streamed_file, write_text
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.model.plots import Size
from synth.schemes.registry import scheme_of
from synth.schemes.scheme import Windows
from synth.search.exact.boxes import Boxes
from synth.search.exact.caps import Caps
from synth.search.exact.walks import Walk
from synth.search.known.cache import Cache
from synth.search.result import Claim
from synth.solving.proofs_rest_on import SEARCH, code_digest

FORMAT: Final = "splitwright-search/1"


def digest_of(spec: Spec, needed: Sequence[int], within: Windows) -> str:
    """The same for the same question asked of the same model."""
    asked = (spec.outputs, spec.row, spec.streams, spec.size, sorted(spec.blocked), sorted(spec.limits.items()))
    trials = (scheme_of(spec).name, spec.even_for, spec.demands)
    question = (*asked, sorted(spec.items.items()), spec.rules, tuple(needed), within, trials)
    return hashlib.sha256(f"{code_digest(SEARCH)} {question}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Settled:
    """A cube of a box's place that holds no layout within the caps (``but_found``: none but those found)."""

    box: Size
    place: int
    row: Walk
    parts: int | None
    price: int | None
    but_found: bool


@dataclass
class Ledger:
    """The state of one search. ``closed``, ``cubes``, ``layouts``: what was kept when it was read.

    ``keep``: puts a document of it where it is kept. ``conflicts``: the budget that the search had come to for each
    cube (0: none yet).
    """

    keep: Callable[[dict[str, Any]], None]
    digest: str
    closed: list[Claim] = field(default_factory=list)
    cubes: list[Settled] = field(default_factory=list)
    layouts: list[Layout] = field(default_factory=list)
    conflicts: int = 0

    def restore(self, boxes: Boxes, caps: Caps) -> None:
        """Note in the boxes which of their cubes are settled. A cube that a box does not have is passed over."""
        for one in self.cubes:
            places = boxes[one.box].places
            if one.place < len(places) and one.row in places[one.place].cubes:
                under = Caps(one.parts, one.price, caps.prices)
                places[one.place].note(under, [one.row], but_found=one.but_found)

    def save(self, closed: Sequence[Claim], boxes: Boxes, layouts: Sequence[Layout], conflicts: int) -> None:
        """Keep it anew. Raises InputError when a file cannot be written; then the old one stays."""
        document = {
            "format": FORMAT,
            "question": self.digest,
            "closed": [_kept(claim) for claim in closed],
            "cubes": list(_cubes(boxes, {one.box for one in closed if one.parts is None and one.price is None})),
            "layouts": [layout_to_json(layout) for layout in layouts],
            "conflicts": conflicts,
        }
        self.keep(document)


def _cubes(boxes: Boxes, closed: set[Size]) -> Iterator[dict[str, Any]]:
    """The cubes that are settled in boxes that are not."""
    for box in boxes.made():
        for number, place in enumerate(box.places):
            for but_found, settled in ((False, place.ruled_out), (True, place.exhausted)):
                for cube, under in settled.items():
                    for caps in under:
                        if box.size not in closed:
                            yield {
                                "box": list(box.size),
                                "place": number,
                                "row": [list(cell) for cell in cube],
                                "parts": caps.parts,
                                "price": caps.price,
                                "but_found": but_found,
                            }


class _Enough(Exception):
    """Nothing is to be written yet."""


def opened(path: Path, digest: str) -> Ledger:
    """The ledger at ``path``; an empty one where there is no such file.

    Raises InputError, one line with file, field and fault, for a file of another form, or of another question, or one
    that cannot be written.
    """

    def keep(document: dict[str, Any]) -> None:
        write_text(path, json.dumps(document) + "\n")

    with suppress(_Enough), streamed_file(path):
        raise _Enough  # it can be written; what is there stays
    if not path.exists():
        return Ledger(keep, digest)
    try:
        return _ledger(parse_json(read_text(str(path), "a search's file is JSON text")), digest, keep)
    except InputError as error:
        raise error.within(printable(str(path))) from None


def cached(cache: Cache, digest: str) -> Ledger:
    """The ledger in the user's cache; an empty one where it has none that can be read."""

    def keep(document: dict[str, Any]) -> None:
        cache.keep_settled(digest, document)

    document = cache.settled(digest)
    if document is not None:
        with suppress(InputError):
            return _ledger(document, digest, keep)
    return Ledger(keep, digest)


def _ledger(document: Any, digest: str, keep: Callable[[dict[str, Any]], None]) -> Ledger:
    check_document(document, "splitwright-search-1")
    if document["question"] != digest:
        another = "is another question's, or another version's of the model; name a new file"
        raise InputError(another, field="question")
    return Ledger(
        keep,
        digest,
        [_claim(one) for one in document["closed"]],
        [_settled(one) for one in document["cubes"]],
        [layout_from_json(one) for one in document["layouts"]],
        document["conflicts"],
    )


def _kept(claim: Claim) -> dict[str, Any]:
    """The claim without its scheme, which the digest tells."""
    document = claim.as_json()
    del document["scheme"]
    return document


def _settled(document: dict[str, Any]) -> Settled:
    row = tuple((x, y, z) for x, y, z in document["row"])
    box, but_found = _size(document["box"]), document["but_found"]
    return Settled(box, document["place"], row, document["parts"], document["price"], but_found)


def _claim(document: dict[str, Any]) -> Claim:
    implied = document["implied_by"]
    return Claim(
        box=_size(document["box"]),
        verdict="none exists",
        seconds=document["seconds"],
        handovers=tuple(document["handovers"]),
        parts=document["parts"],
        admitted=document["admitted"],
        refused=document["refused"],
        note=document["note"],
        price=document["price"],
        implied_by=_size(implied) if implied else None,
    )


def _size(numbers: Sequence[int]) -> Size:
    w, d, h = numbers
    return w, d, h
