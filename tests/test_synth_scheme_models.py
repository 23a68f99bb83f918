"""The constraint model of every scheme against the simulator: candidates keep the lock table, images are admitted.

The lock table is looked at in the simulator by ``read_locks``, which fills the watched nodes and lets the signals
settle, also with one number unlike the others.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from sim.world.layout import Layout
from sim.world.parts import Gauge, Node, Relay
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.decode import box_cells, layout_of
from synth.model.images import TURNS, turned
from synth.model.plots import Plot, Size, question_for, windows
from synth.model.vocabulary import (
    FURNACE,
    LINE,
    SUPPORT,
    Kind,
    Vocabulary,
    drop_node,
    gauge,
    inverter,
    relay,
    row_node,
    source_bin,
)
from synth.read.layout import spec_of_layout
from synth.read.locks import fits
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import Scheme
from synth.solving.cadical import Cadical
from synth.solving.cp_sat import CpSat, Effort
from synth.solving.cuts import same_parts

SPECS = Path(__file__).resolve().parent.parent / "specs"
BOTH = (8, 7)
BOXES: dict[str, Size] = {
    "burst row": (4, 2, 4),
    "undrained row": (3, 2, 4),
    "headed undrained row": (4, 2, 4),
    "muster row": (4, 2, 4),
    "brimmed row": (4, 2, 4),
}
"""A box for two kilns in which each scheme has layouts."""
CANDIDATES = 3
FAR = 120.0


def spec_for(scheme: Scheme, outputs: int = 2) -> Spec:
    spec = load_spec(SPECS / "two-kilns.toml")
    return replace(
        spec, outputs=outputs, scheme=scheme.name, even_for=scheme.even_for[-1], leftovers=scheme.leaves,
        size=BOXES[scheme.name],
    )  # fmt: skip


@cache
def model(name: str) -> Vocabulary:
    """Two kilns in the scheme's box, no image broken away."""
    spec = spec_for(scheme_named(name))
    asked = question_for(spec, Plot((0, 0, 0), spec.size), windows(spec, BOTH))
    return model_of(replace(asked, break_symmetry=False))


@cache
def candidates(name: str) -> tuple[Layout, ...]:
    """Different solutions of the model, as the solver has them: nothing stripped, nothing confirmed."""
    v, spec = model(name), spec_for(scheme_named(name))
    solver, found = CpSat(v.clauses), []
    for seed in range(CANDIDATES):
        answer = solver.solve(Effort(FAR, seed))
        assert answer.outcome == "found"
        found.append(layout_of(v, answer.holds, spec))
        signals = [part for part in found[-1].parts if part.kind in ("gauge", "inverter", "relay", "line")]
        solver.forbid_not(same_parts(v, answer.holds, box_cells(v, signals)))
    return tuple(found)


@pytest.mark.parametrize("name", BOXES)
def test_what_the_model_admits_keeps_the_lock_table(name: str) -> None:
    for layout in candidates(name):
        _, (reading,) = spec_of_layout(layout)
        assert fits(layout, reading.stream, scheme_named(name), reading.row, reading.drops)


@pytest.mark.parametrize("name", BOXES)
def test_most_candidates_pass_every_trial(name: str) -> None:
    """So the windows and the table say nearly all that matters."""
    judge = Judge(spec_for(scheme_named(name)), BOTH)
    accepted = sum(judge.accepts(layout) for layout in candidates(name))
    assert accepted >= CANDIDATES - 1


@pytest.mark.parametrize("name", BOXES)
def test_every_image_of_a_candidate_is_admitted(name: str) -> None:
    """The model with every cell given has a solution, for each of the eight images that fits the box; and none when a
    gauge is taken away."""
    v = model(name)
    with closing(Cadical(v.clauses)) as solver:
        admitted = 0
        for turn in TURNS:
            image = turned(candidates(name)[0], turn)
            if all(has <= room for has, room in zip(image.size, v.question.grid.size, strict=True)):
                assert solver.solve(filling(v, image)), image
                admitted += 1
        assert admitted >= 2
        bare = replace(image, parts=tuple(part for part in image.parts if not isinstance(part, Gauge)))
        assert solver.solve(filling(v, bare)) is False


def filling(v: Vocabulary, layout: Layout) -> list[Lit]:
    """What every cell of the box holds."""
    chosen = kinds_of(v, layout)
    literals = []
    for cell, kinds in v.kind.items():
        literals.append(kinds[chosen.get(cell, Kind("empty"))])
        part = layout.by_cell.get(cell)
        literals.append(v.delay[cell][part.delay if isinstance(part, Relay) else 1])
    return literals


def kinds_of(v: Vocabulary, layout: Layout) -> dict[tuple[int, int, int], Kind]:
    """The model's word for each part."""
    scheme = v.question.scheme
    _, (reading,) = spec_of_layout(layout)
    numbers = {cell: ("T", i) for i, cell in enumerate(reading.row, scheme.first)}
    numbers |= {cell: ("B", i) for i, cell in enumerate(reading.drops, 1)}
    kinds: dict[tuple[int, int, int], Kind] = {}
    for part in layout.parts:
        x, y, z = part.at
        match part.kind:
            case "support" | "line" | "furnace":
                kinds[part.at] = {"support": SUPPORT, "line": LINE, "furnace": FURNACE}[part.kind]
            case "bin":
                kinds[part.at] = source_bin(0)
            case "inverter":
                kinds[part.at] = inverter(part.mount)  # type: ignore[union-attr]
            case "relay":
                kinds[part.at] = relay(part.output)  # type: ignore[union-attr]
            case "node":
                assert isinstance(part, Node)
                role, i = numbers[part.at]
                kinds[part.at] = row_node(0, i) if role == "T" else drop_node(0, part.outlet)
            case "gauge":
                assert isinstance(part, Gauge)
                dx, dy = {"E": (-1, 0), "W": (1, 0), "N": (0, -1), "S": (0, 1)}[part.output]
                near, far = (x + dx, y + dy, z), (x + 2 * dx, y + 2 * dy, z)
                role, i = numbers[near] if near in numbers else numbers[far]
                label = next(
                    watch.label for watch in scheme.watches
                    if watch.nodes.role == role and i in scheme.members(watch.nodes, v.question.outputs)
                )  # fmt: skip
                kinds[part.at] = gauge(part.output, 0, label)
    return kinds


def test_every_scheme_has_a_box_here_or_is_for_more_outputs() -> None:
    """The gated row's boxes are too large for a solver that is told nothing: tests/test_gated_row.py."""
    assert {*BOXES, "gated row"} == {name for name, scheme in schemes().items() if scheme.outputs_least <= 2}
