"""Wiring that does nothing: what builders get wrong is told, and nothing is told of builds that work."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sim.analysis.checks import design_findings
from sim.analysis.idle_wiring import builders_findings, idle_wiring
from sim.world.files.reading import load_layout
from sim.world.geometry import HORIZONTAL, Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Line, Part, Relay
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from synth.schemes.registry import schemes
from synth.search.known.atlas import atlas
from synth.search.known.laid import LaidRows

SPECS = Path(__file__).parent.parent / "specs"
RULES = default_rules()
PLANS = sorted(SPECS.rglob("*.plan"))


def found(layout: Layout) -> list[tuple[str, Cell | None]]:
    return [(one.check, one.at) for one in idle_wiring(layout, layout.rules_in_force(RULES))]


def layout_of(name: str) -> Layout:
    return load_layout(str(SPECS / "layouts" / f"{name}.plan"))


def with_part(layout: Layout, old: Part, new: Part | None) -> Layout:
    parts = (new if part is old else part for part in layout.parts)
    return replace(layout, parts=tuple(part for part in parts if part is not None))


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_no_false_alarm_over_the_layouts_that_come_along(path: Path) -> None:
    layout = load_layout(str(path))
    assert not found(layout) or design_findings(layout), "only of what other checks find fault with anyway"


@pytest.mark.parametrize("scheme", schemes())
def test_no_false_alarm_over_known_and_laid_builds(scheme: str) -> None:
    for face in ("top", "side"):
        laid = [one for outputs in range(2, 25) for one in LaidRows().builds(scheme, face, outputs)[:2]]
        for build in [*atlas().stretchable(scheme, face), *laid]:
            assert not found(build.layout), (build.how, build.outputs)


@pytest.mark.parametrize("name", ["burst-row-of-three", "burst-row-of-five", "gated-row-of-eight"])
def test_a_gauge_or_relay_turned_the_wrong_way_is_told(name: str) -> None:
    """Each of them in each other direction: where the build splits no more, something is told of it."""
    layout = layout_of(name)
    count = len(layout.streams[0].outputs)
    told = 0
    for part in layout.parts:
        for output in HORIZONTAL:
            if isinstance(part, (Gauge, Relay)) and output != part.output:
                turned = with_part(layout, part, replace(part, output=output))
                works = run_trial(turned, [Arrival(0, "feed", 18 * count)], limit=20_000).is_even
                told += bool(found(turned) or design_findings(turned))
                assert works or found(turned) or design_findings(turned), (part, output)
    assert told


def test_a_gauge_turned_into_the_air() -> None:
    layout = layout_of("gated-row-of-eight")
    gauge = next(part for part in layout.parts if isinstance(part, Gauge) and part.at == (12, 1, 2))
    turned = with_part(layout, gauge, replace(gauge, output="S", at=gauge.at))
    texts = [one.text for one in builders_findings(turned)]
    assert any("gauge at 12,1,2" in text for text in texts), texts


def test_a_lock_line_with_a_gap_leaves_nodes_behind() -> None:
    layout = layout_of("gated-row-of-eight")
    gap = layout.by_cell[7, 0, 2]
    assert isinstance(gap, Line)
    told = found(with_part(layout, gap, None))
    assert ("no source", (4, 0, 2)) in told
    text = next(one.text for one in idle_wiring(with_part(layout, gap, None), RULES) if one.check == "no source")
    assert text.endswith("a line at 7,0,2 would join it to one that is fed")
    # the node beside the gap, and those beyond it
    assert {at for check, at in told if check == "never locked"} == {(x, 1, 1) for x in (4, 5, 6, 7)}


def test_a_relay_that_faces_the_wrong_way_can_never_be_on() -> None:
    layout = layout_of("gated-row-of-eight")
    relay = layout.by_cell[10, 3, 2]
    assert isinstance(relay, Relay)
    told = list(idle_wiring(with_part(layout, relay, replace(relay, output="S")), RULES))
    (text,) = [one.text for one in told if one.at == (10, 3, 2)]
    assert "can never be on: no signal comes to the cell behind it at 10,4,2" in text


def test_a_relay_that_only_bends_a_line_is_no_idle_part() -> None:
    """A muster row of three has one: without it the line beside it would point elsewhere."""
    builds = [one for one in atlas().builds("muster row", "top", 3) if one.layout.size == (4, 3, 4)]
    assert builds
    assert all(not found(one.layout) for one in builds)


def test_proposals_are_not_refused_for_it() -> None:
    """The judge asks the design checks alone: an idle part does no harm."""
    layout = layout_of("burst-row-of-three")
    free = next(
        (x, y, 0)
        for x in range(layout.size[0]) for y in range(layout.size[1])
        if (x, y, 0) not in layout.by_cell and (x, y, 1) not in layout.by_cell
    )  # fmt: skip
    odd = replace(layout, parts=(*layout.parts, Line(free)))
    assert [check for check, _ in found(odd)] == ["no source"]
    assert not design_findings(odd)
    assert len(builders_findings(odd)) == 1


def test_of_a_chain_that_breaks_off_the_last_part_alone_is_named() -> None:
    """Not the good gauge at its beginning: found by trial, as a cure that did harm."""
    layout = layout_of("gated-row-of-eight")
    relay = layout.by_cell[4, 5, 0]
    assert isinstance(relay, Relay)
    beyond = layout.by_cell[3, 5, 0]
    assert isinstance(beyond, Line)
    told = [at for check, at in found(with_part(layout, beyond, None)) if check == "drives nothing"]
    assert told == [(4, 5, 0)], "the relay before the gap, not the relay and the gauge before that"
