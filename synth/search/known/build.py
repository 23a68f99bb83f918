"""What is kept of searches: builds, proofs that none exists, and efforts that found none.

A build is only ever a suggestion: whoever takes one runs it in the simulator again. A claim is taken as it stands, so
it counts only where its ``laws`` are those in force (``proofs_digest``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final, Protocol

from sim.errors import InputError
from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.schema import check_document
from sim.world.layout import Layout
from synth.ask.spec import Face
from synth.model.images import boxed
from synth.model.plots import Size

SCHEMA: Final = "splitwright-atlas-1"
STREAM: Final = "feed"
"""The name of a known build's one stream."""


@dataclass(frozen=True)
class KnownBuild:
    """A layout that a search confirmed: moved to the origin, its size the box around its parts, one stream, "feed".

    Its items and its overrides of the rulebook are as the layout has them. ``handovers``: under which it was confirmed
    when it was made; ``how``: one line on how it was made; ``laws``: the ``proofs_digest`` of then.
    Raises ValueError for a layout that is not as ``at_origin`` makes it, or has another number of outputs.
    """

    layout: Layout
    scheme: str
    face: Face
    outputs: int
    handovers: tuple[int, ...]
    how: str
    laws: str

    def __post_init__(self) -> None:
        if self.layout != at_origin(self.layout):
            raise ValueError(f"must be the box around its parts, have no title, and one stream, {STREAM}")
        if len(self.layout.streams[0].outputs) != self.outputs:
            raise ValueError(f"must have {self.outputs} outputs")

    def as_json(self) -> dict[str, Any]:
        """The document of the schema's "build"."""
        document = {name: getattr(self, name) for name in ("scheme", "face", "outputs", "how", "laws")}
        plan = layout_to_plan(self.layout).splitlines()
        return {**document, "handovers": list(self.handovers), "plan": plan}


@dataclass(frozen=True, slots=True)
class KnownClaim:
    """Proved: no layout of the scheme stands in the box (w >= d), on open ground, with at most ``parts`` parts (None:
    with any number), that splits evenly under all of the handovers.

    As the exact search has it: the row may bend, the source bin may stand anywhere, each T may be locked or not. Even
    for streams where the scheme is (``propose`` holds it to that), else for bursts; with items of which a slot takes
    the rulebook's ``stack``.
    """

    scheme: str
    face: Face
    outputs: int
    handovers: tuple[int, ...]
    box: Size
    parts: int | None
    laws: str

    def as_json(self) -> dict[str, Any]:
        """The document of the schema's "claim"."""
        return _document(self)


@dataclass(frozen=True, slots=True)
class KnownFailure:
    """Looked for in the box with so many conflicts, and not found. No proof: a hint where not to begin."""

    scheme: str
    face: Face
    outputs: int
    handovers: tuple[int, ...]
    box: Size
    effort: int
    laws: str

    def as_json(self) -> dict[str, Any]:
        """The document of the schema's "failure"."""
        return _document(self)


class Store(Protocol):
    """Where known builds come from. What cannot be read is passed over and told in ``faults``."""

    @property
    def faults(self) -> list[str]:
        """One line for each file or entry that was passed over, in the order they were met."""

    def builds(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownBuild]:
        """The builds of a row, whatever laws they were made under."""

    def stretchable(self, scheme: str, face: Face) -> Sequence[KnownBuild]:
        """The builds of all lengths of row."""

    def claims(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownClaim]:
        """All claims on a row; those of other laws too."""

    def failures(self, scheme: str, face: Face, outputs: int) -> Sequence[KnownFailure]:
        """All failures on a row; those of other laws too."""


def at_origin(layout: Layout) -> Layout:
    """The layout with its stream called "feed", moved to the origin, its size the box around its parts: as it is kept.

    Raises ValueError for a layout of no part, or of no or several streams.
    """
    if len(layout.streams) != 1 or not layout.parts:
        raise ValueError("must have one stream")
    return boxed(replace(layout, title="", streams=(replace(layout.streams[0], name=STREAM),)))


def build_of(document: Any) -> KnownBuild:
    """The build that a document states. Raises InputError with the field and the fault."""
    check_document(document, SCHEMA, "build")
    known = {key: value for key, value in _tuples(document).items() if key != "plan"}
    try:
        return KnownBuild(layout_from_plan("\n".join(document["plan"])), **known)
    except InputError as error:
        raise error.under("plan") from None
    except ValueError as error:
        raise InputError(str(error), field="plan") from None


def claim_of(document: Any) -> KnownClaim:
    """The claim that a document states. Raises InputError with the field and the fault."""
    check_document(document, SCHEMA, "claim")
    return KnownClaim(**_tuples(document))


def failure_of(document: Any) -> KnownFailure:
    """The failure that a document states. Raises InputError with the field and the fault."""
    check_document(document, SCHEMA, "failure")
    return KnownFailure(**_tuples(document))


def _document(one: KnownClaim | KnownFailure) -> dict[str, Any]:
    document = {field.name: getattr(one, field.name) for field in fields(one)}
    return {key: list(value) if isinstance(value, tuple) else value for key, value in document.items()}


def _tuples(document: dict[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in document.items()}
