"""Cross-sections of halls: nothing that stands in a hall is ruled out, boxes within ruled-out ones are ruled out too,
and what is kept counts only under what it rests on."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sim.world.geometry import Cell
from sim.world.parts import Furnace, Inverter, Node, Part, Relay
from sim.world.rulebook import default_rules
from synth.hall import section_bounds
from synth.hall.cross_section import EMPTY, Kind, SectionModel, SectionQuestion, settle_section
from synth.hall.kits import Kit, Tools, kits
from synth.hall.piece_file import PieceFile, shipped_file
from synth.hall.section_bounds import boxes_below, boxes_of, document_of, section_bound
from synth.hall.spec_file import hall_from_toml
from synth.hall.wing import Wing
from synth.solving.budget import Budget
from synth.solving.cp_sat import CpSat, Effort
from synth.solving.proofs_rest_on import SECTIONS, proofs_digest

RULES = default_rules()
BURST = ("burst row", "burst row")
SPEC = """title = "Brickyard"
[hall]
furnaces = 12
sides = 2
fires = "clay"
fuel = "charcoal"
[split]
leftovers = "hold"
[items.clay]
fires_to = "brick"
"""
LIMIT = 600.0


def kept_kits() -> Iterator[Kit]:
    """All kits of the shipped pieces that a spec which leaves everything open can use; nothing is searched for."""
    tools = Tools(PieceFile(shipped_file()), Budget(60.0), 1, 0, lambda _: None)
    for kit in kits(hall_from_toml(SPEC), None, tools):
        if not kit.feed.relay and {kit.feed.scheme, kit.fuel.scheme} <= {"burst row", "undrained row"}:
            yield kit


KITS = {f"{kit.feed.scheme}, {kit.fuel.scheme}, {kit.end}": kit for kit in kept_kits()}


def column(kit: Kit) -> dict[Cell, Part]:
    """One of the columns that are alike, moved so that lanes and layers count from 0."""
    wing = Wing(8, kit.feed, kit.fuel, kit.end)
    low, x = wing.depth[0], 5
    parts = [part for part in wing.parts() if part.at[0] == x]
    return {(0, part.at[1] - low, part.at[2]): part for part in parts}


def plant(model: SectionModel, parts: dict[Cell, Part]) -> None:
    """Each cell of the box holds just what stands there."""
    for cell, kinds in model.at.items():
        allowed = [lit for kind, lit in kinds.items() if is_it(kind, parts.get(cell))]
        model.clauses.add(*allowed)


def is_it(kind: Kind, part: Part | None) -> bool:
    if part is None:
        return kind == EMPTY
    if isinstance(part, (Node, Furnace)):
        return kind.name == part.kind
    if isinstance(part, (Inverter, Relay)):
        return kind.name == part.kind and kind.direction == (part.mount if isinstance(part, Inverter) else part.output)
    return kind.name == part.kind


def test_there_are_kits_of_both_schemes_and_both_kinds_of_wing() -> None:
    assert {kit.feed.scheme for kit in KITS.values()} == {"burst row", "undrained row"}
    assert "straight on" in {kit.end for kit in KITS.values()}
    assert len(KITS) >= 3


@pytest.mark.parametrize("name", KITS)
def test_no_column_of_a_hall_is_ruled_out(name: str) -> None:
    kit = KITS[name]
    parts = column(kit)
    lanes = max(y for _, y, _ in parts) + 1
    question = SectionQuestion(lanes, 5, (kit.feed.scheme, kit.fuel.scheme))  # type: ignore[arg-type]
    model = SectionModel(question)
    plant(model, parts)
    assert CpSat(model.clauses).solve(Effort(LIMIT)).outcome == "found"


@pytest.mark.parametrize("kind", ["line", "support", "inverter"])
def test_a_column_without_a_part_of_its_lock_is_ruled_out(kind: str) -> None:
    """Each wiring part of the close wing's column is needed."""
    parts = column(KITS["burst row, burst row, straight on"])
    for at in [cell for cell, part in parts.items() if part.kind == kind]:
        model = SectionModel(SectionQuestion(4, 5, BURST))
        plant(model, {cell: part for cell, part in parts.items() if cell != at})
        assert CpSat(model.clauses).solve(Effort(LIMIT)).outcome == "none exists", at


@pytest.mark.parametrize(("lanes", "layers"), [(3, 6), (4, 4), (2, 9), (3, 5)])
def test_no_burst_rows_stand_in_less(lanes: int, layers: int) -> None:
    answer = settle_section(SectionQuestion(lanes, layers, BURST), LIMIT)
    assert (answer.outcome, answer.proved) == ("none exists", True)


def test_four_lanes_and_five_layers_do_with_twelve_parts_a_column() -> None:
    """By hand: furnace, two T, two B, a product node; each lock needs a line and what it lies on, and word from T0 to
    TN, or an inverter instead, one part more a row where a run can lie on the ground."""
    answer = settle_section(SectionQuestion(4, 5, BURST), LIMIT)
    assert (answer.outcome, answer.proved, len(answer.parts)) == ("found", True, 12)


def test_without_word_from_the_head_a_row_needs_one_run_less() -> None:
    undrained = settle_section(SectionQuestion(4, 5, ("undrained row", "undrained row")), LIMIT)
    assert (undrained.outcome, len(undrained.parts)) == ("found", 10)


def test_a_run_that_leads_nowhere_else_does_not_tell_both_ends() -> None:
    """A burst row with one net and no inverter would have to be live when T0 holds and TN is empty alone."""
    model = SectionModel(SectionQuestion(4, 5, BURST))
    parts = column(KITS["burst row, burst row, straight on"])
    without = {cell: part for cell, part in parts.items() if cell not in {(0, 3, 3), (0, 3, 4)}}
    plant(model, without)
    assert CpSat(model.clauses).solve(Effort(LIMIT)).outcome == "none exists"


@pytest.mark.parametrize("area", [7, 20, 36])
def test_every_smaller_box_lies_within_one_of_those_below(area: int) -> None:
    below = boxes_below(area)
    assert all(lanes * layers < area for lanes, layers in below)
    for lanes in range(1, area):
        for layers in range(1, (area - 1) // lanes + 1):
            assert any(lanes <= one and layers <= other for one, other in below)
    assert {lanes * layers for lanes, layers in boxes_of(area)} == {area}


def test_what_is_kept_gives_a_bound_and_only_under_what_it_rests_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = section_bound(BURST, RULES)
    assert kept is not None
    assert (kept.cells, kept.of(16)) == (20, 320)
    assert section_bound(BURST, RULES.with_overrides({"gauge_delay": 4})) is None, "other delays"
    assert section_bound(("brimmed row", "burst row"), RULES) is None, "never settled"
    assert proofs_digest(RULES, SECTIONS) != proofs_digest(RULES.with_overrides({"period": 9}), SECTIONS)
    document = json.loads(section_bounds.sections_file().read_text(encoding="utf-8"))
    for change in ({"verdict": "stopped"}, {"proved": False}):
        spoiled = {**document, "sections": [spoil(one, change) for one in document["sections"]]}
        monkeypatch.setattr(section_bounds, "_kept", lambda spoiled=spoiled: spoiled)
        assert section_bound(BURST, RULES) is None, "a box of less area is open, or the least one is not the fewest"


def spoil(one: dict[str, object], change: dict[str, object]) -> dict[str, object]:
    is_open = (one["lanes"], one["layers"]) == (3, 6) if "verdict" in change else one["verdict"] == "found"
    return {**one, **change} if is_open else one


def test_two_wings_across_take_less_than_two_of_one() -> None:
    one, two = section_bound(BURST, RULES), section_bound(BURST, RULES, wings=2)
    assert one is not None
    assert two is not None
    assert one.cells < two.cells < 2 * one.cells


def test_an_answer_that_ran_out_of_time_is_no_proof() -> None:
    answer = settle_section(SectionQuestion(7, 5, BURST, wings=2), 0.0)
    assert (answer.outcome, answer.proved) == ("stopped", False)
    (kept,) = document_of([answer], RULES)["sections"]
    assert (kept["verdict"], kept["proved"]) == ("stopped", False)


def test_wings_of_two_have_rows_of_two() -> None:
    question = SectionQuestion(4, 9, BURST, wings=2)
    assert len(question.rows) == 4
    assert len(replace(question, wings=1).rows) == 2
