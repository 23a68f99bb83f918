"""A claim about a box speaks for every place of it, whichever place was searched last."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sim.files.reading import load_layout
from synth import propose as module
from synth.box_search import Counts
from synth.confirm import confirm
from synth.measures import measured
from synth.plots import plots
from synth.request import Request
from synth.result import Proposal
from synth.spec_file import load_spec


def outcomes_in_turn(*outcomes: str) -> type:
    """A stand-in for the search in one box: each one made answers the next of ``outcomes``."""
    left = list(outcomes)

    class Fake:
        def __init__(self, *_: Any) -> None:
            self.counts, self.seconds, self.outcome = Counts(), 0.0, left.pop(0)

        def at_most_parts(self, most: int) -> None:
            pass

        def next(self, effort: Any) -> tuple[str, None]:
            return self.outcome, None

    return Fake


@pytest.mark.parametrize(
    ("outcomes", "verdict"),
    [
        (("stopped", "none exists"), "open"),
        (("none exists", "stopped"), "open"),
        (("none exists", "none exists"), "none exists"),
    ],
)
def test_fewer_parts_are_ruled_out_only_at_every_place(
    outcomes: tuple[str, str], verdict: str, repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec = load_spec(repository / "specs" / "three-kilns.toml")
    layout = load_layout(repository / "specs" / "layouts" / "burst-row-of-three.plan")
    found = Proposal(layout, measured(layout, confirm(layout, spec.rules, needed=(8, 7)), spec))
    w, d, h = found.measures.box
    spec = replace(spec, size=(w + 1, d, h), blocked=frozenset({(0, 0, h - 1)}))
    assert len(plots(spec, (w, d, h))) == 2

    search = module._Search(spec, Request(top=1), (8, 7))
    search.answer.proposals.append(found)
    monkeypatch.setattr(module, "BoxSearch", outcomes_in_turn(*outcomes))
    search._better()

    (claim,) = search.answer.claims
    assert (claim.box, claim.parts, claim.verdict) == ((w, d, h), found.measures.parts - 1, verdict)


def test_a_place_not_reached_in_time_leaves_the_claim_open(repository: Path) -> None:
    spec = load_spec(repository / "specs" / "three-kilns.toml")
    layout = load_layout(repository / "specs" / "layouts" / "burst-row-of-three.plan")
    search = module._Search(spec, Request(top=1, limit_s=0.0), (8, 7))
    search.answer.proposals.append(
        Proposal(layout, measured(layout, confirm(layout, spec.rules, needed=(8, 7)), spec))
    )
    search._better()
    assert [claim.verdict for claim in search.answer.claims] == ["open"]
