"""What a command has shown is never ruled out: planted in its own site, cut to fit, with every other cell blocked.

Each layout, in each of its images, is asked for again by a spec that says no more than a user would: the site, the
split, no scheme. It is found, or left open where time ran out; "none exists" would be a false proof. Wherever layouts
are found in this file's own searches, they are of all schemes, both faces and several worlds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, REPOSITORY
from sim.errors import InputError
from sim.files.reading import load_layout
from sim.layout import ItemKind, Layout
from sim.rulebook import load_rulebook
from synth.decode import reading_order
from synth.images import images
from synth.judge import Judge
from synth.membership import is_admitted
from synth.model.grid import Grid
from synth.plots import windows
from synth.propose import first_layout, propose
from synth.read_off import spec_of_layout
from synth.request import Request
from synth.scope import needed_handovers, required_handovers
from synth.spec import Spec, StreamSpec

SECONDS = 40.0
"""For one search in a site with no free cell; it takes far less."""
SHOWN_S = 15.0
"""For one search that shows layouts."""
FILES = sorted([*LAYOUTS.glob("*.plan"), *(REPOSITORY / "specs" / "results").glob("*.plan")])


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
    return layout, replace(pinned, blocked=free, scheme=None)


def is_ruled_out(spec: Spec) -> bool:
    answer = first_layout(spec, Request(limit_s=SECONDS, workers=1))
    assert answer.proposals or not answer.complete or answer.rules_out(spec.size, required_handovers(spec))
    return answer.rules_out(spec.size, required_handovers(spec))


@pytest.mark.slow
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_image_of_a_layout_in_specs_is_ruled_out(path: Path) -> None:
    tried = [one for image in images(load_layout(path)) if (one := planted(image)) is not None]
    if not tried:
        pytest.skip("no row that splits its load")
    assert len(tried) == 8
    for _, spec in tried:
        assert not is_ruled_out(spec)


# -- what the searches themselves show --------------------------------------------------------------------------------


def asked(outputs: int, size: tuple[int, int, int], **more: Any) -> Spec:
    face = more.pop("face", "top")
    return Spec("", outputs, size, (StreamSpec("feed", "clay", face),), load_rulebook(), **more)


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
    """What a search shows: the first layout, the best, and another one, as far as they come in time."""
    spec, shown = ASKED[name], []
    request = Request(top=3, limit_s=SHOWN_S, workers=2, found=lambda proposal: shown.append(proposal.layout))
    propose(spec, request)
    return tuple(shown)


@pytest.mark.slow
@pytest.mark.parametrize("name", ASKED)
def test_nothing_that_a_search_shows_is_ruled_out(name: str) -> None:
    spec, layouts = ASKED[name], found(name)
    assert layouts
    for rank, layout in enumerate(layouts):
        assert is_admitted(layout, spec, windows(spec, needed_handovers(spec)))
        assert planted(layout, items=spec.items, overrides=spec.overrides) is not None
        for image in list(images(layout))[: 1 if rank else 8]:
            found_again = planted(image, items=spec.items, overrides=spec.overrides)
            assert found_again is None or not is_ruled_out(found_again[1])
