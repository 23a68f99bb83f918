"""``splitwright probe``: the build that shows a world's handover, also in the second simulator."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from commands import REPOSITORY, document, run
from oracle import naive
from sim.analysis.checks import design_findings
from sim.analysis.probing import probed
from sim.world.files.layout_json import layout_to_json
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Relay
from sim.world.rulebook import default_rules, known_handovers
from sim.world.trial import Arrival, Trial

PLAN = REPOSITORY / "specs" / "probe" / "handover.plan"
ENDS = {8: (4, 1, 1), 7: (3, 0, 0)}


def build() -> Layout:
    return load_layout(str(PLAN))


def test_it_tells_every_known_handover_in_every_update_order() -> None:
    found = probed(build(), default_rules(), known_handovers())
    assert found.tells
    assert found.orders == 120
    assert found.ends == {handover: (cell,) for handover, cell in ENDS.items()}
    assert design_findings(build(), default_rules()) == []


@pytest.mark.parametrize("handover", ENDS)
def test_the_second_simulator_shows_the_same(handover: int) -> None:
    layout, cells, rng = layout_to_json(build()), [part.at for part in build().machines], random.Random(handover)
    for _ in range(20):
        order = rng.sample(cells, len(cells))
        result = naive.run(layout, loads={"feed": 1}, handover=handover, order=order, max_ticks=1_000)
        assert result["streams"][0]["delivered"] == [int(ENDS[handover] == (3, 0, 0)), int(ENDS[handover] == (4, 1, 1))]


@pytest.mark.parametrize("handover", ENDS)
def test_the_order_of_the_signal_parts_makes_no_difference(handover: int) -> None:
    rng = random.Random(handover)
    for _ in range(20):
        parts = rng.sample(build().parts, len(build().parts))
        trial = Trial(replace(build(), parts=tuple(parts), rules={"handover": handover}))
        result = trial.run([Arrival(0, "feed", 1)], limit=1_000)
        assert result.streams[0].delivered[0] == (ENDS[handover] == (3, 0, 0))


def test_without_one_of_its_relays_it_does_not_tell() -> None:
    """The lock comes too soon: whatever the handover, B3 is locked when the item comes, or for ever."""
    layout = build()
    parts = tuple(Relay(part.at, "E", 1) if part.at == (2, 1, 0) else part for part in layout.parts)
    assert not probed(replace(layout, parts=parts), default_rules(), known_handovers()).tells


def test_as_a_user_asks(tmp_path: Path) -> None:
    out = tmp_path / "probe.plan"
    result = run("probe", "--out", str(out))
    assert (result.exit_code, result.stderr) == (0, "")
    first, *more = result.stdout.splitlines()
    assert first.startswith("Build this (5 x 5 x 3, 26 parts), put one item into the bin at 0,1,2")
    assert more[0] == "  in the bin at 4,1,1: the handover is 8"
    assert more[1] == "  in the bin at 3,0,0: the handover is 7"
    assert load_layout(str(out)) == build()


def test_the_document() -> None:
    told = document(run("probe", "--json"), "splitwright-probe-1")
    assert told["tells"] is True
    assert {one["handover"]: one["at"] for one in told["ends"]} == {8: [[4, 1, 1]], 7: [[3, 0, 0]]}


def test_a_rulebook_under_which_it_does_not_tell(tmp_path: Path) -> None:
    """Relays that take one tick a delay: the lock falls, and opens again, long before the item comes."""
    text = (REPOSITORY / "specs" / "rules" / "default.toml").read_text(encoding="utf-8")
    rules = tmp_path / "slow.toml"
    rules.write_text(text.replace("[relay_step]\nvalue = 2", "[relay_step]\nvalue = 1"), encoding="utf-8")
    assert rules.read_text(encoding="utf-8") != text
    result = run("probe", "--rules", str(rules))
    assert (result.exit_code, result.stderr) == (1, "")
    assert result.stdout.startswith("Under this rulebook the build does not tell handovers apart")
    assert "layer 0" not in result.stdout


def test_bad_input() -> None:
    result = run("probe", "--rules", "nowhere.toml")
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
