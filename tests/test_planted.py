"""What a command has shown is never ruled out: planted in its own site, cut to fit, with every other cell blocked.

Each layout, in each of its images, is asked for again in a site in which nothing else can stand. It is found, or left
open where a budget ran out; "none exists" would be a false proof, and so would a bound that it does not keep to.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, REPOSITORY
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.layout import ItemKind, Layout
from sim.world.rulebook import load_rulebook
from synth.ask.spec import Spec, StreamSpec
from synth.confirm.judge import Judge
from synth.confirm.membership import is_admitted
from synth.confirm.proposal import Proposal
from synth.model.decode import reading_order
from synth.model.grid import Grid
from synth.model.images import images
from synth.model.plots import sizes, volume, windows
from synth.read.layout import spec_of_layout
from synth.schemes.registry import scheme_of
from synth.search.exact.bounds import fewest_parts
from synth.search.exact.boxes import Boxes
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, steps_of
from synth.search.race import first_layout, propose
from synth.search.request import Request
from synth.search.scope import needed_handovers, required_handovers

SECONDS = 120.0
"""For one search in a site with no free cell; it takes far less."""
CONFLICTS = 50_000
LARGE = 25
"""Parts from which on two images of a layout are looked at, not all eight."""
SHOWN = 2
"""Layouts that a search is to show."""
FILES = sorted([*LAYOUTS.glob("*.plan"), *(REPOSITORY / "specs" / "results").glob("*.plan")])
FILES = [path for path in FILES if path.stem not in ("gated-row-of-six", "gated-row-of-eight")]
"""Not the longer gated rows, which take a minute each: that the model admits them is tests/test_gated_row.py's."""


def planted(layout: Layout, **more: object) -> tuple[Layout, Spec] | None:
    """The layout with its parts in reading order, and the spec of its site with all free cells blocked; None where no
    search would show it: it is of no scheme, or does not pass."""
    layout = replace(layout, parts=tuple(sorted(layout.parts, key=lambda part: reading_order(part.at))))
    try:
        read, _ = spec_of_layout(layout)
    except InputError:
        return None
    pinned = replace(read, **more)  # type: ignore[arg-type]
    if not Judge(pinned, required_handovers(pinned)).accepts(layout):
        return None
    free = frozenset(cell for cell in Grid(layout.size) if cell not in layout.by_cell)
    return layout, replace(pinned, blocked=free)


def assert_not_ruled_out(layout: Layout, spec: Spec) -> None:
    """The exact search of the whole site finds a layout, or leaves it open, of any number of parts and of no more than
    the layout has; and no bound that needs no solver speaks against it."""
    needed = required_handovers(spec)
    assert spec.size in sizes(spec, volume)
    assert fewest_parts(spec) <= len(layout.parts)
    assert scheme_of(spec).quickest(spec.rules, spec.outputs, windows(spec, needed)) <= Judge(spec, needed).as_it_is(
        layout
    ).measures.latency
    (place,) = Boxes(spec, windows(spec, needed))[spec.size].places
    for caps in (Caps(), Caps(parts=len(layout.parts))):
        *_, report = steps_of(Job(spec, place.question, needed, tuple(place.cubes), caps, CONFLICTS))
        assert report.found or report.open, spec.title


@pytest.mark.slow
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_image_of_a_layout_in_specs_is_ruled_out(path: Path) -> None:
    layout = load_layout(path)
    seen = list(images(layout))[:: 1 if len(layout.parts) < LARGE else 4]
    tried = [one for image in seen if (one := planted(image)) is not None]
    if not tried:
        pytest.skip("no row that splits its load")
    assert len(tried) == len(seen)
    for planted_there, spec in tried:
        assert_not_ruled_out(planted_there, spec)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["burst-row-of-two", "row-of-three-no-drain"])
def test_asked_as_a_user_would_it_is_found(name: str) -> None:
    """No scheme, no more than the site and the split."""
    found_there = planted(load_layout(LAYOUTS / f"{name}.plan"))
    assert found_there is not None
    answer = first_layout(replace(found_there[1], scheme=None), Request(limit_s=SECONDS, workers=2))
    assert answer.proposals


# -- what the searches themselves show --------------------------------------------------------------------------------


def asked(outputs: int, size: tuple[int, int, int], **more: Any) -> Spec:
    face = more.pop("face", "top")
    item = "clay" if face == "top" else "charcoal"
    return Spec("", outputs, size, (StreamSpec("feed", item, face),), load_rulebook(), **more)


ASKED: Mapping[str, Spec] = {
    "burst": asked(2, (4, 2, 4), scheme="burst row"),
    "burst of three": asked(3, (5, 2, 4), scheme="burst row"),
    "burst from the side": asked(2, (4, 3, 3), scheme="burst row", face="side"),
    "undrained": asked(3, (4, 2, 4), scheme="undrained row", leftovers="hold"),
    "headed": asked(3, (5, 2, 4), scheme="headed undrained row", leftovers="hold"),
    "muster": asked(2, (4, 2, 4), scheme="muster row", even_for="stream"),
    "brimmed": asked(2, (4, 2, 4), scheme="brimmed row", even_for="stream", leftovers="hold"),
    "reach of one": asked(2, (5, 3, 4), scheme="undrained row", leftovers="hold", overrides={"reach": 1}),
    "small stacks": asked(2, (4, 2, 4), scheme="burst row", items={"clay": ItemKind(stack=16)}),
    "stacks of one": asked(2, (4, 3, 4), scheme="undrained row", leftovers="hold", items={"clay": ItemKind(stack=1)}),
}


@cache
def found(name: str) -> tuple[Layout, ...]:
    """The first layouts that a search shows, the last of them better than those before."""
    shown: list[Layout] = []
    enough = threading.Event()

    def keep(proposal: Proposal) -> None:
        shown.append(proposal.layout)
        if len(shown) == SHOWN:
            enough.set()

    propose(ASKED[name], Request(top=SHOWN, limit_s=SECONDS, workers=2, found=keep, stop=enough))
    return tuple(shown)


@pytest.mark.slow
@pytest.mark.parametrize("name", ASKED)
def test_nothing_that_a_search_shows_is_ruled_out(name: str) -> None:
    spec, layouts = ASKED[name], found(name)
    assert layouts
    for rank, layout in enumerate(layouts):
        assert is_admitted(layout, spec, windows(spec, needed_handovers(spec)))
        assert planted(layout, items=spec.items, overrides=spec.overrides) is not None
        for image in list(images(layout))[:: 8 if rank else 2]:
            found_again = planted(image, items=spec.items, overrides=spec.overrides)
            if found_again is not None:
                assert_not_ruled_out(*found_again)
