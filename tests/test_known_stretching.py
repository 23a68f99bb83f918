"""Rows made longer by columns that are alike; the simulator says whether they work."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Line, Relay
from synth.ask.spec import Spec, StreamSpec
from synth.confirm.judge import Judge
from synth.model.plots import Size
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_named
from synth.search.known.atlas import Atlas
from synth.search.known.build import KnownBuild, at_origin
from synth.search.known.stretching import outputs_of, row_of, runs_of, stretched

SPECS = Path(__file__).parent.parent / "specs"


def _spec(scheme: str, face: str, outputs: int, size: Size) -> Spec:
    plain, kind = load_spec(SPECS / "results" / "any-site.toml"), scheme_named(scheme)
    stream = StreamSpec("feed", "clay" if face == "top" else "charcoal", "top" if face == "top" else "side")
    return replace(
        plain, outputs=outputs, scheme=scheme, size=size, even_for=kind.even_for[-1], leftovers=kind.leaves,
        streams=(stream,),
    )  # fmt: skip


def _accepts(layout: Layout, outputs: int) -> bool:
    return Judge(_spec("burst row", "top", outputs, layout.size), (8,)).accepts(layout)


def _row_of_five() -> KnownBuild:
    layout = at_origin(load_layout(str(SPECS / "layouts" / "burst-row-of-five.plan")))
    return KnownBuild(layout, "burst row", "top", 5, (8, 7), "by hand", "")


@pytest.mark.parametrize("outputs", [3, 5, 8])
def test_a_row_of_five_made_longer_and_shorter_splits_evenly(outputs: int) -> None:
    build = _row_of_five()
    made = next(stretched(build, outputs))
    assert made.size[0] == build.layout.size[0] + outputs - 5
    assert outputs_of(made) == made.streams[0].outputs
    assert len(made.streams[0].outputs) == outputs
    assert _accepts(made, outputs)
    assert (made == build.layout) is (outputs == 5)


def test_a_row_longer_than_its_lines_reach_is_proposed_but_refused() -> None:
    assert not any(_accepts(one, 20) for one in stretched(_row_of_five(), 20))


def test_columns_that_are_alike_are_told_from_others() -> None:
    layout = _row_of_five().layout
    (run,) = runs_of(layout, 0)
    assert (run.gain, run.period) == (1, 1)
    assert run.groups >= 3
    assert runs_of(layout, 1) == []
    middle = (run.begin + run.end) // 2
    line = next(part for part in layout.parts if isinstance(part, Line) and part.at[0] == middle)
    other = replace(layout, parts=tuple(Relay(p.at, "E") if p == line else p for p in layout.parts))
    assert all(not one.begin <= middle < one.end for one in runs_of(other, 0))


def test_a_group_of_columns_that_repeats() -> None:
    layout = _row_of_five().layout
    (run,) = runs_of(layout, 0)
    marked = {run.begin, run.begin + 2}
    lines = [p for p in layout.parts if isinstance(p, Line) and p.at[0] in marked and p.at[1] == 0 and p.at[2] == 2]
    other = replace(layout, parts=tuple(Relay(p.at, "E") if p in lines else p for p in layout.parts))
    assert any(one.period == 2 and one.gain == 2 for one in runs_of(other, 0, 2))


def test_a_row_folded_in_two_gains_two_a_column_in_the_order_of_the_row() -> None:
    builds = [one for one in Atlas(SPECS / "atlas").stretchable("burst row", "top") if one.handovers == (8,)]
    build = next(one for one in builds if one.outputs == 8 and any(run.gain == 2 for run in runs_of(one.layout, 0)))
    made = next(one for one in stretched(build, 12) if one.size[0] == build.layout.size[0] + 2)
    row = row_of(made)
    assert len(row) == 13
    assert all(sum(abs(a - b) for a, b in zip(*pair, strict=True)) == 1 for pair in pairwise(row))
    assert [x for x, _, _ in made.streams[0].outputs] == [x for x, _, _ in row[1:]]
    assert _accepts(made, 12)
