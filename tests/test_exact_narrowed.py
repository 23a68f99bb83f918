"""What narrows a search never counts as a proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sim.world.files.reading import load_layout
from synth.model.plots import windows
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_of
from synth.search.exact.boxes import Boxes
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, Near
from synth.search.exact.rounds import _whole

SPECS = Path(__file__).resolve().parent.parent / "specs"
SPEC = replace(load_spec(SPECS / "two-kilns.toml"), scheme="burst row")


def job(**changed: Any) -> Job:
    """A job of the smallest box, with some of it changed."""
    place = Boxes(SPEC, windows(SPEC, (8, 7)))[4, 2, 4].places[0]
    question = replace(place.question, **{key: value for key, value in changed.items() if hasattr(place.question, key)})
    rest = {key: value for key, value in changed.items() if not hasattr(place.question, key)}
    return replace(Job(SPEC, question, (8, 7), tuple(place.cubes[:1]), Caps(), 100), **rest)


def test_a_whole_question_is_taken() -> None:
    assert _whole(job()) == job()
    assert scheme_of(SPEC).name == "burst row"


@pytest.mark.parametrize(
    "narrowed",
    [
        {"row_unlocked": True},
        {"repeat": (1, 2)},
        {"lines_told": True},
        {"near": Near(load_layout(str(SPECS / "layouts" / "burst-row-of-two.plan")), frozenset())},
    ],
    ids=lambda one: next(iter(one)),
)
def test_a_narrowed_one_is_no_ground_for_claims(narrowed: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="proves nothing"):
        _whole(job(**narrowed))
